"""How fast an item goes: learned from counts, deliveries and use told, from rations and the heads that eat.

Use on a day is taken as  pace x ration,  where `ration` is what the plan, the rations told and the heads say for that
day (or the heads alone, or one a day, where nobody has guessed) and `pace` is what the counts show of it. The pace may
drift; it starts from the farmer's guess where there is one, and each stretch between two counts moves it, the more the
surer the counts and the longer nobody had counted (a Kalman filter of the pace and its trend). Only what was eaten or
spilt teaches; lent, sold, spoiled and dosed amounts are taken out first.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import exp, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from rules.days import Moment
from rules.farm import Farm, StockFact
from rules.plan import Item
from rules.units import amount, factor

Floats = NDArray[np.float64]

GUESS_SD = 0.35  # how far a farmer's guess of a ration is off, as a share (common practice, no source)
DAY_SD = 0.2  # how much one day's use differs from the next, as a share (common practice, no source)
DRIFT = 0.015  # how far the pace wanders in a day, as a share; grows with the root of the days
TREND = 0.008  # how much of itself the pace may gain or lose a day, for some time (ewes before lambing, lambs growing)
FADES = 20.0  # days after which a trend has lost most of its force
BELIEF = 3.0  # stretches that DAY_SD and DRIFT are worth against the scatter that an item's own counts show
SHOCK = 9.0  # a stretch so far above what was expected (in variances) is no chance: the pace itself has changed
FEW = 0.1  # of the mouths there are at most: with fewer, a miscounted bag would look like a flood
LEAP = 10.0  # times the pace first known that counts can show; more is a slip of the pen, or a load not told
LOOK_BACK = 60  # days of counts that are looked at
# A lamb's share of powder by age: it drinks less in its first fortnight. Shape after 13 kg in five weeks and about
# 400 g a day at the end (Teagasc, Irish Farmers Journal: artificial rearing of lambs).
_BY_AGE = (np.array([7, 14, 21]), np.array([0.5, 0.8, 1.0, 1.1]))
_NOON = time(12)
LATE_WEANING = 4  # days a bottle lamb may drink on past its planned weaning


@dataclass(frozen=True, slots=True)
class Use:
    """The item's stock and pace at a moment, in its unit. `error` is the standard deviation of the last count, `eaten`
    what is thought to be eaten since it, in `days`; `trend` is the pace's gain a day; `noise` and `drift` are shares;
    `counted` the day of the last count; `known` whether a guess or counts tell the pace at all; `usual` the use a day
    that was expected before the last count, where that count was a surprise."""

    on_hand: float
    error: float
    eaten: float
    days: float
    pace: float
    pace_sd: float
    trend: float
    trend_sd: float
    noise: float
    drift: float
    counted: date | None
    known: bool
    usual: float | None = None

    def ahead(self, days: int) -> Floats:
        """The pace of each coming day."""
        gained = FADES * (1 - np.exp(-(np.arange(days) + 0.5) / FADES))
        paces: Floats = np.clip(self.pace + self.trend * gained, 0.2 * self.pace, 3 * self.pace)
        return paces


@dataclass(frozen=True, slots=True)
class Eaters:
    """A group's mouths in full rations: on each day ahead, and head-days up to each moment of the past."""

    ahead: Floats
    ages: NDArray[np.int64]  # of bottle lambs, in days, today
    moments: list[float]
    heads: list[int]
    head_days: list[float]
    weaned: Floats  # moments from which bottle lambs that are still among them drink no more

    def eaten(self, start: datetime, end: datetime, today: date) -> float:
        """Full rations eaten between two moments."""
        since, until = start.timestamp(), end.timestamp()
        span = self._until(until) - self._until(since)
        if self.weaned.size:
            idle = np.maximum(0.0, until - np.maximum(self.weaned, since)).sum() / 86400
            span = max(0.0, span - float(idle))
        if not self.ages.size:
            return span
        ages = self.ages - (today - end.date()).days
        there = ages[ages >= 0]
        return span * (float(_share(there).mean()) if there.size else 1.0)

    def _until(self, at: float) -> float:
        if not self.moments:
            return 0.0
        n = max(0, bisect_right(self.moments, at) - 1)
        return self.head_days[n] + self.heads[n] * (at - self.moments[n]) / 86400


