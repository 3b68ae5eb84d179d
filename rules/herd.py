"""The farm's animals as growth records, and the model fitted to them: weights asked and answered in the farm's unit.

A model belongs to the facts it was made from: the same facts give the same model, after a restart or in a replay, and
it is fitted anew only when a weight, a birth or a pen changed. Animals that left in the last months stay in it, since
a herd from which the fast growers were sold would else look slow. It says nothing of loads, holds or prices.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from rules.farm import Animal, Farm
from rules.growth import Forecast, Model, Record, count_ready, fit, ready_day
from rules.growth_model import GAIN
from rules.units import POUND, convert

Floats = NDArray[np.float64]

MARKET = ("market lambs", "bottle lambs")  # what the groups keep whose animals go to sale
GONE_DAYS = 120  # how long an animal that left still tells of the herd
KNOT = 28  # days between which a course is a straight line
MOB_SPREAD = 0.12  # spread of market weights: 11.8 and 12.2 % in the Western Maryland diaries of 2018 and 2019
MOB_DAYS = 10  # days between two group weights that tell a gain
LOOK_AHEAD = 240  # days ahead in which a ready day is looked for

_KEPT: dict[str, tuple[Animal, float, Record]] = {}


@dataclass(frozen=True, slots=True)
class Herd:
    """A fitted herd. `unit` is how many kg one of the farm's units of weight is; all weights here are in the farm's."""

    model: Model
    unit: float

    def knows(self, tag: str) -> bool:
        return tag in self.model.rows

    def weights(self, tags: Sequence[str], on: date) -> tuple[Floats, Floats]:
        """What a scale would show on a day: mean and standard deviation of each animal, in the order asked."""
        rows = [self.model.rows[tag] for tag in tags]
        mean, sd = self.model.herd_on(on.toordinal())
        return mean[rows] / self.unit, sd[rows] / self.unit

    def course(self, tags: Sequence[str], days: Sequence[date]) -> tuple[Floats, Floats]:
        """What the animals themselves weigh on some days, in order: means (animals, days), and the doubt on the first.

        Without what only one day's scale sees (gut fill, rain, its own error). Between days four weeks apart the course
        is a straight line, to the scale's step.
        """
        rows = np.array([self.model.rows[tag] for tag in tags])
        first, *_, last = ordinals = np.array([day.toordinal() for day in days], float)
        knots = np.unique([first, *np.arange(first + KNOT, last, KNOT), last])
        at, doubt = zip(*(self.model.animals(rows, day) for day in knots), strict=True)
        means, doubts = np.array(at) / self.unit, np.array(doubt) / self.unit
        left = np.clip(np.searchsorted(knots, ordinals, side="right") - 1, 0, len(knots) - 2)
        part = ((ordinals - knots[left]) / (knots[left + 1] - knots[left]))[:, None]
        return tuple(((1.0 - part) * x[left] + part * x[left + 1]).T for x in (means, doubts))

    def weight(self, tag: str, on: date) -> Forecast:
        """What a scale would show on a day, with its 80 % interval."""
        kg = self.model.forecast(tag, on.toordinal())
        return Forecast(kg.mean / self.unit, kg.sd / self.unit, kg.low / self.unit, kg.high / self.unit)

    def gain(self, tag: str, on: date) -> tuple[float, float]:
        """Gain a day over the last weeks, and how sure it is (standard deviation)."""
        gain, sd = self.model.gain(tag, on.toordinal())
        return gain / self.unit, sd / self.unit

    def count(self, tags: Sequence[str], on: date, least: float) -> tuple[float, int, int]:
        """How many of these a scale would show at `least` or more: expected, and the 80 % interval."""
        return count_ready(self.model, tags, on.toordinal(), least * self.unit)

    def reaches(self, tag: str, least: float, on: date) -> date | None:
        """The first day from `on` at which this weight is to be expected; None where it is not in sight."""
        day = ready_day(self.model, tag, least * self.unit, on.toordinal(), LOOK_AHEAD)
        return None if day is None else date.fromordinal(day)


def herd(farm: Farm, on: date, grown: bool = False) -> Herd | None:
    """The growing animals of the farm as known on a day, fitted; with `grown`, its ewes and rams. None: there are none.

    Lambs without any weight are among the growing ones (their herd tells of them); a grown animal needs a weighing.
    The growing herd may be empty; grown ones never weighed make none.
    """
    unit = float(POUND) if farm.plan.farm.weight == "lb" else 1.0
    adult = set(farm.keeping("ewes", "rams"))
    records = []
    for tag in sorted(farm.animals):
        animal = farm.animals[tag]
        # A lamb stays of the growing ones for good once it left: it is judged on the day it left.
        then = animal.gone or on
        if (animal.group in adult and not farm.at_foot(animal, then) and not _young(animal, then)) != grown:
            continue
        if animal.weighings if grown or not animal.here else True:
            if animal.here or (animal.gone is not None and (on - animal.gone).days <= GONE_DAYS):
                records.append(_record(animal, unit))
    return Herd(_fitted(tuple(records)), unit) if records or not grown else None


def _young(animal: Animal, on: date) -> bool:
    age = animal.age(on)
    return age is not None and age < 150


def _record(animal: Animal, unit: float) -> Record:
    """Kept between answers by the animal it was made from, so that asking again costs next to nothing."""
    kept = _KEPT.get(animal.tag)
    if kept is None or kept[0] is not animal or kept[1] != unit:
        record = Record(
            animal.tag, animal.group or "", animal.sex or "", animal.born.toordinal() if animal.born else None,
            float(animal.birth_weight) * unit if animal.birth_weight else None, animal.birth_type,
            tuple((w.on.toordinal(), float(w.weight) * unit) for w in animal.weighings if w.weight > 0),
        )  # fmt: skip
        kept = _KEPT[animal.tag] = (animal, unit, record)
    return kept[2]


@lru_cache(maxsize=4)
def _fitted(records: tuple[Record, ...]) -> Model:
    return fit(records)


def market(farm: Farm) -> list[Animal]:
    """The tagged animals here that are kept for sale, by tag; never replacements."""
    return sorted((a for group in farm.keeping(*MARKET) for a in farm.in_group(group)), key=lambda a: a.tag)


def weighed(animal: Animal, on: date) -> float | None:
    """What the scale showed that day (the last time, of several), in the farm's unit."""
    return next((float(w.weight) for w in reversed(animal.weighings) if w.on == on), None)


