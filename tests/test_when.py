"""Day and time words: what they mean for something done and for something to come, in several countries.

The days were worked out by hand from a calendar; 11 August 2026 is a Tuesday.
"""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from bot import when
from bot.when import Phrase, found
from bot.words import say

ZONE = ZoneInfo("America/Chicago")
TUESDAY = datetime(2026, 8, 11, 7, 10, tzinfo=ZONE)


def days(text: str, ahead: bool = False, country: str = "US", said: datetime = TUESDAY) -> list[str]:
    """The days that the only day words of a text may mean, as MM-DD (with the year where it is another)."""
    named = [p for p in found(text, said, country) if p.names_day]
    assert len(named) == 1, [p.text for p in named]
    return [f"{d:%m-%d}" if d.year == said.year else f"{d:%Y-%m-%d}" for d in named[0].days(said, ahead, country)]


DONE = [
    ("weighed them yesterday", ["08-10"]), ("yest", ["08-10"]), ("day before yesterday", ["08-09"]),
    ("last night", ["08-10"]), ("this morning", ["08-11"]), ("overnight", ["08-11"]), ("tonight", ["08-11"]),
    ("3 days ago", ["08-08"]), ("two weeks ago", ["07-28"]), ("sat", ["08-08"]), ("on monday", ["08-10"]),
    ("tues", ["08-11"]), ("last tuesday", ["08-04"]), ("aug 3", ["08-03"]), ("3rd of august", ["08-03"]), ("on the 9th", ["08-09"]),
    ("the 28th", ["07-28"]), ("2026-08-02", ["08-02"]), ("dec 30", ["2025-12-30", "12-30"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), DONE)
def test_something_done_is_on_the_last_such_day(text: str, expected: list[str]) -> None:
    """A day named for something done is the last one, today included."""
    assert days(text) == expected


TO_COME = [
    ("tomorrow", ["08-12"]), ("sat", ["08-15"]), ("by tuesday", ["08-11"]), ("coming tuesday", ["08-18"]),
    ("coming friday", ["08-14"]), ("in 3 days", ["08-14"]), ("the 9th", ["09-09"]), ("aug 3", ["2027-08-03"]), ("jan 6", ["2027-01-06"]),
    ("next friday", ["08-14", "08-21"]), ("a week on friday", ["08-21"]), ("labor day", ["09-07"]), ("christmas", ["12-25"]),
    ("hogmanay", ["12-31"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), TO_COME)
def test_something_to_come_is_on_the_next_such_day(text: str, expected: list[str]) -> None:
    """A day named for something to come is the next one; one that could be two gives both."""
    assert days(text, ahead=True) == expected


@pytest.mark.parametrize(
    ("country", "expected"),
    [("US", ["08-06"]), ("GB", ["06-08"]), ("NZ", ["06-08"]), ("IE", ["06-08"])],
)
def test_a_date_with_a_slash_is_read_in_the_order_of_the_country(country: str, expected: list[str]) -> None:
    """8/6 is the sixth of August in the US, the eighth of June elsewhere."""
    assert days("8/6", country=country) == expected


def test_in_canada_a_slash_date_that_fits_both_ways_stays_open() -> None:
    """Both orders are written there: several days where several fit, one where only one does."""
    assert set(days("8/7", country="CA")) == {"08-07", "07-08"}
    assert days("7/25", country="CA") == ["07-25"]


@pytest.mark.parametrize(("text", "country"), [("2/30", "US"), ("31/4", "GB"), ("feb 30", "US")])
def test_a_day_that_does_not_exist_is_no_day(text: str, country: str) -> None:
    """It leaves nothing, so that it is asked."""
    assert days(text, country=country) == []


NO_DAYS = (
    "12.5",
    "2641 108",
    "1/2 bag",
    "may get to it",
    "sat down on a bale",
    "march them in",
    "sun is out",
    "18 dozen",
    "5 ml",
    "third one",
)


@pytest.mark.parametrize("text", NO_DAYS)
def test_numbers_and_common_words_are_no_days(text: str) -> None:
    """A weight, a fraction, a verb that is spelt as a day or month."""
    assert not [p.text for p in found(text, TUESDAY, "US") if p.names_day]


CLOCKS = [
    ("at 6am", time(6)), ("at 14:30", time(14, 30)), ("by 5 pm", time(17)), ("noon", time(12)),
    ("seven thirty in the morning", time(7, 30)),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), CLOCKS)
def test_times_of_day(text: str, expected: time) -> None:
    """A clock time is cut out whole, with its half of the day."""
    phrases: list[Phrase] = found(text, TUESDAY, "US")
    assert [p.clock for p in phrases if p.clock] == [expected]


def test_a_day_begins_at_midnight_of_the_farm() -> None:
    """What was sent at 01:30 UTC is still the evening before in Chicago."""
    moment = when.local(datetime(2026, 8, 12, 1, 30, tzinfo=UTC), "America/Chicago")
    assert days("today", said=moment) == ["08-11"]


def test_the_daily_message_comes_once_on_days_the_clock_changes() -> None:
    """In spring an hour is missing, in autumn one comes twice: once each day all the same."""
    for first in (datetime(2027, 3, 13, 23, 0, tzinfo=ZONE), datetime(2026, 10, 31, 23, 0, tzinfo=ZONE)):
        one = when.daily(time(1, 30), "America/Chicago", first)
        two = when.daily(time(1, 30), "America/Chicago", one)
        assert (two.date() - one.date()).days == 1
        assert one > first
    assert when.daily(time(6), "America/Chicago", TUESDAY) == datetime(2026, 8, 12, 6, 0, tzinfo=ZONE)


def test_a_fact_of_another_day_counts_from_its_evening() -> None:
    """Told today of yesterday: eight in the evening there; told of today: the message's own moment."""
    assert when.happened(date(2026, 8, 11), TUESDAY) == TUESDAY.astimezone(UTC)
    assert when.happened(date(2026, 8, 10), TUESDAY) == datetime(2026, 8, 10, 20, tzinfo=ZONE).astimezone(UTC)


def test_how_days_are_said() -> None:
    """Near days by name, others by weekday and date, far ones with their year."""
    today = date(2026, 8, 11)
    days_ = (today, date(2026, 8, 12), date(2026, 8, 10), date(2026, 8, 13), date(2028, 2, 29))
    said = [say.day(d, today) for d in days_]
    assert said == ["today", "tomorrow", "yesterday", "Thu 13 Aug", "Tue 29 Feb 2028"]
