"""What a message told, and what that would be with one thing in it otherwise: another number, animal, name or day.

Entries are turned into entries here. What the words of a message mean, and whether a change may be written without a
question, is judged elsewhere (`bot.carry`).
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from typing import Any

from bot.slots import Piece
from rules import entries as e
from rules.farm import Farm
from rules.records import as_data

# What a number can be of each kind, the likeliest first.
_NUMBERS = ("weight", "mean", "amount", "count", "head", "withdrawal_days", "area", "price", "total")
# Where a row of the plan is named, by its table.
_NAMES = {
    "group": ("group", "to"), "item": ("item", "what"), "product": ("product",), "supplier": ("supplier",),
    "bin": ("bin", "from_", "to"), "field": ("field",), "crop": ("crop",),
}  # fmt: skip
_TAGGED = ("tag", "dam")
STORED = (e.OnHand, e.Received, e.Used, e.Ordered)
OF_A_GROUP = (e.Dose, e.Stage, e.Move, e.Note, e.Used, e.Ration)  # what is easily told of all of a group
COPIED = (*OF_A_GROUP, e.Cull, e.Ship, e.Loss)
_UNDATED = (e.PlanSet, e.AnimalSet, e.Remind, e.Closed, e.Open, e.SaleDay, e.Product, e.Done)


@dataclass(frozen=True, slots=True)
class Told:
    """What one message told and still stands: each entry with the numbers that taking it back must withdraw."""

    at: datetime
    facts: tuple[tuple[tuple[int, ...], e.Entry], ...]

    @property
    def entries(self) -> tuple[e.Entry, ...]:
        return tuple(entry for _, entry in self.facts)


@dataclass(frozen=True, slots=True)
class Change:
    """One entry in the place of another; `seqs` are the numbers that it withdraws."""

    seqs: tuple[int, ...]
    old: e.Entry
    new: e.Entry

    def correction(self, on: date) -> e.Correct:
        """As an entry of that day; a weight or an amount put right says so in its own keys."""
        made = e.Correct(on=on, withdraws=self.seqs, instead=as_data(self.new))
        if isinstance(self.new, e.Weight):
            return replace(made, tag=self.new.tag, weight=self.new.weight, unit=self.new.unit)
        if isinstance(self.new, STORED):
            return replace(made, item=self.new.item, amount=self.new.amount, unit=self.new.unit)
        return made


def subject(entry: e.Entry) -> tuple[Any, ...]:
    """Whom or what an entry is about."""
    if isinstance(entry, e.About | e.Note):
        return (entry.tags, entry.group, getattr(entry, "head", None))
    if isinstance(entry, e.Weight):
        return ((entry.tag,), None, None)
    return tuple(getattr(entry, k, None) for k in ("tag", "dam", "item", "group", "bin", "field", "product"))


def tags_in(entry: e.Entry) -> tuple[str, ...]:
    """The animals an entry names."""
    return (*getattr(entry, "tags", ()), *(t for k in _TAGGED if (t := getattr(entry, k, None))))


def told_of(entry: e.Entry, who: e.About) -> Iterator[e.Entry]:
    """What was told of some animals, told of others; nothing where that kind cannot be told of those."""
    if not isinstance(entry, COPIED if who.tags else OF_A_GROUP):
        return
    if isinstance(entry, e.Move) and entry.to == who.group:
        return
    if isinstance(entry, e.About):
        yield replace(entry, tags=who.tags, group=who.group, head=None)
    elif isinstance(entry, e.Note):
        yield replace(entry, tags=who.tags, group=who.group)
    elif isinstance(entry, e.Used | e.Ration) and who.group and entry.group:
        yield replace(entry, group=who.group)


def on_day(told: Told, day: date) -> list[Change]:
    """All of it on another day, as far as it has a day."""
    dated = [(s, x) for s, x in told.facts if not isinstance(x, _UNDATED) and x.on != day]
    return [Change(s, x, replace(x, on=day)) for s, x in dated]


def due_on(told: Told, day: date) -> list[Change]:
    """What is to come of it (orders with a day, reminders) due on another day."""
    return [Change(s, x, replace(x, due=day)) for s, x in told.facts if isinstance(x, e.Ordered | e.Remind)]


def with_tag(told: Told, was: str, tag: str) -> list[Change]:
    """Another animal in the place of one."""
    changes = []
    for seqs, entry in told.facts:
        new: dict[str, Any] = {k: tag for k in _TAGGED if getattr(entry, k, None) == was}
        if was in (tags := getattr(entry, "tags", ())):
            new["tags"] = tuple(sorted(tag if t == was else t for t in tags))
        if new:
            changes.append(Change(seqs, entry, replace(entry, **new)))
    return changes


def with_name(told: Told, new: Piece, old: Piece | None, farm: Farm) -> Iterator[list[Change]]:
    """Another group, item, product, bin ... in the place of the one told, each way it can be meant."""
    for table, keys in _NAMES.items():
        row, was = new.named(table), old.named(table) if old is not None else None
        for key in keys if row and (old is None or was) else ():
            rows = {r.name for r in getattr(farm.plan, table)}
            held = sorted({str(v) for x in told.entries if (v := getattr(x, key, None)) in rows})
            if row not in held and len(held) == 1 and was in (None, held[0]):
                change: dict[str, Any] = {key: row}
                facts = [(s, x) for s, x in told.facts if getattr(x, key, None) == held[0]]
                yield [Change(s, x, replace(x, **change)) for s, x in facts]


def with_number(told: Told, new: Piece, old: Piece | None) -> Iterator[Change]:
    """Another number in the place of one told, each that it can be of."""
    if new.kind != "num" or new.value is None or new.percent or new.rough or (old is not None and old.kind != "num"):
        return
    for seqs, entry in told.facts:
        for key in _NUMBERS:
            was = getattr(entry, key, None)
            if was is None or not _of_kind(new, key) or (old is not None and old.value != was):
                continue
            if isinstance(was, int) and new.value != int(new.value):
                continue
            change: dict[str, Any] = {key: int(new.value) if isinstance(was, int) else new.value}
            if new.unit and any(f.name == "unit" for f in fields(entry)) and not isinstance(was, int):
                change["unit"] = new.unit
            if (changed := replace(entry, **change)) != entry:
                yield Change(seqs, entry, changed)
                break


def _of_kind(p: Piece, key: str) -> bool:
    """Whether a number with what is said of it can be this."""
    if key in ("price", "total"):
        return p.unit is None
    if p.money:
        return False
    if key in ("count", "head", "withdrawal_days"):
        return p.unit in (None, "head", "each")
    return key not in ("weight", "mean") or p.unit in (None, "lb", "kg")
