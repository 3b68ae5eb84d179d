"""A stretch of a message that is read as one: its pieces, what has been accounted for, and the readings it can get.

A row of the phrase table asks a Fact for the pieces it needs and marks them used; what is left over afterwards decides
whether the row has understood. Nothing here knows any kind of entry.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TypeAlias

from bot.slots import TAG_WORDS, Piece
from bot.tags import Tags, tags_of
from rules.doubt import fits
from rules.entries import Entry
from rules.farm import Farm
from rules.plan import Plan

NO_WORDS = "-"


@dataclass(frozen=True, slots=True)
class Choice:
    """A button of an Ask: pressing it records these entries, all of the message's; none: told again in other words.
    With `again` the entries are of the plan, and the message that was in doubt is read anew once they stand."""

    label: str
    entries: tuple[Entry, ...] = ()
    again: bool | None = None


@dataclass(frozen=True, slots=True)
class Wants:
    """What is asked of the plan, one thing at a time: the rows (table, name), the first of them with the key asked."""

    rows: tuple[tuple[str, ...], ...]
    key: str = ""


# A label, and pieces with what to read instead of each (None: as if it were not there).
Swap: TypeAlias = "tuple[str, tuple[tuple[Piece, Piece | None], ...]]"


@dataclass(frozen=True, slots=True)
class Ask:
    """What puzzles, and two to four ways to settle it, the likeliest first. `swaps` are choices still to be read: the
    whole message again, with other pieces in it. `wants`: it can be answered in words, and what comes next then.
    `text` is what an answer in words belongs to, where that is not the message; NO_WORDS: only the choices answer."""

    why: str
    choices: tuple[Choice, ...] = ()
    swaps: "tuple[Swap, ...]" = ()
    wants: Wants | None = None
    text: str | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """What a message asks for; keys as the outside interface has them, and those of what-ifs: a load only of those
    `over` a weight, on a `trip` day of its own, or after a `wait` of days; `synced` ewes, `rams` in on a day, to `stay`
    so many days `instead` of so many; `space` in square metres; gains `split` by something; weights `adjusted` to an
    age in days (0: the usual one); what a `field` made; where a crop `goes`."""

    about: str
    group: str | None = None
    tag: str | None = None
    item: str | None = None
    product: str | None = None
    supplier: str | None = None
    bin: str | None = None
    crop: str | None = None
    by: date | None = None
    as_: str | None = None
    weigh: bool | None = None  # of `close`: whom to weigh, so that it is known who is ready
    since: date | None = None  # a span that is over, or not yet
    till: date | None = None
    over: Decimal | None = None
    trip: date | None = None
    wait: int | None = None
    synced: bool | None = None
    rams: date | None = None
    stay: int | None = None
    instead: int | None = None
    space: Decimal | None = None
    split: str | None = None
    adjusted: int | None = None
    field: str | None = None
    goes: bool | None = None


Found: TypeAlias = "list[Entry] | Ask | None"


class Doubt(Exception):
    """Raised inside a row where it must ask; carried to the reader as the row's result."""

    def __init__(self, why: str, choices: Iterable[Choice] = (), swaps: "Iterable[Swap]" = ()) -> None:
        super().__init__(why)
        self.ask = Ask(why, tuple(choices), tuple(swaps))


_THROUGH = ("thru", "through", "to", "-", "till", "til", "up to")


