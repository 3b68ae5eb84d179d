"""What is looked at over days, weeks and loads: the stock of an item, the weight of lambs, who is ready at each sale.

Each is the course of something that another rule answers for one moment, from the same model, so that a picture and
the words beside it agree. Nothing here is rounded for saying (findings are) and nothing is drawn.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
from numpy.typing import NDArray

from rules import loads, ordering, sales, stores, use
from rules.days import Moment
from rules.farm import Farm
from rules.findings import Ready
from rules.growth import EIGHTY, normal
from rules.herd import herd
from rules.laying import hen_days
from rules.plan import Item, Shipping

Floats = NDArray[np.float64]

BACK, AHEAD = 14, 60  # days of an item's stock that are looked at, before now and at most ahead
GROWING = 70  # days ahead that growth is looked at, at most
STEP = 2  # days between two looks at growth
USUAL_LOAD = 12  # heads up to which freight is looked at, where the plan names no full load
SALES = 6  # sales ahead at which it is counted who is ready
EGG_DAYS = 42


@dataclass(frozen=True, slots=True)
class Level:
    """The stock of an item, in its unit: as it was (`past`, with what was counted), and expected ahead with its 80 %
    band. `shut` are the days ahead on which its supplier does not open."""

    past: list[tuple[datetime, float]]
    counted: list[tuple[datetime, float]]
    ahead: list[datetime]
    expected: Floats
    low: Floats
    high: Floats
    shut: list[date]
    arrives: list[tuple[datetime, float]]


def level(farm: Farm, item: Item, moment: Moment, until: date | None = None) -> Level | None:
    """The stock of an item over the days around a moment; None where nobody has counted, or nothing tells its use.

    `until` bounds the days ahead; without it they go on for AHEAD days."""
    eaters = use.Herd(farm, moment.today, stores.AHEAD)
    used = use.use_of(farm, item, moment, eaters)
    daily = eaters.rations(item) * used.ahead(stores.AHEAD) if used else np.zeros(1)
    if used is None or not used.known or daily[0] <= 0:
        return None
    arrives = [(at, much) for at, much in stores.coming_in(farm, item, moment) if at is not None]
    ahead = stores.outlook(used, daily, arrivals=arrives, m=moment, z=EIGHTY)
    end = min(until or date.max, moment.today + timedelta(AHEAD))
    steps = range(0, stores.STEPS * max(1, (end - moment.today).days + 1) + 1)
    expected, low = (np.maximum(x[: len(steps)], 0.0) for x in (ahead.expected, ahead.sure))
    high = np.maximum(2.0 * ahead.expected[: len(steps)] - ahead.sure[: len(steps)], 0.0)
    past, counted = _past(farm, item, moment, used.on_hand)
    return Level(
        past, counted, [ahead.at(n) for n in steps], expected, low, high, _shut(farm, item, moment, end),
        [(at, much) for at, much in arrives if at.date() <= end],
    )  # fmt: skip


def _past(
    farm: Farm, item: Item, m: Moment, on_hand: float
) -> tuple[list[tuple[datetime, float]], list[tuple[datetime, float]]]:
    """The level since BACK days ago, by what was told, and the counts among it. Between two counts it is taken to be
    eaten evenly."""
    facts = [f for f in farm.stock.get(item.name, ()) if f.moment <= m.now and f.on <= m.today]
    counts = [n for n, f in enumerate(facts) if f.what == "on_hand"]
    counts = counts or [next(n for n, f in enumerate(facts) if f.what == "received")]
    since = next((n for n in reversed(counts) if facts[n].moment < m.now - timedelta(BACK)), counts[0])
    stops = [n for n in counts if n >= since]
    line: list[tuple[datetime, float]] = []
    for a, b in zip(stops, [*stops[1:], len(facts)], strict=True):
        between = facts[a + 1 : b]
        end, last = (facts[b].moment, float(facts[b].amount)) if b < len(facts) else (m.now, on_hand)
        here = float(facts[a].amount)
        eaten = max(0.0, here + sum(use.moves(f) for f in between) - last)
        span = max(1.0, (end - facts[a].moment).total_seconds())
        line.append((facts[a].moment, here))
        gone = 0.0
        for f in between:
            part = eaten * (f.moment - facts[a].moment).total_seconds() / span
            line.append((f.moment, max(0.0, here + gone - part)))
            gone += use.moves(f)
            line.append((f.moment, max(0.0, here + gone - part)))
        line.append((end, last))
    zone = m.now.tzinfo
    counted = [(facts[n].moment.astimezone(zone), float(facts[n].amount)) for n in stops if facts[n].what == "on_hand"]
    return [(at.astimezone(zone), much) for at, much in line], counted


def _shut(farm: Farm, item: Item, m: Moment, end: date) -> list[date]:
    """The days up to `end` on which the supplier is shut; none where nobody has told its hours."""
    openings = m.openings.get(item.supplier or "", ())
    return ordering.shut_days(openings, m.today, end) if openings else []


@dataclass(frozen=True, slots=True)
class Course:
    """Live weight over days, in the farm's unit: of one lamb as a scale would show it, of several their mean; `low` to
    `high` holds the one lamb's weight, or the lambs' weights, in 80 of 100 cases."""

    days: list[date]
    mean: Floats
    low: Floats
    high: Floats


def course(farm: Farm, moment: Moment, tags: Sequence[str], until: date) -> Course | None:
    """The weight of these from the day after they were last weighed (today at the latest) to a day; None where the
    herd's model knows none of them."""
    found = [h for h in (herd(farm, moment.today), herd(farm, moment.today, grown=True)) if h]
    growing = next((h for h in found if any(h.knows(t) for t in tags)), None)
    if growing is None:
        return None
    known = [t for t in tags if growing.knows(t)]
    end = min(until, moment.today + timedelta(GROWING))
    seen = max((w.on for t in known for w in farm.animals[t].weighings if w.on < moment.today), default=moment.today)
    first = min(max(seen + timedelta(1), moment.today - timedelta(GROWING)), moment.today)
    days = [first + timedelta(n) for n in range(0, (end - first).days, STEP)] + [end]
    looks = [growing.weights(known, day) for day in days]
    mean = np.array([m.mean() for m, _ in looks])
    low, high = (np.array([_quantile(m, sd, q) for m, sd in looks]) for q in (0.1, 0.9))
    return Course(days, mean, low, high)


