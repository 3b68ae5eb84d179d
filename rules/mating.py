"""From a mating to the loads it makes: how its lambings spread, how many lambs come ready each week, what freight and
keep that costs a head; and the same for a mating that is only supposed.

The farm's own spread, litter size, losses and days to market take the place of the published figures once enough is in
the book; each figure says which it was. Nothing is recorded here, and nothing is known of a price months ahead, of
what inserts cost, or of whether ewes cycle out of season.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from statistics import mean, pstdev

import numpy as np

from rules import entries as e
from rules.breeding import CYCLE, GESTATION, HEAT, LONGEST, UNTOLD_OUT, Mating, in_lamb, lambs_scanned, last_mating
from rules.days import Moment
from rules.farm import Farm
from rules.findings import Coming, Figure, MatingPlan, Week
from rules.growth_model import BIRTH
from rules.herd import MARKET, MOB_SPREAD, Floats, herd, market
from rules.units import POUND

FIRST_CYCLE = 0.85  # of the ewes that lamb, those that do within 17 days (Teagasc Athenry, Irish Farmers Journal, 2014)
FIRST_SERVICE = (
    0.70  # in lamb to the heat after inserts, joined at 30 h (Reid and Shannon 1987, NZ Soc. Animal Production)
)
LITTER = 1.9  # born a ewe lambing (Ehrhardt, Wyoming Livestock Roundup, 2014)
LOSS = 0.11  # lambs lost from birth to weaning, US average (US Sheep Experiment Station, 2019)
PACE = (
    0.29  # kg a day, tested lambs of 50 to 100 days (Ontario Ministry of Agriculture, Predicting lamb finishing dates)
)
OWN_LAMBINGS, OWN_LAMBS, OWN_SOLD = 10, 20, 10  # from so many of its own on the farm's figure is taken
RECENT = 800  # days back that the farm's own figures are taken from
APART = 30  # days without a lambing between two seasons of a group
EVERY = (1, 2, 3, 4, 6)  # weeks between trips that are compared
LEFT = 0.5  # heads a week below which nothing is worth saying
AHEAD = 400  # days


@dataclass(frozen=True, slots=True)
class Figures:
    """What a forecast rests on: each value, and whether it is the farm's own."""

    first: tuple[float, bool]
    litter: tuple[float, bool]
    loss: tuple[float, bool]
    days: tuple[float, bool]  # from birth to the ship weight
    spread: float  # standard deviation of those days

    def said(self) -> tuple[Figure, ...]:
        names = ("first", "litter", "loss", "days")
        values = (self.first, self.litter, self.loss, self.days)
        return tuple(Figure(name=n, value=_said(v, "0.01"), own=own) for n, (v, own) in zip(names, values, strict=True))


def figures(farm: Farm, on: date) -> Figures:
    """The farm's own figures where it has enough of them, else the book's."""
    old = on - timedelta(RECENT)
    born = [x for _, x in farm.lambings if x.born and x.on >= old]
    litter = mean(len(x.born) for x in born) if len(born) >= OWN_LAMBINGS else None
    told = [b for x in born if (on - x.on).days >= 60 for b in x.born if b.tag or b.alive is False]
    dead = sum(b.alive is False or _died(farm, b.tag) for b in told)
    loss = dead / len(told) if len(told) >= OWN_LAMBS else None
    kept = set(farm.keeping(*MARKET))
    sold = [
        a.age(a.gone)
        for a in farm.animals.values()
        if a.status == "sold" and a.gone and a.gone >= old and a.group in kept
    ]
    ages = [age for age in sold if age is not None]
    if len(ages) < OWN_SOLD:
        ages = _foreseen(farm, on)
    least = float(farm.plan.ship.min or 0) * (float(POUND) if farm.plan.farm.weight == "lb" else 1.0)
    book = (least - BIRTH) / PACE if least else 120.0
    own_days = len(ages) >= OWN_SOLD
    spread = pstdev(ages) if own_days else MOB_SPREAD * least / PACE if least else 20.0
    return Figures(
        _own(_first_cycle(farm, old), FIRST_CYCLE), _own(litter, LITTER), _own(loss, LOSS),
        _own(mean(ages) if own_days else None, book), max(5.0, spread),
    )  # fmt: skip


def _foreseen(farm: Farm, on: date) -> list[int]:
    """The age at which each weighed lamb here is to reach the ship weight: how the farm's grow, before any is sold."""
    growing, least = herd(farm, on), farm.plan.ship.min
    if growing is None or least is None:
        return []
    there = [a for a in market(farm) if a.weighings and a.born and growing.knows(a.tag)]
    days = [(a.born, growing.reaches(a.tag, float(least), on - timedelta(60))) for a in there]
    return [(day - born).days for born, day in days if born and day]


def _died(farm: Farm, tag: str | None) -> bool:
    animal = farm.animals.get(farm.now_tagged(tag or ""))
    return bool(animal and animal.status == "dead" and animal.gone and (animal.age(animal.gone) or 0) <= 150)


