"""What a rule found, as plain frozen records: the words of a reminder, an answer or a sheet are made from nothing else.

`level`: "act" asks the farmer to do it now, "soon" before `due`, "know" nothing. `due` is when it must be acted on.
Weights are in the farm's unit, amounts in the item's unit, money in the farm's currency; each number is rounded here,
once, as it will be said. `subject` names what a finding is about, so that the same matter is not said twice.
"""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import ClassVar

from rules.records import spelt


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What every finding has: the rule that found it, which is its class's name where it does not say another."""

    rule: ClassVar[str]
    subject: ClassVar[tuple[str, ...]] = ()
    level: str
    due: date | datetime | None = None

    def __init_subclass__(cls) -> None:
        cls.rule = cls.__dict__.get("rule", spelt(cls))

    @property
    def key(self) -> str:
        """The name of the matter: the rule and what it is about."""
        return ":".join([self.rule, *(_named(getattr(self, name)) for name in self.subject)])


def _named(value: object) -> str:
    return ",".join(map(str, value)) if isinstance(value, tuple) else "" if value is None else str(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOut(Finding):
    """When an item ends and the last moment to order. `runs_out` is the expected day; `order_by` None: too late, or
    nobody knows the supplier's hours; `arrives` is the day a delivery ordered by then comes. `stock_out` is the
    moment the store is expected empty (for "Thursday noon"); `counted` the day the estimate rests on; `renewed`
    when it was last told to be ordered or to have come. `ask_count` without an amount: count it, there may be nothing
    to order yet."""

    subject: ClassVar[tuple[str, ...]] = ("item",)
    item: str
    on_hand: Decimal
    unit: str
    per_day: Decimal
    runs_out: date | None = None
    stock_out: datetime | None = None
    order_by: datetime | None = None
    arrives: date | None = None
    order_amount: Decimal | None = None
    lasts_to: date | None = None
    supplier: str | None = None
    closed: tuple[date, ...] = ()
    because: tuple[str, ...] = ()
    counted: date | None = None
    coming: Decimal | None = None
    missed: bool | None = None
    ask_count: bool | None = None
    usual: Decimal | None = None
    renewed: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLate(Finding):
    subject: ClassVar[tuple[str, ...]] = ("item", "was_due")
    item: str
    supplier: str | None = None
    was_due: date
    amount: Decimal | None = None
    unit: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseDue(Finding):
    """A step of a dose plan. `from_`/`to` is its window; `doses_on_hand` None: nobody has counted. `order_amount` (in
    the item's `unit`) is what is short; `late` what label or vet say of a missed step that counts from an earlier one
    ("ask": nobody has told); `sale` the sale that its hold would miss; `close` when the dose before it was given, where
    that is a shorter time ago than the plan's windows lie apart; `arrives` when the doses ordered come, `opened_till`
    how long the opened bottle can be used, where it is needed longer."""

    subject: ClassVar[tuple[str, ...]] = ("plan", "step", "group", "from_")
    plan: str
    step: str
    product: str
    tags: tuple[str, ...] = ()
    group: str | None = None
    head: int | None = None
    from_: date
    to: date
    doses_needed: int | None = None
    doses_on_hand: int | None = None
    supplier: str | None = None
    order_by: datetime | None = None
    order_amount: Decimal | None = None
    unit: str | None = None
    arrives: date | None = None
    holds_until: date | None = None
    sale: date | None = None
    missed: bool | None = None
    late: str | None = None
    close: date | None = None
    opened_till: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """An animal that may not ride: until a day, for a product (None with `why`: noted lame, ill, nobody said)."""

    tag: str
    until: date | None = None
    product: str | None = None
    why: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready(Finding):
    """The load for a sale day. `low` to `high` is the 80 % interval of how many will be ready that day; `tags` are
    those the advice would send; `next_sale` and `expected_next` what waiting brings; `freight_saved` how much less
    freight a head is then; `price_from` the day of the newest price heard that it rests on."""

    subject: ClassVar[tuple[str, ...]] = ("sale",)
    sale: date | None = None
    now: int
    expected: Decimal | None = None
    low: int | None = None
    high: int | None = None
    tags: tuple[str, ...] = ()
    heavy: tuple[str, ...] = ()
    fill: tuple[str, ...] = ()
    held: tuple[Hold, ...] = ()
    advice: str | None = None
    per_head_now: Decimal | None = None
    per_head_wait: Decimal | None = None
    freight_saved: Decimal | None = None
    next_sale: date | None = None
    expected_next: Decimal | None = None
    close: tuple[str, ...] = ()
    unnamed: int | None = None
    price_from: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Room(Finding):
    """Floor a head of a weight needs in square metres, and how many a floor takes: to stand, to lie, in fleece."""

    weight: Decimal
    space: tuple[Decimal, ...]
    heads: tuple[int, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadMade(Finding):
    """What a load made. Weights are means a head: at `home` (weighed, else foreseen) and at the sale; `shrink` a share;
    money a head: `gross`, `freight`, `net` after it, and what the price table before that sale `foresaw`."""

    subject: ClassVar[tuple[str, ...]] = ("on",)
    on: date
    head: int
    home: Decimal | None = None
    sold: Decimal | None = None
    shrink: Decimal | None = None
    gross: Decimal | None = None
    freight: Decimal | None = None
    net: Decimal | None = None
    foresaw: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Freight:
    """Freight a head of the loads of from `low` to `high` heads."""

    low: int
    high: int
    loads: int
    each: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Season(Finding):
    """The loads of market animals of a year. `days` from birth to market, of those whose birth is known; `net` a head
    after freight, of the loads whose price is told (`priced` heads)."""

    year: int
    head: int
    loads: int
    weight: Decimal | None = None
    days: int | None = None
    net: Decimal | None = None
    priced: int = 0
    freight: tuple[Freight, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth(Finding):
    """One animal's weight on a day with its 80 % interval as a scale would show it; `gain` a day, farm's unit."""

    subject: ClassVar[tuple[str, ...]] = ("tag",)
    tag: str
    on: date
    weight: Decimal
    low: Decimal
    high: Decimal
    gain: Decimal | None = None
    ready: date | None = None
    last: Decimal | None = None
    last_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GainOf:
    name: str
    head: int
    gain: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class GainsBy(Finding):
    """Mean gains a day by sex, `litter`, dam or group."""

    split: str
    rows: tuple[GainOf, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjustedOf:
    tag: str
    weight: Decimal
    sex: str | None = None
    litter: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjusted(Finding):
    """Weights corrected to an age in `days`, most first; `left` were not weighed near enough to it."""

    days: int
    rows: tuple[AdjustedOf, ...]
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawal(Finding):
    """Held back from slaughter. `until` is the first day it may ship; None: nobody has told the product's days."""

    subject: ClassVar[tuple[str, ...]] = ("tag", "group", "product")
    tag: str | None = None
    group: str | None = None
    product: str
    until: date | None = None
    given: date | None = None
    days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LambingDue(Finding):
    subject: ClassVar[tuple[str, ...]] = ("group",)
    group: str
    from_: date
    peak: date
    to: date
    head: int | None = None
    lambs: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure a forecast rests on: the share lambing in the first cycle (`first`), the `litter`, the `loss` to
    weaning, the `days` to market; `own`: the farm's, else published."""

    name: str
    value: Decimal
    own: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MatingPlan(Finding):
    """What a mating comes to: nine in ten lambings and ready lambs lie between `from_` and `to`; money a head."""

    rule: ClassVar[str] = "mating"
    subject: ClassVar[tuple[str, ...]] = ("group", "rams")
    group: str
    rams: date
    out: date
    synced: bool
    ewes: int
    in_lamb: int
    from_: date
    peak: date
    to: date
    lambs: int
    scanned: bool
    ready: int
    ready_from: date
    ready_peak: date
    ready_to: date
    loads: int | None = None
    heads: Decimal | None = None
    freight: Decimal | None = None
    keep: Decimal | None = None
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """Heads that come ready in the seven days from `start`."""

    start: date
    heads: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming(Finding):
    """How many come ready by the week, `unborn` lambs that are still expected among those they come from."""

    weeks: tuple[Week, ...]
    head: int
    unborn: int
    loads: int | None = None
    heads: Decimal | None = None
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class JobDue(Finding):
    """A reminder, or a job a plan foresees. `seq` is the reminder's number in the book, `turn` the day a repeated one
    came round, `who` the person it is for, `product` what is to be given again; `stage` is what lambs of age are to
    reach, and `light` are those of `tags` last weighed under what a bottle lamb should weigh to be weaned."""

    subject: ClassVar[tuple[str, ...]] = ("text", "tag", "group", "seq", "turn")
    text: str
    tag: str | None = None
    group: str | None = None
    tags: tuple[str, ...] = ()
    light: tuple[str, ...] = ()
    seq: int | None = None
    turn: date | None = None
    who: str | None = None
    product: str | None = None
    stage: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GainDrop(Finding):
    subject: ClassVar[tuple[str, ...]] = ("tag", "group")
    tag: str | None = None
    group: str | None = None
    gain: Decimal
    usual: Decimal
    since: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses(Finding):
    subject: ClassVar[tuple[str, ...]] = ("group",)
    group: str
    head: int
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KitShort(Finding):
    subject: ClassVar[tuple[str, ...]] = ("group", "item")
    group: str
    item: str
    needed: Decimal
    on_hand: Decimal | None = None
    unit: str | None = None
    order_by: datetime | None = None
    supplier: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LayDrop(Finding):
    """`rate` and `usual` in eggs a hen a day."""

    subject: ClassVar[tuple[str, ...]] = ("group",)
    group: str
    rate: Decimal
    usual: Decimal
    since: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedDozen(Finding):
    """Feed for a dozen eggs, in the farm's unit of weight."""

    items: tuple[str, ...]
    amount: Decimal
    unit: str
