"""Could that be? Cheap judgements of a value just told, from the farm's own records, before it is written.

No model is fitted here; the ranges are wide, so that a good lamb's honest week is never doubted, and a slipped decimal,
a swapped digit or a ewe's weight on a lamb always is. A doubt carries the slips that would make sense of the value.
"""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from itertools import combinations

from rules.farm import Animal, Farm
from rules.units import POUND, convert

# Bounds in kg. Gains: the fastest lambs of published groups gain about 0.45 kg a day (Western Maryland sheep research
# diary 2019: up to 0.937 lb over a whole trial, 1.19 lb over two weeks). Gut fill moves a scale by up to 17 % of live
# weight (Wilson et al. 2015); the rest is common practice, no source.
FASTEST = 0.6
SPURT = 14  # days it can last
LONG = 0.43  # from then on, and
OWN = 1.75  # times what this animal gained before, or
POOR = 0.25  # where that was little
SLOWEST = 0.05
FILL = 0.11
BIRTH = (1.5, 8.5)
GROWN_DAYS = 365
GROWN = (28.0, 190.0)


def bounds(animal: Animal, on: date, farm: Farm) -> tuple[Decimal, Decimal]:
    """Between which weights (farm's unit) a scale could show this animal on a day."""
    low, high = _kg(animal, on, farm)
    unit = 1.0 if farm.plan.farm.weight == "kg" else float(POUND)
    return Decimal(round(low / unit, 1)), Decimal(round(high / unit, 1))


def _kg(animal: Animal, on: date, farm: Farm) -> tuple[float, float]:
    unit = 1.0 if farm.plan.farm.weight == "kg" else float(POUND)
    age = animal.age(on)
    if animal.weighings:
        near = min(animal.weighings, key=lambda w: (abs((on - w.on).days), w.on))
        return _from(float(near.weight) * unit, (on - near.on).days, age, _gained(animal, unit))
    if age is not None and age < GROWN_DAYS:
        birth = float(animal.birth_weight) * unit if animal.birth_weight is not None else None
        low, high = (birth * 0.85, birth * 1.1) if birth else BIRTH
        days = max(age, 0)
        return low + SLOWEST * days, high + (FASTEST if days < 200 else 0.5) * days + 1.0
    group = farm.plan.group_named(animal.group) if animal.group else None
    if group and group.keeps in ("market lambs", "bottle lambs", "replacements") and age is None:
        return 2.0, 110.0
    return GROWN


def _gained(animal: Animal, unit: float) -> float | None:
    """What it gained a day (kg) from birth, or its first weighing, to its last; None where that is too short."""
    told = [(w.on, float(w.weight) * unit) for w in animal.weighings]
    if animal.born and animal.birth_weight is not None:
        told.append((animal.born, float(animal.birth_weight) * unit))
    (first, low), (last, high) = min(told), max(told)
    return (high - low) / (last - first).days if (last - first).days >= SPURT else None


def _from(weight: float, days: int, age: int | None, own: float | None) -> tuple[float, float]:
    """The range some days after (before, where negative) a weighing, of one that gained so much a day before it."""
    grown = age is not None and age - abs(days) > GROWN_DAYS
    long = LONG if own is None else min(LONG, max(POOR, OWN * own))
    gained = 0.15 * abs(days) if grown else FASTEST * min(abs(days), SPURT) + long * max(abs(days) - SPURT, 0)
    loss = 0.15 if grown else 0.12
    slack = FILL * weight + 1.0
    if days >= 0:
        return max(1.5, weight - slack - loss * min(days, 120)), weight + slack + gained
    return max(1.5, weight - slack - gained), weight + slack + loss * min(-days, 120)


def fits(animal: Animal, weight: Decimal, unit: str, on: date, farm: Farm) -> bool:
    """Whether this animal could weigh that."""
    low, high = bounds(animal, on, farm)
    return low <= _said(weight, unit, farm) <= high


def apart(animal: Animal, weight: Decimal, unit: str, on: date, farm: Farm) -> Decimal:
    """How far a weight is from the middle of what this animal could weigh (farm's unit)."""
    return abs(_said(weight, unit, farm) - sum(bounds(animal, on, farm), Decimal(0)) / 2)


def _said(weight: Decimal, unit: str, farm: Farm) -> Decimal:
    return convert(weight, unit, farm.plan.farm.weight, farm.plan.farm.country)


def slips(animal: Animal, weight: Decimal, unit: str, on: date, farm: Farm) -> list[Decimal]:
    """What could have been meant by a weight this animal cannot have, in the unit said; the likeliest first."""
    low, high = bounds(animal, on, farm)
    text = format(weight.normalize(), "f")
    digits = text.replace(".", "")
    guesses = [weight / 10, weight * 10, weight / 100]
    guesses += [Decimal(_swapped(digits, a, b)) for a, b in combinations(range(len(digits)), 2) if b - a == 1]
    guesses += [Decimal(digits[:n] + digits[n + 1 :]) for n in range(len(digits)) if len(digits) > 1]
    guesses += [Decimal(d + digits) for d in "12"]
    other = convert(weight, "kg", "lb", "US") if unit == "lb" else convert(weight, "lb", "kg", "US")
    guesses.append(other.quantize(Decimal("0.1")))
    if animal.weighings and animal.weighings[-1].on <= on:
        low = max(low, animal.weighings[-1].weight * Decimal("0.7"))  # none is meant to have shrunk so far
    middle = (low + high) / 2
    found = dict.fromkeys(g.normalize() + 0 for g in guesses if g > 0 and low <= _said(g, unit, farm) <= high)
    exact = [g for g in found if g in (weight / 10, weight * 10)]
    rest = sorted((g for g in found if g not in exact), key=lambda g: abs(_said(g, unit, farm) - middle))
    return [*exact, *rest][:3]


def _swapped(digits: str, a: int, b: int) -> str:
    return digits[:a] + digits[b] + digits[a] + digits[b + 1 :]


def mean_fits(animals: Iterable[Animal], mean: Decimal, unit: str, on: date, farm: Farm) -> bool:
    """Whether that can be the mean of these animals: within a third of what the lightest and the heaviest may weigh."""
    ranges = [bounds(a, on, farm) for a in animals]
    third = Decimal("0.67")
    said = _said(mean, unit, farm)
    return not ranges or min(low for low, _ in ranges) * third <= said <= max(high for _, high in ranges) / third


# How much of a thing is more than a farm like this would have at once, by its unit (common practice, no source).
_MUCH = {
    "bag": 200, "bottle": 60, "bale": 3000, "t": 500, "ton": 500, "kg": 60000, "lb": 120000, "L": 20000, "gal": 6000,
}  # fmt: skip


def too_much(amount: Decimal, unit: str, usual: Decimal | None) -> bool:
    """Whether an amount of an item is beyond belief: far over any such store, or twelve times the most ever told."""
    if amount > _MUCH.get(unit, 5000):
        return True
    return usual is not None and usual > 0 and amount > 12 * usual and amount > 20


def too_many_eggs(count: int, hens: int) -> bool:
    """Whether so many eggs cannot be from so many hens: more than three days' lay told at once."""
    return hens > 0 and count > 3 * hens + 3
