"""When there is a sale, and what one head brings there: the days ahead, and the price table moved by prices heard.

Who rides to a sale, and whether it pays, is in `rules.loads`. Nothing here knows an animal's weight.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from rules.days import WEEKDAYS, Moment
from rules.farm import Farm
from rules.growth import normal
from rules.herd import MARKET, Floats
from rules.units import convert

HALF_LIFE = 14.0  # days after which a price heard counts half (common practice, no source)
PLAN_COUNTS = 0.25  # what the plan's own table counts beside one price heard today
ELSEWHERE = 0.25  # what a price heard for other weights tells of a step
UNPRICED = 0.75  # of the first step's price, for the doubt whether an animal is below it: nobody has told that price
PRICE_DAYS = 120  # a price older than this moves nothing
FAR_OFF = 2.0  # a price more than so many times off the table is of something else than lambs
FAR_OFF_HEAD = 1.5  # the same for a price a head whose weight is not told: culls are often told so


def sale_days(farm: Farm, start: date, count: int) -> list[date]:
    """The next sale days from `start` on (itself included), at most `count`; none are found beyond a year.

    Weekdays of the plan, and what was told of single days. A public holiday is held unless told otherwise.
    """
    usual = {WEEKDAYS.index(day.lower()) for day in farm.plan.ship.sales if day.lower() in WEEKDAYS}
    days = (start + timedelta(n) for n in range(366))
    held = (day for day in days if farm.sale_days.get(day, day.weekday() in usual))
    return [day for day, _ in zip(held, range(count), strict=False)]


def next_sale(farm: Farm, moment: Moment, by: date | None = None) -> date | None:
    """The first sale on or after a day (today, if none is named); today's is over at noon, or once its load left."""
    start = max(by or moment.today, moment.today)
    if start == moment.today and (moment.now.hour >= 12 or _left(farm, start)):
        start += timedelta(1)
    return next(iter(sale_days(farm, start, 1)), None)


def _left(farm: Farm, on: date) -> bool:
    """Whether a load of that day is in the book."""
    return any(load.on == on for load in farm.shipments) or any(s.on == on and s.what is None for s in farm.sales)


@dataclass(frozen=True, slots=True)
class Prices:
    """What is paid by live weight, in the farm's unit: steps (from, money, money a unit), each on to the next.

    `heard` is the day of the newest price that moved the table; None: the plan's own.
    """

    steps: tuple[tuple[float, float, float], ...]
    heard: date | None

    @property
    def known_from(self) -> float:
        """The weight from which on a price is known."""
        return self.steps[0][0]

    def head(self, mean: Floats, sd: Floats) -> Floats:
        """What one head is expected to bring whose weight is known as a mean and a standard deviation."""
        _, money, per = self.steps[0]
        rows = ((-np.inf, UNPRICED * money, UNPRICED * per), *self.steps)
        ends = [*(row[0] for row in rows[1:]), np.inf]
        sd = np.maximum(sd, 1e-9)
        worth = np.zeros(np.broadcast_shapes(mean.shape, sd.shape))
        for (start, fixed, each), end in zip(rows, ends, strict=True):
            a, b = (start - mean) / sd, (end - mean) / sd
            inside = normal(b) - normal(a)
            # mean of a normal weight, times its chance, between the two ends
            part = mean * inside + sd * (np.exp(-0.5 * a * a) - np.exp(-0.5 * b * b)) / np.sqrt(2.0 * np.pi)
            worth += fixed * inside + each * part
        return worth


