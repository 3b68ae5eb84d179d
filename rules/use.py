"""How fast an item goes: learned from counts, deliveries and use told, from rations and the heads that eat.

Use on a day is taken as  pace x ration,  where `ration` is what the plan, the rations told and the heads say for that
day (or the heads alone, or one a day, where nobody has guessed) and `pace` is what the counts show of it. The pace is
a normal estimate: a prior from the farmer's guess where there is one, and each stretch between two counts, the newer
the more. Only what was eaten or spilt teaches; lent, sold, spoiled and dosed amounts are taken out first.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import sqrt

from rules.days import Moment
from rules.farm import Animal, Farm, StockFact
from rules.plan import Item, StagePlan
from rules.units import amount, factor

GUESS_SD = 0.35  # how far a farmer's guess of a ration is off, as a share (common practice, no source)
DAY_SD = 0.35  # how much one day's use differs from the next, as a share (common practice, no source)
HALF_LIFE = 14.0  # days after which a stretch between counts tells half as much
DRIFT = 0.02  # how much the pace may change in a day, as a share
# A lamb's share of powder by age: it drinks less in its first fortnight. Shape after 13 kg in five weeks and about
# 400 g a day at the end (Teagasc, Irish Farmers Journal: artificial rearing of lambs).
_BY_AGE = ((7, 0.5), (14, 0.8), (21, 1.0))
_AGED = 1.1
LATE_WEANING = 4  # days a bottle lamb may drink on past its planned weaning


@dataclass(frozen=True, slots=True)
class Use:
    """The item's stock and pace at a moment, in its unit. `on_hand` with its variance; `pace` and its standard
    deviation; `counted` the day of the last count; `guessed` whether a guess or a count tells the pace at all;
    `usual` the pace before the last count, where that count was a surprise."""

    on_hand: float
    variance: float
    pace: float
    pace_sd: float
    counted: date | None
    known: bool
    usual: float | None = None


def rations(farm: Farm, item: Item, today: date, days: int) -> list[float]:
    """What is to be eaten on each of the coming days at pace one, in the item's unit; one a day where no group eats."""
    if not item.feeds:
        return [1.0] * days
    total = [0.0] * days
    for feed in item.feeds:
        each = _per_head(farm, item, feed.group)
        for n, heads in enumerate(_heads_ahead(farm, feed.group, today, days)):
            total[n] += each * heads
    return total


def _per_head(farm: Farm, item: Item, group: str, at: datetime | None = None) -> float:
    """One head's day, in the item's unit: the ration told last, else the plan's guess, else one (heads alone)."""
    told = [each for moment, each in farm.rations.get((item.name, group), ()) if at is None or moment <= at]
    if told:
        return float(told[-1])
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


def _heads_ahead(farm: Farm, group: str, today: date, days: int) -> list[float]:
    """Heads that eat on each coming day; bottle lambs by age, until they are foreseen to be weaned."""
    row = farm.plan.group_named(group)
    if row is None or row.keeps != "bottle lambs" or not farm.tagged(group):
        return [float(farm.eating(group, today))] * days
    plan = next((p for p in farm.plan.stage_plan if p.for_ == "bottle lambs"), None)
    lambs = farm.in_group(group)
    unnamed = max(0, farm.head(group) - len(lambs)) - max(0, len(lambs) - farm.head(group))
    return [max(0.0, unnamed + sum(_drinks(a, today + timedelta(n), today, plan) for a in lambs)) for n in range(days)]


def _drinks(lamb: Animal, on: date, today: date, plan: StagePlan | None) -> float:
    """A bottle lamb's share of a full ration on a day; nothing once it is weaned, or foreseen to be."""
    age = lamb.age(on)
    if lamb.had("weaned"):
        return 0.0
    if age is None:
        return 1.0
    weaned = plan.weaned if plan else None
    now = lamb.age(today) or 0
    if weaned is not None and age > weaned + LATE_WEANING >= now:
        return 0.0
    return next((share for until, share in _BY_AGE if age < until), _AGED)


def _eaten_at_pace_one(farm: Farm, item: Item, start: datetime, end: datetime) -> float:
    """What the rations say was eaten between two moments, from the heads as they were."""
    if end <= start:
        return 0.0
    if not item.feeds:
        return (end - start).total_seconds() / 86400
    total = 0.0
    for feed in item.feeds:
        log = farm.feeding.get(feed.group, ())
        share = _share_now(farm, feed.group, end.date())
        for since, until, heads in _stretches(log, start, end):
            total += heads * share * _per_head(farm, item, feed.group, until) * (until - since).total_seconds() / 86400
    return total


def _share_now(farm: Farm, group: str, today: date) -> float:
    """What a head of a group takes on the whole beside a full ration: bottle lambs by their ages."""
    heads = farm.eating(group, today)
    return _heads_ahead(farm, group, today, 1)[0] / heads if heads else 1.0


def _stretches(
    log: Sequence[tuple[datetime, int]], start: datetime, end: datetime
) -> Iterator[tuple[datetime, datetime, int]]:
    """The stretches between two moments with the heads of each."""
    heads = log[0][1] if log else 0
    since = start
    for moment, count in log:
        if moment <= start:
            heads = count
        elif moment < end:
            yield since, moment, heads
            since, heads = moment, count
    yield since, end, heads