def _own(found: float | None, book: float) -> tuple[float, bool]:
    return (book, False) if found is None else (found, True)


def _first_cycle(farm: Farm, old: date) -> float | None:
    """Of the ewes that lambed after a natural mating, the share within a cycle of the first; None: too few."""
    early = told = 0
    for group in farm.keeping("ewes", "replacements"):
        days = sorted(said.on for where, said in farm.lambings if where == group and said.on >= old)
        starts = [*days[:1], *(b for a, b in pairwise(days) if (b - a).days > APART)]
        synced = [
            x.on for x in farm.breeding.get(group, ()) if isinstance(x, e.InsertsOut) or getattr(x, "synced", None)
        ]
        for start, end in zip(starts, [*starts[1:], date.max][: len(starts)], strict=True):
            if not any(GESTATION - 14 <= (start - day).days <= GESTATION + 14 for day in synced):
                mine = [d for d in days if start <= d < end]
                early, told = early + sum((d - start).days < CYCLE for d in mine), told + len(mine)
    return min(0.97, max(0.3, early / told)) if told >= OWN_LAMBINGS else None


def lambing_days(mating: Mating, first: float, out: int) -> Floats:
    """Share of the ewes joined that lamb on each day from the rams' first day on, where those stay `out` days.

    Ewes come in heat evenly over a cycle, or together after inserts; what does not hold comes back a cycle later.
    """
    held = np.zeros(out + 2)
    heats = np.zeros(out + 60)
    if mating.synced:
        heats[HEAT - 1 : HEAT + 1] = 0.5
    else:
        heats[:CYCLE] = 1.0 / CYCLE
    back = np.array([0.1, 0.2, 0.4, 0.2, 0.1])  # 17 days, 14 to 19 (New Mexico State Univ., Reproduction in Sheep)
    rate = FIRST_SERVICE if mating.synced else first
    for day in range(out + 1):
        held[day] = heats[day] * rate
        left = heats[day] - held[day]
        heats[day + CYCLE - 2 : day + CYCLE + 3] += left * back
    length = np.exp(-0.5 * ((np.arange(144, 153) - GESTATION) / 2.0) ** 2)
    return np.convolve(held, np.concatenate([np.zeros(144), length / length.sum()]))


def ready_days(lambed: Floats, of: Figures) -> Floats:
    """Lambs ready on each day for lambs born on each day: days to market as they spread."""
    to = np.arange(int(of.days[0] + 3 * of.spread) + 1)
    ripe = np.exp(-0.5 * ((to - of.days[0]) / of.spread) ** 2)
    return np.convolve(lambed, ripe / ripe.sum())


@dataclass(frozen=True, slots=True)
class Trips:
    loads: int
    heads: float  # a load
    freight: float  # a head
    keep: float  # a head, from ready to gone


