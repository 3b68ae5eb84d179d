"""How single animals grow: their weight on a day, their gain, when they are ready; and which have stopped gaining.

The model is in `rules.growth`; here it is asked, and answers in the farm's unit, rounded once. Nothing is advised.
"""

from collections.abc import Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from rules.days import Moment
from rules.farm import Farm
from rules.findings import GainDrop, Growth
from rules.growth import stalls
from rules.herd import MARKET, Herd, herd, weighed

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
