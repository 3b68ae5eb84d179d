"""The farm as it stands: the plan, and the histories of its animals, stores, bins and jobs.

What is kept is what the rules need: histories in the order they happened, never a conclusion. All records inside are
frozen, so `copy` is shallow and cheap. Weights are kept in the farm's unit, stock in each item's unit. How a fact
changes a farm is in `rules.advance`; nothing here writes.
"""

from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any, NamedTuple

from rules import entries as e
from rules.plan import Item, Plan, plan_from

AT_FOOT_DAYS = 150  # a lamb older than this is no lamb at foot, weaned or not (common practice, no source)


class Fact(NamedTuple):
    """An entry at its place in time: `moment` (UTC) it counts from, its number in the book, and who told it."""

    moment: datetime
    seq: int
    by: str
    entry: e.Entry


@dataclass(frozen=True, slots=True)
class Weighing:
    on: date
    weight: Decimal  # in the farm's unit
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Given:
    """A product given. `unnamed` is the number of the entry that named only a head count of a tagged group."""

    on: date
    product: str
    withdrawal_days: int | None  # as said with the dose
    seq: int
    by: str
    amount: Decimal | None = None
    unit: str | None = None
    for_: str | None = None
    route: str | None = None
    batch: str | None = None
    unnamed: bool = False
    head: int | None = None  # where it was told by head


@dataclass(frozen=True, slots=True)
class Animal:
    """One tagged animal. `stages` are (stage, day) in order; `since` the day it came into its group by a move."""

    tag: str
    eid: str | None = None
    sex: str | None = None
    born: date | None = None
    dam: str | None = None
    group: str | None = None
    birth_weight: Decimal | None = None
    birth_type: int | None = None
    status: str = "here"
    gone: date | None = None
    since: date | None = None
    nursed_by: str | None = None
    culled: date | None = None
    colostrum: bool | None = None
    weighings: tuple[Weighing, ...] = ()
    doses: tuple[Given, ...] = ()
    stages: tuple[tuple[str, date], ...] = ()
    notes: tuple[tuple[date, str], ...] = ()
    lambed: tuple[tuple[date, int], ...] = ()

    @property
    def here(self) -> bool:
        return self.status == "here"

    def had(self, stage: str) -> date | None:
        """The last day this stage was reached, or None."""
        return next((on for name, on in reversed(self.stages) if name == stage), None)

    def age(self, on: date) -> int | None:
        return (on - self.born).days if self.born else None


@dataclass(frozen=True, slots=True)
class Lamb:
    """A live lamb without a tag yet."""

    dam: str | None
    born: date
    group: str | None
    sex: str | None
    weight: Decimal | None
    litter: int


@dataclass(frozen=True, slots=True)
class StockFact:
    """What happened to an item: `what` is on_hand, received, used or sold; `amount` in the item's unit."""

    moment: datetime
    on: date
    what: str
    amount: Decimal
    how: str | None = None
    who: str | None = None
    group: str | None = None
    rough: bool = False
    cost: Decimal | None = None  # for all of it
    supplier: str | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """`amount` still to come, in the item's unit; `came` the day it was filled."""

    item: str
    amount: Decimal
    supplier: str | None
    due: date | None
    moment: datetime
    on: date
    seq: int
    came: date | None = None


@dataclass(frozen=True, slots=True)
class Unnamed:
    """So many head of a tagged group were dosed, shipped, lost or moved, and nobody has told which. A load told without
    any group has "" for it: it is of some market pen."""

    kind: str
    group: str
    head: int
    on: date
    seq: int
    what: str | None = None


@dataclass(frozen=True, slots=True)
class Shipment:
    """A load that left: `sale` once a price settled it."""

    on: date
    head: int
    tags: tuple[str, ...]
    group: str | None
    to: str | None
    seq: int
    sale: e.Sale | None = None


