"""The set-up before a first start, with stand-ins for Python and uv, and the copies of the book."""

import os
import re
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from bot.book import Book
from rules.entries import Weight

ROOT = Path(__file__).parent.parent
TOOLS = ("sh", "dirname", "readlink", "cat", "cksum", "rm", "df", "awk", "grep", "mkdir", "cp", "kill")
# It answers as Python does to what ops/setup.sh asks of it, and writes down what that was.
PYTHON = """#!/bin/sh
case "$1 $2 $3" in
"-c "*ensurepip*) exit ${NO_VENV:-0} ;;
"-c "*) exit ${TOO_OLD:-0} ;;
"-m venv --clear") echo "venv" >>"$SEEN"; rm -rf "$4"; mkdir -p "$4/bin"; cp "$0" "$4/bin/python" ;;
"-m pip --version") ;;
"-m pip install")
    echo "pip $*" >>"$SEEN"
    if [ -n "${KILLED:-}" ]; then mkdir "${0%/bin/python}/half"; kill -9 $PPID; fi
    if [ -n "${OFFLINE:-}" ]; then echo "NewConnectionError: Temporary failure in name resolution"; exit 1; fi ;;
*) echo "ran $*" ;;
esac
"""
UV = """#!/bin/sh
echo "uv $*" >>"$SEEN"
[ -z "${UV_FAILS:-}" ] || exit 1
[ "$1" = pip ] || { mkdir -p "$6/bin"; cp "${0%/uv}/python3" "$6/bin/python"; }
"""


class Machine:
    """A fresh machine: a clone in a folder with a space, a bare PATH, an empty home."""

    def __init__(self, at: Path) -> None:
        self.clone = at / "a clone"
        self.path = at / "bin"
        self.seen_in = at / "seen"
        self.clone.mkdir()
        shutil.copytree(ROOT / "ops", self.clone / "ops")
        (self.clone / "pyproject.toml").write_text("[project]\n")
        self.path.mkdir()
        for tool in TOOLS:
            where = shutil.which(tool)
            assert where or tool == "kill"  # a shell has its own
            if where:
                (self.path / tool).symlink_to(where)
        self.program("python3", PYTHON)

    def program(self, name: str, text: str) -> None:
        (self.path / name).write_text(text)
        (self.path / name).chmod(0o755)

    def run(self, script: str, *arguments: str, **circumstances: str) -> tuple[int, str, str]:
        """(exit status, what it printed, what it said on standard error)"""
        self.seen_in.write_text("")
        done = subprocess.run(
            ["/bin/sh", str(self.clone / "ops" / script), *arguments],
            env={"PATH": str(self.path), "HOME": "/nonexistent", "SEEN": str(self.seen_in), **circumstances},
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
        return done.returncode, done.stdout, done.stderr

    def seen(self) -> list[str]:
        return self.seen_in.read_text().splitlines()


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path)


def test_a_first_start_sets_up_and_runs_what_was_asked(machine: Machine) -> None:
    status, out, _ = machine.run("start", "chat", "--farm", "my farm")
    assert (status, out) == (0, "ran -P -m bot chat --farm my farm\n")
    assert machine.seen()[0] == "venv"
    assert f"-e {machine.clone}" in machine.seen()[-1]


def test_a_start_without_arguments_opens_the_demo(machine: Machine) -> None:
    assert machine.run("start")[1] == "ran -P -m bot demo\n"


def test_a_second_start_sets_nothing_up(machine: Machine) -> None:
    machine.run("start")
    _, out, told = machine.run("start")
    assert (out, told, machine.seen()) == ("ran -P -m bot demo\n", "", [])


def test_tests_bring_their_own_group_and_leave_the_start_as_it_was(machine: Machine) -> None:
    machine.run("start")
    status, out, _ = machine.run("test", "-k", "one")
    assert (status, out) == (0, "ran -P -m pytest -k one\n")
    assert machine.seen()[-1].endswith("pyproject.toml:test")
    machine.run("start")
    assert machine.seen() == []


@pytest.mark.parametrize("change", ["moved", "new dependencies"])
def test_what_changed_is_set_up_again(machine: Machine, change: str) -> None:
    machine.run("start")
    if change == "moved":
        machine.clone = machine.clone.rename(machine.clone.with_name("elsewhere"))
    else:
        (machine.clone / "pyproject.toml").write_text("[project]\nname = 'more'\n")
    machine.run("start")
    assert f"-e {machine.clone}" in machine.seen()[-1]
    machine.run("start")
    assert machine.seen() == []


def test_a_set_up_killed_half_way_is_begun_anew(machine: Machine) -> None:
    status, _, _ = machine.run("start", KILLED="1")
    assert status == -9
    assert (machine.clone / ".venv/half").exists()
    assert machine.run("start")[0] == 0
    assert machine.seen()[0] == "venv"
    assert not (machine.clone / ".venv/half").exists()


def test_no_network_is_told_in_a_sentence_and_the_next_try_goes_on(machine: Machine) -> None:
    status, out, told = machine.run("start", OFFLINE="1")
    assert (status, out) == (1, "")
    assert told.splitlines()[-1].startswith("Setting up stopped: the packages could not be fetched; connect to the in")
    assert len(told.splitlines()) == 2
    assert machine.run("start")[1] == "ran -P -m bot demo\n"
    assert "venv" not in machine.seen()


