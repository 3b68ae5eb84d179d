"""The shape of the code: who may import whom, and the one place for the clock, SQL, the chat service and wording.

Read from the source itself, so that a breach is told with file and line.
"""

import ast
import re
import sys
from collections.abc import Callable, Iterator
from functools import lru_cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# Each of these libraries has one home; "rules" or "bot" alone stands for the whole package.
HOMES = {
    "telegram": {"bot.serve"},
    "sqlite3": {"bot.book"},
    "sqlite_utils": {"bot.book"},
    "dateparser": {"bot.when"},
    "pydantic": {"bot.plan_shape"},
    "tomllib": {"bot.plan"},
    "tomli_w": {"bot.files"},
    "opening_hours": {"bot.hours", "bot.plan_check"},
    "holidays": {"bot.hours", "bot.plan_check", "bot.when"},
    "numpy": {"rules"},
    "matplotlib": {"bot.pictures.frame"},
    "fpdf": {"bot.pictures.sheet"},
    "time": set(),
    "random": set(),
    "secrets": set(),
    "uuid": set(),
}
OUTSIDE = {"asyncio", "io", "logging", "os", "pathlib", "shutil", "socket", "subprocess", "sys", "tempfile", "urllib"}
PURE = (sys.stdlib_module_names - OUTSIDE - HOMES.keys()) | {"numpy", "rules"}
# Ways in and out: what reads a message and what words an answer knows none of them.
DOORS = {"bot.__main__", "bot.book", "bot.conversation", "bot.checks", "bot.demo", "bot.files", "bot.log", "bot.plan",
         "bot.replay", "bot.serve", "bot.terminal"}  # fmt: skip
SQL = re.compile(r"\s*(select\s.+\sfrom|insert (or \w+ )?into|update \w+ set|delete from|create table|alter table"
                 r"|pragma\s|begin (immediate|exclusive))", re.IGNORECASE | re.DOTALL)  # fmt: skip
# A sentence for a farmer: several words, begun with a capital and ended.
SENTENCE = re.compile(r"[A-Z][^.?!]*\s\S+\s[^.?!]*[.?!]")


@lru_cache(maxsize=1)
def modules() -> dict[str, ast.Module]:
    """The source of every module of bot and rules, by its name."""
    found = {}
    for path in sorted([*ROOT.glob("bot/**/*.py"), *ROOT.glob("rules/**/*.py")]):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = ast.parse(path.read_text(encoding="utf-8"), str(path))
    return found


def imported(tree: ast.Module) -> Iterator[tuple[str, int]]:
    """(module, line) of each import, wherever it stands; `from bot import checks` imports bot.checks."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"line {node.lineno}: imports are written in full"
            for alias in node.names:
                full = f"{node.module}.{alias.name}"
                yield (full if full in modules() else node.module or "", node.lineno)


def breaches(name: str, wrong: Callable[[str], bool]) -> list[str]:
    return [f"{name}, line {line}: {module}" for module, line in imported(modules()[name]) if wrong(module)]


def calls(tree: ast.Module) -> Iterator[tuple[str, ast.Call]]:
    """Each call with the last name of what is called."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            func = node.func
            yield (func.attr if isinstance(func, ast.Attribute) else getattr(func, "id", "")), node


def reached(*starts: str) -> set[str]:
    """Our modules that these import, directly or through others, and themselves."""
    found, rest = set(), list(starts)
    while rest:
        name = rest.pop()
        if name not in found:
            found.add(name)
            rest += [module for module, _ in imported(modules()[name]) if module in modules()]
    return found


def under(*names: str) -> list[str]:
    return [m for m in modules() if any(m == n or m.startswith(n + ".") for n in names)]


# -- imports


@pytest.mark.parametrize("name", under("rules"))
def test_a_rule_knows_the_standard_library_numpy_and_other_rules(name: str) -> None:
    """No chat, database, scheduler, date parser, file, log or clock, and nothing of bot."""
    assert breaches(name, lambda module: module.split(".")[0] not in PURE) == []


@pytest.mark.parametrize("library", HOMES)
def test_a_library_has_one_home(library: str) -> None:
    homes = HOMES[library]
    strangers = [name for name in modules() if name not in homes and name.split(".")[0] not in homes]
    assert [b for name in strangers for b in breaches(name, lambda m: m.split(".")[0] == library)] == []


def test_imports_run_one_way() -> None:
    """No module imports itself through others; TopologicalSorter names the circle where there is one."""
    graph = {name: {m for m, _ in imported(tree) if m in modules()} for name, tree in modules().items()}
    assert list(TopologicalSorter(graph).static_order())


def test_what_the_sorter_is_given_would_show_a_circle() -> None:
    assert "rules.days" in {module for module, _ in imported(modules()["bot.when"])}
    assert "bot.words.say" in reached("bot.conversation")


