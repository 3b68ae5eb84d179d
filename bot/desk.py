"""The desk the bot sits at: the open book and the farm it makes, what comes in and what goes out.

No reading, no rules, no sentences: only what every part of the conversation and the timetable hands on.
"""

import logging
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from json import dumps, loads

from bot.book import Book, Told, fact, fold
from bot.checks import gist
from bot.hours import moment as moment_at
from bot.offers import offers
from bot.papers import Paper, paper_again
from bot.reading import Ask, Question
from bot.when import local
from bot.words.found import together
from rules import entries as e
from rules.days import Moment
from rules.farm import Farm
from rules.findings import Finding
from rules.plan import Person
from rules.records import as_data

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Heard:
    """What came in: a text, an edited text, or the press of a button, from a person of the plan. `message` is what
    the outside calls it, `update` the number of the delivery that brought it."""

    at: datetime
    who: str
    text: str = ""
    message: str | None = None
    edit: bool = False
    press: str | None = None
    update: int | None = None


@dataclass(frozen=True, slots=True)
class Button:
    press: str
    label: str


@dataclass(frozen=True, slots=True)
class Out:
    """What goes out, with the data its words were made from."""

    at: datetime
    to: str
    cause: str
    text: str
    buttons: tuple[Button, ...] = ()
    entries: tuple[e.Entry, ...] = ()
    question: Question | None = None
    ask: Ask | None = None
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()
    page: "Page | None" = None


@dataclass(frozen=True, slots=True)
class Page:
    """The picture, sheet or file that a message carries, as what it is made from: the question that it answers, and how
    many entries the book had then. So it is the same however late it is sent, and costs the book a line."""

    question: Question
    entries: int


@dataclass
class Desk:
    """The open book and the farm it makes; `open_desk` makes one."""

    book: Book
    drawn: "tuple[Page, datetime, Paper] | None" = None  # the last asked for, so that it need not be found again

    def __post_init__(self) -> None:
        self.fold = fold(self.book)

    @property
    def farm(self) -> Farm:
        return self.fold.farm

    def moment(self, at: datetime) -> Moment:
        return moment_at(self.farm, local(at, self.farm.plan.farm.timezone))

    def people(self) -> tuple[Person, ...]:
        return self.farm.plan.person or (Person(name="owner", role="owner"),)

    def person(self, name: str) -> Person | None:
        return next((p for p in self.people() if p.name == name), None)

    def record(self, message: int, entries: Iterable[e.Entry]) -> list[Told]:
        """Write entries of a message into the book, and advance the farm by them."""
        told = self.book.append(message, entries)
        self.fold.tell(map(fact, told))
        return told


def open_desk(book: Book) -> Desk:
    return Desk(book)


def owed(desk: Desk, outs: Sequence[Out]) -> list[Out]:
    """Write into the book that these must go out."""
    for out in outs:
        buttons = [{"press": b.press, "label": b.label} for b in out.buttons]
        page = {"page": as_data(out.page)} if out.page else {}
        desk.book.owe(out.to, out.at, out.cause, {"text": out.text, "buttons": buttons, **page})
    return list(outs)


@dataclass(frozen=True, slots=True)
class File:
    """A finished picture, sheet or file; `kind` as the internet names it."""

    name: str
    kind: str
    content: bytes


def file_of(desk: Desk, page: Page | None, at: datetime) -> File | None:
    """What a message of that moment carries, from the farm as the book had it then; None for nothing, or where it
    cannot be made: a picture that fails must not hold up the words."""
    if page is None:
        return None
    try:
        found = _paper_of(desk, page, at)
        return File(found.name, found.kind, found.made()) if found else None
    except Exception:
        log.exception("A picture or file could not be made.")
        return None


def _paper_of(desk: Desk, page: Page, at: datetime) -> Paper | None:
    now = desk.book.count() == page.entries
    if now and desk.drawn and desk.drawn[:2] == (page, at):
        return desk.drawn[2]
    farm = desk.farm if now else fold(desk.book, page.entries).farm
    return paper_again(page.question, farm, moment_at(farm, local(at, farm.plan.farm.timezone)))


def remember(desk: Desk, who: str, x: Finding, m: Moment) -> None:
    """Keep that a person has been told of a finding, so that it is not said again unless it changes."""
    spoken = desk.book.said(who, x.key)
    old = loads(spoken.gist) if spoken else None
    times = int(old["times"]) + 1 if old else 1
    desk.book.say(who, x.key, dumps(gist(x, times, m.now, old)), m.now)


def buttons_of(desk: Desk, who: str, findings: Sequence[Finding], m: Moment) -> list[Button]:
    """The buttons under a reply: for the one or two things in it that ask for something."""
    shown = together([x for x in findings if x.level != "know"], m.today)[:2]
    return [b for x, of in shown for b in offer(desk, who, x, of, m, several=len(shown) > 1)]


def offer(desk: Desk, who: str, x: Finding, of: Sequence[Finding], m: Moment, *, several: bool) -> Iterator[Button]:
    """The buttons of what is said as one, kept as a question so that a press counts once and survives a restart."""
    offered = offers(x, of, desk.farm, m, several=several)
    if offered:
        number = desk.book.ask(who, m.now, None, {"matter": x.key, "choices": [as_data(o) for o in offered]})
        yield from (Button(f"{number}.{n}", o.label) for n, o in enumerate(offered))
