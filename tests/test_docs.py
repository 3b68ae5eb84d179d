"""README.md and DEVELOPERS.md, held against the program: what they show is played, and what they name is there.

`--talks-anew` writes the parts between marks anew (the conversation, the tables).
"""

import argparse
import importlib
import inspect
import io
import re
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TypeAlias

import pytest
import simplejson

from bot import checks
from bot.__main__ import _parser
from bot.book import Book
from bot.conversation import hear, understand
from bot.desk import Desk, Heard, Out, open_desk
from bot.files import load_folder
from bot.papers import paper_again
from bot.phrases import ROWS
from bot.plan import load
from bot.reading import Answer, Record
from bot.replay import parsed
from bot.terminal import talk
from bot.timetable import knock
from bot.when import local
from rules import gains, withdrawal
from rules.entries import KINDS

ROOT = Path(__file__).resolve().parent.parent
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"
BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)

Morning: TypeAlias = tuple[Desk, datetime, list[Out]]

# What the README says can be told to the bot as a whole message, and asked: (kind or about, in words, an example).
WHOLE = (
    ("undo", "The last message was wrong.", "undo"),
    ("correct", "The last weight or count was wrong.", "6104 was 38.5 not 39.5"),
    ("remind", "A job for a day to come.", "remind me friday to call the vet"),
    ("done", "A job is done.", "done: call the vet"),
    ("product", "What label and vet say of a product.", "pain relief withdrawal is 12 days"),
    ("closed", "A supplier is shut, or open on a holiday.", "coop is shut friday"),
)
GROWING = (
    ("A new item, group, bin, field, crop.", "new item beet pulp, 25 kg bags", "add a pen Far Shed for bottle lambs"),
    (
        "A supplier's hours, and when it delivers.",
        "coop hours are mon to fri 8 to 5, sat till noon, closed holidays",
        "coop delivers next day",
    ),
    ("A medicine, as its label says.", "new product Pour-on, dose 5 ml, withdrawal 14 days"),
    ("Who is on the farm.", "new person Mae, helper"),
    ("A dose plan, as the vet gave it.",
     "dose plan jabs for lambs at foot: clostridial vaccine 28 to 42 days old, booster 4 to 6 weeks after the first"),
    ("Loads, room and stages.", "a full load is 24", "we have room for 12 bags of milk powder",
     "we wean bottle lambs at 6 weeks"),
    ("Sale days and ship weights.", "we sell wednesdays", "ship at 42 to 48"),
    ("What a thing is called.", "we call milk powder formula", "rename pen 2 to top pen"),
)  # fmt: skip
QUESTIONS = (
    ("ready", "How many are ready.", "how many ready by wednesday"),
    ("close", "Which are close.", "which are close"),
    ("when_ready", "When one, or a group, will be ready.", "when will 6122 be ready"),
    ("ship_plan", "Ship or wait.", "ship or wait"),
    ("ship_plan", "Another load than the one advised.", "what if i only take the ones over 45"),
    ("coming", "How many come ready each week, and what loads they make.", "how many lambs ready each week"),
    ("mating", "Another mating.", "what if the rams stay 3 weeks instead of 6"),
    ("room", "How many a floor takes.", "how many fit in a 12 by 6 foot trailer"),
    ("animal", "One animal's story.", "tell me about 2210"),
    ("growth", "How one, or a group, is gaining.", "how are pen 2 gaining"),
    ("growth", "Gains side by side, weights at one age.", "gain by sex"),
    ("stock", "What is on hand.", "how much milk is there"),
    ("lasts", "How long it lasts.", "how long will the milk last"),
    ("order", "What must be ordered.", "what do i need to order"),
    ("open", "Whether a supplier is open.", "is the coop open monday"),
    ("due", "Doses and jobs that are due.", "what's due"),
    ("withdrawal", "Whether it can go, or is held.", "can 6105 go wednesday"),
    ("head", "How many there are.", "how many in the nursery"),
    ("lambing_due", "When ewes lamb.", "when are the spring ewes due"),
    ("shipped", "What went, and what it made.", "how much did we ship this year"),
    ("eggs", "Eggs.", "how many eggs this week"),
    ("bins", "What is in the bins.", "whats in the barley bin"),
    ("bins", "Where a crop can go.", "where can the barley go"),
    ("loads", "What came off the fields.", "how many loads of beet so far"),
    ("help", "What can be sent.", "help"),
)
# What is asked as a picture, to print or as a file: (how, in words, an example).
PAPERS = (
    ("chart", "Growth of one or a group, with the ship weight.", "growth chart of pen 1"),
    ("chart", "Who is ready, sale by sale.", "how many ready, as a chart"),
    ("chart", "What a load leaves: now, by waiting, by its size.", "ship or wait, as a chart"),
    ("chart", "How an item goes down, and when to order.", "milk as a chart"),
    ("chart", "All stores, by how long they last.", "stock as a chart"),
    ("chart", "Eggs.", "eggs as a chart"),
    ("chart", "Bins.", "bins as a chart"),
    ("sheet", "The list to sort by before a sale.", "print the ship list"),
    ("sheet", "What is due.", "print what's due"),
    ("sheet", "A list to weigh by.", "print the weigh list"),
    ("sheet", "All of one animal.", "print one page on 6105"),
    ("file", "The treatment record.", "treatment record as a file"),
    ("file", "What was shipped and sold.", "sales as a file"),
    ("file", "Weights.", "weights as a file"),
)