def _share(ages: NDArray[np.int64]) -> Floats:
    shares: Floats = _BY_AGE[1][np.searchsorted(_BY_AGE[0], ages, side="right")]
    return shares


def eaters(farm: Farm, group: str, today: date, days: int) -> Eaters:
    """Who eats in a group; bottle lambs by age, until they are weaned or foreseen to be."""
    log = farm.feeding.get(group, ())
    moments, heads = [m.timestamp() for m, _ in log], [n for _, n in log]
    head_days = [0.0]
    for n in range(1, len(log)):
        head_days.append(head_days[-1] + heads[n - 1] * (moments[n] - moments[n - 1]) / 86400)
    row = farm.plan.group_named(group)
    if row is None or row.keeps != "bottle lambs" or not farm.tagged(group):
        nobody, never = np.array([], dtype=np.int64), np.array([])
        return Eaters(np.full(days, float(farm.eating(group, today))), nobody, moments, heads, head_days, never)
    lambs = farm.in_group(group)
    drinking = [a for a in lambs if not a.had("weaned")]
    ages = np.array([age for a in drinking if (age := a.age(today)) is not None], dtype=np.int64)
    others = max(0, farm.head(group) - len(lambs)) + len(drinking) - len(ages) - max(0, len(lambs) - farm.head(group))
    plan = next((p for p in farm.plan.stage_plan if p.for_ == "bottle lambs"), None)
    ahead = ages[None, :] + np.arange(days)[:, None]
    shares = _share(ahead)
    if plan is not None and plan.weaned is not None:
        last = plan.weaned + LATE_WEANING
        shares = np.where((ahead > last) & (ages[None, :] <= last), 0.0, shares)
    off = [datetime.combine(day, _NOON, UTC).timestamp() for a in lambs if (day := a.had("weaned"))]
    return Eaters(np.maximum(0.0, shares.sum(axis=1) + others), ages, moments, heads, head_days, np.array(off))


class Herd:
    """The eaters of each group at a moment, worked out once however many items they eat."""

    def __init__(self, farm: Farm, today: date, days: int) -> None:
        self.farm, self.today, self.days = farm, today, days
        self._found: dict[str, Eaters] = {}
        self._guess: dict[tuple[str, str], float] = {}

    def __getitem__(self, group: str) -> Eaters:
        if group not in self._found:
            self._found[group] = eaters(self.farm, group, self.today, self.days)
        return self._found[group]

    def rations(self, item: Item) -> Floats:
        """What is to be eaten on each of the coming days at pace one, in the item's unit; one a day where no group
        eats it."""
        if not item.feeds:
            return np.ones(self.days)
        each = (self.each(item, feed.group) * self[feed.group].ahead for feed in item.feeds)
        return np.array(sum(each, np.zeros(self.days)))

    def eaten(self, item: Item, start: datetime, end: datetime) -> float:
        """What the rations say was eaten between two moments, from the heads as they were."""
        if end <= start:
            return 0.0
        if not item.feeds:
            return (end - start).total_seconds() / 86400
        return sum(self.each(item, f.group, end) * self[f.group].eaten(start, end, self.today) for f in item.feeds)

    def each(self, item: Item, group: str, at: datetime | None = None) -> float:
        """One head's day, in the item's unit: the ration told last, else the plan's guess, else one (heads alone)."""
        told = [each for moment, each in self.farm.rations.get((item.name, group), ()) if at is None or moment <= at]
        if told:
            return float(told[-1])
        if (item.name, group) not in self._guess:
            self._guess[item.name, group] = _guess(self.farm, item, group)
        return self._guess[item.name, group]


def _guess(farm: Farm, item: Item, group: str) -> float:
    guess = next((f.per_head_day for f in item.feeds if f.group == group and f.per_head_day), None)
    if guess is None:
        return 1.0
    said = amount(guess)
    try:
        return float(item.units(said.value, said.unit, farm.plan.farm.country))
    except ValueError:
        return 1.0


def guessed(farm: Farm, item: Item) -> bool:
    """Whether the plan or a ration told says how much a head of some group gets."""
    return any(f.per_head_day or farm.rations.get((item.name, f.group)) for f in item.feeds)