def prices(farm: Farm, on: date) -> Prices | None:
    """The price table as it stands on a day; None where nobody has told a price.

    The plan's steps, each moved by the prices heard and made since: the newer, and the nearer in weight, the more.
    Above the top weight more weight brings no more money: that weight is the farmer's own word for how far to go, and
    a table's last step, drawn on without end, would have every lamb kept for years.
    """
    ship = farm.plan.ship
    heard = [h for h in _heard(farm) if 0 <= (on - h.on).days <= PRICE_DAYS]
    base = [(float(s.from_), float(s.per)) for s in sorted(ship.price, key=lambda s: s.from_)]
    if not base:
        base = _made_of(heard)
    if not base:
        return None
    moved, newest = [], None
    for n, (start, per) in enumerate(base):
        end = base[n + 1][0] if n + 1 < len(base) else np.inf
        total, weight = PLAN_COUNTS, PLAN_COUNTS
        for h in heard:
            ratio = h.per / _per(base, h.at)
            far = FAR_OFF_HEAD if h.guessed else FAR_OFF
            if 1 / far <= ratio <= far:
                fits = h.low < end and h.high >= start
                counts = 2.0 ** (-(on - h.on).days / HALF_LIFE) * (1.0 if fits else ELSEWHERE)
                total, weight = total + counts * ratio, weight + counts
                newest = max(newest or h.on, h.on)
        moved.append((start, per * total / weight))
    return Prices(tuple(_to_top(moved, float(ship.max) if ship.max is not None else np.inf)), newest)


def _to_top(table: list[tuple[float, float]], top: float) -> Iterator[tuple[float, float, float]]:
    """The table's steps as (from, money, money a unit), flat above the top weight."""
    for (start, per), end in zip(table, [*(s for s, _ in table[1:]), np.inf], strict=True):
        if start >= top:
            yield start, per * start, 0.0
        else:
            yield start, 0.0, per
            if top < end:
                yield top, per * top, 0.0


def _per(base: list[tuple[float, float]], weight: float) -> float:
    return next((per for start, per in reversed(base) if weight >= start), base[0][1])


@dataclass(frozen=True, slots=True)
class Heard:
    """A price a unit of weight, for weights from `low` to `high`; `at` a weight it stands for."""

    on: date
    per: float
    low: float
    high: float
    at: float
    guessed: bool  # a price a head, of heads whose weight nobody told


def _made_of(heard: list[Heard]) -> list[tuple[float, float]]:
    """A table of the newest prices heard, where the plan has none."""
    if not heard:
        return []
    newest = max(h.on for h in heard)
    return sorted({(h.low, h.per) for h in heard if h.on == newest})


def _heard(farm: Farm) -> Iterator[Heard]:
    """Prices of lambs heard, and made at own sales, each a unit of the farm's weight."""
    ship, unit = farm.plan.ship, farm.plan.farm.weight
    usual = float(((ship.min or ship.max or Decimal(0)) + (ship.max or ship.min or Decimal(0))) / 2)
    for said in farm.prices:
        if said.what is None:
            low, high = (None if w is None else float(w) for w in (said.from_, said.to))
            at = (low + high) / 2 if low is not None and high is not None else low or usual
            per = _by_weight(said.price, said.per, unit, at)
            guessed = said.per == "head" and low is None
            if per is not None:
                yield Heard(said.on, per, low or 0.0, np.inf if high is None else high, at, guessed)
    kept = set(farm.keeping(*MARKET))
    loads = [load.sale for load in farm.shipments if load.sale is not None]
    for sale in (*loads, *(s for s in farm.sales if s.what is None)):
        if any(farm.animals[t].group not in kept for t in sale.tags if t in farm.animals):
            continue
        price, how = sale.price, sale.per
        head = sale.head or len(sale.tags)
        if price is None and sale.total is not None and head:
            price, how = sale.total / head, "head"
        mean = sale.mean_weight
        at = float(convert(mean, sale.unit or unit, unit, farm.plan.farm.country)) if mean is not None else usual
        if price is not None and (per := _by_weight(price, how, unit, at)) is not None:
            yield Heard(sale.on, per, at, at, at, how == "head" and mean is None)


def _by_weight(price: Decimal, per: str | None, unit: str, at: float) -> float | None:
    """A price said by lb, kg, cwt of 100 lb or head, for one of the farm's units; None for a price of other things."""
    if per == "head":
        return float(price) / at if at > 0 else None
    if per == "cwt":
        price, per = price / 100, "lb"
    if per not in ("lb", "kg", None):
        return None
    return float(price / convert(Decimal(1), per or unit, unit, ""))
