"""How the hens lay: eggs a hen a day, and whether that has dropped. It does not say why; water and light come first.

A day without a count is missing, not a day without eggs. Lay that falls slowly as the days shorten (hens want 14 to 16
hours of light; W. Reeves column, www.walterreeves.com) is followed, not called a drop.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from math import sqrt
from statistics import mean, median

from rules.days import Moment
from rules.farm import Farm
from rules.findings import FeedDozen, LayDrop
from rules.stores import run_out

LATELY = (3, 7)  # counted days that are judged: few show a large drop at once, more a small one of few hens
USUAL, OLDEST = 14, 42  # counted days they are judged against, and how many days back those may lie
ENOUGH = 7  # counted days before a usual rate is known
DROP = 0.12  # of the usual rate: less is not worth a walk (common practice, no source)
SURE = 4.0  # standard errors; the rates of false and of missed alarms are measured in the test


def hens_kept(farm: Farm, group: str, on: date) -> int:
    """The hens that count for a day: neither those that died nor those that came on it.

    Source: Calculating Agriculture ch. 12 p. 141, 2019: the day of death is not counted, nor the day of arrival.
    """
    log = farm.feeding.get(group, ())
    before = next((heads for moment, heads in reversed(log) if moment.date() < on), None)
    that_day = [heads for moment, heads in log if moment.date() == on]
    return min(([] if before is None else [before]) + that_day, default=farm.head(group))


def laid(farm: Farm, group: str) -> dict[date, int]:
    """Eggs of a group by the day they were told for, a day's counts together; no group named: the only hens."""
    hens = farm.keeping("hens")
    days: dict[date, int] = {}
    for told in farm.eggs:
        if told.group == group or (told.group is None and hens == [group]):
            days[told.on] = days.get(told.on, 0) + told.count
    return days


def hen_days(farm: Farm, start: date, end: date, group: str | None = None) -> Decimal | None:
    """Eggs a hen a day over the counted days from start to end, both included; of a group, or of all hens together.

    Hen-day rate: eggs by hens alive that day, not by hens housed. None where nothing was counted or no hens are known.
    """
    eggs = hens = 0
    for name in [group] if group else farm.keeping("hens"):
        for on, count in laid(farm, name).items():
            if start <= on <= end:
                eggs, hens = eggs + count, hens + hens_kept(farm, name, on)
    return Decimal(eggs) / hens if hens else None


def feed_dozen(farm: Farm, moment: Moment, days: int = 14) -> FeedDozen | None:
    """Feed for a dozen eggs over the last counted days: what only hens eat, as it goes down by the book.

    None where no such feed is counted, or its bags have no weight in the plan. Check: hens at half lay or better eat at
    least 0.25 lb a day (Pennsylvania State College specialist), at 85 in 100 that is 3.5 lb a dozen.
    """
    hens = farm.keeping("hens")
    eats = {i.name: i for i in farm.plan.item if i.feeds and all(feed.group in hens for feed in i.feeds)}
    place, weight = farm.plan.farm, Decimal(0)
    names = []
    for found in run_out(farm, moment):
        if found.item in eats and found.per_day > 0:
            try:
                one = eats[found.item].units(Decimal(1), place.weight, place.country)  # items in one lb or kg
            except ValueError:
                return None
            weight += found.per_day / one
            names.append(found.item)
    told = [laid(farm, group) for group in hens]
    since = moment.today - timedelta(days - 1)
    counts = [n for days_ in told for on, n in days_.items() if since <= on <= moment.today]
    dates = {on for days_ in told for on in days_ if since <= on <= moment.today}
    if not names or not sum(counts):
        return None
    dozens = Decimal(sum(counts)) / len(dates) / 12
    return FeedDozen(level="know", items=tuple(names), amount=round(weight / dozens, 2), unit=place.weight)


def lay_drop(farm: Farm, moment: Moment) -> list[LayDrop]:
    """Hens that lay clearly less in the last three (or seven) counted days than in the two weeks of counts before.

    Why: a drop is water frozen, feed short, light gone, mites or sickness, and shows days before anything else. The
    days are compared with their middle and usual scatter, never less than chance alone gives, so that one odd day
    raises no alarm. A count of today joins in only where the day's collecting is as complete as usual. Figures:
    common practice, no source; the formula of the rate: `hens_kept`.
    """
    found = []
    for group in farm.keeping("hens"):
        rates = _rates(farm, group, moment.today)
        hens = hens_kept(farm, group, moment.today)
        for lately in LATELY if hens else ():
            late = sorted(rates)[-lately:]
            before = sorted(rates[day] for day in sorted(rates)[:-lately][-USUAL:])
            if len(before) < ENOUGH or (moment.today - late[0]).days > 2 * lately:
                continue
            usual, rate = _middle(before), mean(rates[day] for day in late)
            most = median(rates[day] for day in late)  # one bad day, or a nest not emptied, is no drop
            if usual - max(rate, most) > DROP * usual and usual - rate > SURE * _error(before, usual, lately, hens):
                found.append(LayDrop(
                    level="soon", due=moment.today, group=group, rate=_hundredth(rate), usual=_hundredth(usual),
                    since=late[0],
                ))  # fmt: skip
                break
    return found


def _middle(rates: Sequence[float]) -> float:
    """The mean of the middle ones: odd days do not move it, and few hens do not make it jump as a median does."""
    trim = len(rates) // 6
    return mean(rates[trim : len(rates) - trim])


def _error(before: Sequence[float], usual: float, lately: int, hens: int) -> float:
    """The standard error of the late mean less the usual: scatter as seen, never less than chance gives so few hens."""
    chance = sqrt(min(usual, 1.0) * max(1.0 - usual, 0.05) / hens)
    scatter = max(1.4826 * median(abs(x - usual) for x in before), chance)
    return scatter * sqrt(1 / lately + 1.1 / len(before))


def _rates(farm: Farm, group: str, today: date) -> Mapping[date, float]:
    """Eggs a hen of each counted day of the last weeks."""
    days = {on: eggs for on, eggs in laid(farm, group).items() if timedelta(0) <= today - on <= timedelta(OLDEST)}
    if today in days:
        told = [x.on for x in farm.eggs if x.on in days and x.group in (None, group)]
        if told.count(today) < median(told.count(on) for on in days):
            del days[today]  # the evening's eggs are still in the nest
    kept = {on: hens_kept(farm, group, on) for on in days}
    return {on: eggs / kept[on] for on, eggs in days.items() if kept[on]}


def _hundredth(rate: float) -> Decimal:
    return round(Decimal(rate), 2)
