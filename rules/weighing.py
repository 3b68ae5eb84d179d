"""Weighing in the alley: whom it is worth to weigh before a sale, and a run of weights summed up."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from statistics import mean, pstdev

from rules import gains, sales
from rules.days import Moment
from rules.farm import Animal, Farm
from rules.findings import Growth
from rules.herd import MARKET, market
from rules.travel import hold

LEAST_DAYS = 3  # a gain over fewer days is gut fill, not growth (Clayton et al., doi 10.1071/an25374: 0.57 over 14 d)


@dataclass(frozen=True, slots=True)
class Weighed:
    """Weights in the farm's unit, gains a day. `near`: tags that reach the weight by the `sale`, with what they lack;
    `odd`: lost weight or gained nothing since last time; `missing`: market lambs of the same groups not weighed."""

    head: int
    least: Decimal
    most: Decimal
    mean: Decimal
    spread: Decimal
    ready: tuple[str, ...]
    held: tuple[str, ...]
    near: tuple[tuple[str, Decimal], ...]
    gain: Decimal | None
    odd: tuple[str, ...]
    missing: tuple[str, ...]
    sale: date | None


@dataclass(frozen=True, slots=True)
class WeighList:
    """Whom a weighing would decide before the `sale`, the most open first; how many are `surely` ready, or surely not
    (`short`), or `held`, so that the scale changes nothing for them."""

    sale: date
    open: tuple[Growth, ...]
    surely: int
    short: int
    held: int


def to_weigh(farm: Farm, m: Moment, by: date | None = None, group: str | None = None) -> WeighList | None:
    """The lambs for sale whose readiness on the next sale day a weighing would decide: the 80 % interval of what a
    scale would show that day lies on both sides of the ship weight. Weighed today, held or surely on one side of it, an
    animal need not be driven over the scale. None where no ship weight is told or no tagged lamb is for sale."""
    least = farm.plan.ship.min
    animals = [a for a in market(farm) if group in (None, a.group)]
    if least is None or not animals:
        return None
    sale = sales.next_sale(farm, m, by) or by or m.today
    free = [a for a in animals if hold(farm, a, sale) is None]
    found = gains.growth(farm, m, [a.tag for a in free], sale)
    today = {a.tag for a in free if a.weighings and a.weighings[-1].on == m.today}
    open_ = [x for x in found if x.low < least <= x.high and x.tag not in today]
    wide = {x.tag: (x.high - x.low) or Decimal(1) for x in open_}
    return WeighList(
        sale=sale,
        open=tuple(sorted(open_, key=lambda x: (abs(x.weight - least) / wide[x.tag], x.tag))),
        surely=sum(x.low >= least or (x.tag in today and x.weight >= least) for x in found if x not in open_),
        short=sum(x.high < least or (x.tag in today and x.weight < least) for x in found if x not in open_),
        held=len(animals) - len(free),
    )


def weighed(farm: Farm, m: Moment, tags: Sequence[str]) -> Weighed | None:
    """What a run of weights of today says. None where none of these tags was weighed today."""
    animals = [a for t in tags if (a := farm.animals.get(t)) and a.weighings and a.weighings[-1].on == m.today]
    if not animals:
        return None
    weights = [a.weighings[-1].weight for a in animals]
    least = farm.plan.ship.min
    for_sale = [a for a in animals if a.group in farm.keeping(*MARKET)] if least is not None else []
    held = [a.tag for a in for_sale if hold(farm, a, m.today)]
    free = [a for a in for_sale if a.tag not in held]
    gained = [g for a in animals if (g := _gain(a)) is not None]
    sale = sales.next_sale(farm, m)
    return Weighed(
        head=len(animals),
        least=min(weights),
        most=max(weights),
        mean=mean(weights),
        spread=Decimal(pstdev(weights)),
        ready=tuple(a.tag for a in free if least and a.weighings[-1].weight >= least),
        held=tuple(held),
        near=tuple(_near(free, least, sale, m.today)) if least is not None else (),
        gain=mean(gained) if gained else None,
        odd=tuple(a.tag for a in animals if (g := _gain(a)) is not None and g <= 0),
        missing=tuple(_missing(farm, animals, m.today)),
        sale=sale,
    )


def _gain(animal: Animal) -> Decimal | None:
    """The gain a day since the weighing before, at least three days earlier."""
    last = animal.weighings[-1]
    before = [w for w in animal.weighings[:-1] if (last.on - w.on).days >= LEAST_DAYS]
    return (last.weight - before[-1].weight) / (last.on - before[-1].on).days if before else None


def _near(free: Sequence[Animal], least: Decimal, sale: date | None, today: date) -> list[tuple[str, Decimal]]:
    """Those that lack what they gain until the sale; nearest first."""
    days = (sale - today).days if sale else 0
    found = []
    for a in free:
        lacks, gain = least - a.weighings[-1].weight, _gain(a) or Decimal(0)
        if 0 < lacks <= max(gain * days, least / 100):
            found.append((a.tag, lacks))
    return sorted(found, key=lambda x: (x[1], x[0]))


def _missing(farm: Farm, animals: Sequence[Animal], today: date) -> list[str]:
    """The rest of a group of which more than half was weighed."""
    found: list[str] = []
    for group in dict.fromkeys(a.group for a in animals if a.group):
        there = farm.in_group(group)
        rest = [a.tag for a in there if not (a.weighings and a.weighings[-1].on == today)]
        if len(rest) * 2 < len(there):
            found += rest
    return found