def part(text: str, name: str) -> str:
    """What stands between <!-- name --> and <!-- end of name -->."""
    found = re.search(rf"<!-- {name} -->\n(.*?)<!-- end of {name} -->", text, re.DOTALL)
    assert found, f"README.md lost its marks around {name}"
    return found[1]


def same(name: str, now: str, pytestconfig: pytest.Config) -> None:
    """Compare a part of the README with what it must be now; or write it."""
    text = README.read_text(encoding="utf-8")
    if pytestconfig.getoption("--talks-anew"):
        start = text.index(f"<!-- {name} -->\n") + len(f"<!-- {name} -->\n")
        anew = text[:start] + now + text[text.index(f"<!-- end of {name} -->") :]
        README.write_text(anew, encoding="utf-8")
    assert part(README.read_text(encoding="utf-8"), name) == now


def toml_blocks(text: str) -> list[str]:
    return re.findall(r"^ *```toml\n(.*?)^ *```", text, re.DOTALL | re.MULTILINE)


# -- the conversation


@pytest.fixture(scope="module")
def thursday() -> Iterator[Morning]:
    """The demo farm on the morning it opens, and what is said then."""
    with Book.open(None) as book:
        load_folder(book, ROOT / "demo_farm", BEGINNING)
        desk = open_desk(book)
        for text in (ROOT / "demo_farm" / "season.jsonl").read_text(encoding="utf-8").splitlines():
            told = parsed(text, None)
            assert isinstance(told, Heard)
            said = knock(desk, told.at, late=None)
            if simplejson.loads(text).get("opens"):
                break
            if told.who:
                hear(desk, told)
        yield desk, local(told.at, "Europe/Dublin"), said


class Typed(io.StringIO):
    """Lines as someone types them: each is seen on the screen when it is read."""

    def readline(self, size: int | None = -1, /) -> str:
        line = super().readline()
        if line:
            print(f"> {line}", end="")
        return line