@dataclass
class Farm:
    """Histories in the order they happened, by the plan's names. Read it; only `rules.advance` writes."""

    plan: Plan
    plan_data: dict[str, Any]
    animals: dict[str, Animal] = field(default_factory=dict)
    retagged: dict[str, str] = field(default_factory=dict)
    renamed: dict[tuple[str, str], str] = field(default_factory=dict)  # (table, a name it had): the row's name now
    untagged: tuple[Lamb, ...] = ()
    heads: dict[str, int] = field(default_factory=dict)  # animals without tags, by group
    counts: dict[str, tuple[tuple[date, int], ...]] = field(default_factory=dict)  # head counts as told
    feeding: dict[str, tuple[tuple[datetime, int], ...]] = field(default_factory=dict)  # heads that eat, by group
    members: dict[str, dict[str, None]] = field(default_factory=dict)  # tags here, by group
    unnamed: tuple[Unnamed, ...] = ()
    group_weights: tuple[e.GroupWeight, ...] = ()
    group_doses: dict[str, tuple[Given, ...]] = field(default_factory=dict)
    group_stages: dict[str, tuple[tuple[str, date], ...]] = field(default_factory=dict)
    group_notes: dict[str, tuple[tuple[date, str], ...]] = field(default_factory=dict)
    breeding: dict[str, tuple[e.Entry, ...]] = field(default_factory=dict)
    lambings: tuple[tuple[str | None, e.Lambing], ...] = ()  # with the group of the dam
    losses: tuple[tuple[date, str | None, int], ...] = ()  # day, group, head
    shipments: tuple[Shipment, ...] = ()
    sales: tuple[e.Sale, ...] = ()  # not of a shipment above
    prices: tuple[e.MarketPrice, ...] = ()
    sale_days: dict[date, bool] = field(default_factory=dict)
    stock: dict[str, tuple[StockFact, ...]] = field(default_factory=dict)
    orders: tuple[Order, ...] = ()  # open
    filled: tuple[Order, ...] = ()
    rations: dict[tuple[str, str], tuple[tuple[datetime, Decimal], ...]] = field(default_factory=dict)
    closures: tuple[e.Closed | e.Open, ...] = ()
    eggs: tuple[e.Eggs, ...] = ()
    bins: dict[str, tuple[e.BinLevel | e.BinMove | e.Load | e.Sale, ...]] = field(default_factory=dict)
    loads: tuple[e.Load, ...] = ()
    fieldwork: tuple[e.Fieldwork, ...] = ()
    reminders: dict[int, e.Remind] = field(default_factory=dict)
    done: tuple[e.Done, ...] = ()
    waves: dict[str, e.Wave] = field(default_factory=dict)

    def copy(self) -> "Farm":
        """The same farm, which goes on unchanged when this one is advanced."""
        held = {f.name: getattr(self, f.name) for f in fields(self)}
        dicts: dict[str, Any] = {name: dict(value) for name, value in held.items() if isinstance(value, dict)}
        dicts["members"] = {group: dict(tags) for group, tags in self.members.items()}
        return replace(self, **dicts)

    # -- what is asked again and again

    def waved_off(self, key: str) -> bool:
        """Whether the farmer put a finding away for good (one only put off comes again)."""
        wave = self.waves.get(key)
        return wave is not None and wave.until is None

    def now_tagged(self, tag: str) -> str:
        """The tag an animal goes by now, where it was given another since."""
        while tag in self.retagged:
            tag = self.retagged[tag]
        return tag

    def keeping(self, *kinds: str) -> list[str]:
        """The groups that keep one of these, in the plan's order."""
        return [g.name for g in self.plan.group if g.keeps in kinds]

    def in_group(self, group: str) -> list[Animal]:
        """The tagged animals here in a group, by tag."""
        return [self.animals[tag] for tag in sorted(self.members.get(group, ()))]

    def tagged(self, group: str | None) -> bool:
        """Whether a group's animals have tags."""
        return bool(group and self.members.get(group))

    def head(self, group: str) -> int:
        """How many are here in a group, lambs at foot not counted apart; heads told without tags taken off."""
        gone = sum(u.head for u in self.unnamed if u.group == group and u.kind in ("ship", "loss", "move"))
        return max(0, len(self.members.get(group, ())) + self.heads.get(group, 0) - gone)

    def had_feed(self, item: Item, group: str, on: date) -> date | None:
        """The last day, up to `on`, on which a group ate an item; None: never, as far as is told.

        It is taken to eat it every day while plan or ration give it and the store is not told to be empty.
        """
        ration = self.rations.get((item.name, group), ())
        given = ration[-1][1] > 0 if ration else any(feed.group == group for feed in item.feeds)
        last, left = None, Decimal(0)
        for fact in self.stock.get(item.name, ()):
            if fact.on > on:
                break
            before = left
            if fact.what == "on_hand":
                left = fact.amount
            else:
                left += fact.amount if fact.what == "received" else -fact.amount
            fed = fact.what == "used" and fact.how is None and (fact.group == group or (fact.group is None and given))
            if fed or (given and before > 0 >= left):
                last = fact.on
        if given and left > 0:
            return on
        stopped = ration[-1][0].date() if len(ration) > 1 and not given else None
        return max((day for day in (last, stopped) if day is not None and day <= on), default=None)

    def at_foot(self, animal: Animal, on: date) -> bool:
        """Whether it is a lamb not weaned, in the ewe group it was born into, or moved to with its dam."""
        group = self.plan.group_named(animal.group) if animal.group else None
        age = animal.age(on)
        return bool(
            group and group.keeps == "ewes" and animal.here and age is not None and 0 <= age <= AT_FOOT_DAYS
            and not animal.had("weaned") and not animal.had("pulled")
            and (animal.since is None or animal.group in (self._group_of(animal.dam), self._group_of(animal.nursed_by)))
        )  # fmt: skip

    def _group_of(self, tag: str | None) -> str | None:
        found = self.animals.get(self.now_tagged(tag)) if tag else None
        return found.group if found and found.here else None

    def eating(self, group: str, on: date) -> int:
        """The heads of a group that a ration is for: lambs at foot do not count, nor those not born that day."""
        there = [self.animals[tag] for tag in self.members.get(group, ())]
        small = sum(self.at_foot(a, on) or (a.age(on) or 0) < 0 for a in there)
        return max(0, self.head(group) - small)


def new_farm(plan_data: dict[str, Any] | None = None) -> Farm:
    """A farm on which nothing has happened; without a plan, one that only has a place in the world."""
    data = plan_data or {"farm": {"name": "", "country": "", "timezone": "UTC"}}
    farm = Farm(plan_from(data), data)
    farm.heads = {g.name: g.head for g in farm.plan.group if g.head is not None}
    return farm