def trips(farm: Farm, weekly: Sequence[float]) -> Trips | None:
    """The loads that heads ready by the week make, trips as many weeks apart as costs least; None: no costs told.

    A head ready in a week waits to the next trip. Freight as in the plan, over `load_full` a second trip.
    """
    ship, total = farm.plan.ship, sum(weekly)
    if ship.trip_cost is None or total < 1:
        return None
    best: tuple[float, Trips] | None = None
    for every in EVERY:
        waits = loads = 0.0
        for start in range(0, len(weekly), every):
            some = weekly[start : start + every]
            heads = sum(some)
            if heads >= LEFT:
                loads += -(-round(max(heads, 1)) // ship.load_full) if ship.load_full else 1
            waits += sum(n * 7 * (len(some) - 1 - k) for k, n in enumerate(some))
        freight = float(ship.trip_cost) * loads / total
        keep = float(ship.keep_cost or 0) * waits / total
        if best is None or freight + keep < best[0] - 1e-9:
            best = freight + keep, Trips(round(loads), total / max(1.0, loads), freight, keep)
    return best[1] if best else None


def weeks_of(days: Floats) -> list[float]:
    return [float(days[n : n + 7].sum()) for n in range(0, len(days), 7)]


def plan_of(farm: Farm, group: str, mating: Mating, on: date) -> MatingPlan:
    """What a mating, told or supposed, comes to: lambing, lambs, weeks in which they come ready, loads."""
    of = figures(farm, on)
    out = (mating.out - mating.start).days if mating.out else HEAT if mating.synced else UNTOLD_OUT
    share = lambing_days(mating, of.first[0], max(0, out))
    head = mating.head or in_lamb(farm, group, mating) or 0
    scanned = lambs_scanned(mating)
    lambs = float(scanned) if scanned is not None else head * float(share.sum()) * of.litter[0]
    born = share / share.sum() * lambs
    ready = ready_days(born, of) * (1.0 - of.loss[0])
    made = trips(farm, weeks_of(ready))
    first, peak, last = _span(born)
    r_first, r_peak, r_last = _span(ready)
    day = mating.start
    return MatingPlan(
        level="know", group=group, rams=day, out=day + timedelta(out), synced=mating.synced, ewes=head,
        in_lamb=round(head * float(share.sum())), from_=day + timedelta(first), peak=day + timedelta(peak),
        to=day + timedelta(last), lambs=round(lambs), ready_from=day + timedelta(r_first),
        ready_peak=day + timedelta(r_peak), ready_to=day + timedelta(r_last), ready=round(float(ready.sum())),
        loads=made.loads if made else None, heads=_said(made.heads, "1") if made else None,
        freight=_said(made.freight, "0.01") if made else None, keep=_said(made.keep, "0.01") if made else None,
        figures=of.said(), scanned=scanned is not None,
    )  # fmt: skip


def _span(days: Floats) -> tuple[int, int, int]:
    """The days between which nine in ten come, and the day of the fullest week's middle."""
    total = np.cumsum(days) / days.sum()
    week = np.convolve(days, np.ones(7), mode="same")
    first, last = (int(np.searchsorted(total, q)) for q in (0.05, 0.95))
    return first, int(np.argmax(week)), last


def suppose(
    farm: Farm,
    moment: Moment,
    group: str,
    *,
    rams: date | None,
    stay: int | None,
    synced: bool | None,
    instead: int | None,
) -> list[MatingPlan]:
    """A mating as supposed, and beside it the one that is: as told where it is still to lamb, else the usual natural
    one of the same day. An `instead` names the stay it is compared with."""
    told = last_mating(farm, group)
    if told is not None and (told.out or told.start + timedelta(UNTOLD_OUT)) + timedelta(LONGEST) < moment.today:
        told = None
    head = farm.eating(group, moment.today) or None
    if told is not None and rams is None:
        start, head = told.start, told.head or head
    else:
        start = rams or moment.today
        told = None
    days = stay if stay is not None else UNTOLD_OUT
    was = instead if instead is not None else UNTOLD_OUT
    base = told if told is not None and instead is None else Mating(start, start + timedelta(was), head=head)
    if told is not None and synced is None:
        synced = told.synced
    new = Mating(start, start + timedelta(days), synced=bool(synced), head=head)
    same = (new.start, new.out, new.synced) == (base.start, base.out, base.synced)
    return [plan_of(farm, group, x, moment.today) for x in ([new] if same else [new, base])]


def coming(farm: Farm, moment: Moment, group: str | None = None) -> Coming | None:
    """How many come ready for sale each week from now on: animals here, by their own growth, and lambs to be born."""
    ship = farm.plan.ship
    days = np.zeros(AHEAD)
    of, growing = figures(farm, moment.today), herd(farm, moment.today)
    here = [a for a in farm.animals.values() if a.here and farm.at_foot(a, moment.today)]
    lambs = [a for a in (*market(farm), *here) if group in (None, a.group)]
    for animal in lambs:
        known = growing is not None and growing.knows(animal.tag) and ship.min is not None and animal.weighings
        day = growing.reaches(animal.tag, float(ship.min or 0), moment.today) if growing and known else None
        if day is None and animal.born:
            day = max(moment.today, animal.born + timedelta(round(of.days[0])))
        if day is not None and (day - moment.today).days < AHEAD:
            days[(day - moment.today).days] += 1
    unborn = 0
    for ewes in farm.keeping("ewes", "replacements"):
        mating = last_mating(farm, ewes)
        if mating is None or group not in (None, ewes) or (mating.scan and mating.scan.in_lamb == 0):
            continue
        plan = plan_of(farm, ewes, mating, moment.today)
        lambed = any(where == ewes and said.on >= plan.from_ - timedelta(7) for where, said in farm.lambings)
        if plan.to < moment.today or lambed or not plan.ewes:
            continue
        unborn += plan.lambs
        out = (plan.out - plan.rams).days
        share = lambing_days(mating, of.first[0], out)
        ready = ready_days(share / share.sum() * plan.lambs, of) * (1.0 - of.loss[0])
        at = (mating.start - moment.today).days
        for n, heads in enumerate(ready):
            if 0 <= at + n < AHEAD:
                days[at + n] += heads
    weekly = weeks_of(days)
    if sum(weekly) < 1:
        return None
    made = trips(farm, weekly)
    weeks = [
        Week(start=moment.today + timedelta(7 * n), heads=_said(heads, "1"))
        for n, heads in enumerate(weekly)
        if heads >= LEFT
    ]
    return Coming(
        level="know", weeks=tuple(weeks), head=round(sum(weekly)), unborn=unborn, loads=made.loads if made else None,
        heads=_said(made.heads, "1") if made else None, figures=of.said(),
    )  # fmt: skip


def _said(value: float, step: str) -> Decimal:
    return Decimal(repr(float(value))).quantize(Decimal(step), ROUND_HALF_UP)