@dataclass(frozen=True, slots=True)
class Mob:
    """Animals for sale without tags, known by the mean of a group weighing: their number, and that mean carried on."""

    head: int
    mean: float
    doubt: float  # standard deviation of the mean

    def count(self, least: float) -> tuple[float, float]:
        """How many are at `least` or more: expected, and its variance."""
        low, mid, high = (
            self.head * NormalDist(mean, MOB_SPREAD * mean).cdf(2 * mean - least) if mean > 0 else 0.0
            for mean in (self.mean - self.doubt, self.mean, self.mean + self.doubt)
        )
        return mid, mid * (1.0 - mid / self.head) + ((high - low) / 2.0) ** 2


def mobs(farm: Farm, on: date) -> list[Mob]:
    """The untagged animals for sale as they will be on a day; those of groups nobody weighed are not known."""
    place, found = farm.plan.farm, []
    unit = float(POUND) if place.weight == "lb" else 1.0
    for group in farm.keeping(*MARKET):
        told = [g for g in farm.group_weights if g.group == group]
        head = 0 if farm.tagged(group) else farm.head(group)
        if not told or not head:
            continue
        means = [float(convert(g.mean, g.unit, place.weight, place.country)) for g in told]
        days = [g.on for g in told]
        apart = next((n for n in range(len(told) - 2, -1, -1) if (days[-1] - days[n]).days >= MOB_DAYS), None)
        if apart is None:
            gain = GAIN / unit
        else:
            gain = max(0.0, (means[-1] - means[apart]) / (days[-1] - days[apart]).days)
        since = max(0, (on - days[-1]).days)
        mean = means[-1] + gain * since
        found.append(Mob(head, mean, 0.02 * means[-1] + 0.3 * gain * since))
    return found
