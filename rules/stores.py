"""Never run out: when each item ends, the last moment to order it, and what is late or still missing.

Every item is looked at the same way: what is on hand, how fast it goes (`rules.use`), what is on its way, when its
supplier is open (`rules.ordering`). Nothing is invented: where nobody has counted and nobody has guessed, only what was
told is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from math import ceil, floor, log10
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from rules import ordering
from rules.breeding import first_due
from rules.days import Moment, runs
from rules.farm import Farm, Order
from rules.findings import KitShort, OrderLate, RunOut
from rules.ordering import Terms
from rules.plan import Item, Supplier
from rules.units import amount
from rules.use import Herd, Use, is_container, use_of

Floats = NDArray[np.float64]

AHEAD = 120  # days that are looked ahead
STEPS = 8  # looks a day
# Chance of not running out before a delivery, by what an item is for (common practice, no source).
LIVES_ON, FED, OTHER = 0.999, 0.9995, 0.996
LASTS = 6  # days an order is for: fresh feed, little money in the shed (common practice, no source)
OLD_COUNT = 9  # days after which a count is asked for before there is anything to order
CALM = 4  # days before the likely last moment to order in which an old count no longer stands in an order's place
FRESH_COUNT = 4  # days after which one is asked for with the order
# A count is asked for so long ahead where so many days' use are in doubt; twice as many where nothing lives on it.
ASK_AHEAD, DOUBT = timedelta(days=3), 2.5
HOURS_TO_ACT = timedelta(hours=5)  # no more between the morning message and the last moment: it is said the day before
KIT_AHEAD = 30  # days before the first due date from which a lambing kit is looked at


@dataclass(frozen=True, slots=True)
class Outlook:
    """The stock ahead, on `STEPS` looks a day from now: expected, and what is surely there at the item's service."""

    expected: Floats
    sure: Floats
    use: Floats  # eaten up to each look, expected
    now: datetime

    def at(self, step: int) -> datetime:
        return self.now + timedelta(days=step / STEPS)

    def first_below(self, level: Floats, since: datetime | None = None) -> datetime | None:
        start = self.step(since) if since is not None else 0
        below = np.flatnonzero(level[start:] <= 0)
        return self.at(start + int(below[0])) if below.size else None

    def step(self, moment: datetime) -> int:
        return min(len(self.use) - 1, max(0, ceil((moment - self.now).total_seconds() / 86400 * STEPS)))


def run_out(farm: Farm, moment: Moment) -> list[RunOut]:
    """When each item ends, and the last moment to order it: the emergency this tool exists to prevent.

    An item without any count or delivery told is left out. Sorted by urgency: act, soon, know, then by the moment.
    """
    herd = Herd(farm, moment.today, AHEAD)
    found = [x for item in farm.plan.item if (x := _run_out(farm, item, moment, herd)) is not None]
    rank = {"act": 0, "soon": 1, "know": 2}
    far = moment.now + timedelta(days=9999)
    return sorted(found, key=lambda x: (rank[x.level], x.order_by or x.stock_out or far, x.item))


