# Makes the hidden folder .venv of this checkout ready to run; read by ops/start, ops/test and .ci/run, not started itself.
# POSIX sh. It installs nothing outside .venv, and leaves in a few milliseconds where nothing changed.

here=$(cd -P -- "$(dirname -- "$(readlink -f -- "$0" 2>/dev/null || printf '%s' "$0")")/.." && pwd) || exit 1
venv=$here/.venv
log=$venv/.set-up.log

say() { printf '%s\n' "$*" >&2; }

set_up() { # $1: nothing, or a dependency group of pyproject.toml
    mark=$venv/.ready${1:+-$1}
    # What was set up for another place, another pyproject.toml or another Python (a system upgrade) must be mended.
    want() { printf '%s|%s|%s\n' "$here" "$(cksum <"$here/pyproject.toml")" "$(readlink -f -- "$venv/bin/python" 2>/dev/null)"; }
    [ -x "$venv/bin/python" ] && [ "$(cat "$mark" 2>/dev/null)" = "$(want)" ] && return 0

    say "Setting up in $venv (first start, or something changed): a minute or so ..."
    [ ! -e "$venv/.unfinished" ] || rm -rf "$venv" # killed half way: what is there cannot be trusted
    tried=
    if command -v uv >/dev/null 2>&1; then
        with_uv "${1:-}" && finished && return 0
        tried=uv # it reads neither pip's settings nor, when older, the system's certificates: pip may still get there
    fi
    if py=$(python_with_venv); then
        with_pip "${1:-}" && finished && return 0
    elif [ -z "$tried" ]; then
        no_python
    fi
    rm -f "$venv/.unfinished" # failed, but not half way: the next try goes on from here
    trouble
}

finished() { want >"$mark" && rm -f "$venv/.unfinished"; }

python_with_venv() {
    for p in "${PYTHON:-}" python3 python3.14 python3.13 python3.12 python3.11 python; do
        [ -n "$p" ] && "$p" -c 'import sys, venv, ensurepip; ensurepip.version(); sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 &&
            printf '%s' "$p" && return 0
    done
    return 1
}

with_uv() {
    works -c '' || uv venv -q --clear --python '>=3.11' "$venv" >/dev/null 2>&1 || return 1
    : >"$venv/.unfinished"
    UV_SYSTEM_CERTS=${UV_SYSTEM_CERTS:-1} uv pip install -q --python "$venv/bin/python" -e "$here" \
        ${1:+--group "$here/pyproject.toml:$1"} >"$log" 2>&1 </dev/null
}

with_pip() {
    works -m pip --version || "$py" -m venv --clear "$venv" >/dev/null 2>&1 || return 1
    : >"$venv/.unfinished"
    {
        # --group needs pip 25.1; Debian 12 starts a venv with 23.0
        "$venv/bin/python" -m pip install -q --disable-pip-version-check 'pip>=25.1' &&
            "$venv/bin/python" -m pip install -q --disable-pip-version-check -e "$here" ${1:+--group "$here/pyproject.toml:$1"}
    } >"$log" 2>&1 </dev/null
}

works() { "$venv/bin/python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && "$venv/bin/python" "$@" >/dev/null 2>&1; }

no_python() {
    for p in "${PYTHON:-}" python3 python; do
        [ -n "$p" ] && "$p" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 || continue
        say "This Python has no venv module: install it (Debian, Ubuntu: sudo apt install python3-venv) and start again."
        exit 1
    done
    say "Python 3.11 or newer is needed: install it (Debian, Ubuntu: sudo apt install python3 python3-venv) and start again."
    exit 1
}

trouble() {
    if [ ! -w "$here" ] || { [ -e "$venv" ] && [ ! -w "$venv" ]; }; then
        say "Setting up stopped: $here may not be written; run this as the user whose folder it is."
    elif [ "$(df -Pk "$here" 2>/dev/null | awk 'NR == 2 { print ($4 < 1024) }')" = 1 ] || grep -qi 'no space left' "$log" 2>/dev/null; then
        say "Setting up stopped: the disk is full; make room (about 400 MB) and start again."
    elif grep -qiE 'connect|network|resolution|resolve|timed out|unreachable|dns|no matching distribution|certificate' "$log" 2>/dev/null; then
        say "Setting up stopped: the packages could not be fetched; connect to the internet and start again (more in $log)."
    else
        say "Setting up stopped: see $log for why, mend that and start again."
    fi
    exit 1
}