def use_of(farm: Farm, item: Item, moment: Moment, herd: Herd) -> Use | None:
    """What is on hand of an item and how fast it goes; None where nothing of it was ever counted or came."""
    facts = [f for f in farm.stock.get(item.name, ()) if f.moment <= moment.now and f.on <= moment.today]
    counts = [n for n, f in enumerate(facts) if f.what == "on_hand"]
    start = counts[-1] if counts else next((n for n, f in enumerate(facts) if f.what == "received"), None)
    if start is None:
        return None
    base = facts[start]
    prior = (1.0, GUESS_SD) if guessed(farm, item) else None
    stretches = _between(farm, item, facts, counts, moment, herd)
    if not prior and not stretches and (told := _told_rate(facts, moment)) is not None:
        prior = (told / max(1e-9, float(herd.rations(item)[0])), 0.5 * told / max(1e-9, float(herd.rations(item)[0])))
    seen = _learn(prior, stretches)
    error = _count_sd(base, farm.plan.farm.country) if counts else 0.5 * float(base.amount)
    left = float(base.amount) + sum(moves(f) for f in facts[start + 1 :])
    fed = sum(float(f.amount) for f in facts[start + 1 :] if f.what == "used" and f.how is None)
    days = (moment.now - base.moment).total_seconds() / 86400
    pace = max(0.0, seen.pace - seen.trend * days / 2)  # as it was halfway since
    eaten = max(pace * herd.eaten(item, base.moment, moment.now), fed)
    usual = _usual(prior, stretches) if stretches and stretches[-1].ago <= 1.0 else None
    return Use(
        on_hand=max(0.0, left - eaten), error=error, eaten=eaten, days=days,
        pace=seen.pace, pace_sd=sqrt(seen.variance), trend=seen.trend, trend_sd=sqrt(seen.trend_variance),
        noise=DAY_SD * seen.scale, drift=DRIFT * seen.scale,
        counted=base.on if counts else None,
        known=prior is not None or bool(stretches),
        usual=usual * float(herd.rations(item)[0]) if usual is not None else None,
    )  # fmt: skip


