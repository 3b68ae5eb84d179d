"""The last moment to order, against brute force over every quarter of an hour."""

import random
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from bot.hours import moment
from rules import entries as e
from rules.days import Opening
from rules.ordering import Terms, arrives, order_amount, order_by
from tests.barn import barn

START = datetime(2026, 3, 2, tzinfo=UTC)  # a Monday
QUARTER = timedelta(minutes=15)


def a_supplier(seed: int) -> Terms:
    """Two months of random hours: days off, half days, closures, cut-offs and lead times; some sell past midnight."""
    roll = random.Random(seed)
    opens, shuts = roll.choice([7, 8, 9]), roll.choice([12, 16, 17, 18])
    off = set(roll.sample(range(7), roll.choice([0, 1, 2])))
    closed = {roll.randrange(60) + n for _ in range(2) for n in range(roll.randrange(1, 5))}
    night = roll.random() < 0.25  # open till two: cut at midnight, the rest is the next day's
    openings = []
    for n in range(60):
        day = START + timedelta(days=n)
        if day.weekday() in off or n in closed:
            continue
        end = 12 if day.weekday() == 5 else shuts
        noon = roll.random() < 0.2 and end > 13
        spans = [(opens, 12), (13, end)] if noon else [(opens, end)]
        if night:
            spans = [(0, 2), *spans, (20, 24)]
        openings += [Opening(day + timedelta(hours=a), day + timedelta(hours=b)) for a, b in spans]
    before = roll.choice([None, time(10), time(12), time(14)])
    return Terms(tuple(openings), before, roll.choice([0, 1, 1, 2, 3]), roll.choice([0, 0, 1]))


def by_hand(terms: Terms, at: datetime) -> datetime | None:
    """When an order at a moment within opening hours comes, counted day by day: closing time of its day."""
    days = list(dict.fromkeys(o.start.date() for o in terms.openings))
    place = days.index(at.date())
    late = terms.order_before is not None and at.time() > terms.order_before
    place += terms.lead_days + terms.late_days + late
    if place >= len(days):
        return None
    return max(o.end for o in terms.openings if o.start.date() == days[place])


@pytest.mark.parametrize("seed", range(60))
def test_order_by_agrees_with_brute_force(seed: int) -> None:
    """Of all quarter hours in which the supplier takes orders, the last one that still arrives in time."""
    terms = a_supplier(seed)
    roll = random.Random(seed + 1000)
    moments = [o.start + n * QUARTER for o in terms.openings for n in range(int((o.end - o.start) / QUARTER))]
    for _ in range(6):
        needed = START + timedelta(minutes=roll.randrange(10 * 1440, 45 * 1440))
        fits = [m for m in moments if (came := by_hand(terms, m)) is not None and came <= needed]
        fits = [m for m in fits if terms.order_before is None or m.time() <= terms.order_before]
        assert order_by(terms, needed) == (max(fits) if fits else None)


# Public holidays of Ireland in the months walked below (Organisation of Working Time Act 1997, Second Schedule).
HOLIDAYS = {date(2026, 3, 17), date(2026, 4, 6), date(2026, 5, 4), date(2026, 6, 1)}
HALF = {date(2026, 4, 2), date(2026, 5, 1)}  # told: open till noon only
DUBLIN = ZoneInfo("Europe/Dublin")


@pytest.mark.parametrize("seed", range(8))
def test_order_by_agrees_with_the_clock_on_the_wall(seed: int) -> None:
    """Hours as a plan writes them, public holidays, announced closures and half days, and the clocks going forward:
    every quarter of an hour of three months is tried by itself."""
    roll = random.Random(seed)
    before, lead = roll.choice([None, time(10), time(12), time(15, 30)]), seed % 4
    first = date(2026, 3, 2) + timedelta(roll.randrange(60))
    closed = {first + timedelta(n) for n in range(roll.randrange(1, 9))}
    supplier: dict[str, object] = {"name": "mill", "hours": "Mo-Fr 08:00-17:00; Sa 08:00-12:00; PH off"}
    told = [e.Closed(on=START.date(), supplier="mill", from_=min(closed), to=max(closed))]
    told += [e.Closed(on=START.date(), supplier="mill", from_=day, to=day, hours="08:00-12:00") for day in sorted(HALF)]
    farm = barn({"supplier": [supplier]}, *told)
    openings = moment(farm, datetime(2026, 3, 2, tzinfo=DUBLIN)).openings["mill"]
    terms = Terms(openings, before, lead)

    def shuts(day: date) -> int | None:
        """The hour it shuts on a day, worked out without the program."""
        if day in HALF:
            return 12
        if day in HOLIDAYS or day in closed or day.weekday() == 6:
            return None
        return 12 if day.weekday() == 5 else 17

    days = [d for d in (date(2026, 3, 2) + timedelta(n) for n in range(100)) if shuts(d) is not None]
    wall = [datetime.combine(d, time(), DUBLIN) + n * QUARTER for d in days for n in range(96)]
    taken = [
        (t, days.index(t.date()))
        for t in wall
        if 8 <= t.hour < (shuts(t.date()) or 0) and (before is None or t.time() <= before)
    ]
    come = [
        (t, datetime.combine(days[n + lead], time(shuts(days[n + lead]) or 0), DUBLIN))
        for t, n in taken
        if n + lead < len(days)
    ]
    for _ in range(12):
        needed = datetime(2026, 3, 16, tzinfo=DUBLIN) + timedelta(minutes=15 * roll.randrange(70 * 96))
        assert order_by(terms, needed) == max(t for t, there in come if there <= needed)


@pytest.mark.parametrize("seed", range(20))
def test_arrives_agrees_with_counting_days(seed: int) -> None:
    """An order within hours comes on the day that counting open days gives."""
    terms = a_supplier(seed)
    for opening in terms.openings[:30]:
        assert arrives(terms, opening.start) == by_hand(terms, opening.start)


def test_friday_with_one_lead_day_comes_the_next_open_day() -> None:
    """The contract's own example: with lead 1, an order on a Friday comes on the next day the supplier is open."""
    week = [
        Opening(START + timedelta(days=n, hours=8), START + timedelta(days=n, hours=17)) for n in (0, 1, 2, 3, 4, 7, 8)
    ]
    came = arrives(Terms(tuple(week), time(14), 1), START + timedelta(days=4, hours=10))
    assert came is not None
    assert came.date() == date(2026, 3, 9)


@pytest.mark.parametrize(
    ("wanted", "step", "least", "room", "expected"),
    [(3.2, 1, 0, None, 4), (0.0, 1, 0, None, 1), (3.2, 1, 10, None, 10), (9.5, 1, 0, 6.0, 6), (430, 50, 0, None, 450)],
)
def test_order_amount(wanted: float, step: int, least: int, room: float | None, expected: int) -> None:
    """Whole steps, at least the smallest order, no more than there is room for."""
    assert order_amount(wanted, Decimal(step), Decimal(least), room) == expected