def test_no_venv_module_names_what_to_install(machine: Machine) -> None:
    status, _, told = machine.run("start", NO_VENV="1")
    assert status == 1
    assert told.splitlines()[1:] == [
        "This Python has no venv module: install it (Debian, Ubuntu: sudo apt install python3-venv) and start again."
    ]


def test_an_old_python_is_named(machine: Machine) -> None:
    status, _, told = machine.run("start", NO_VENV="1", TOO_OLD="1")
    assert status == 1
    assert told.splitlines()[1].startswith("Python 3.11 or newer is needed")


def test_uv_is_used_where_it_is(machine: Machine) -> None:
    machine.program("uv", UV)
    assert machine.run("start")[0] == 0
    assert [line.split()[:2] for line in machine.seen()] == [["uv", "venv"], ["uv", "pip"]]


def test_where_uv_fails_pip_goes_on(machine: Machine) -> None:
    machine.program("uv", UV)
    assert machine.run("start", UV_FAILS="1")[0] == 0
    assert "pip -m pip install" in machine.seen()[-1]


def test_started_through_a_link_it_finds_its_own_folder(machine: Machine, tmp_path: Path) -> None:
    link = tmp_path / "tethera"
    link.symlink_to(machine.clone / "ops/start")
    machine.run(str(link))
    assert f"-e {machine.clone}" in machine.seen()[-1]


# -- copies of the book


def weigh(book: Book, weight: str) -> None:
    at = datetime(2026, 8, 11, 7, 10, tzinfo=UTC)
    with book.block():
        entry = Weight(on=at.date(), tag="2641", weight=Decimal(weight), unit="lb")
        book.append(book.hear("owner", at, f"2641 {weight}"), [entry])


def weights(path: Path) -> list[str]:
    with Book.open(path, write=False) as book:
        return [str(told.entry.weight) for told in book.entries() if isinstance(told.entry, Weight)]


def copies(job: str, *arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-P", str(ROOT / "ops/copies.py"), job, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def test_a_copy_made_while_the_bot_writes_holds_everything(tmp_path: Path) -> None:
    path = tmp_path / "my.book"
    with Book.open(path) as book:
        weigh(book, "98.50")
        done = copies("backup", "--book", path, "--to", tmp_path / "copies")
        weigh(book, "101")
    assert re.fullmatch(r"Copied 1 entries to .*/copies/my-\d{8}T\d{6}\.\d{6}Z\.book\.\n", done.stdout), done.stderr
    assert [weights(copy) for copy in (tmp_path / "copies").iterdir()] == [["98.50"]]


def test_only_the_newest_copies_are_kept_and_nothing_else_is_touched(tmp_path: Path) -> None:
    path, to = tmp_path / "my.book", tmp_path / "copies"
    to.mkdir()
    (to / "my-old.book").write_text("somebody's own")
    with Book.open(path) as book:
        for weight in ("98", "99", "100"):
            weigh(book, weight)
            copies("backup", "--book", path, "--to", to, "--keep", 2)
    assert [weights(copy) for copy in sorted(to.glob("my-2*"))] == [["98", "99"], ["98", "99", "100"]]
    assert (to / "my-old.book").exists()


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of a book that has gone on since."""
    path = tmp_path / "my.book"
    with Book.open(path) as book:
        weigh(book, "98")
        book.backup(tmp_path / "a copy.book")
        weigh(book, "99")
    return tmp_path / "a copy.book"


def test_a_book_that_holds_more_than_the_copy_is_not_replaced(copy: Path) -> None:
    book = copy.with_name("my.book")
    done = copies("restore", copy, "--book", book)
    assert done.returncode == 1
    assert done.stderr == f"Nothing changed: {book} holds 1 entries more than that copy. Add --force to go back.\n"
    assert weights(book) == ["98", "99"]


def test_going_back_moves_the_newer_book_aside(copy: Path) -> None:
    book = copy.with_name("my.book")
    assert copies("restore", copy, "--book", book, "--force").returncode == 0
    assert weights(book) == ["98"]
    (aside,) = book.parent.glob("my.book.before-*Z")
    assert weights(aside) == ["98", "99"]


def test_a_book_in_use_is_never_replaced(copy: Path) -> None:
    path = copy.with_name("my.book")
    with Book.open(path):
        done = copies("restore", copy, "--book", path, "--force")
    assert done.returncode == 1
    assert done.stderr == f"Nothing changed: the bot is running on {path}. Stop it first.\n"
    assert weights(path) == ["98", "99"]


def test_a_damaged_book_is_what_copies_are_for(copy: Path) -> None:
    path = copy.with_name("my.book")
    path.write_bytes(b"not a book at all" * 1000)
    assert copies("restore", copy, "--book", path).returncode == 0
    assert weights(path) == ["98"]


def test_a_damaged_copy_changes_nothing(copy: Path) -> None:
    path = copy.with_name("my.book")
    whole = copy.read_bytes()
    copy.write_bytes(whole[: len(whole) // 2])
    done = copies("restore", copy, "--book", path, "--force")
    assert done.returncode == 1
    assert done.stderr.startswith("Nothing changed: ")
    assert weights(path) == ["98", "99"]


def test_the_scripts_are_plain_sh() -> None:
    """dash is the strictest sh about; where it is not there, whatever /bin/sh is."""
    shell = shutil.which("dash") or "/bin/sh"
    for script in ("setup.sh", "start", "test", "backup", "restore"):
        done = subprocess.run([shell, "-n", str(ROOT / "ops" / script)], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stderr) == (0, ""), script
        assert script == "setup.sh" or os.access(ROOT / "ops" / script, os.X_OK)
