"""What loads made once they are sold, beside what was foreseen, and the numbers of a season.

Nothing here advises; the load to come is `rules.loads`. Two loads of one day are one trip's worth of freight, shared.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import numpy as np

from rules import entries as e
from rules.farm import Farm
from rules.findings import Freight, LoadMade, Season
from rules.herd import MARKET, herd
from rules.loads import shrink, weighed_before
from rules.sales import prices
from rules.units import convert

MANY = 3  # loads of which freight is told by size


@dataclass(frozen=True, slots=True)
class _Gone:
    """Market animals that left on a day; `sale` where the price is told."""

    on: date
    head: int
    tags: tuple[str, ...]
    sale: e.Sale | None


def _gone(farm: Farm) -> list[_Gone]:
    """The loads of market animals, in order: of those told by tag, the ones that are no culls or breeding stock."""
    kept = set(farm.keeping(*MARKET))
    told = [_Gone(x.on, x.head, x.tags, x.sale) for x in farm.shipments]
    told += [_Gone(x.on, x.head or len(x.tags), x.tags, x) for x in farm.sales if x.what is None]
    market = [g for g in told if not g.tags or any(a.group in kept for t in g.tags if (a := farm.animals.get(t)))]
    return sorted(market, key=lambda g: g.on)


def last_made(farm: Farm, moment_on: date) -> LoadMade | None:
    """The newest load whose price is told, up to a day; None: there is none."""
    sold = [g for g in _gone(farm) if g.sale is not None and g.on <= moment_on]
    return _made(farm, sold[-1], moment_on) if sold else None


def _home(farm: Farm, load: _Gone, on: date) -> float | None:
    """The mean weight at home: as weighed in the days before, else as foreseen for that day; None: not known of all."""
    growing = herd(farm, on)
    weights = []
    for tag in load.tags:
        seen = weighed_before(farm.animals.get(tag), load.on)
        if seen is None and growing is not None and growing.knows(tag):
            seen = growing.weight(tag, load.on).mean
        if seen is not None:
            weights.append(seen)
    return sum(weights) / len(weights) if weights and len(weights) == len(load.tags) else None


def _sold_at(farm: Farm, sale: e.Sale) -> float | None:
    if sale.mean_weight is None:
        return None
    place = farm.plan.farm
    return float(convert(sale.mean_weight, sale.unit or place.weight, place.weight, place.country))


def _gross(farm: Farm, load: _Gone, weight: float | None) -> float | None:
    """What a head made."""
    sale = load.sale
    if sale is None:
        return None
    if sale.total is not None and load.head:
        return float(sale.total) / load.head
    if sale.price is None or sale.per == "head":
        return None if sale.price is None else float(sale.price)
    if weight is None:
        return None
    unit = "lb" if sale.per == "cwt" else sale.per or farm.plan.farm.weight
    price = float(sale.price) / (100.0 if sale.per == "cwt" else 1.0)
    return price * float(convert(Decimal(repr(weight)), farm.plan.farm.weight, unit, farm.plan.farm.country))


def _freight(farm: Farm, heads: int) -> float | None:
    ship = farm.plan.ship
    if ship.trip_cost is None or not heads:
        return None
    trips = -(-heads // ship.load_full) if ship.load_full else 1
    return float(ship.trip_cost) * trips / heads


def _made(farm: Farm, load: _Gone, on: date) -> LoadMade:
    home, sold = _home(farm, load, on), _sold_at(farm, load.sale) if load.sale else None
    before = farm.copy()  # as it was before that price was known
    before.shipments = tuple(replace(x, sale=None) if x.sale is load.sale else x for x in farm.shipments)
    before.sales = tuple(x for x in farm.sales if x is not load.sale)
    lost = shrink(before)
    at_sale = sold if sold is not None else None if home is None else home * (1.0 - lost)
    gross = _gross(farm, load, at_sale)
    freight = _freight(farm, sum(g.head for g in _gone(farm) if g.on == load.on))
    table = prices(before, load.on)
    foresaw = None
    if table is not None and home is not None:
        foresaw = float(table.head(np.array([home * (1.0 - lost)]), np.array([0.0]))[0]) - (freight or 0.0)
    net = None if gross is None else gross - (freight or 0.0)
    return LoadMade(
        level="know", on=load.on, head=load.head, home=_said(home, "0.1"), sold=_said(sold, "0.1"),
        shrink=_said(1.0 - sold / home, "0.001") if home and sold else None, gross=_said(gross, "0.01"),
        freight=_said(freight, "0.01"), net=_said(net, "0.01"), foresaw=_said(foresaw, "0.01"),
    )  # fmt: skip


def season(farm: Farm, on: date) -> Season | None:
    """This year's loads up to a day: heads, mean weight, days to market, what a head left, freight by size of load."""
    loads = [g for g in _gone(farm) if g.on.year == on.year and g.on <= on]
    if not loads:
        return None
    heads = sum(g.head for g in loads)
    weights = [(g.head, w) for g in loads if (w := _weight(farm, g, on)) is not None]
    born = [a.age(g.on) for g in loads for t in g.tags if (a := farm.animals.get(t)) and a.born]
    ages = [age for age in born if age is not None]
    made = [(x.head, float(x.net)) for g in loads if g.sale and (x := _made(farm, g, on)).net is not None]
    days: dict[date, int] = {}
    for g in loads:
        days[g.on] = days.get(g.on, 0) + g.head
    return Season(
        level="know", year=on.year, head=heads, loads=len(loads), weight=_said(_mean(weights), "0.1"),
        days=round(sum(ages) / len(ages)) if ages else None, net=_said(_mean(made), "0.01"),
        priced=sum(n for n, _ in made), freight=_by_size(farm, list(days.values())),
    )  # fmt: skip


def _weight(farm: Farm, load: _Gone, on: date) -> float | None:
    """The mean weight of a load: at the sale where told, else at home."""
    sold = _sold_at(farm, load.sale) if load.sale else None
    return sold if sold is not None else _home(farm, load, on)


def _mean(of: Sequence[tuple[int, float]]) -> float | None:
    return sum(n * x for n, x in of) / sum(n for n, _ in of) if of else None


def _by_size(farm: Farm, sizes: Sequence[int]) -> tuple[Freight, ...]:
    """Freight a head, of few loads each, of many by size: under the least worth a drive, up to full, full."""
    ship = farm.plan.ship
    if ship.trip_cost is None:
        return ()
    least, full = ship.load_min or 8, ship.load_full or 10**6
    lots: dict[int, list[int]] = {}
    for n in sizes:
        lots.setdefault(n if len(sizes) <= MANY else (n >= least) + (n >= full), []).append(n)
    found = []
    for key in sorted(lots):
        heads = lots[key]
        cost = sum((_freight(farm, n) or 0.0) * n for n in heads)
        each = Decimal(repr(cost / sum(heads))).quantize(Decimal("0.01"), ROUND_HALF_UP)
        found.append(Freight(low=min(heads), high=max(heads), loads=len(heads), each=each))
    return tuple(found)


def _said(value: float | None, step: str) -> Decimal | None:
    return None if value is None else Decimal(repr(float(value))).quantize(Decimal(step), ROUND_HALF_UP)