@dataclass
class Fact:
    """Pieces in order, the moment they were said, and the farm. `used` are places of pieces accounted for."""

    pieces: Sequence[Piece]
    said: datetime
    farm: Farm
    days: Sequence[Piece] = ()  # day words that hold for it though they stand elsewhere
    carried: frozenset[str] = frozenset()  # classes of the fact before it, where it has no doing of its own
    group: str | None = None  # a group named before, for facts that follow
    before: tuple[str, ...] = ()  # the animals of the fact before, for "him" and "them"
    item: str | None = None  # the item of the fact before, for "it"
    heads: int | None = None  # of how many the fact before told, for "them"
    product: str | None = None  # the product of the fact before, for "it"
    land: str | None = None  # the field of the fact before, for "it"
    single: bool = True  # whether the message is this one sentence
    used: set[int] = field(default_factory=set)
    ranges: set[int] = field(default_factory=set)  # places at which a range of tags begins

    # -- looking

    @property
    def plan(self) -> Plan:
        return self.farm.plan

    @property
    def tags_known(self) -> Tags:
        return tags_of(self.farm)

    @property
    def text(self) -> str:
        return words_of(self.pieces)

    def has(self, *classes: str) -> bool:
        """Whether a word of one of these classes is in it."""
        return any(p.is_(*classes) for p in self.pieces)

    def word(self, *words: str) -> bool:
        """Whether one of these very words is in it."""
        return any(p.kind in ("word", "sep") and p.text in words for p in self.pieces)

    def says(self, *texts: str) -> bool:
        """Whether a piece of any kind, a name among them, reads as one of these."""
        return any(p.text in texts for p in self.pieces)

    def behind(self, n: int, *texts: str) -> bool:
        """Whether a piece stands just behind one of these."""
        return n > 0 and self.pieces[n - 1].text in texts

    def mentions(self, *tables: str) -> bool:
        """Whether a piece names a row of one of these tables."""
        return any(p.names.keys() & tables for p in self.pieces)

    def nums(self) -> list[tuple[int, Piece]]:
        """The numbers not yet used, with their places."""
        return [(n, p) for n, p in enumerate(self.pieces) if p.kind == "num" and n not in self.used]

    def amounts(self) -> list[tuple[int, Piece]]:
        """The unused numbers that are no price, no percent and no animal in full."""
        return [(n, p) for n, p in self.nums() if not (p.money or p.percent or p.per or p.new)]

    def named(self, table: str) -> list[tuple[int, str]]:
        """The rows of a table that unused pieces name, with their places; a name of several rows is asked."""
        found = []
        for n, p in enumerate(self.pieces):
            rows = p.names.get(table, ()) if n not in self.used else ()
            if len(rows) > 1:
                swaps = [(row, ((p, replace(p, names={**p.names, table: (row,)})),)) for row in rows[:4]]
                raise Doubt(f"Which one is {p.text}?", (), swaps)
            if rows:
                found.append((n, rows[0]))
        return found

    def one(self, table: str, use: bool = True) -> str | None:
        """The only row of a table it names, used; None where it names none. Two different ones: not for this row."""
        found = self.named(table)
        names = {name for _, name in found}
        if len(names) > 1:
            raise Several(table)
        if found and use:
            self.used.update(n for n, _ in found)
        return found[0][1] if found else None

    def vague(self) -> Piece | None:
        return next((p for p in self.pieces if p.kind == "vague"), None)

    # -- days

    def on(self, ahead: bool = False) -> date:
        """The day it happened, or (`ahead`) is to happen; today where none is said. Doubts a day that could be two."""
        phrases = [p for p in self.pieces if p.day and p.day.names_day] or list(self.days)
        if not ahead:  # "ok till tuesday", "both going wed" do not date what was done
            coming = {
                id(p)
                for n, p in enumerate(self.pieces)
                if n and self.pieces[n - 1].text in (*_TO_COME, "through", "thru")
            }
            phrases = [p for p in phrases if id(p) not in coming]
            phrases = [
                p for p in phrases if p.day and p.day.lead not in ("til", "till", "until", "by", "before", "due")
            ]
        if not phrases:
            return self.said.date()
        found: list[date] = []
        for p in phrases:
            assert p.day is not None
            dates = p.day.days(self.said, ahead, self.plan.farm.country)
            if p.day.form == "vague" and p.text in ("this week", "this month", "lately", "sometime"):
                dates = (self.said.date(),)
            if len(dates) != 1:
                raise which_day(self, [p], dates)
            found += [d for d in dates if d not in found]
        if len(found) > 1:
            raise which_day(self, phrases, found)
        today = self.said.date()
        if not ahead and found[0] > today:
            why = f"{day_words(found[0])} is still to come: which day was it?"
            raise which_day(self, phrases, (found[0] - timedelta(7), today), why)
        return found[0]

    def due(self) -> date | None:
        """A day to come said in it, or None."""
        return self.on(ahead=True) if any(p.day and p.day.names_day for p in self.pieces) else None

    # -- animals

    def tags(self) -> list[tuple[int, str]]:
        """The animals named by pieces, in order: those that are no number, and numbers that are surely tags."""
        found: list[tuple[int, str]] = []
        for n, p in enumerate(self.pieces):
            if (n and self.pieces[n - 1].text in ("over", "under", "above", "below")) or measured(self.pieces, n):
                continue  # "everything over 110", "108 miles"
            if n and not p.full and self.pieces[n - 1].is_("average"):
                continue  # "feedlot 28 head avg 121"
            if n in self.used or not p.tags or any(n == m + 2 for m, _ in found if m in self.ranges):
                continue
            if (within := self._range(n)) is not None:
                self.ranges.add(n)
                found += [(n, t) for t in within]
                continue
            if p.kind == "tag" or self.is_tag(p):
                if found and self._weighs(*found[-1], n):
                    continue
                if len(p.tags) > 1:
                    raise Doubt(f"Which animal is {p.text}?", (), instead_of(p, p.tags[:3]))
                found.append((n, p.tags[0]))
        return found

    def which_of(self, tags: Sequence[tuple[int, str]]) -> None:
        """Doubts a number of one or two digits that may be an animal or how many: "moved 5 to pen 1", "lost 11"."""
        n, tag = tags[0] if len(tags) == 1 else (0, "")
        p = self.pieces[n]
        if not tag or p.kind != "num" or len(p.text) > 2 or p.spelled or self.behind(n, *TAG_WORDS):
            return
        swaps = [*instead_of(p, [tag]), (f"{p.text} of them", ((p, replace(p, tags=(), full=False)),))]
        raise Doubt(f"Number {tag}, or {p.text} of them?", (), swaps)

    def _weighs(self, at: int, tag: str, n: int) -> bool:
        """Whether a number is the weight of the animal just before it, though another's tag is such: "2641 112"."""
        p, between = self.pieces[n], self.pieces[at + 1 : n]
        if p.kind != "num" or p.value is None or len(p.text) >= len(self.pieces[at].text):
            return False
        together = all(a.end == b.start for a, b in itertools.pairwise(self.pieces[at : n + 1]))
        small = (
            q.is_("weigh") or not q.text.isalpha() or q.text in ("down", "as") for q in between if q.kind == "word"
        )
        said = all(q.kind == "word" for q in between) and all(small)
        return together and said and self.can_weigh(tag, p)

    def _range(self, n: int) -> tuple[str, ...] | None:
        """ "2665 thru 2670": every animal here whose tag lies within; None where no range begins at a piece."""
        if n + 2 >= len(self.pieces) or self.pieces[n + 1].text not in _THROUGH:
            return None
        p, q = self.pieces[n], self.pieces[n + 2]
        if len(p.tags) != 1 or not (p.kind == "tag" or self.is_tag(p)):
            return None
        first, end = p.tags[0], q.tags[0] if len(q.tags) == 1 and (q.kind == "tag" or self.is_tag(q)) else None
        if end is None and q.kind == "num" and q.text.isdigit():
            end = first[: len(first) - len(q.text)] + q.text
        if end is None or end not in self.farm.animals or len(first) != len(end) or first >= end:
            return None
        within = [t for t, a in self.farm.animals.items() if len(t) == len(end) and first <= t <= end and a.here]
        return tuple(sorted(within))

    def can_weigh(self, tag: str, p: Piece) -> bool:
        """Whether an animal of the farm could weigh what a number says."""
        animal, unit = self.farm.animals.get(tag), p.unit or self.plan.farm.weight
        return animal is not None and fits(animal, p.value or Decimal(0), unit, self.said.date(), self.farm)

    def is_tag(self, p: Piece) -> bool:
        """Whether a number can only be meant as an animal: written in full, or its last three or more digits."""
        return p.kind == "num" and bool(p.tags) and p.unit is None and p.per is None and (p.full or len(p.text) >= 3)

    def looks_like_tag(self, p: Piece) -> bool:
        """A whole number, no unit, as long as this farm's tags are, that no animal has."""
        if p.new:
            return True
        if p.kind != "num" or p.unit or p.money or p.percent or p.tags or not p.text.isdigit():
            return False
        lengths = self.tags_known.lengths or (3, 4, 5, 6)  # a farm that begins has none yet
        return (len(p.text) in lengths and len(p.text) >= 3) or len(p.text) == 15

    # -- accounting

    def use(self, *places: int) -> None:
        self.used.update(places)
        for n in self.ranges.intersection(places):  # a range is used as a whole
            self.used.update((n + 1, n + 2))

    def use_named(self, *tables: str) -> None:
        """All pieces that name a row of one of these tables are accounted for."""
        self.use(*(n for n, p in enumerate(self.pieces) if p.names.keys() & tables))

    def left(self) -> list[Piece]:
        """The numbers, names, animals and vague amounts that nothing has accounted for."""
        return [
            p for n, p in enumerate(self.pieces)
            if n not in self.used and p.kind in ("num", "name", "tag", "vague") and not harmless(self.pieces, n)
            and not (p.kind == "name" and set(p.names) == {"person"})
        ]  # fmt: skip


