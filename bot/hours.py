"""When suppliers are open: their hours as the plan has them, public holidays and announced days, as plain openings.

The rules get these in a `rules.days.Moment` and read no text. Hours are OpenStreetMap opening_hours; `PH` are the days
that the `holidays` package calls public for the farm's country and subdivision. The opening-hours library knows no
state or province, so the dates are written into the text in place of PH. No clock is read here.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from rules import entries as e
from rules.days import Moment, Opening
from rules.farm import Farm
from rules.plan import Supplier

_BACK, _AHEAD = 100, 280  # days before and after the month of `now` that are expanded
_LONG_AGO = date(2000, 1, 1)  # an empty list of holidays would leave a bare "off", which shuts the place for ever
_EXAMPLE = '"Mo-Fr 07:30-17:00; Sa 08:00-12:00; PH off"'
_WEEKDAY = r"(?:Mo|Tu|We|Th|Fr|Sa|Su)(?:\[[^\]]*\])?(?:-(?:Mo|Tu|We|Th|Fr|Sa|Su))?"
_DAY = rf"(?:{_WEEKDAY}|PH(?:\s*[+-]\d+\s+days?)?|SH)"
_DAYS = re.compile(rf"{_DAY}(?:\s*,\s*{_DAY})*", re.I)

Days = Mapping[date, tuple[Opening, ...]]


@dataclass(frozen=True, slots=True)
class _Calendar:
    """What a moment is made from, for some months."""

    openings: Mapping[str, tuple[Opening, ...]]
    holidays: Mapping[date, str]
    closures: Mapping[str, Mapping[date, str]]


def moment(farm: Farm, now: datetime) -> Moment:
    """The moment a rule looks from: `now` in the farm's timezone, and what the calendar says around it."""
    place = farm.plan.farm
    here = now.astimezone(ZoneInfo(place.timezone))
    known = _calendar(
        place.country, place.subdivision, place.timezone, farm.plan.supplier, farm.closures, here.year, here.month
    )
    return Moment(here, known.openings, known.holidays, known.closures)


@lru_cache(maxsize=64)
def holidays_of(country: str, subdivision: str | None, year: int) -> Mapping[date, str]:
    """Public holidays by date, from the year before to the year after next, with their names (English where there are
    such); of the whole country where the subdivision is not known, none where the country is not."""
    import holidays  # here, as it is only wanted where a supplier's days are looked at

    years = range(year - 1, year + 3)
    english = {"language": "en_US"}
    ways: tuple[dict[str, Any], ...] = ({"subdiv": subdivision, **english}, {"subdiv": subdivision}, english, {})
    for way in ways:
        try:
            found = holidays.country_holidays(country, years=years, **way)
        except (NotImplementedError, AttributeError, ValueError):
            continue
        return dict(sorted(found.items()))
    return {}


def hours_problem(text: str) -> str | None:
    """What is wrong with a supplier's hours, in farm words, or None: they cannot be read, or they say "PH off" and then
    open again on holidays (in this syntax the later rule wins)."""
    from opening_hours import OpeningHours, ParserError  # type: ignore[attr-defined]  # its type file leaves it out

    try:
        OpeningHours(_with_holidays(text, ()))
    except ParserError as wrong:
        column = re.search(r"--> \d+:(\d+)", str(wrong))
        place = int(column[1]) - 1 if column else 0
        rest = text[text.rfind(" ", 0, place + 1) + 1 :].strip()
        where = f"not understood from {rest!r} on; " if rest and rest != text.strip() else ""
        return f"{where}expected opening hours like {_EXAMPLE}"
    week = [date(2001, 1, 1) + timedelta(n) for n in range(7)]
    if re.search(r"\bPH\s+(off|closed)", text, re.I) and _expand(_with_holidays(text, week), "UTC", week[0], week[-1]):
        return f"a later rule opens it on holidays again: write PH off last, like {_EXAMPLE}"
    return None


@lru_cache(maxsize=16)
def _calendar(
    country: str, subdivision: str | None, zone: str, suppliers: tuple[Supplier, ...],
    told: tuple[e.Closed | e.Open, ...], year: int, month: int,
) -> _Calendar:  # fmt: skip
    first = date(year, month, 1) - timedelta(_BACK)
    last = date(year, month, 1) + timedelta(_AHEAD)
    names = holidays_of(country, subdivision, year)
    openings: dict[str, tuple[Opening, ...]] = {}
    closures: dict[str, dict[date, str]] = {}
    for supplier in suppliers:
        if supplier.hours is None or hours_problem(supplier.hours):
            continue
        plain = _expand(_with_holidays(supplier.hours, ()), zone, first, last)
        days = dict(_expand(_with_holidays(supplier.hours, names), zone, first, last))
        shut = {day: names[day] for day in names if plain.get(day) and not days.get(day)}
        for entry in told:
            if entry.supplier == supplier.name:
                _tell(entry, days, plain, shut, ZoneInfo(zone))
        openings[supplier.name] = tuple(o for day in sorted(days) for o in days[day])
        closures[supplier.name] = dict(sorted(shut.items()))
    return _Calendar(openings, names, closures)