def use_of(farm: Farm, item: Item, moment: Moment) -> Use | None:
    """What is on hand of an item and how fast it goes; None where nothing of it was ever counted or came."""
    facts = [f for f in farm.stock.get(item.name, ()) if f.moment <= moment.now and f.on <= moment.today]
    counts = [n for n, f in enumerate(facts) if f.what == "on_hand"]
    if not counts and not any(f.what == "received" for f in facts):
        return None
    prior = (1.0, GUESS_SD) if guessed(farm, item) else None
    stretches = _between(farm, item, facts, counts, moment)
    if not prior and not stretches and (told := _told_rate(facts, moment)) is not None:
        prior = (told / max(1e-9, _now(farm, item, moment)), 0.5)
    pace, pace_sd = _estimate(prior, stretches, farm, item)
    usual = _usual(prior, stretches, pace, farm, item, moment)
    start = counts[-1] if counts else 0
    base = facts[start]
    error = _count_sd(base, farm.plan.farm.country) if counts else 0.5 * float(base.amount)
    left = float(base.amount) + sum(_moves(f) for f in facts[start + 1 :])
    told = sum(float(f.amount) for f in facts[start + 1 :] if f.what == "used" and f.how is None)
    ration = _eaten_at_pace_one(farm, item, base.moment, moment.now)
    days = (moment.now - base.moment).total_seconds() / 86400
    eaten = max(pace * ration, told)
    noise = (pace_sd * ration) ** 2 + (DAY_SD * pace * ration) ** 2 / max(days, 1.0)
    known = prior is not None or bool(stretches)
    counted = base.on if counts else None
    return Use(max(0.0, left - eaten), error**2 + noise, pace, pace_sd, counted, known, usual)


def _now(farm: Farm, item: Item, moment: Moment) -> float:
    return rations(farm, item, moment.today, 1)[0]


def _moves(f: StockFact) -> float:
    """What an entry other than a count, or what was eaten, does to the stock."""
    if f.what == "received":
        return float(f.amount)
    if f.what == "sold" or (f.what == "used" and f.how is not None):
        return -float(f.amount)
    return 0.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Between two counts: what was eaten, what the rations said, its variance, and how long ago it ended, in days."""

    eaten: float
    ration: float
    days: float
    error: float
    ago: float


def _between(
    farm: Farm, item: Item, facts: Sequence[StockFact], counts: Sequence[int], moment: Moment
) -> list[Stretch]:
    """The stretches between counts, newest last; counts within hours of each other tell nothing of a pace."""
    found: list[Stretch] = []
    first = None
    for n in counts:
        if first is None:
            first = n
            continue
        a, b = facts[first], facts[n]
        days = (b.moment - a.moment).total_seconds() / 86400
        if days < 0.4:
            first = n
            continue
        eaten = float(a.amount) - float(b.amount) + sum(_moves(f) for f in facts[first + 1 : n])
        error = _count_sd(a, farm.plan.farm.country) ** 2 + _count_sd(b, farm.plan.farm.country) ** 2
        ago = (moment.now - b.moment).total_seconds() / 86400
        found.append(Stretch(max(0.0, eaten), _eaten_at_pace_one(farm, item, a.moment, b.moment), days, error, ago))
        first = n
    return [s for s in found if s.ration > 0]


def _count_sd(f: StockFact, country: str) -> float:
    """How far off a count is: containers by a part of one, heaps and tanks by a share; "about" three times as much."""
    value = float(f.amount)
    exact = 0.12 + 0.015 * value if f.amount < 40 else 0.03 * value
    return exact * (3.0 if f.rough else 1.0)


def _estimate(
    prior: tuple[float, float] | None, stretches: Sequence[Stretch], farm: Farm, item: Item
) -> tuple[float, float]:
    """The pace and its standard deviation."""
    if prior is None and not stretches:
        return 0.0, 0.0
    plain = sum(s.eaten for s in stretches) / sum(s.ration for s in stretches) if stretches else (prior or (1.0, 0))[0]
    mean, weight = (prior[0], 1 / (prior[1] * prior[0]) ** 2) if prior else (0.0, 0.0)
    total = mean * weight
    for s in stretches:
        per_day = s.ration / s.days
        noise = s.error + (DAY_SD * plain * per_day) ** 2 * s.days + 1e-12
        tells = s.ration**2 / noise * 0.5 ** (s.ago / HALF_LIFE)
        total += tells * s.eaten / s.ration
        weight += tells
    pace = total / weight
    ago = stretches[-1].ago if stretches else 0.0
    return pace, sqrt(1 / weight + (DRIFT * pace * ago) ** 2 + (0.05 * pace) ** 2)


def _usual(
    prior: tuple[float, float] | None, stretches: Sequence[Stretch], pace: float, farm: Farm, item: Item, moment: Moment
) -> float | None:
    """The use a day that was expected before the last count, where that count showed about twice or half of it."""
    if not stretches or stretches[-1].ago > 1.0 or (prior is None and len(stretches) < 2):
        return None
    last = stretches[-1]
    before, sd = _estimate(prior, stretches[:-1], farm, item)
    seen = last.eaten / last.ration
    noise = sqrt(last.error) / last.ration
    if before > 0 and (seen > 1.8 * before or seen < 0.5 * before) and abs(seen - before) > 2 * (noise + sd):
        return before * _now(farm, item, moment)
    return None


def _told_rate(facts: Sequence[StockFact], moment: Moment) -> float | None:
    """Use a day from what was told as fed, where it was told at least three times over some days."""
    fed = [f for f in facts if f.what == "used" and f.how is None]
    span = (moment.now - fed[0].moment).total_seconds() / 86400 if fed else 0.0
    return sum(float(f.amount) for f in fed) / span if len(fed) >= 3 and span >= 2 else None


def is_container(item: Item, country: str) -> bool:
    """Whether the item is counted in bags, bales and the like, and so is bought whole."""
    return factor(item.unit, country) is None