def _run_out(farm: Farm, item: Item, moment: Moment, herd: Herd) -> RunOut | None:
    use = use_of(farm, item, moment, herd)
    if use is None:
        return None
    orders = [o for o in farm.orders if o.item == item.name]
    coming = _amount(sum((o.amount for o in orders), Decimal(0))) if orders else None
    plain = RunOut(
        level="know", item=item.name, unit=item.unit, on_hand=_amount(use.on_hand), per_day=Decimal(0),
        counted=use.counted, coming=coming, supplier=item.supplier,
    )  # fmt: skip
    daily = herd.rations(item) * use.ahead(AHEAD)
    if not use.known or daily[0] <= 0:
        return plain
    supplier = farm.plan.supplier_named(item.supplier) if item.supplier else None
    terms = _terms(farm, supplier, moment)
    arrivals = coming_in(farm, item, moment)
    z = NormalDist().inv_cdf(_service(farm, item))
    ahead = outlook(use, daily, arrivals, moment, z)
    empty = ahead.first_below(ahead.expected)
    found = RunOut(
        level="know", item=item.name, unit=item.unit, on_hand=plain.on_hand, per_day=_rate(daily[0]),
        runs_out=empty.date() if empty else None, stock_out=_hour(empty), counted=use.counted, coming=coming,
        supplier=item.supplier, usual=_rate(use.usual) if use.usual else None,
        renewed=_renewed(farm, item, moment),
    )  # fmt: skip
    if terms is None:
        return _by_days_left(farm, item, moment, found, ahead, use)
    late = any(at is None for at, _ in arrivals)
    likely = ordering.order_by(terms, empty) if empty else None
    calm = empty is None or (likely is not None and likely - moment.now > timedelta(days=CALM))
    doubt = float(ahead.expected[0] - ahead.sure[0]) / float(daily[0])
    doubtful = doubt >= (DOUBT if item.feeds else 2 * DOUBT)
    return _asking(moment, _ordered(farm, item, moment, found, ahead, terms, arrivals), late, calm, doubtful)


def _renewed(farm: Farm, item: Item, m: Moment) -> datetime | None:
    """When an item was last told to be ordered or to have come."""
    orders = (o.moment for o in (*farm.orders, *farm.filled) if o.item == item.name)
    came = (f.moment for f in farm.stock.get(item.name, ())[-10:] if f.what == "received")
    return max((at for at in (*orders, *came) if at <= m.now), default=None)


def coming_in(farm: Farm, item: Item, moment: Moment) -> list[tuple[datetime | None, float]]:
    """The open orders of an item: from when each can be counted on (None: overdue), and how much."""
    return [(_expected(farm, o, moment), float(o.amount)) for o in farm.orders if o.item == item.name]


def _by_days_left(farm: Farm, item: Item, m: Moment, x: RunOut, ahead: Outlook, use: Use) -> RunOut:
    """Nobody has told when the supplier is open: how urgent it is by the days left."""
    unsure = ahead.first_below(ahead.sure)
    if unsure is None:
        return x
    left = (unsure - m.now).total_seconds() / 86400
    level = "act" if left < 1.5 else "soon" if left < 4 else "know"
    return replace(x, level=level, due=unsure.date(), order_amount=_wanted(farm, item, ahead, m.now))


def _ordered(
    farm: Farm, item: Item, m: Moment, x: RunOut, ahead: Outlook, terms: Terms,
    arrivals: Sequence[tuple[datetime | None, float]],
) -> RunOut:  # fmt: skip
    """The finding with when and how much to order. What ends before a delivery that is on its way, and that no order
    made now could come ahead of, is not helped by ordering more: that is said, without an amount."""
    soonest = ordering.arrives(terms, m.now)
    if soonest is None:
        return x
    bridge = max((at for at, _ in arrivals if at is not None and at <= soonest), default=None)
    empty, unsure = ahead.first_below(ahead.expected, bridge), ahead.first_below(ahead.sure, bridge)
    first = ahead.first_below(ahead.expected)
    gap = first if bridge is not None and first is not None and first < bridge else None
    if gap is not None:
        level = "act" if gap < _morning(farm, m) else "soon"
        x = replace(x, level=level, due=gap, missed=True, arrives=_date(bridge))
    if unsure is None:
        return x
    by, missed = ordering.order_by(terms, unsure), False
    past = by is None or by < m.now
    if past:  # the careful moment: the next delivery there is, if it comes before the end
        missed = empty is not None and empty < soonest
        by = None if missed else ordering.order_by(terms, soonest)
    arrives = ordering.arrives(terms, by) if by is not None else soonest
    closed, because = _shut(m, item.supplier, arrives, empty or unsure)
    level = _level(farm, m, terms, by, missed, closed)
    if past and level == "know" and by is not None and by.date() <= m.today + timedelta(days=1):
        level = "soon"
    if gap is not None and level == "know":
        return x
    found = replace(
        x, order_by=by, missed=missed or None, arrives=_date(arrives), level=level,
        due=by or ordering.first_hour(terms, m.now), closed=closed,
        because=because,
    )  # fmt: skip
    if arrives is None:
        return found
    wanted = _wanted(farm, item, ahead, arrives, terms)
    return replace(found, order_amount=wanted, lasts_to=_lasts_to(ahead, arrives, wanted))


