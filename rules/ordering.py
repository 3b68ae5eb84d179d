"""When an order must be placed, when it comes, and how much to buy: arithmetic over a supplier's opening times.

Openings come in order, in the farm's timezone, each within one day (bot/hours.py makes them). A day that has any is an
open day. Nothing here knows of items, animals or holidays; that a supplier is shut shows only in the openings.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from rules.days import Opening

QUARTER = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Terms:
    """How a supplier takes and brings orders: an order after `order_before` counts as the next open day's, and comes
    `lead_days` open days after the day it counts as, `late_days` later where the supplier has shown to be late."""

    openings: Sequence[Opening]
    order_before: time | None = None
    lead_days: int = 1
    late_days: int = 0


def arrives(terms: Terms, at: datetime) -> datetime | None:
    """From when a delivery ordered at this moment can be counted on: closing time of its day. An order placed while
    the supplier is shut counts from the next opening. None: beyond the openings known."""
    openings = terms.openings
    place = bisect_right(openings, at, key=_end)
    if place == len(openings):
        return None
    taken = max(at, openings[place].start)
    skip = terms.lead_days + terms.late_days
    if terms.order_before is not None and taken.time() > terms.order_before:
        skip += 1
    for _ in range(skip):
        place = _last_of_day(openings, place) + 1
        if place >= len(openings):
            return None
    return openings[_last_of_day(openings, place)].end


def order_by(terms: Terms, before: datetime) -> datetime | None:
    """The last moment to order so that the delivery is there before this moment: within the supplier's hours, not after
    `order_before`. Where only closing time bounds it, the last quarter of an hour in which they are open begins then.
    None: the openings known do not reach back so far."""
    openings = terms.openings
    place = bisect_right(openings, before, key=_end) - 1
    if place >= 0 and _last_of_day(openings, place) != place:  # they shut later that day than `before`
        place = _last_before_day(openings, place)
    for _ in range(terms.lead_days + terms.late_days):
        place = _last_before_day(openings, place)
    for opening in reversed(openings[: place + 1]):
        last = _last_moment(opening, terms.order_before)
        if last is not None:
            return last
    return None


def first_hour(terms: Terms, at: datetime) -> datetime | None:
    """The first moment from this one on at which the supplier is open."""
    place = bisect_right(terms.openings, at, key=_end)
    return max(at, terms.openings[place].start) if place < len(terms.openings) else None


def closing(openings: Sequence[Opening], day: date) -> datetime | None:
    """Closing time of a day, or None where the supplier is shut that day."""
    return max((o.end for o in _openings(openings, day, day)), default=None)


def open_days(openings: Sequence[Opening], start: date, end: date) -> list[date]:
    """The days from start to end, both included, on which the supplier opens."""
    return list(dict.fromkeys(o.start.date() for o in _openings(openings, start, end)))


def shut_days(openings: Sequence[Opening], start: date, end: date) -> list[date]:
    """The days from start to end, both included, on which the supplier does not open."""
    opened = set(open_days(openings, start, end))
    days = (start + timedelta(n) for n in range((end - start).days + 1))
    return [day for day in days if day not in opened]


def _openings(openings: Sequence[Opening], start: date, end: date) -> Sequence[Opening]:
    return openings[bisect_left(openings, start, key=_day) : bisect_right(openings, end, key=_day)]


def order_amount(wanted: float, step: Decimal, least: Decimal = Decimal(0), room: float | None = None) -> Decimal:
    """How much to buy: whole steps that cover what is wanted, at least the smallest order, no more than there is room
    for (but always one step: a store with no room at all is not one that runs out)."""
    steps = (Decimal(repr(round(wanted, 6))) / step).to_integral_value(ROUND_CEILING)
    smallest = max(Decimal(1), (least / step).to_integral_value(ROUND_CEILING))
    if room is not None:
        steps = min(steps, (Decimal(repr(round(room, 6))) / step).to_integral_value(ROUND_FLOOR))
    return max(steps, smallest) * step


def _end(opening: Opening) -> datetime:
    return opening.end


def _day(opening: Opening) -> date:
    return opening.start.date()


def _last_of_day(openings: Sequence[Opening], place: int) -> int:
    day = openings[place].start.date()
    while place + 1 < len(openings) and openings[place + 1].start.date() == day:
        place += 1
    return place


def _last_before_day(openings: Sequence[Opening], place: int) -> int:
    """The last opening of the open day before this one's; -1 where there is none."""
    if place < 0:
        return -1
    day = openings[place].start.date()
    while place >= 0 and openings[place].start.date() == day:
        place -= 1
    return place


def _last_moment(opening: Opening, order_before: time | None) -> datetime | None:
    """The last moment of an opening at which an order counts as its day's, or None where the cut-off is before it."""
    into = timedelta(minutes=opening.end.minute % 15, seconds=opening.end.second)
    last = max(opening.start, opening.end - (into or QUARTER))
    if order_before is None:
        return last
    cut = opening.start.replace(
        hour=order_before.hour, minute=order_before.minute, second=order_before.second, microsecond=0
    )
    return min(last, cut) if cut >= opening.start else None