def test_the_conversation_in_the_readme_is_what_the_demo_farm_says(
    thursday: Morning, pytestconfig: pytest.Config, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    shown = part(README.read_text(encoding="utf-8"), "conversation")
    typed = re.findall(r"^> (.*)$", shown, re.MULTILINE)
    assert len(typed) >= 6
    monkeypatch.setattr(sys, "stdin", Typed("".join(f"{line}\n" for line in typed)))
    desk, opened, said = thursday
    minutes = iter(range(1, 1000))
    talk(desk, lambda: opened + timedelta(minutes=5 * next(minutes)), said)
    same("conversation", f"```text\n{capsys.readouterr().out}```\n", pytestconfig)


def test_a_farm_of_three_lines_grows_in_the_readme(
    pytestconfig: pytest.Config, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = README.read_text(encoding="utf-8")
    (tmp_path / "farm.toml").write_text(toml_blocks(text)[0], encoding="utf-8")
    typed = re.findall(r"^> (.*)$", part(text, "growing"), re.MULTILINE)
    monkeypatch.setattr(sys, "stdin", Typed("".join(f"{line}\n" for line in typed)))
    opened = local(datetime(2027, 4, 28, 8, tzinfo=UTC), "Europe/Dublin")
    minutes = iter(range(1, 1000))
    with Book.open(None) as book:
        load_folder(book, tmp_path, opened)
        talk(open_desk(book), lambda: opened + timedelta(minutes=next(minutes)))
    same("growing", f"```text\n{capsys.readouterr().out}```\n", pytestconfig)


# -- the tables


def row(*cells: str) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |\n"


def test_the_table_of_messages_is_the_phrase_table(pytestconfig: pytest.Config) -> None:
    table = row("to tell", "such as") + row("---", "---")
    for told in ROWS:
        table += row(told.says, ", ".join(f"`{example}`" for example in told.examples[:2]))
    for _, says, example in WHOLE:
        table += row(says, f"`{example}`")
    for says, *examples in GROWING:
        table += row(says, ", ".join(f"`{example}`" for example in examples))
    table += "\n" + row("to ask", "such as") + row("---", "---")
    for _, says, example in QUESTIONS:
        table += row(says, f"`{example}`")
    table += "\n" + row("to see, print or keep", "such as") + row("---", "---")
    for _, says, example in PAPERS:
        table += row(says, f"`{example}`")
    same("messages", table, pytestconfig)


def test_the_table_of_rules_is_what_the_rules_say_of_themselves(pytestconfig: pytest.Config) -> None:
    table = row("rule", "what it finds") + row("---", "---")
    for rule in (*checks.RULES, withdrawal.withdrawal, gains.growth):
        says = (inspect.getdoc(rule) or "").split("\n\n")[0]
        table += row(f"`{rule.__name__}`", " ".join(says.split()))
    same("rules", table, pytestconfig)


@pytest.mark.parametrize(("about", "text"), [(about, text) for about, _, text in QUESTIONS])
def test_a_question_in_the_table_is_read_as_that(about: str, text: str, thursday: Morning) -> None:
    desk, now, _ = thursday
    reading = understand(text, now, desk.farm)
    assert isinstance(reading, Answer)
    assert reading.question.about == about


@pytest.mark.parametrize(("as_", "text"), [(as_, text) for as_, _, text in PAPERS])
def test_a_picture_sheet_or_file_in_the_table_is_made(as_: str, text: str, thursday: Morning) -> None:
    desk, now, _ = thursday
    reading = understand(text, now, desk.farm)
    assert isinstance(reading, Answer)
    assert reading.question.as_ == as_
    made = paper_again(reading.question, desk.farm, desk.moment(now))
    assert made is not None
    assert made.made()


@pytest.mark.parametrize(("kind", "text"), [(kind, text) for kind, _, text in WHOLE])
def test_a_message_in_the_table_is_read_as_that(kind: str, text: str, thursday: Morning) -> None:
    desk, now, _ = thursday
    reading = understand(text, now, desk.farm)
    assert isinstance(reading, Record)
    assert [type(entry) for entry in reading.entries] == [KINDS[kind]]


@pytest.mark.parametrize("text", [text for _, *texts in GROWING for text in texts])
def test_what_the_table_says_of_the_plan_changes_the_plan(text: str, thursday: Morning) -> None:
    desk, now, _ = thursday
    reading = understand(text, now, desk.farm)
    assert isinstance(reading, Record)
    assert {type(entry) for entry in reading.entries} == {KINDS["plan"]}


# -- a farm of one's own


def test_the_small_plan_in_the_readme_loads(tmp_path: Path) -> None:
    blocks = toml_blocks(README.read_text(encoding="utf-8"))
    assert len(blocks) == 2
    (tmp_path / "farm.toml").write_text(blocks[0], encoding="utf-8")
    assert load(tmp_path).plan["farm"]["name"] == "Our farm"
    (tmp_path / "farm.toml").write_text("\n".join(blocks), encoding="utf-8")
    assert load(tmp_path).plan["person"][0]["role"] == "owner"


# -- what is named is there


@pytest.mark.parametrize("document", [README, DEVELOPERS], ids=lambda path: path.name)
def test_files_and_folders_named_are_there(document: Path) -> None:
    text = document.read_text(encoding="utf-8")
    named = set(re.findall(r"(?<![\w/.~-])((?:bot|rules|tests|ops|demo_farm|\.ci)/[\w./]*\w/?)", text))
    assert len(named) > 5
    assert sorted(name for name in named if not (ROOT / name).exists()) == []


@pytest.mark.parametrize("document", [README, DEVELOPERS], ids=lambda path: path.name)
def test_commands_named_are_commands(document: Path) -> None:
    """Each `python -m bot` or `sh ops/start` line is one the parser takes."""
    lines = re.findall(r"(?:python -m bot|sh ops/start) (\w+[^`\n#]*)", document.read_text(encoding="utf-8"))
    assert lines
    for line in lines:
        args = _parser().parse_args(line.split())
        assert isinstance(args, argparse.Namespace)
        assert callable(args.run)


def test_names_in_code_named_in_developers_are_there() -> None:
    """`hear` in `bot/conversation.py`, and the like."""
    pairs = re.findall(r"`(\w+)` in `(bot|rules|tests)/([\w/]+)\.py`", DEVELOPERS.read_text(encoding="utf-8"))
    assert len(pairs) >= 4
    for name, package, module in pairs:
        full = module if package == "tests" else f"{package}.{module.replace('/', '.')}"
        assert hasattr(importlib.import_module(full), name), f"{name} in {full}"


def test_the_job_is_told_first() -> None:
    """One paragraph before the first heading under the title."""
    text = README.read_text(encoding="utf-8")
    first = text.split("\n## ")[0].split("\n", 1)[1].strip()
    assert first.startswith("Tethera is ")
    assert "\n\n" not in first