def _quantile(mean: Floats, sd: Floats, share: float) -> float:
    """The weight that this share of the animals is below, each known as a mean and a standard deviation."""
    if len(mean) == 1:
        return max(0.0, float(mean[0] + (EIGHTY if share > 0.5 else -EIGHTY) * sd[0]))
    low, high = float((mean - 6 * sd).min()), float((mean + 6 * sd).max())
    for _ in range(40):
        mid = (low + high) / 2
        if float(normal((mid - mean) / sd).mean()) < share:
            low = mid
        else:
            high = mid
    return max(0.0, (low + high) / 2)


def ready_ahead(farm: Farm, moment: Moment, first: Ready) -> list[Ready]:
    """How many will be ready at the sale of a finding and at those after it, if none goes before."""
    days = sales.sale_days(farm, first.sale + timedelta(1), SALES - 1) if first.sale else []
    return [first, *(x for day in days for x in loads.ready(farm, moment, by=day))]


def freight(ship: Shipping, most: int) -> list[tuple[int, Decimal]]:
    """What each head bears of one trip, by the number that share it, up to the full load (or `most`)."""
    cost = ship.trip_cost or Decimal(0)
    cent = Decimal("0.01")
    return [(n, (cost / n).quantize(cent, ROUND_HALF_UP)) for n in range(1, (ship.load_full or max(most, 1)) + 1)]


def lay(farm: Farm, on: date, group: str | None = None, days: int = 1) -> list[tuple[date, Decimal]]:
    """Eggs a hen in the `days` up to each day of the last weeks, where any of them was counted."""
    ends = [on - timedelta(n) for n in range(EGG_DAYS - 1, -1, -1)]
    found = ((end, hen_days(farm, end - timedelta(days - 1), end, group)) for end in ends)
    return [(end, rate) for end, rate in found if rate is not None]