def _tell(
    entry: e.Closed | e.Open, days: dict[date, tuple[Opening, ...]], plain: Days, shut: dict[date, str], zone: ZoneInfo
) -> None:
    """Write announced days over the usual ones; what is told later stands."""
    day = entry.from_
    while day <= min(entry.to, entry.from_ + timedelta(400)):
        if entry.hours:
            days[day] = _hours_of(entry.hours, day, zone)
        elif isinstance(entry, e.Closed):
            if days.get(day):
                shut[day] = "closed"
            days[day] = ()
        else:
            days[day] = plain.get(day) or _moved(_usual(plain), day)
        if days[day]:
            shut.pop(day, None)
        day += timedelta(1)


def _hours_of(text: str, day: date, zone: ZoneInfo) -> tuple[Opening, ...]:
    """Openings of one day from "08:00-12:00" or "08:00-12:00,13:00-16:00"; none where it cannot be read."""
    found = re.findall(r"(\d{1,2}):(\d\d)\s*-\s*(\d{1,2}):(\d\d)", text)
    spans = [(time(int(a) % 24, int(b)), time(int(c) % 24, int(d))) for a, b, c, d in found]
    return tuple(
        Opening(datetime.combine(day, start, zone), datetime.combine(day, end, zone))
        for start, end in spans
        if start < end
    )


def _usual(plain: Days) -> tuple[Opening, ...]:
    """The hours of a common open day, for a day that is open though its weekday never is."""
    counts: dict[tuple[tuple[time, time], ...], list[date]] = {}
    for day in sorted(plain):
        counts.setdefault(tuple((o.start.time(), o.end.time()) for o in plain[day]), []).append(day)
    return plain[max(counts.values(), key=len)[0]] if counts else ()


def _moved(openings: tuple[Opening, ...], day: date) -> tuple[Opening, ...]:
    by = day - openings[0].start.date() if openings else timedelta(0)
    return tuple(Opening(o.start + by, o.end + by) for o in openings)  # wall time: the zone does the rest


def _with_holidays(text: str, days: Iterable[date]) -> str:
    """The hours with dates written in place of PH. A rule for weekdays and holidays ("Su,PH off") becomes two, as the
    syntax has no list that mixes them; "PH -1 day" is the day before each."""
    rules: list[str] = []
    text = re.sub(r'([\d"+])\s*,\s*(PH\s+(?:off|closed))', r"\1; \2", text)  # meant as a rule of its own
    for rule in _rules(text):
        listed = _DAYS.search(_outside_comments(rule))
        if listed is None or not re.search(r"\bPH\b", listed[0], re.I):
            rules.append(rule)
            continue
        parts = [p.strip() for p in re.split(r",(?![^\[]*\])", listed[0])]
        weekdays = ",".join(p for p in parts if not p.upper().startswith("PH"))
        for part in (p for p in parts if p.upper().startswith("PH")):
            shift = timedelta(int(re.sub(r"\s", "", m[0])) if (m := re.search(r"[+-]\s*\d+", part)) else 0)
            dates = ",".join(f"{day + shift:%Y %b %d}" for day in sorted({_LONG_AGO, *days}))
            rules.append(rule[: listed.start()] + dates + rule[listed.end() :])
        if weekdays:
            rules.insert(len(rules) - 1, rule[: listed.start()] + weekdays + rule[listed.end() :])
    return "; ".join(rules)


def _rules(text: str) -> list[str]:
    """The rules of an hours text, split at semicolons outside quoted comments."""
    return [rule.strip() for rule in re.split(r';(?=(?:[^"]*"[^"]*")*[^"]*$)', text)]


def _outside_comments(rule: str) -> str:
    return re.sub(r'"[^"]*"', lambda m: " " * len(m[0]), rule)


def _expand(text: str, zone: str, first: date, last: date) -> dict[date, tuple[Opening, ...]]:
    """The openings of each day from first to last; a stretch over midnight is cut there."""
    from opening_hours import OpeningHours, State

    here = ZoneInfo(zone)
    start = datetime.combine(first, time(), here)
    end = datetime.combine(last + timedelta(1), time(), here)
    days: dict[date, tuple[Opening, ...]] = {}
    for begin, finish, state, _ in OpeningHours(text, timezone=here).intervals(start, end):
        while state == State.OPEN and begin < finish:
            midnight = datetime.combine(begin.date() + timedelta(1), time(), here)
            stop = min(finish, midnight)
            days[begin.date()] = (*days.get(begin.date(), ()), Opening(begin, stop))
            begin = stop
    return days
