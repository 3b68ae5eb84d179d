"""How single animals grow: their weight on a day, their gain, when they are ready; and which have stopped gaining.

The model is in `rules.growth`; here it is asked, and answers in the farm's unit, rounded once. Nothing is advised.
"""

from collections.abc import Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from rules.days import Moment
from rules.farm import Animal, Farm
from rules.findings import Adjusted, AdjustedOf, GainDrop, GainOf, GainsBy, Growth
from rules.growth import adjusted_weight, stalls
from rules.growth_model import BIRTH
from rules.herd import MARKET, Herd, herd, weighed
from rules.units import POUND

LITTERS = {1: "singles", 2: "twins", 3: "triplets", 4: "quads"}
PEN_SHARE, PEN_LEAST = 0.33, 3  # so many of a group stalling together are one matter


def growth(farm: Farm, moment: Moment, tags: Sequence[str], on: date) -> list[Growth]:
    """Each animal's weight on a day as a scale would show it, and its gain; those nothing is known of are left out."""
    found = []
    herds = [h for h in (herd(farm, moment.today), herd(farm, moment.today, grown=True)) if h]
    for tag in tags:
        growing = next((h for h in herds if h.knows(tag)), None)
        if growing is not None:
            found.append(_of(farm, growing, moment.today, tag, on))
    return found


def _of(farm: Farm, growing: Herd, today: date, tag: str, on: date) -> Growth:
    animal, ship = farm.animals[tag], farm.plan.ship
    there = growing.weight(tag, on)
    shown = weighed(animal, on) if on <= today else None
    weights = (there.mean, there.low, there.high) if shown is None else (shown,) * 3
    gain = growing.gain(tag, min(on, today))[0]
    group = farm.plan.group_named(animal.group) if animal.group else None
    sold = ship.min is not None and animal.here and group is not None and group.keeps in MARKET
    last = animal.weighings[-1] if animal.weighings else None
    mean, low, high = (_said(w, "0.1") for w in weights)
    return Growth(
        level="know", due=on, tag=tag, on=on, weight=mean, low=low, high=high, gain=_gain(farm, gain),
        ready=growing.reaches(tag, float(ship.min), today) if sold and ship.min is not None else None,
        last=last.weight if last else None, last_on=last.on if last else None,
    )  # fmt: skip


def _said(value: float, step: str) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal(step), ROUND_HALF_UP)


def _gain(farm: Farm, gain: float) -> Decimal:
    """A gain a day as the trade says it: lb to two places, kg to the gram."""
    return _said(gain, "0.01" if farm.plan.farm.weight == "lb" else "0.001")


def gain_drop(farm: Farm, moment: Moment) -> list[GainDrop]:
    """Growing animals whose gain fell far below what their own record and their pen gave to expect.

    One weighing says little (gut fill, a wet fleece): what all weighed that day have in common is taken off first, and
    only a clear shortfall counts (see `rules.growth.stalls`). Where much of a group stalls, the group is named once.
    """
    growing = herd(farm, moment.today)
    kept = farm.keeping(*MARKET, "replacements")
    if growing is None:
        return []
    found = []
    stalled = [s for s in stalls(growing.model, moment.today.toordinal()) if farm.animals[s.tag].here]
    for group in kept:
        of = [s for s in stalled if farm.animals[s.tag].group == group]
        many = len(of) >= max(PEN_LEAST, PEN_SHARE * len(farm.in_group(group)))
        for some in [of] if many else [[s] for s in of]:
            gain, usual = (sum(x) / len(some) / growing.unit for x in ([s.gain for s in some], [s.due for s in some]))
            found.append(GainDrop(
                level="soon", due=moment.today, tag=None if many else some[0].tag, group=group if many else None,
                gain=_gain(farm, gain), usual=_gain(farm, usual), since=date.fromordinal(min(s.since for s in some)),
            ))  # fmt: skip
    return found


def side_by_side(farm: Farm, moment: Moment, group: str | None, split: str) -> GainsBy | None:
    """Gains a day by sex, birth type (`litter`), dam or group, of the growing animals here; most first.

    Each animal's gain is the model's over its last weeks, so that one odd weighing does not rank a dam.
    """
    growing = herd(farm, moment.today)
    animals = [a for a in _growing(farm, moment.today) if group in (None, a.group) and a.weighings]
    lots: dict[str, list[float]] = {}
    for animal in animals:
        name = _class(animal, split)
        if name and growing is not None and growing.knows(animal.tag):
            lots.setdefault(name, []).append(growing.gain(animal.tag, moment.today)[0])
    if not lots:
        return None
    rows = [GainOf(name=n, head=len(g), gain=_gain(farm, sum(g) / len(g))) for n, g in lots.items()]
    return GainsBy(level="know", split=split, rows=tuple(sorted(rows, key=lambda r: (-r.gain, r.name))))


def _growing(farm: Farm, on: date) -> list[Animal]:
    kept = {*farm.keeping(*MARKET, "replacements")}
    return [a for t in sorted(farm.animals) if (a := farm.animals[t]).here and (a.group in kept or farm.at_foot(a, on))]


def _class(animal: Animal, split: str) -> str | None:
    if split == "litter":
        return LITTERS.get(animal.birth_type or 0)
    return {"sex": animal.sex, "dam": animal.dam, "group": animal.group}[split]


def adjusted(farm: Farm, moment: Moment, group: str | None, to: int) -> Adjusted | None:
    """Weights corrected to one age (`to` days; 0: the usual one for the age they were weighed or weaned at), so that
    lambs born weeks apart can be compared.

    Usual: under 75 days 60, to 100 days 90, older 120 (Sheep 201, Calculating Adjusted Weaning Weights). A straight
    line from birth holds within 7 days of 30 and 60 and 28 of 90 (Boggess et al. 1991): lambs not weighed so near are
    left out. A birth weight nobody told is the farm's mean of its birth type, else of all, else 4 kg (AHDB 2015).
    """
    lambs = [a for a in _growing(farm, moment.today) if group in (None, a.group) and a.born and a.weighings]
    if not to and lambs:
        ages = sorted((a.had("weaned") or a.weighings[-1].on).toordinal() - a.born.toordinal() for a in lambs if a.born)
        middle = ages[len(ages) // 2]
        to = 60 if middle < 75 else 90 if middle <= 100 else 120
    reach = 7 if to <= 75 else 28
    rows, left = [], 0
    for animal in lambs:
        born = animal.born or moment.today
        near = min(animal.weighings, key=lambda w: (abs((w.on - born).days - to), w.seq))
        age = (near.on - born).days
        if age <= 0 or abs(age - to) > reach:
            left += 1
            continue
        weight = adjusted_weight(float(near.weight), _birth_weight(farm, animal), age, to)
        rows.append(AdjustedOf(tag=animal.tag, weight=_said(weight, "0.1"), sex=animal.sex, litter=animal.birth_type))
    rows.sort(key=lambda r: (-r.weight, r.tag))
    return Adjusted(level="know", days=to, rows=tuple(rows), left=left) if lambs else None


def _birth_weight(farm: Farm, animal: Animal) -> float:
    if animal.birth_weight:
        return float(animal.birth_weight)
    known = [(a.birth_type, float(a.birth_weight)) for a in farm.animals.values() if a.birth_weight]
    alike = [w for litter, w in known if litter == animal.birth_type] or [w for _, w in known]
    return sum(alike) / len(alike) if alike else BIRTH / (float(POUND) if farm.plan.farm.weight == "lb" else 1.0)