def _asking(m: Moment, x: RunOut, late: bool, calm: bool, doubtful: bool) -> RunOut:
    """With a count asked for, where the estimate rests on an old one. Some days before the last moment to order, where
    there may well be less than thought (`doubtful`), only the count is asked for: what was not seen then is seen too
    late. Nor is anything to be ordered yet where only the old count makes one unsure (`calm`). Where an order is late,
    that is asked after first (`order_late`), unless it cannot wait."""
    ago = (m.today - x.counted).days if x.counted is not None else 0
    left = x.order_by - m.now if x.order_by is not None and not x.missed else timedelta.max
    near = x.order_by is not None and x.order_by.date() <= m.today + timedelta(days=1)
    first = x.level != "act" and not x.missed and ago >= FRESH_COUNT and near
    unsure = x.level == "know" and left < ASK_AHEAD and ago > FRESH_COUNT and doubtful
    if first or unsure or (left < ASK_AHEAD and ago >= OLD_COUNT and (x.level == "know" or calm)):
        return replace(x, level="soon", ask_count=True, order_amount=None, lasts_to=None)
    if late and x.level == "soon":
        x = replace(x, level="know")
    return replace(x, ask_count=True) if x.level != "know" and ago >= FRESH_COUNT else x


def _morning(farm: Farm, m: Moment) -> datetime:
    """When the next morning message goes out."""
    today = datetime.combine(m.today, farm.plan.farm.morning, m.now.tzinfo)
    return today if today > m.now else today + timedelta(days=1)


def _date(moment: datetime | None) -> date | None:
    return moment.date() if moment else None


def _level(farm: Farm, m: Moment, terms: Terms, by: datetime | None, missed: bool, closed: Sequence[date]) -> str:
    """act: it cannot wait for the next morning message; soon: the next morning message would leave little time for it,
    or the supplier shuts over a holiday, and so it is said the day before."""
    if missed or by is None:
        return "act"
    first = ordering.first_hour(terms, _morning(farm, m))
    if first is None or by < first:
        return "act"
    tomorrow = by.date() <= m.today + timedelta(days=1)
    return "soon" if by <= _morning(farm, m) + HOURS_TO_ACT or (closed and tomorrow) else "know"


def _shut(
    m: Moment, supplier: str | None, arrives: datetime | None, empty: datetime
) -> tuple[tuple[date, ...], tuple[str, ...]]:
    """The days around a holiday or closure on which the supplier is shut before the item ends, and why."""
    why = m.closures.get(supplier or "", {})
    end = max(empty.date(), arrives.date() if arrives else empty.date())
    shut = ordering.shut_days(m.openings.get(supplier or "", ()), m.today, end + timedelta(days=10))
    told = [run for run in runs(shut) if run[0] <= end and any(day in why for day in run)]
    days = tuple(day for run in told for day in run)
    return days, tuple(dict.fromkeys(why[day] for day in days if day in why))


def outlook(use: Use, daily: Floats, arrivals: Sequence[tuple[datetime | None, float]], m: Moment, z: float) -> Outlook:
    """The stock ahead: use spread over each day, deliveries from the moment they count."""
    each = np.repeat(daily / STEPS, STEPS)
    eaten = np.concatenate([[0.0], np.cumsum(each)])
    days = np.arange(len(eaten)) / STEPS
    came = np.zeros_like(eaten)
    for at, much in arrivals:
        if at is not None:
            came[days >= (at - m.now).total_seconds() / 86400] += much
    expected = use.stock + came - eaten
    return Outlook(expected, expected - z * np.sqrt(use.variance(eaten, days)), eaten, m.now)


