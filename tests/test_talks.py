"""Talks: dated lines, farmer and bot in turn, through the conversation with a moved clock. Read them as speech.

A line in brackets moves the clock; "name: words" is a message, "name presses label" a button; what is indented is what
the bot said, and to whom where that is not the sender. `--talks-anew` writes the bot's part anew.
"""

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from bot.book import Book
from bot.conversation import hear
from bot.desk import Heard, Out, open_desk
from bot.files import load_folder
from bot.timetable import knock
from bot.when import local

TALKS = Path(__file__).parent / "talks"
ZONE = "America/Chicago"


def played(text: str, farm: Path) -> Iterator[str]:
    """The talk with what the bot says now."""
    with Book.open(None) as book:
        load_folder(book, farm, datetime.fromisoformat("2026-08-01T00:00:00-05:00"))
        desk = open_desk(book)
        now = datetime.fromisoformat("2026-08-01T00:00:00-05:00")
        buttons: dict[tuple[str, str], str] = {}
        for line in text.splitlines():
            if line.startswith("    "):
                continue
            yield line
            outs: list[Out] = []
            who = ""
            if moved := re.fullmatch(r"\[\w{3} (.+)\]", line):
                now = local(datetime.strptime(moved[1], "%d %b %Y %H:%M"), ZONE)  # noqa: DTZ007
                outs = knock(desk, now, late=None)
            elif pressed := re.fullmatch(r"(\w+) presses (.+)", line):
                who = pressed[1]
                outs = hear(desk, Heard(now, who, press=buttons[who, pressed[2]]))
            elif said := re.fullmatch(r"(\w+)(?: (edits|sends) (\w+))?: (.*)", line):
                who, how, name, words = said.groups()
                outs = hear(desk, Heard(now, who, words.replace("\\n", "\n"), name, how == "edits"))
            for out in outs:
                buttons |= {(out.to, b.label): b.press for b in out.buttons}
                for row in out.text.splitlines():
                    yield f"    {row}" if out.to == who else f"    (to {out.to}) {row}"
                if out.buttons:
                    yield "    " + " ".join(f"[{b.label}]" for b in out.buttons)


@pytest.mark.parametrize("talk", sorted(TALKS.glob("*.txt")), ids=lambda path: path.stem)
def test_talk(talk: Path, request: pytest.FixtureRequest) -> None:
    """The bot says in each talk what stands in it."""
    text = talk.read_text(encoding="utf-8")
    own = talk.with_suffix("")  # a folder of the talk's name is its farm
    now = "\n".join(played(text, own if own.is_dir() else TALKS / "farm")) + "\n"
    if request.config.getoption("--talks-anew"):
        talk.write_text(now, encoding="utf-8")
    assert now == text
