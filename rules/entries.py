"""Everything a farmer can tell the book: one frozen record for each kind of entry.

Field names are the keys of the outside interface (a trailing underscore only where Python needs it). `on` is the day
it happened, in the farm's timezone. A field that was not said is None. Amounts are exact Decimals in the unit that the
message used; nothing here converts, judges or fills in.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, ClassVar, TypeAlias

from rules.records import from_data, spelt


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What every entry has: its kind, its class's name where it does not say another, and the day it happened."""

    kind: ClassVar[str]
    on: date

    def __init_subclass__(cls) -> None:
        cls.kind = cls.__dict__.get("kind", spelt(cls))


@dataclass(frozen=True, slots=True, kw_only=True)
class About(Said):
    """An entry about some animals: named tags (sorted), or all of a group, or so many head (of a group)."""

    tags: tuple[str, ...] = ()
    group: str | None = None
    head: int | None = None


# -- animals


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight(Said):
    """One animal on the scale; `unit` is kg or lb."""

    tag: str
    weight: Decimal
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupWeight(Said):
    group: str | None = None
    head: int | None = None
    mean: Decimal
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Born:
    """One lamb of a lambing; `alive` only where it was said to be dead (False)."""

    sex: str | None = None
    weight: Decimal | None = None
    unit: str | None = None
    tag: str | None = None
    alive: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lambing(Said):
    dam: str | None = None
    born: tuple[Born, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Foster(Said):
    tag: str
    dam: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose(About):
    """A product given. `amount` is what each animal got, only where said. `withdrawal_days` only where said."""

    product: str
    amount: Decimal | None = None
    unit: str | None = None
    for_: str | None = None
    withdrawal_days: int | None = None
    route: str | None = None
    batch: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage(About):
    """pulled, housed, creep, weaned, docked, castrated or shorn."""

    stage: str
    for_: str | None = None
    colostrum: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived(About):
    sex: str | None = None
    born: date | None = None
    from_: str | None = None
    price: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tagged(Said):
    tag: str
    dam: str | None = None
    sex: str | None = None
    born: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Retagged(Said):
    tag: str
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Move(About):
    """`group` is where they came from, `to` where they went."""

    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadCount(Said):
    group: str | None = None
    head: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss(About):
    cause: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cull(About):
    for_: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ship(About):
    to: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sale(About):
    """Animals sold, or things (`what`: an item, a crop or "eggs"). `per` is a unit, or head."""

    what: str | None = None
    amount: Decimal | None = None
    price: Decimal | None = None
    per: str | None = None
    total: Decimal | None = None
    mean_weight: Decimal | None = None
    unit: str | None = None
    to: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleDay(Said):
    date: date
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketPrice(Said):
    """A price heard; `what` is left out for lambs; `from_` and `to` bound the weights it is for."""

    price: Decimal
    per: str | None = None
    what: str | None = None
    from_: Decimal | None = None
    to: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Eggs(Said):
    count: int
    group: str | None = None


# -- breeding


@dataclass(frozen=True, slots=True, kw_only=True)
class InsertsIn(Said):
    group: str | None = None
    head: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InsertsOut(Said):
    group: str | None = None
    head: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RamsIn(Said):
    group: str | None = None
    head: int | None = None
    rams: tuple[str, ...] = ()
    synced: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RamsOut(Said):
    group: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked(Said):
    group: str | None = None
    head: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanned(Said):
    group: str | None = None
    in_lamb: int | None = None
    empty: int | None = None
    singles: int | None = None
    twins: int | None = None
    triplets: int | None = None


# -- stores


@dataclass(frozen=True, slots=True, kw_only=True)
class Received(Said):
    """Came in. `price` is for all of it; `how` is borrowed or given_back, else bought."""

    item: str
    amount: Decimal
    unit: str
    supplier: str | None = None
    price: Decimal | None = None
    price_each: Decimal | None = None
    how: str | None = None
    who: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Used(Said):
    """Went out. `how` is lent, given_back or spoiled, else eaten."""

    item: str
    amount: Decimal
    unit: str
    group: str | None = None
    how: str | None = None
    who: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OnHand(Said):
    """A count. `rough` where it was said to be about so much."""

    item: str
    amount: Decimal
    unit: str
    rough: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordered(Said):
    """On its way. Without `amount` it gives the open order a new day."""

    item: str
    amount: Decimal | None = None
    unit: str | None = None
    supplier: str | None = None
    due: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ration(Said):
    """One head, one day, from now on."""

    item: str
    group: str
    amount: Decimal
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed(Said):
    """Days (both included) a supplier is shut."""

    supplier: str
    from_: date
    to: date
    hours: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Open(Said):
    """Days (both included) a supplier is open although a holiday, or at other `hours` ("08:00-12:00")."""

    supplier: str
    from_: date
    to: date
    hours: str | None = None


# -- land and bins


@dataclass(frozen=True, slots=True, kw_only=True)
class BinLevel(Said):
    bin: str
    amount: Decimal
    unit: str
    crop: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BinMove(Said):
    from_: str | None = None
    to: str | None = None
    amount: Decimal
    unit: str
    crop: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Load(Said):
    crop: str | None = None
    amount: Decimal | None = None
    unit: str | None = None
    moisture: Decimal | None = None
    field: str | None = None
    to: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fieldwork(Said):
    field: str
    work: str
    area: Decimal | None = None
    unit: str | None = None


# -- any


@dataclass(frozen=True, slots=True, kw_only=True)
class Remind(Said):
    """A job for a day, and for whom (`who`, else whoever told it). `every` repeats it from `due` to `until`: "14 days",
    "1 months", or weekdays ("monday thursday"); `of_month` is its day of the month, also where a shorter one had it on
    its last. A `product` to be given again to `tags` or a group is done by a dose.
    """

    text: str
    due: date
    time: str | None = None
    tag: str | None = None
    group: str | None = None
    every: str | None = None
    of_month: int | None = None
    until: date | None = None
    who: str | None = None
    product: str | None = None
    tags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawing(Said):
    """An entry that takes earlier ones back: `withdraws` holds their numbers in the book, set when it is written."""

    withdraws: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Correct(Withdrawing):
    """The last weight of an animal, or the last amount of an item, was wrong. `instead` (set when it is written into
    the book) is the entry that now stands in the place, and on the day, of the one withdrawn."""

    tag: str | None = None
    weight: Decimal | None = None
    item: str | None = None
    amount: Decimal | None = None
    unit: str | None = None
    was: Decimal | None = None
    instead: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Done(Said):
    """A job is done; `job` is its reminder's number in the book, where a button told it. `stop`: it is never to come
    again."""

    text: str | None = None
    tag: str | None = None
    group: str | None = None
    job: int | None = None
    stop: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Undo(Withdrawing):
    """All that the sender's last message (or last `count`) recorded is withdrawn."""

    count: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Edited(Withdrawing):
    """The sender changed a message: what it had recorded is withdrawn; the new reading follows as its own entries."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Product(Said):
    """Told of a product, nothing given."""

    product: str
    withdrawal_days: int | None = None
    dose: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(Said):
    text: str
    tags: tuple[str, ...] = ()
    group: str | None = None


# -- the plan in the book


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSet(Said):
    """The plan, or a change of it. Without `table`, `set` is the whole plan; with one, the keys of the row `name`
    that are set (a new row where there is none). A row set to `gone = true` is taken out."""

    kind: ClassVar[str] = "plan"
    table: str | None = None
    name: str | None = None
    set: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalSet(Said):
    """An animal as a farm folder lists it; weights in the farm's unit."""

    kind: ClassVar[str] = "animal"
    tag: str
    eid: str | None = None
    sex: str | None = None
    born: date | None = None
    dam: str | None = None
    group: str | None = None
    birth_weight: Decimal | None = None
    birth_type: int | None = None
    status: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave(Said):
    """A finding put off or waved away by a button: `key` names it, `until` is when it may come again (None: never)."""

    key: str
    until: str | None = None


Entry: TypeAlias = Said

KINDS: dict[str, type[Said]] = {
    cls.kind: cls
    for cls in (
        Weight, GroupWeight, Lambing, Foster, Dose, Stage, Arrived, Tagged, Retagged, Move, HeadCount, Loss, Cull, Ship,
        Sale, SaleDay, MarketPrice, Eggs, InsertsIn, InsertsOut, RamsIn, RamsOut, Marked, Scanned, Received, Used,
        OnHand, Ordered, Ration, Closed, Open, BinLevel, BinMove, Load, Fieldwork, Remind, Correct, Done, Undo, Edited,
        Product, Note, PlanSet, AnimalSet, Wave,
    )
}  # fmt: skip


def entry_from(data: Mapping[str, Any]) -> Entry:
    """The entry that plain data describes. Raises ValueError for an unknown kind or what does not fit."""
    cls = KINDS.get(str(data.get("kind")))
    if cls is None:
        raise ValueError(f"{data.get('kind')!r} is no kind of entry")
    return from_data(cls, data)