def _service(farm: Farm, item: Item) -> float:
    """The chance of not running out that is asked of an item."""
    if item.service is not None:
        return min(0.9999, max(0.5, float(item.service)))
    kinds = {g.keeps for f in item.feeds if (g := farm.plan.group_named(f.group))}
    return LIVES_ON if "bottle lambs" in kinds else FED if kinds else OTHER


def _terms(farm: Farm, supplier: Supplier | None, m: Moment) -> Terms | None:
    """A supplier's terms, with the days it has shown to be late; None where nobody has told its hours."""
    if supplier is None or not m.openings.get(supplier.name):
        return None
    lead = supplier.lead_days if supplier.lead_days is not None else 1
    return Terms(m.openings[supplier.name], supplier.order_before, lead, _late(farm, supplier.name, m))


def _late(farm: Farm, supplier: str, m: Moment) -> int:
    """Open days after they were due by which at least two of its last eight deliveries came; once is no habit."""
    openings = m.openings.get(supplier, ())
    late = sorted(
        len(ordering.open_days(openings, order.due + timedelta(days=1), order.came)) if order.came > order.due else 0
        for order in [o for o in farm.filled if o.supplier == supplier][-8:]
        if order.due is not None and order.came is not None
    )
    return min(3, late[-2]) if len(late) >= 2 else 0


def _expected(farm: Farm, order: Order, m: Moment) -> datetime | None:
    """From when an open order can be counted on: closing time of its day; one that is overdue is not."""
    openings = m.openings.get(order.supplier or "", ())
    if order.due is not None:
        end = ordering.closing(openings, order.due) or datetime.combine(order.due, time(18), m.now.tzinfo)
    else:
        supplier = farm.plan.supplier_named(order.supplier) if order.supplier else None
        terms = _terms(farm, supplier, m)
        if terms is None:
            return None
        at = ordering.arrives(terms, order.moment.astimezone(m.now.tzinfo))
        if at is None:
            return None
        end = at
    return end if end >= m.now else None


def _wanted(farm: Farm, item: Item, ahead: Outlook, arrives: datetime, terms: Terms | None = None) -> Decimal:
    """How much to buy: what is eaten in the days after the delivery, the margin, less what is then still there; to the
    nearest whole, but never less than safely lasts to the next delivery one could order then."""
    until = arrives + timedelta(days=min(LASTS, item.keeps_days or LASTS))
    following = until
    if terms is not None:
        following = ordering.arrives(terms, arrives) or until
        until = max(following, next((o.end for o in terms.openings if o.end >= until), until))
    start = ahead.step(arrives)
    there = max(0.0, float(ahead.expected[start]))
    margin = ahead.expected - ahead.sure
    end, after = ahead.step(until), ahead.step(following)
    eaten = float(ahead.use[end] - ahead.use[start])
    wanted = eaten + min(float(margin[start]), eaten) - there
    needed = float(ahead.use[after] - ahead.use[start]) + min(float(margin[after]), eaten) - there
    step = _step(farm, item, wanted)
    smallest = farm.plan.amount_of(item, item.order_min) if item.order_min else Decimal(0)
    room = float(farm.plan.amount_of(item, item.store_max)) - there if item.store_max else None
    return ordering.order_amount(max(0.0, wanted - 0.5 * float(step), needed), step, smallest, room)


def _step(farm: Farm, item: Item, wanted: float) -> Decimal:
    """What an item is bought in: as the plan says, whole bags, and of loose goods a round amount."""
    if item.order_step:
        return farm.plan.amount_of(item, item.order_step)
    if is_container(item, farm.plan.farm.country) or wanted < 100:
        return Decimal(1)
    return Decimal(10) ** (floor(log10(wanted)) - 1)