def instead_of(p: Piece, tags: Iterable[str]) -> list[Swap]:
    """To read a message with one of these animals for a piece of it."""
    return [(tag, ((p, replace(p, kind="tag", tags=(tag,), full=True, new=False)),)) for tag in tags]


def which_day(fact: Fact, said: Sequence[Piece], dates: Sequence[date], why: str = "", pairs: bool = False) -> Doubt:
    """Asks which of some days was meant by pieces; `pairs`: they are weekends, to be taken whole."""
    days = list(dates) or [d for p in said if p.day for d in p.day.near(fact.said.date())]
    sets = [tuple(days[n : n + 2]) for n in range(0, len(days), 2)] if pairs else [(d,) for d in days]
    swaps = []
    for one in sets[:4]:
        picked = [(p, replace(p, day=replace(p.day, form="picked", lead="", dates=one))) for p in said if p.day]
        swaps.append((" and ".join(day_words(d) for d in one), tuple(picked)))
    return Doubt(why or f"Which day is {said[0].text}?", (), swaps)


def day_words(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


_TO_COME = {"going", "go", "goes", "leaving", "leaves", "ready", "ship", "shipping", "sell", "selling", "market"}


class Several(Exception):
    """Two rows of one table where a row takes one: it is not for that row."""


_TIMES = {
    "min", "mins", "minute", "minutes", "hr", "hrs", "hour", "hours", "sec", "secs", "second", "seconds", "mile",
    "miles", "km", "degrees", "deg", "below", "above", "years", "year", "yrs", "yr", "inch", "inches", "tenths",
    "feet", "ft", "mph", "times", "flat", "am", "pm", "oclock", "percent", "wks", "weeks", "week", "days", "day",
    "months", "month", "nights", "kids", "people", "legs", "teats", "quarters", "sides", "corners", "fences",
    "posts", "gates", "men", "calls", "beers", "pints", "rows", "places",
}  # fmt: skip


def words_of(pieces: Iterable[Piece]) -> str:
    """What was written, in the pieces' own spelling."""
    return " ".join(p.text for p in pieces)


def measured(pieces: Sequence[Piece], n: int) -> bool:
    """Whether a number is a distance, a speed or a temperature, whoever's tag it is."""
    after = pieces[n + 1].text if n + 1 < len(pieces) else ""
    return pieces[n].kind == "num" and after in ("mile", "miles", "km", "mph", "degrees", "deg", "f", "rate")


def harmless(pieces: Sequence[Piece], n: int) -> bool:
    """Whether a number says nothing of the farm: a length of time, a temperature, a road, "one"."""
    p = pieces[n]
    after = pieces[n + 1] if n + 1 < len(pieces) else None
    if p.kind != "num" or (p.tags and p.full) or p.unit or p.money:
        return p.kind == "num" and measured(pieces, n)
    before = pieces[n - 1].text if n else ""
    if before == "other" or (after is not None and after.text == "s"):
        return True
    clock = p.value is not None and p.value <= 12 and before in ("abt", "about", "around", "at", "by", "bout", "nearly")
    if clock and after is not None and after.kind == "day":
        return True
    counted = after is not None and after.text != "days before" and after.text.partition(" ")[0] in _TIMES
    doing = n > 0 and pieces[n - 1].is_("fed", "die", "ship", "sell", "spoil", "lend", "borrow")
    did = doing and before not in ("took", "was", "at", "had")
    return counted or (p.spelled and p.value == 1 and not did)  # "opened one" is a bag, "she is a good one" is none
