"""How fast an item goes: learned from counts, deliveries and use told, from rations and the heads that eat.

Use on a day is taken as  pace x ration,  where `ration` is what the plan, the rations told and the heads say for that
day (or the heads alone, or one a day, where nobody has guessed) and `pace` is what the counts show of it. The pace may
drift; it starts from the farmer's guess where there is one, and each stretch between two counts moves it, the more the
surer the counts and the longer nobody had counted (a Kalman filter of the pace and its trend). How much days differ is
learned as well, item by item. Only what was eaten or spilt teaches; lent, sold, spoiled and dosed amounts are taken out
first.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from itertools import pairwise
from math import exp, inf, log, sqrt
from operator import is_
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rules.days import Moment
from rules.farm import Farm, StockFact
from rules.plan import Item
from rules.units import amount, factor

Floats = NDArray[np.float64]

GUESS_SD = 0.35  # how far a farmer's guess of a ration is off, as a share (common practice, no source)
DAY_SD = 0.2  # how much one day's use differs from the next, as a share (common practice, no source)
LOOSE_SD = 0.35  # the same where no group eats it: bedding, salt, what is taken when it is wanted
DRIFT = 0.015  # how far the pace wanders in a day, as a share; grows with the root of the days
TREND = 0.01  # how much of itself the pace may gain or lose a day, for some time (ewes before lambing, lambs growing)
FADES = 20.0  # days after which a trend has lost most of its force
# An item may be steadier or wilder than that: of these multiples of both variances the one its own counts speak for is
# taken, weighed with how likely each was beforehand, and with tails so wide that one leak or slip makes no item wild.
WILDNESS, LIKELY, TAILS = (0.1, 0.3, 1.0, 3.0), (0.15, 0.5, 1.0, 0.4), 4.0
SAME_COUNT = 0.4  # days within which a second count stands in the place of the first
BELIEVED = 4.0  # a count so far off (in variances) is taken as it is, whatever was thought
CERTAIN = 16.0
DOUBTED = 0.4  # how much of what a count finds beyond all expectation may be a slip (one sd)
SLOWLY = 1.5  # of its own standard deviations that a count too high may move the pace
SHOCK = 9.0  # a stretch so far above what was expected (in variances) is no chance: the pace itself has changed
FEW = 0.1  # of the mouths there are at most: with fewer, a miscounted bag would look like a flood
LEAP = 4.0  # of the pace that one count can add to it: more gone at once is spilt, lent, or a slip of the pen
MOST = 10.0  # times the pace first known that counts can show
SHARED = 0.6  # of a count's variance that the next does not take away: both are rounded the same way
LOOK_BACK = 25  # counts that are looked at
# A lamb's share of powder by age: it drinks less in its first fortnight. Shape after 13 kg in five weeks and about
# 400 g a day at the end (Teagasc, Irish Farmers Journal: artificial rearing of lambs).
_BY_AGE = (np.array([7, 14, 21]), np.array([0.5, 0.8, 1.0, 1.1]))
_NOON = time(12)
STILL_COMING = 7  # days: as many lambs as were pulled in the last ones are expected in the next
LATE_WEANING = 4  # days a bottle lamb may drink on past its planned weaning


class Spread(NamedTuple):
    """Variances and covariances of what is thought: of the stock (s), the pace (p) and what it gains a day (g)."""

    ss: float
    sp: float
    sg: float
    pp: float
    pg: float
    gg: float


@dataclass(frozen=True, slots=True)
class Use:
    """The item's stock and pace at a moment, in its unit. `on_hand` is what the last count and what was told since
    leave, `stock` what all counts together say is there; `trend` is the pace's gain a day; `noise` and `drift` are
    shares of the pace; `counted` the day of the last count; `known` whether a guess or counts tell the pace at all;
    `usual` the use a day that was expected before the last count, where that count was a surprise."""

    on_hand: float
    stock: float
    pace: float
    trend: float
    spread: Spread
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

    def variance(self, eaten: Floats, days: Floats) -> Floats:
        """Of the stock so many days from now, when so much has been eaten since: the count may be off, the pace may be
        wrong, wander or gain, and one day differs from the next."""
        s, rations = self.spread, eaten / self.pace if self.pace else 0 * eaten
        gains = rations * np.minimum(days, FADES) / 2
        known = (
            s.ss + gains**2 * s.gg - 2 * (rations * s.sp + gains * s.sg) + rations * (rations * s.pp + 2 * gains * s.pg)
        )
        chance = eaten**2 * (self.drift**2 * days / 3 + self.noise**2 / np.maximum(days, 0.25))
        found: Floats = np.maximum(known, 0.0) + chance
        return found


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
    a_day = float((ages < STILL_COMING).sum()) / STILL_COMING * float(_BY_AGE[1][0])
    coming = a_day * np.minimum(np.arange(days), STILL_COMING)
    off = [datetime.combine(day, _NOON, UTC).timestamp() for a in lambs if (day := a.had("weaned"))]
    return Eaters(np.maximum(0.0, shares.sum(axis=1) + coming + others), ages, moments, heads, head_days, np.array(off))


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
    facts = _by(farm.stock.get(item.name, ()), moment)
    start = next((n for n in range(len(facts) - 1, -1, -1) if facts[n].what == "on_hand"), None)
    counted = facts[start].on if start is not None else None
    if start is None:
        start = next((n for n, f in enumerate(facts) if f.what == "received"), None)
    if start is None:
        return None
    base, sd = facts[start], DAY_SD if item.feeds else LOOSE_SD
    seen = _seen(farm, item, facts, start, moment, herd)
    eaten_since = herd.eaten(item, base.moment, moment.now)
    now = _later(seen.thought, sd, seen.wildness, eaten_since, _days(base.moment, moment.now))
    moved = sum(moves(f) for f in facts[start + 1 :])
    fed = sum(float(f.amount) for f in facts[start + 1 :] if f.what == "used" and f.how is None)
    eaten = max(seen.thought.stock - now.stock, fed)
    fresh = _days(base.moment, moment.now) <= 1.0
    return Use(
        on_hand=max(0.0, float(base.amount) + moved - eaten), stock=max(0.0, seen.thought.stock + moved - eaten),
        pace=now.pace, trend=now.trend, spread=now.spread, noise=sd * sqrt(seen.wildness),
        drift=DRIFT * sqrt(seen.wildness), counted=counted, known=seen.known,
        usual=seen.usual * float(herd.rations(item)[0]) if seen.usual and fresh else None,
    )  # fmt: skip


def _by(facts: tuple[StockFact, ...], moment: Moment) -> tuple[StockFact, ...]:
    """What had happened by a moment; the very same tuple where all of it had."""
    n = len(facts)
    while n and (facts[n - 1].moment > moment.now or facts[n - 1].on > moment.today):
        n -= 1
    return facts[:n]


# What was learned of an item, by the tuple of what was told of it: told anew only where something was told. Holds what
# it was learned from, so that nothing else can be mistaken for it; a pure function's memory, nothing more.
_KNOWN: dict[int, tuple[tuple[object, ...], float, "Seen"]] = {}
_ROOM = 2000


def _seen(farm: Farm, item: Item, facts: tuple[StockFact, ...], start: int, moment: Moment, herd: Herd) -> "Seen":
    """What the counts show of an item."""
    ration = float(herd.rations(item)[:7].max())
    groups = [f.group for f in item.feeds]
    of = (facts, item, farm.plan, *(farm.feeding.get(g) for g in groups),
          *(farm.rations.get((item.name, g)) for g in groups))  # fmt: skip
    kept = _KNOWN.get(id(facts))
    ageless = not any(herd[g].ages.size or herd[g].weaned.size for g in groups)
    if ageless and kept and kept[1] == ration and len(kept[0]) == len(of) and all(map(is_, kept[0], of)):
        return kept[2]
    counts = [n for n, f in enumerate(facts) if f.what == "on_hand"]
    prior = (1.0, GUESS_SD) if guessed(farm, item) else None
    stretches = _between(item, facts, counts[-LOOK_BACK:], herd, ration)
    if not prior and not stretches and (told := _told_rate(facts, moment)) is not None:
        prior = (told / max(1e-9, float(herd.rations(item)[0])), 0.5)
    base = facts[start]
    error = _count_sd(base, _finest(facts)) if counts else 0.5 * float(base.amount)
    found = _learn(prior, stretches, DAY_SD if item.feeds else LOOSE_SD, float(base.amount), error**2)
    if ageless and (stretches or prior is None):  # what only told use shows changes with every day without
        if len(_KNOWN) >= _ROOM:
            _KNOWN.clear()
        _KNOWN[id(facts)] = (of, ration, found)
    return found


def _days(start: datetime, end: datetime) -> float:
    return (end - start).total_seconds() / 86400


def moves(f: StockFact) -> float:
    """What an entry other than a count, or what was eaten, does to the stock."""
    if f.what == "received":
        return float(f.amount)
    if f.what == "sold" or (f.what == "used" and f.how is not None):
        return -float(f.amount)
    return 0.0


class Stretch(NamedTuple):
    """Between two counts: what the rations say was eaten, how long it was, what came less what went otherwise, both
    counts and their variances, and whether it can show a pace at all."""

    ration: float
    days: float
    moved: float
    before: float
    after: float
    error_before: float
    error: float
    shows: bool

    @property
    def eaten(self) -> float:
        return max(0.0, self.before + self.moved - self.after)


def _between(item: Item, facts: Sequence[StockFact], counts: Sequence[int], herd: Herd, ration: float) -> list[Stretch]:
    """The stretches between counts, newest last. A count within hours of another is the same count, put right; more in
    store than before without a delivery told, or few mouths, show no pace."""
    finest, found, ends = _finest(facts), list[Stretch](), list[int]()
    for n in counts:
        if ends and _days(facts[ends[-1]].moment, facts[n].moment) < SAME_COUNT:
            ends.pop()
        if len(ends) > 1 and _slip(facts, ends[-2], ends[-1], n):
            ends.pop()
        ends.append(n)
    for first, n in pairwise(ends):
        a, b = facts[first], facts[n]
        eaten, days = herd.eaten(item, a.moment, b.moment), _days(a.moment, b.moment)
        moved = sum(moves(f) for f in facts[first + 1 : n])
        error_a, error_b = (_count_sd(f, finest) ** 2 for f in (a, b))
        shows = eaten > 0 and float(a.amount) + moved - float(b.amount) > -2 * sqrt(error_a + error_b)
        found.append(Stretch(eaten, days, moved, float(a.amount), float(b.amount), error_a, error_b, shows))
    most = max([ration, *(s.ration / s.days for s in found if s.shows)])
    return [s if s.ration >= FEW * most * s.days else s._replace(shows=False) for s in found]


def _slip(facts: Sequence[StockFact], a: int, b: int, c: int) -> bool:
    """Whether the middle one of three counts was a slip: less than the next, nothing come in between, while the first
    goes with the next."""
    came = float(facts[b].amount) + sum(moves(f) for f in facts[b + 1 : c]) - float(facts[c].amount)
    went = float(facts[a].amount) + sum(moves(f) for f in facts[a + 1 : c]) - float(facts[c].amount)
    return came < 0 <= went


def _finest(facts: Sequence[StockFact]) -> float:
    """Up to which amount this item is counted in parts of a unit."""
    return max((float(f.amount) for f in facts if f.what == "on_hand" and f.amount % 1), default=0.0)


def _count_sd(f: StockFact, finest: float) -> float:
    """How far off a count is: containers by a part of one, heaps and tanks by a share; "about" three times as much."""
    value = float(f.amount)
    exact = (0.26 if value > finest else 0.14) + 0.01 * value if value < 40 else 0.02 * value
    return exact * (3.0 if f.rough else 1.0)


class Thought(NamedTuple):
    stock: float
    pace: float
    trend: float
    spread: Spread


class Seen(NamedTuple):
    """What the counts show: stock and pace right after the last, how wild the item is (a multiple of the usual
    variances), and the pace expected before the last count where that was a surprise; `known` whether anything shows a
    pace."""

    thought: Thought
    wildness: float
    usual: float | None = None
    known: bool = True


def _learn(
    prior: tuple[float, float] | None, stretches: Sequence[Stretch], sd: float, amount: float, error: float
) -> Seen:
    """Stock, pace and its trend from the counts, and how wild the item is."""
    showing = next((n for n, s in enumerate(stretches) if s.shows), None)
    if prior is None and showing is None:
        return Seen(Thought(amount, 0.0, 0.0, Spread(error, 0.0, 0.0, 0.0, 0.0, 0.0)), 1.0, known=False)
    if prior is None:
        first = stretches[showing or 0]
        stretches = stretches[(showing or 0) + 1 :]
        # Counts alike do not show that nothing goes: as much as their errors hide may have gone.
        hidden = 0.5 * sqrt(first.error_before + first.error)
        pace, doubt = max(first.eaten, hidden) / first.ration, first.error / first.ration
        own = (GUESS_SD * pace) ** 2 + (first.error_before + first.error) / first.ration**2
        t = Thought(first.after, pace, 0.0, Spread(first.error, -doubt, 0.0, own, 0.0, (TREND * pace) ** 2))
    else:
        pace, own = prior[0], (prior[0] * prior[1]) ** 2
        start = (stretches[0].before, stretches[0].error_before) if stretches else (amount, error)
        t = Thought(start[0], pace, 0.0, Spread(start[1], 0.0, 0.0, own, 0.0, (TREND * pace) ** 2))
    bounds = (0.1 * pace, MOST * pace if prior else inf)
    tried = [_followed(t, stretches, sd, w, bounds).unlikely for w in WILDNESS]
    weights = [p * exp((min(tried) - u) / 2) for p, u in zip(LIKELY, tried, strict=True)]
    wildness = sum(p * w for p, w in zip(weights, WILDNESS, strict=True)) / sum(weights)
    found = _followed(t, stretches, sd, wildness, bounds)
    return Seen(found.thought, wildness, found.usual)


class Followed(NamedTuple):
    """What is thought after the last count, how unlikely all of them were (-2 log), and `usual` as in `Seen`."""

    thought: Thought
    unlikely: float
    usual: float | None


def _followed(
    t: Thought, stretches: Sequence[Stretch], sd: float, wildness: float, bounds: tuple[float, float]
) -> Followed:
    """One count after the other (a Kalman filter)."""
    unlikely, usual = 0.0, None
    for s in stretches:
        before = _later(t, sd, wildness, s.ration, s.days, s.moved)
        t, off = _counted(before, s, bounds)
        if off is not None:
            unlikely += log(before.spread.ss + s.error) + (TAILS + 1) * log(1 + off / TAILS)
        usual = before.pace if off is not None and _odd(s, before) else None
    return Followed(t, unlikely, usual)


def _odd(s: Stretch, before: Thought) -> bool:
    """Whether a count showed about twice or half of the pace that was expected."""
    pace = s.eaten / s.ration
    far = pace > 1.8 * before.pace or (pace < 0.5 * before.pace and s.after > 0)
    return far and abs(s.after - before.stock) > 2 * sqrt(before.spread.ss + s.error)


def _counted(t: Thought, s: Stretch, bounds: tuple[float, float]) -> tuple[Thought, float | None]:
    """What is thought after a count, and how far off it was (in variances; None where it shows no pace). What is gone
    all too fast is believed at once; what lies there longer than it should, only by and by."""
    more = s.after - t.stock
    # More than there can be: a delivery nobody told, or a slip. Until the next count both may be true.
    alone = Spread(s.error + max(0.0, DOUBTED * more) ** 2, 0.0, 0.0, t.spread.pp, t.spread.pg, t.spread.gg)
    if not s.shows or (s.after <= 0 and more > 0):
        return t._replace(stock=s.after, spread=alone), None
    v = t.spread
    off = more**2 / (v.ss + s.error)
    most = min(bounds[1], (1 + LEAP) * t.pace + 2 * sqrt(v.pp))
    if off > SHOCK and more < 0:
        jump = min(-more / s.ration, most - t.pace)
        v = v._replace(ss=v.ss + more**2, sp=v.sp - jump**2 * s.ration, pp=v.pp + jump**2)
    much = 1 / (v.ss + s.error)
    step = more if more < 0 or off > CERTAIN else min(more, SLOWLY / sqrt(much))
    pace = min(most, max(bounds[0], t.pace + v.sp * much * step))
    after = Spread(
        max(v.ss - v.ss**2 * much, SHARED * s.error), v.sp - v.ss * v.sp * much, v.sg - v.ss * v.sg * much,
        v.pp - v.sp**2 * much, v.pg - v.sp * v.sg * much, v.gg - v.sg**2 * much,
    )  # fmt: skip
    stock = t.stock + v.ss * much * step
    if (more < 0 and off > BELIEVED) or off > CERTAIN:  # it is the count that is looked at, not what was thought
        stock, after = s.after, after._replace(ss=alone.ss, sp=0.0, sg=0.0)
    trend = max(0.0, t.trend + v.sg * much * step)  # that use goes on falling is not relied upon
    return Thought(stock, pace, trend, after), off


def _later(t: Thought, sd: float, wildness: float, ration: float, days: float, moved: float = 0.0) -> Thought:
    """The same some days on, when so much was eaten by the rations; a trend wears off."""
    kept = exp(-days / FADES)
    reach = FADES * (1 - kept)
    half, v = ration * days / 2, t.spread  # what a trend adds to what is eaten on the way
    p, g = v.sp - ration * v.pp - half * v.pg, v.sg - ration * v.pg - half * v.gg
    drift = wildness * (DRIFT * t.pace) ** 2 * days
    chance = wildness * (sd * max(t.pace, 0.0) * ration) ** 2 / max(days, 0.25)
    return Thought(
        t.stock + moved - ration * t.pace - half * t.trend,
        max(0.0, t.pace + reach * t.trend),
        kept * t.trend,
        Spread(
            v.ss - ration * (v.sp + p) - half * (v.sg + g) + chance + drift * ration**2 / 3,
            p + reach * g - drift * ration / 2,
            kept * g,
            v.pp + 2 * reach * v.pg + reach**2 * v.gg + drift,
            kept * (v.pg + reach * v.gg),
            kept**2 * v.gg + (1 - kept**2) * (TREND * t.pace) ** 2,
        ),
    )


def _told_rate(facts: Sequence[StockFact], moment: Moment) -> float | None:
    """Use a day from what was told as fed, where it was told at least three times over some days."""
    fed = [f for f in facts if f.what == "used" and f.how is None]
    span = (moment.now - fed[0].moment).total_seconds() / 86400 if fed else 0.0
    return sum(float(f.amount) for f in fed) / span if len(fed) >= 3 and span >= 2 else None


def is_container(item: Item, country: str) -> bool:
    """Whether the item is counted in bags, bales and the like, and so is bought whole."""
    return factor(item.unit, country) is None
