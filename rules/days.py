"""Pure calendar work: the moment a rule looks from, opening times of suppliers, weekdays and sale days.

No clock is read here and no opening-hours text: `bot.hours` expands the plan's texts, holidays and announced closures
into intervals, and whoever asks a rule hands them in with the moment.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


@dataclass(frozen=True, slots=True)
class Opening:
    """One stretch in which a supplier is open, aware datetimes in the farm's timezone, end not included."""

    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True)
class Moment:
    """When a rule looks, and what the calendar says around it.

    `now` is aware, in the farm's timezone. `openings` are each supplier's, in order, from a few weeks back to some
    months ahead; a supplier whose hours nobody has told is missing. `holidays` are public holidays of the farm's
    region by date, with their names; `closures` the reasons of days on which a supplier is shut though its hours say
    open, by supplier and date (a holiday's name, or "closed" where it was announced).
    """

    now: datetime
    openings: Mapping[str, Sequence[Opening]] = field(default_factory=dict)
    holidays: Mapping[date, str] = field(default_factory=dict)
    closures: Mapping[str, Mapping[date, str]] = field(default_factory=dict)

    @property
    def today(self) -> date:
        return self.now.date()


def last(weekday: int, today: date) -> date:
    """The last such day (0 is Monday), today where today is that day."""
    return today - timedelta((today.weekday() - weekday) % 7)


def coming(weekday: int, today: date) -> date:
    """The next such day after today."""
    return today + timedelta((weekday - today.weekday()) % 7 or 7)


def day_of(moment: date | datetime) -> date:
    return moment.date() if isinstance(moment, datetime) else moment


def runs(days: Iterable[date]) -> list[list[date]]:
    """Days in order, those that follow on each other together."""
    found: list[list[date]] = []
    for day in days:
        if found and (day - found[-1][-1]).days == 1:
            found[-1].append(day)
        else:
            found.append([day])
    return found


def open_days(openings: Sequence[Opening]) -> list[date]:
    """The days on which a supplier opens, in order, each once."""
    return list(dict.fromkeys(o.start.date() for o in openings))
