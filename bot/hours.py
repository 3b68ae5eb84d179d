"""When suppliers are open: OpenStreetMap opening hours, public holidays and announced closures as plain intervals.

The rules get the result (`rules.days.Moment`) and know no holiday and no opening-hours text. Holidays are those of the
PyPI package `holidays`, category public, for the farm's country and subdivision; a farm adds to them and takes from
them by telling that a supplier is closed, or open.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from rules.days import Moment, Opening
from rules.entries import Closed, Open
from rules.farm import Farm
from rules.plan import Supplier

BACK, AHEAD = timedelta(days=40), timedelta(days=200)
_LONG_AGO = date(2000, 1, 1)  # a list of days in an opening-hours text must not be empty: it would shut the place


def moment(farm: Farm, now: datetime) -> Moment:
    """What a rule needs to know of the calendar at `now` (aware, in the farm's timezone)."""
    place = farm.plan.farm
    week = now.date() - timedelta(days=now.weekday())  # made anew once a week, and when the plan or a closure changes
    days = holidays_of(place.country, place.subdivision, week.year)
    openings, closures = _expanded(farm.plan.supplier, farm.closures, tuple(days.items()), place.timezone, week)
    return Moment(now, openings, days, closures)


@lru_cache(maxsize=64)
def holidays_of(country: str, subdivision: str | None, year: int) -> Mapping[date, str]:
    """Public holidays by date, from the year before to the year after next, with their names."""
    import holidays

    years = range(year - 1, year + 3)
    ways: tuple[dict[str, Any], ...] = (
        {"subdiv": subdivision, "language": "en_US"},
        {"subdiv": subdivision},
        {"language": "en_US"},
        {},
    )
    for way in ways:  # not every country knows every part, or speaks English
        try:
            found = holidays.country_holidays(country, years=years, **way)
        except (NotImplementedError, AttributeError, ValueError):
            continue
        return dict(sorted(found.items()))
    return {}


@lru_cache(maxsize=16)
def _expanded(
    suppliers: Sequence[Supplier],
    told: Sequence[Closed | Open],
    holidays: Sequence[tuple[date, str]],
    zone: str,
    week: date,
) -> tuple[Mapping[str, tuple[Opening, ...]], Mapping[str, Mapping[date, str]]]:
    """Each supplier's openings, and the days on which it is shut though its hours would have it open, with why."""
    names = dict(holidays)
    openings: dict[str, tuple[Opening, ...]] = {}
    closures: dict[str, dict[date, str]] = {}
    for supplier in suppliers:
        if supplier.hours is None:
            continue
        mine = [x for x in told if x.supplier == supplier.name]
        usual = _days(supplier.hours, (), zone, week)
        kept = _days(supplier.hours, tuple(names), zone, week)
        for entry in mine:
            _change(kept, usual, entry, zone)
        openings[supplier.name] = tuple(o for day in sorted(kept) for o in kept[day])
        shut = [day for day in sorted(usual) if not kept.get(day)]
        closures[supplier.name] = {day: names.get(day, "closed") for day in shut}
    return openings, closures


def _days(hours: str, holidays: Sequence[date], zone: str, week: date) -> dict[date, list[Opening]]:
    """The openings of each day; one that runs past midnight belongs to the day it began."""
    from opening_hours import OpeningHours, State

    listed = ",".join(f"{d:%Y %b %d}" for d in sorted({_LONG_AGO, *holidays}))
    tz = ZoneInfo(zone)
    made = OpeningHours(re.sub(r"\bPH\b", listed, hours), timezone=tz)
    start, end = (datetime.combine(d, time(0), tz) for d in (week - BACK, week + AHEAD))
    found: dict[date, list[Opening]] = {}
    for begins, ends, state, _ in made.intervals(start, end):
        if state == State.OPEN:
            for opening in _by_day(begins.astimezone(tz), ends.astimezone(tz)):
                found.setdefault(opening.start.date(), []).append(opening)
    return found


def _by_day(begins: datetime, ends: datetime) -> Iterator[Opening]:
    """A stretch cut at midnight, so that every opening lies within one day."""
    while begins.date() < ends.date():
        midnight = datetime.combine(begins.date() + timedelta(days=1), time(0), begins.tzinfo)
        yield Opening(begins, midnight)
        begins = midnight
    if begins < ends:
        yield Opening(begins, ends)


def _change(
    kept: dict[date, list[Opening]], usual: Mapping[date, list[Opening]], entry: Closed | Open, zone: str
) -> None:
    """What was told of certain days: shut, open as on any other week, or open at other hours."""
    day = entry.from_
    while day <= min(entry.to, entry.from_ + AHEAD):
        if isinstance(entry, Closed) and entry.hours is None:
            kept.pop(day, None)
        elif entry.hours is not None:
            kept[day] = [Opening(*(datetime.combine(day, t, ZoneInfo(zone)) for t in _span(entry.hours)))]
        elif day in usual:
            kept[day] = list(usual[day])
        elif usual:  # a day on which it never opens: the hours of its usual first day
            first = next(iter(usual.values()))
            kept[day] = [Opening(_on(day, o.start), _on(day, o.end)) for o in first]
        day += timedelta(days=1)


def _on(day: date, moment: datetime) -> datetime:
    return datetime.combine(day, moment.time(), moment.tzinfo)


def _span(hours: str) -> tuple[time, time]:
    """The two times of "08:00-12:00"."""
    start, _, end = hours.partition("-")
    return time.fromisoformat(start.strip()), time.fromisoformat(end.strip())


def hours_problem(text: str) -> str | None:
    """What is wrong with an opening-hours text, in farm words; None where nothing is."""
    from opening_hours import validate

    if not validate(re.sub(r"\bPH\b", f"{_LONG_AGO:%Y %b %d}", text)):
        return 'expected opening hours like "Mo-Fr 08:00-17:00; Sa 08:00-12:00; PH off"'
    rules = [part.strip() for part in text.split(";") if part.strip()]
    shut = [n for n, part in enumerate(rules) if re.fullmatch(r"PH\s+(off|closed)", part)]
    if shut and shut[-1] < len(rules) - 1:
        return "a later rule opens it on holidays again: write PH off last"
    return None
