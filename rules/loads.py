"""The load for a sale: who is ready, who goes past the top weight by waiting, and whether to ship or wait.

The advice looks over this sale and the next few: for each choice of trips every lamb rides with the one on which most
is left of its price, after the keep until then, and the choice that leaves the farm most is advised. Weights are
chances, not numbers, so a lamb close to a price step weighs in with both prices. Only this sale's part is said; the
rest is worked out anew when the next one comes, with the weights of that day.
Whether an animal is fit to travel, and a hold is over, the label, the vet and local rules decide.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
from numpy.typing import NDArray

from rules.days import Moment
from rules.farm import Animal, Farm
from rules.findings import Hold, Ready
from rules.growth import EIGHTY, normal
from rules.herd import Floats, Herd, herd, market, mobs, weighed
from rules.plan import Shipping
from rules.sales import next_sale, prices, sale_days
from rules.travel import hold, near_lambing
from rules.units import convert

Flags = NDArray[np.bool_]

HORIZON = 42  # days of sales that are planned together
SALES = 8  # and how many of them at most
LATER = (14, 35)  # days after the last of them on which waiting still longer is judged
UNLEARNT = (
    0.5  # of the doubt that a later sale adds, what weighings till then do not take away (found in simulated years)
)
USUAL_LOAD = 12  # heads that share a trip beyond the horizon, where the plan names no load
SHRINK_HEADS, SHRINK_DAYS, SHRINK_MOST = 12, 2, 0.12  # New Mexico bulletin 1009: lambs shrink 5.3 to 7.4 % to the sale
NEAR = 0.05  # within this share of the ship weight an animal is close
SOON = 2  # days before a sale from which on its load is a job


def ready(
    farm: Farm, moment: Moment, by: date | None = None, only: Sequence[str] | None = None,
    over: Decimal | None = None, trip: date | None = None,
) -> list[Ready]:  # fmt: skip
    """The load for the next sale (on or after `by`, where named). Empty where no ship weight is told or none is kept.

    What if: `only` these tags ride; only those `over` a weight; the `trip` goes on a day of its own.
    """
    ship, animals = farm.plan.ship, market(farm)
    if ship.min is None or not (animals or mobs(farm, moment.today)):
        return []
    growing = herd(farm, moment.today)
    assert growing is not None
    sale = trip or next_sale(farm, moment, by)
    day = sale or max(by or moment.today, moment.today)
    later = sale_days(farm, day + timedelta(1), SALES)
    ahead = [day, *(d for d in later if (d - day).days <= HORIZON or d == later[0])][:SALES]
    if len(ahead) == 1:  # no sale days told: a week later is what waiting means
        ahead.append(day + timedelta(7))
    known = [a for a in animals if a.weighings or a.born]
    pool = _present(farm, growing, known)
    lot = _lot(farm, growing, pool, ahead, moment.today)
    if trip is not None and only is None:
        only = [a.tag for a in pool]
    return [_finding(farm, growing, lot, moment, sale, only, over)]


def _present(farm: Farm, growing: Herd, animals: list[Animal]) -> list[Animal]:
    """Without those that went with a load told by head only: the heaviest of their group that day, until told."""
    gone: set[str] = set()
    for u in farm.unnamed:
        if u.kind == "ship":
            left = [a.tag for a in animals if u.group in (a.group, "") and a.tag not in gone]
            weights = growing.weights(left, u.on)[0] if left else np.zeros(0)
            gone |= {left[i] for i in np.argsort(-weights, kind="stable")[: u.head]}
    return [a for a in animals if a.tag not in gone]


@dataclass(frozen=True, slots=True)
class Lot:
    """The animals for sale, and what is known of each: scale weights today, on this sale and the next."""

    animals: list[Animal]
    ahead: list[date]  # this sale, the next, and so on
    today: Floats
    first: Floats
    known: Flags  # weighed on the very day of the sale
    second: Floats
    chance_next: Floats  # that it is ready on the next sale
    held: dict[str, Hold]  # on this sale
    held_now: frozenset[str]
    may: Flags  # (animals, sales) it may ride: weighed before, ready, not held
    worth: Floats | None  # (animals, sales) price less keep from this sale on; None: not all of it is told
    last: Floats  # what is left of it, where it rides with none of these


def _lot(farm: Farm, growing: Herd, animals: list[Animal], ahead: list[date], now: date) -> Lot:
    tags, least = [a.tag for a in animals], float(farm.plan.ship.min or 0)
    seen = np.array([np.nan if (w := weighed(a, now)) is None else w for a in animals])
    today = np.where(np.isnan(seen), growing.weights(tags, now)[0], seen)
    first = today if ahead[0] == now else growing.weights(tags, ahead[0])[0]
    second, sd = growing.weights(tags, ahead[1])
    held_now = [hold(farm, a, now) for a in animals]
    holds = [h and hold(farm, a, ahead[0]) for h, a in zip(held_now, animals, strict=True)]  # a hold only ever ends
    free = [[h is None, *(h is None or (h.until is not None and d >= h.until) for d in ahead[1:])] for h in holds]
    may = np.array(free, bool).reshape(len(animals), len(ahead))
    may[[i for i, a in enumerate(animals) if not a.weighings]] = False  # nobody sends what was never weighed
    worth, there, last = _worth(farm, growing, tags, ahead, now)
    may &= np.column_stack([first >= least, there[:, 1:]])
    return Lot(
        animals, ahead, today, first, ~np.isnan(seen) & (ahead[0] == now), second,
        normal((second - least) / sd), {h.tag: h for h in holds if h}, frozenset(h.tag for h in held_now if h),
        may, worth, last,
    )  # fmt: skip


def _worth(
    farm: Farm, growing: Herd, tags: list[str], ahead: list[date], now: date
) -> tuple[Floats | None, Flags, Floats]:
    """What each head leaves after keep on each sale, whether it is ready on each, and what is left beyond them.

    None where price, trip or keep is not told.

    Later sales are judged with less doubt than a forecast has: by then the animals will have been weighed again, and
    one that outgrew its forecast will have gone.
    """
    ship, table = farm.plan.ship, prices(farm, now)
    if table is None or ship.trip_cost is None or ship.keep_cost is None:
        return None, np.ones((len(tags), len(ahead)), bool), np.zeros(len(tags))
    days = [*ahead, *(ahead[-1] + timedelta(n) for n in LATER)]
    mean, doubt = growing.course(tags, days)
    kept = float(ship.keep_cost) * np.array([(day - ahead[0]).days for day in days], float)
    sold = 1.0 - shrink(farm)
    doubt = np.sqrt(np.minimum(doubt[:, :1], doubt) ** 2 * (1.0 - UNLEARNT) + UNLEARNT * doubt**2)
    worth = table.head(mean * sold, doubt * sold) - kept
    there = mean >= float(ship.min or 0)
    usual = ((ship.load_min or ship.load_full or USUAL_LOAD) + (ship.load_full or ship.load_min or USUAL_LOAD)) / 2
    # a later trip is shared with those still growing, at foot ones too; the last lamb of all has no company to wait for
    company = max(1, len(tags) + sum(farm.at_foot(a, now) for a in farm.animals.values()))
    later = np.where(there, worth, -np.inf)[:, len(ahead) :].max(1)
    last = np.maximum(later, worth[:, -1]) - float(ship.trip_cost) / min(usual, company)
    return worth[:, : len(ahead)], there[:, : len(ahead)], last


def shrink(farm: Farm) -> float:
    """What share of its weight at home a lamb has lost when the sale weighs it, from the farm's own loads.

    Counted are loads told by tag, weighed at home in the days before and with a mean weight from the sale; without any
    it is nothing, and the first loads move it part of the way only, since one mean errs by the fill of a day.
    """
    lost, heads = 0.0, SHRINK_HEADS
    place = farm.plan.farm
    for load in farm.shipments:
        sale = load.sale
        home = [w for t in load.tags if (w := weighed_before(farm.animals.get(t), load.on)) is not None]
        if sale is None or sale.mean_weight is None or not home or len(home) < len(load.tags):
            continue
        mean = float(convert(sale.mean_weight, sale.unit or place.weight, place.weight, place.country))
        share = 1.0 - mean / (sum(home) / len(home))
        if abs(share) <= SHRINK_MOST:  # more is another load's weight, or carcasses
            lost, heads = lost + share * len(home), heads + len(home)
    return max(0.0, lost / heads)


def weighed_before(animal: Animal | None, on: date) -> float | None:
    weighings = [w for w in animal.weighings if 0 <= (on - w.on).days <= SHRINK_DAYS] if animal else []
    return float(weighings[-1].weight) if weighings else None


@dataclass(frozen=True, slots=True)
class Choice:
    """Trips and who rides: `rides` is the number of the sale each goes with, -1 for none of these; `left` in money."""

    left: float
    rides: NDArray[np.int64]


def _best(lot: Lot, ship: Shipping, go: bool | None, then: bool | None = None) -> Choice:
    """The trips that leave most; `go` and `then` fix whether the first and the second may be made."""
    assert lot.worth is not None
    worth = np.where(lot.may, lot.worth, -np.inf)
    full, cost, sales = ship.load_full, float(ship.trip_cost or 0), len(lot.ahead)
    best = Choice(-np.inf, np.full(len(lot.animals), -1))
    # every choice of trips, as a tree: each animal's best so far, and the sale it rides with (`sales`: none of them)
    start = ((), lot.last, np.full(len(lot.animals), sales))
    tree: list[tuple[tuple[bool, ...], Floats, NDArray[np.int64]]] = [start]
    while tree:
        made, value, rides = tree.pop()
        n = len(made)
        if n < sales:
            fixed = (go, then)[n] if n < 2 else None
            if fixed is not True:
                tree.append(((*made, False), value, rides))
            if fixed is not False:
                better = worth[:, n] > value
                tree.append(((*made, True), np.where(better, worth[:, n], value), np.where(better, n, rides)))
            continue
        trips = _trips(rides, sales, full)
        over = np.flatnonzero(trips > 1).tolist()
        left = float(value.sum()) - cost * float(trips.sum())
        if full and over and left + cost * len(over) > best.left:
            table = np.column_stack([np.where(made, worth, -np.inf), lot.last])
            rides = rides.copy()
            for sale in over:
                _leave_behind(table, rides, sale, full, cost)
            left = float(table[np.arange(len(rides)), rides].sum()) - cost * float(_trips(rides, sales, full).sum())
        if left > best.left + 1e-9:
            best = Choice(left, np.where(rides == sales, -1, rides))
    return best


def _trips(rides: NDArray[np.int64], sales: int, full: int | None) -> NDArray[np.int64]:
    """How many trips each sale takes: a load over the full one is a second."""
    heads = np.bincount(rides, minlength=sales + 1)[:sales]
    return -(-heads // full) if full else np.minimum(heads, 1)


def _leave_behind(table: Floats, rides: NDArray[np.int64], sale: int, full: int, cost: float) -> None:
    """Those over the full trailer that lose least ride with their next best, where that loses less than a trip."""
    on = np.flatnonzero(rides == sale)
    other = table[on].copy()
    other[:, sale] = -np.inf
    loss = table[on, sale] - other.max(1)
    out = np.argsort(loss, kind="stable")[: len(on) % full]
    if float(loss[out].sum()) < cost:
        rides[on[out]] = other[out].argmax(1)


def _finding(
    farm: Farm, growing: Herd, lot: Lot, moment: Moment, sale: date | None,
    only: Sequence[str] | None, over: Decimal | None,
) -> Ready:  # fmt: skip
    ship = farm.plan.ship
    least, top = float(ship.min or 0), float(ship.max) if ship.max is not None else np.inf
    tags = [a.tag for a in lot.animals]
    free = np.array([t not in lot.held for t in tags], bool)
    fit_now = np.array([t not in lot.held_now for t in tags], bool)
    first = lot.first
    expected, low, high = _count(farm, growing, lot, least, free)
    loose = [round(sum(m.count(least)[0] for m in mobs(farm, on))) for on in (moment.today, lot.ahead[0])]
    rides, advice, more = _advice(lot, ship, loose[1])
    if only is not None or over is not None:  # a what-if
        asked = set(tags if only is None else only)
        rides = np.array([t in asked for t in tags], bool) & free
        rides &= first >= float(over if over is not None else least)
        advice, more = "ship" if rides.any() else "too_few", None
    fill = _fill(farm, lot, rides, ship, lot.ahead[0])
    per_now, per_wait, freight = _left(farm, lot, rides if rides.any() else lot.may[:, 0], fill, moment.today)
    if per_now is not None and per_wait is not None and more is not None:
        # The next sale alone does not tell all that a plan over several is worth: where it says otherwise than the
        # advice, what the advice leaves more is said instead.
        each = _said(more / max(1, int(rides.sum() or lot.may[:, 0].sum())), "0.01")
        if (per_now > per_wait) != (advice == "ship"):
            per_wait, freight = per_now - each if advice == "ship" else per_now + each, None
    heavy = tuple(t for t, m, f in zip(tags, lot.second, free, strict=True) if f and m > top)
    short = zip((least - lot.today).tolist(), tags, fit_now, strict=True)
    close = sorted((miss, t) for miss, t, f in short if f and 0 < miss <= NEAR * least)
    table = prices(farm, moment.today)
    near = sale is not None and 0 <= (sale - moment.today).days <= SOON
    return Ready(
        level="soon" if near and (advice == "ship" or heavy) else "know",
        due=sale, sale=sale, now=int((fit_now & (lot.today >= least)).sum()) + loose[0],
        expected=_said(expected, "0.1"), low=low, high=high,
        tags=tuple(t for t, r in zip(tags, rides, strict=True) if r), heavy=heavy, fill=fill,
        held=tuple(lot.held[t] for t in sorted(lot.held)), advice=advice,
        per_head_now=per_now, per_head_wait=per_wait, freight_saved=freight,
        next_sale=lot.ahead[1] if sale else None, expected_next=_said(_next(farm, lot, least), "0.1"),
        close=tuple(t for _, t in close),
        unnamed=sum(u.head for u in farm.unnamed if u.group in {"", *(a.group for a in market(farm))}) or None,
        price_from=table.heard if table else None,
    )  # fmt: skip


def _said(value: float, step: str) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal(step), ROUND_HALF_UP)


def _count(farm: Farm, growing: Herd, lot: Lot, least: float, free: Flags) -> tuple[float, int, int]:
    """How many that may ride will be ready on the sale day; those weighed that very day are known."""
    known = int((lot.first[lot.known & free] >= least).sum())
    unknown = [a.tag for a, f in zip(lot.animals, free & ~lot.known, strict=True) if f]
    expected, low, high = growing.count(unknown, lot.ahead[0], least)
    loose = mobs(farm, lot.ahead[0])
    if loose:
        more, variance = (sum(x) for x in zip(*(m.count(least) for m in loose), strict=True))
        spread = EIGHTY * variance**0.5
        heads = sum(m.head for m in loose)
        expected, low = expected + more, low + math.floor(max(0.0, more - spread))
        high += math.ceil(min(float(heads), more + spread))
    return expected + known, low + known, high + known


def _next(farm: Farm, lot: Lot, least: float) -> float:
    """How many may ride and are expected to be ready on the next sale, if none goes with this one."""
    holds = [lot.held.get(a.tag) for a in lot.animals]
    free = np.array([h is None or (h.until is not None and h.until <= lot.ahead[1]) for h in holds], bool)
    return float(lot.chance_next[free].sum()) + sum(m.count(least)[0] for m in mobs(farm, lot.ahead[1]))


def _advice(lot: Lot, ship: Shipping, loose: int) -> tuple[Flags, str, float | None]:
    """Who should ride with this sale, the advice, and what following it leaves more than doing the other, in all.

    `loose` are those ready that have no tags to name.
    """
    fits, none = lot.may[:, 0], np.zeros(len(lot.animals), bool)
    least = ship.load_min or max(1, (ship.load_full or 0) // 3)
    few = int(fits.sum()) + loose < least
    if lot.worth is None or not len(fits):
        return (none, "too_few", None) if few else (_as_told(lot, ship, least), "ship", None)
    go, stay = _best(lot, ship, True), _best(lot, ship, False)
    if go.left > stay.left and (go.rides == 0).any():
        return go.rides == 0, "ship", go.left - stay.left
    return none, "too_few" if few else "wait", stay.left - go.left


def _as_told(lot: Lot, ship: Shipping, least: int) -> Flags:
    """All that are ready, where no money is told; a second trip only for a load, else the heaviest fill the first."""
    fits = lot.may[:, 0]
    full, heads = ship.load_full or 0, int(fits.sum())
    over = heads % full if full and heads > full else 0
    if not 0 < over < least:
        return fits
    heaviest = np.argsort(np.where(fits, -lot.first, np.inf), kind="stable")[: heads - over]
    return np.asarray(np.isin(np.arange(len(fits)), heaviest))


def _fill(farm: Farm, lot: Lot, rides: Flags, ship: Shipping, on: date) -> tuple[str, ...]:
    """Culls that can ride, oldest word first, as far as there is room beside the load."""
    riding = {a.tag for a, r in zip(lot.animals, rides, strict=True) if r}
    culls = sorted((a.culled, a.tag) for a in farm.animals.values() if a.here and a.culled and a.tag not in riding)
    fit = [
        t for _, t in culls if hold(farm, farm.animals[t], on) is None and not near_lambing(farm, farm.animals[t], on)
    ]
    full = ship.load_full
    return tuple(fit[: max(0, full - len(riding))] if full else fit)


def _left(
    farm: Farm, lot: Lot, riders: Flags, fill: tuple[str, ...], now: date
) -> tuple[Decimal | None, Decimal | None, Decimal | None]:
    """What is left of each head's price after freight and keep, now and at the next sale, for the same animals; and
    what freight is less a head by then."""
    ship, table = farm.plan.ship, prices(farm, now)
    if lot.worth is None or table is None or not riders.any() or (lot.first[riders] < table.known_from).any():
        return None, None, None
    wait = _best(lot, ship, False, True).rides == 1
    heads = int(riders.sum()) + len(fill), int((wait | riders).sum()) + len(fill)
    freight = [float(ship.trip_cost or 0) * (-(-n // ship.load_full) if ship.load_full else 1) / n for n in heads]
    left = [float(lot.worth[riders, n].mean()) - freight[n] for n in (0, 1)]
    return _said(left[0], "0.01"), _said(left[1], "0.01"), _said(freight[0] - freight[1], "0.01")
