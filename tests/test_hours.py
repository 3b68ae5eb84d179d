"""Opening hours with the holidays of the farm's region, against published calendars."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.hours import holidays_of, hours_problem, moment
from rules import entries as e
from rules.farm import Farm, new_farm

# Ontario 2025: public holiday list of the province (nine days, no Civic Holiday, no Easter Monday).
# US 2026: city calendar of Shreveport (federal days; 4 July observed on Friday the 3rd). Wisconsin keeps no Presidents'
# or Columbus Day by law, so only days that both have are held against it.
# England 2022: GOV.UK bank-holiday data (two moved, one added). Ireland 2027: Organisation of Working Time Act 1997
# with St Brigid's Day from 2023 (first Monday of February); Easter Monday 29 March 2027: from memory.
CALENDARS = [
    ("CA", "ON", 2025, ["01-01", "02-17", "04-18", "05-19", "07-01", "09-01", "10-13", "12-25", "12-26"], ["08-04", "04-21"]),
    ("US", "WI", 2026, ["01-01", "01-19", "05-25", "07-03", "09-07", "11-26", "12-25"], ["07-06"]),
    ("GB", "ENG", 2022, ["01-03", "04-15", "04-18", "05-02", "06-02", "06-03", "08-29", "12-26", "12-27"], ["05-30"]),
    ("IE", None, 2027, ["01-01", "02-01", "03-17", "03-29", "05-03", "06-07", "08-02", "10-25", "12-25", "12-26"], ["03-26"]),
]  # fmt: skip


@pytest.mark.parametrize(("country", "part", "year", "shut", "working"), CALENDARS)
def test_published_holidays(country: str, part: str | None, year: int, shut: list[str], working: list[str]) -> None:
    """Each published day is a holiday, and what only looks like one is not."""
    days = holidays_of(country, part, year)
    assert [d for d in shut if date.fromisoformat(f"{year}-{d}") not in days] == []
    assert [d for d in working if date.fromisoformat(f"{year}-{d}") in days] == []


def test_a_part_nobody_knows_falls_back_to_the_country() -> None:
    """A subdivision that the calendar has not still has the country's days; a country it has not has none."""
    assert date(2027, 12, 25) in holidays_of("IE", "C", 2027)
    assert holidays_of("XX", None, 2027) == {}


def farm(hours: str, *told: e.Closed | e.Open) -> Farm:
    made = new_farm({
        "farm": {"name": "x", "country": "US", "subdivision": "WI", "timezone": "America/Chicago"},
        "supplier": [{"name": "mill", "hours": hours}],
    })  # fmt: skip
    made.closures = told
    return made


def open_on(made: Farm, day: date) -> list[str]:
    m = moment(made, datetime(2026, 9, 1, 7, tzinfo=ZoneInfo("America/Chicago")))
    return [f"{o.start:%H:%M}-{o.end:%H:%M}" for o in m.openings["mill"] if o.start.date() == day]


WEEK = "Mo-Fr 07:30-17:00; Sa 08:00-12:00; PH off"


def test_labor_day_is_shut_and_named() -> None:
    """On the holiday the mill is shut, and the reason is the holiday's name; a Sunday is just a Sunday."""
    made = farm(WEEK)
    m = moment(made, datetime(2026, 9, 1, 7, tzinfo=ZoneInfo("America/Chicago")))
    assert open_on(made, date(2026, 9, 7)) == []
    assert m.closures["mill"][date(2026, 9, 7)] == "Labor Day"
    assert date(2026, 9, 6) not in m.closures["mill"]
    assert open_on(made, date(2026, 9, 8)) == ["07:30-17:00"]


def test_told_closures_and_openings_win() -> None:
    """Shut for stocktaking, open on the holiday, open at other hours: what was told counts, the latest last."""
    on = date(2026, 9, 1)
    shut = e.Closed(on=on, supplier="mill", from_=date(2026, 9, 9), to=date(2026, 9, 10))
    half = e.Open(on=on, supplier="mill", from_=date(2026, 9, 10), to=date(2026, 9, 10), hours="08:00-12:00")
    labor = e.Open(on=on, supplier="mill", from_=date(2026, 9, 7), to=date(2026, 9, 7))
    made = farm(WEEK, shut, half, labor)
    assert open_on(made, date(2026, 9, 9)) == []
    assert open_on(made, date(2026, 9, 10)) == ["08:00-12:00"]
    assert open_on(made, date(2026, 9, 7)) == ["07:30-17:00"]


def test_hours_past_midnight_belong_to_their_days() -> None:
    """A place open over midnight is open on both days, none of it lost."""
    assert open_on(farm("Fr 18:00-02:00"), date(2026, 9, 4)) == ["18:00-00:00"]
    assert open_on(farm("Fr 18:00-02:00"), date(2026, 9, 5)) == ["00:00-02:00"]


def test_wrong_hours_are_told_in_farm_words() -> None:
    """A wrong text gets a good example; hours that would open on holidays again get a word of it."""
    assert hours_problem(WEEK) is None
    assert "expected opening hours like" in (hours_problem("Mo-Fr 8am-5pm") or "")
    assert "write PH off last" in (hours_problem("PH off; Mo-Fr 08:00-17:00") or "")


def test_sundays_and_holidays_in_one_list() -> None:
    """Said as "Su,PH off" as signs have it: shut on both, and the holiday is named; with hours, the holiday has those."""
    made = farm("Mo-Su 08:00-17:00; Su,PH off")
    assert open_on(made, date(2026, 9, 6)) == []
    assert open_on(made, date(2026, 9, 7)) == []
    assert open_on(made, date(2026, 9, 8)) == ["08:00-17:00"]
    assert open_on(farm("Mo-Fr 08:00-17:00; Sa,PH 09:00-12:00"), date(2026, 9, 7)) == ["09:00-12:00"]


def test_the_day_before_a_holiday() -> None:
    """Said as "PH -1 day": early closing on the eve, here the Sunday before Labor Day."""
    made = farm("Mo-Su 08:00-17:00; PH -1 day 08:00-10:00; PH off")
    assert [open_on(made, date(2026, 9, day)) for day in (5, 6, 7)] == [["08:00-17:00"], ["08:00-10:00"], []]


def test_a_holiday_after_a_comma_is_a_rule_of_its_own() -> None:
    """Said as "Mo-Fr 08:00-12:00, PH off" shuts on the holiday, and a comment that speaks of PH is left alone."""
    assert open_on(farm('Mo-Fr 08:00-12:00 "not on PH; ask", PH off'), date(2026, 9, 8)) == ["08:00-12:00"]
    assert open_on(farm("Mo-Fr 08:00-12:00, PH off"), date(2026, 9, 7)) == []


def test_no_holidays_known_does_not_shut_the_place() -> None:
    """In a country whose holidays nobody knows, "PH off" shuts no day."""
    made = new_farm({
        "farm": {"name": "x", "country": "XX", "timezone": "UTC"}, "supplier": [{"name": "mill", "hours": WEEK}],
    })  # fmt: skip
    assert open_on(made, date(2026, 9, 7)) == ["07:30-17:00"]