def moves(f: StockFact) -> float:
    """What an entry other than a count, or what was eaten, does to the stock."""
    if f.what == "received":
        return float(f.amount)
    if f.what == "sold" or (f.what == "used" and f.how is not None):
        return -float(f.amount)
    return 0.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Between two counts: what was eaten, what the rations said, how long it was, the counts' variance, how long ago
    it ended (days)."""

    eaten: float
    ration: float
    days: float
    error: float
    ago: float
    empty: bool  # it ended with nothing left: they would perhaps have eaten more


def _between(
    farm: Farm, item: Item, facts: Sequence[StockFact], counts: Sequence[int], moment: Moment, herd: Herd
) -> list[Stretch]:
    """The stretches between counts, newest last; counts within hours of each other tell nothing of a pace, and more in
    store than before without a delivery told tells of none either."""
    country, found = farm.plan.farm.country, []
    since = moment.now - timedelta(days=LOOK_BACK)
    recent = [n for n in counts if facts[n].moment >= since]
    first = recent[0] if recent else 0
    for n in recent[1:]:
        a, b = facts[first], facts[n]
        days = (b.moment - a.moment).total_seconds() / 86400
        if days >= 0.4:
            eaten = float(a.amount) - float(b.amount) + sum(moves(f) for f in facts[first + 1 : n])
            error = _count_sd(a, country) ** 2 + _count_sd(b, country) ** 2
            ago = (moment.now - b.moment).total_seconds() / 86400
            ration = herd.eaten(item, a.moment, b.moment)
            if ration > 0 and eaten > -2 * sqrt(error):
                found.append(Stretch(max(0.0, eaten), ration, days, error, ago, b.amount <= 0))
        first = n
    most = max([float(herd.rations(item)[:7].max()), *(s.ration / s.days for s in found)])
    return [s for s in found if s.ration >= FEW * most * s.days]


def _count_sd(f: StockFact, country: str) -> float:
    """How far off a count is: containers by a part of one, heaps and tanks by a share; "about" three times as much."""
    value = float(f.amount)
    exact = (0.3 if value.is_integer() else 0.15) + 0.01 * value if f.amount < 40 else 0.02 * value
    return exact * (3.0 if f.rough else 1.0)


@dataclass(frozen=True, slots=True)
class Pace:
    """The pace now and how much it gains a day, their variances, and how far this item scatters against the usual."""

    pace: float
    trend: float
    variance: float
    trend_variance: float
    scale: float


def _learn(prior: tuple[float, float] | None, stretches: Sequence[Stretch]) -> Pace:
    """What the stretches show, one after the other: a Kalman filter of the pace and its trend."""
    if prior is None:
        if not stretches:
            return Pace(0.0, 0.0, 0.0, 0.0, 1.0)
        first, stretches = stretches[0], stretches[1:]
        pace = first.eaten / first.ration
        variance = (GUESS_SD * pace) ** 2 + first.error / first.ration**2
    else:
        pace, variance = prior[0], prior[1] ** 2
    trend, both, own, least = 0.0, 0.0, (TREND * pace) ** 2, 0.1 * pace
    most = LEAP * pace if pace > 0 else inf
    odd = seen = BELIEF
    ago = 0.0
    for s in stretches:
        ratio, ago = min(s.eaten / s.ration, most), s.ago
        if s.empty and ratio < pace:
            continue
        pace, trend, variance, both, own = _later(pace, trend, variance, both, own, s.days)
        half = s.days / 2  # a stretch shows the pace in its middle
        guess = max(least, pace - half * trend)
        toward, along = variance - half * both, both - half * own
        spread = toward - half * along
        noise = s.error / s.ration**2 + (DAY_SD * max(guess, 0.2 * pace)) ** 2 / s.days + 1e-12
        off = (ratio - guess) ** 2 / (spread + noise)
        if off > SHOCK and ratio > guess:  # no chance: they eat more, at once
            jump = (ratio - guess) ** 2
            variance, toward, spread = variance + jump, toward + jump, spread + jump
        else:
            odd, seen = odd + min(off, SHOCK), seen + 1
        much = 1 / (spread + noise)
        pace, trend = (
            min(most, max(least, pace + toward * much * (ratio - guess))),
            trend + along * much * (ratio - guess),
        )
        variance, both, own = variance - toward**2 * much, both - toward * along * much, own - along**2 * much
    pace, trend, variance, both, own = _later(pace, trend, variance, both, own, ago)
    scale = min(4.0, max(0.2, odd / seen))
    return Pace(min(most, max(least, pace)), trend, max(0.0, variance) * scale, max(0.0, own) * scale, sqrt(scale))


def _later(
    pace: float, trend: float, variance: float, both: float, own: float, days: float
) -> tuple[float, float, float, float, float]:
    """Pace, trend and their variances some days on; a trend wears off."""
    kept = exp(-days / FADES)
    reach = FADES * (1 - kept)
    return (
        pace + reach * trend,
        kept * trend,
        variance + 2 * reach * both + reach**2 * own + (DRIFT * pace) ** 2 * days,
        kept * (both + reach * own),
        kept**2 * own + (1 - kept**2) * (TREND * pace) ** 2,
    )


def _usual(prior: tuple[float, float] | None, stretches: Sequence[Stretch]) -> float | None:
    """The pace that was expected before the last count, where that count showed about twice or half of it."""
    if prior is None and len(stretches) < 2:
        return None
    last, before = stretches[-1], _learn(prior, stretches[:-1])
    seen = last.eaten / last.ration
    noise = sqrt(last.error / last.ration**2 + before.variance)
    odd = seen > 1.8 * before.pace or (seen < 0.5 * before.pace and not last.empty)
    return before.pace if before.pace > 0 and odd and abs(seen - before.pace) > 2 * noise else None


def _told_rate(facts: Sequence[StockFact], moment: Moment) -> float | None:
    """Use a day from what was told as fed, where it was told at least three times over some days."""
    fed = [f for f in facts if f.what == "used" and f.how is None]
    span = (moment.now - fed[0].moment).total_seconds() / 86400 if fed else 0.0
    return sum(float(f.amount) for f in fed) / span if len(fed) >= 3 and span >= 2 else None


def is_container(item: Item, country: str) -> bool:
    """Whether the item is counted in bags, bales and the like, and so is bought whole."""
    return factor(item.unit, country) is None