@pytest.mark.parametrize("start", ["bot.reading", "bot.phrases", "bot.words"])
def test_reading_and_words_touch_nothing_outside(start: str) -> None:
    """No book, chat, file, log or screen in what reads a message or words an answer, nor in anything they use."""
    ours = sorted(reached(*under(start)))
    assert ours
    assert [b for m in ours for b in breaches(m, lambda x: x.split(".")[0] in OUTSIDE or x in DOORS)] == []
    done = [f"{m}, line {c.lineno}: {f}()" for m in ours for f, c in calls(modules()[m])]
    assert [call for call in done if call.endswith((": open()", ": print()", ": input()"))] == []


def test_pictures_touch_nothing_outside() -> None:
    """As words do; bytes in memory are all that a picture is."""
    ours = sorted(reached(*under("bot.pictures"), "bot.papers"))
    assert "bot.pictures.frame" in ours
    assert [b for m in ours for b in breaches(m, lambda x: x.split(".")[0] in OUTSIDE - {"io"} or x in DOORS)] == []


@pytest.mark.parametrize(("name", "library"), [("bot.pictures.frame", "matplotlib"), ("bot.pictures.sheet", "fpdf")])
def test_what_draws_is_imported_when_the_first_picture_is_asked_for(name: str, library: str) -> None:
    """A start, and `read`, must not wait for it: no import of it at the top of a module, but for types."""
    top = [n for n in modules()[name].body if isinstance(n, ast.Import | ast.ImportFrom)]
    assert [ast.unparse(n) for n in top if library in ast.unparse(n)] == []


# -- one place for each


CLOCK = re.compile(r"(^|\.)(datetime|date|time)\.(now|today|utcnow|time|time_ns|localtime|monotonic|perf_counter)$")


def clock_reads(tree: ast.Module) -> list[str]:
    """Calls that ask the machine's clock; one handed in as a function is asked by its own name."""
    return [f"line {call.lineno}: {what}" for _, call in calls(tree) if CLOCK.search(what := ast.unparse(call.func))]


@pytest.mark.parametrize("name", [m for m in modules() if m != "bot.when"])
def test_only_when_asks_the_clock(name: str) -> None:
    assert clock_reads(modules()[name]) == []


def test_when_does_ask_the_clock() -> None:
    """Else the test above would be looking for the wrong thing."""
    assert clock_reads(modules()["bot.when"]) != []


def texts(tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Every text with its line; of an f-string what is written, with x for what is filled in; no docstrings."""
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    doc = {id(n.body[0].value) for n in ast.walk(tree)
           if isinstance(n, documented) and n.body and isinstance(n.body[0], ast.Expr)}  # fmt: skip
    inside = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            inside |= {id(v) for v in node.values}
            parts = [str(v.value) if isinstance(v, ast.Constant) else "x" for v in node.values]
            yield "".join(parts), node.lineno
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in doc | inside:
            yield node.value, node.lineno


@pytest.mark.parametrize("name", [m for m in modules() if m != "bot.book"])
def test_only_the_book_speaks_sql(name: str) -> None:
    assert [f"{name}, line {line}: {text}" for text, line in texts(modules()[name]) if SQL.match(text)] == []


def test_the_book_does_speak_sql() -> None:
    assert any(SQL.match(text) for text, _ in texts(modules()["bot.book"]))


class _NotForFarmers(ast.NodeTransformer):
    """Leaves out what is written to the log, raised, or asserted: a farmer never reads it."""

    def visit_Call(self, node: ast.Call) -> ast.AST:
        of = node.func.value if isinstance(node.func, ast.Attribute) else None
        return ast.Constant(None) if isinstance(of, ast.Name) and of.id == "log" else self.generic_visit(node)

    def visit_Raise(self, node: ast.Raise) -> ast.AST:
        return ast.Pass()

    def visit_Assert(self, node: ast.Assert) -> ast.AST:
        return ast.Pass()


SPEAKING = ("bot.conversation", "bot.timetable", "bot.alley", "bot.desk", "bot.checks", "bot.offers", "bot.settle",
            "bot.asking", "bot.replay", "bot.terminal", "bot.shown", "rules.cautions", "rules.loads", "rules.doses",
            "rules.jobs")  # fmt: skip


@pytest.mark.parametrize("name", SPEAKING)
def test_sentences_are_made_in_words(name: str) -> None:
    """What decides what to say holds no sentence of its own."""
    tree = _NotForFarmers().visit(ast.parse(ast.unparse(modules()[name])))
    said = [text for text, _ in texts(tree) if "\\" not in text]  # a pattern over words is no sentence
    assert [f"{name}: {text}" for text in said if SENTENCE.search(text)] == []


def test_a_sentence_is_known_when_seen() -> None:
    assert any(SENTENCE.search(text) for text, _ in texts(modules()["bot.words.chat"]))


# -- every module


@pytest.mark.parametrize("name", modules())
def test_a_module_says_what_it_is_for(name: str) -> None:
    tree = modules()[name]
    assert not tree.body or len((ast.get_docstring(tree) or "").split()) >= 6


def test_names_say_the_thing() -> None:
    """A module called so has not found its name."""
    vague = {"utils", "util", "helpers", "helper", "managers", "manager", "services", "service", "handlers", "common"}
    assert [name for name in modules() if vague & set(name.split("."))] == []