def _lasts_to(ahead: Outlook, arrives: datetime, bought: Decimal) -> date | None:
    """The day it is then expected to be gone."""
    level = ahead.expected + np.where(np.arange(len(ahead.use)) >= ahead.step(arrives), float(bought), 0.0)
    below = np.flatnonzero((level <= 0) & (np.arange(len(level)) > ahead.step(arrives)))
    return ahead.at(int(below[0])).date() if below.size else None


def _amount(value: float | Decimal) -> Decimal:
    """Rounded once, as it will be said: two places."""
    return Decimal(str(value)).quantize(Decimal("0.01"), ROUND_HALF_UP).normalize() + Decimal(0)


def _rate(value: float) -> Decimal:
    return Decimal(repr(float(f"{value:.3g}")))


def _hour(moment: datetime | None) -> datetime | None:
    return moment.replace(minute=0, second=0, microsecond=0) if moment else None


def order_late(farm: Farm, moment: Moment) -> list[OrderLate]:
    """Orders whose day has gone by, at closing time, without word that they came. An order without a day is due on the
    day its supplier's hours and lead time give."""
    found = []
    for order in farm.orders:
        due = order.due or _due(farm, order, moment)
        if due is None:
            continue
        end = ordering.closing(moment.openings.get(order.supplier or "", ()), due)
        if moment.now >= (end or datetime.combine(due, time(18), moment.now.tzinfo)):
            unit = item.unit if (item := farm.plan.item_named(order.item)) else None
            late = OrderLate(
                level="soon", due=moment.today, item=order.item, supplier=order.supplier, was_due=due,
                amount=_amount(order.amount), unit=unit,
            )  # fmt: skip
            found.append(late)
    return sorted(found, key=lambda x: (x.was_due, x.item))


def _due(farm: Farm, order: Order, m: Moment) -> date | None:
    supplier = farm.plan.supplier_named(order.supplier) if order.supplier else None
    terms = _terms(farm, supplier, m)
    at = ordering.arrives(terms, order.moment.astimezone(m.now.tzinfo)) if terms else None
    return at.date() if at else None


def kit_short(farm: Farm, moment: Moment) -> list[KitShort]:
    """What of the lambing kit is not in the house, ahead of each group's first due date."""
    found = []
    for group in farm.keeping("ewes"):
        first = first_due(farm, group)
        if first is None or not 0 <= (first - moment.today).days <= KIT_AHEAD:
            continue
        for need in (n for kit in farm.plan.kit if kit.for_ == "lambing" for n in kit.needs):
            if (short := _short(farm, group, need.item, need.amount, need.per, first, moment)) is not None:
                found.append(short)
    return sorted(found, key=lambda x: (x.group, x.item))


def _short(farm: Farm, group: str, name: str, text: str, per: str, first: date, m: Moment) -> KitShort | None:
    item = farm.plan.item_named(name)
    if item is None:
        return None
    said = amount(text)
    try:
        each = item.units(said.value, said.unit, farm.plan.farm.country)
    except ValueError:
        return None
    needed = each * (farm.head(group) if per == "ewe" else 1)
    use = use_of(farm, item, m, Herd(farm, m.today, 1))
    have = _amount(use.on_hand) if use else None
    coming = sum((o.amount for o in farm.orders if o.item == name), Decimal(0))
    if (have or Decimal(0)) + coming >= needed:
        return None
    supplier = farm.plan.supplier_named(item.supplier) if item.supplier else None
    terms = _terms(farm, supplier, m)
    by = ordering.order_by(terms, datetime.combine(first, time(6), m.now.tzinfo)) if terms else None
    by = by if by is not None and by >= m.now else None
    near = (first - m.today).days <= 14 or (by is not None and by - m.now < timedelta(days=4))
    return KitShort(
        level="soon" if near else "know", due=by or first, group=group, item=name, needed=_amount(needed), on_hand=have,
        unit=item.unit, order_by=by, supplier=item.supplier,
    )  # fmt: skip
