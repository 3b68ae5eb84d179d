"""What the bot asks once something was recorded, and how it is answered; doses and loads that are asked about first."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.asked_with import days_said
from bot.book import Book
from bot.conversation import hear
from bot.desk import Desk, Heard, Out, open_desk
from bot.files import load_folder
from rules import entries as e

AT = datetime.fromisoformat("2026-08-11T07:10:00-05:00")
TODAY = AT.date()


@pytest.fixture
def desk():
    with Book.open(None) as book:
        load_folder(book, Path(__file__).parent / "talks" / "farm", AT)
        yield open_desk(book)


def say(desk: Desk, text: str, who: str = "owner", days: int = 0) -> Out | None:
    return next(iter(hear(desk, Heard(AT + timedelta(days=days), who, text))), None)


def press(desk: Desk, out: Out, label: str) -> Out:
    button = next(b for b in out.buttons if b.label == label)
    return hear(desk, Heard(AT, out.to, press=button.press))[0]


def held(desk: Desk, tag: str) -> str:
    return say(desk, f"can {tag} go wed").text


# -- withdrawal nobody has told


@pytest.mark.parametrize("said", ["14 days", "14", "vet says 14 days", "its 14 days withdrawal", "14d"])
def test_withdrawal_days_are_asked_once_and_remembered(desk, said):
    """Meloxicam has none in the plan: 14 days from 11 August, and the day itself, is held till the 26th."""
    assert "How many days" in say(desk, "gave 2405 meloxicam").text
    assert "How many days" not in say(desk, "gave 2406 meloxicam").text
    (told,) = say(desk, said).entries
    assert told == e.Product(on=TODAY, product="meloxicam", withdrawal_days=14)
    assert "held till Wed 26 Aug" in held(desk, "2405")
    assert "How many days" not in say(desk, "gave 2407 meloxicam").text


def test_no_withdrawal_is_an_answer_too(desk):
    say(desk, "gave 2405 meloxicam")
    assert say(desk, "none").entries == (e.Product(on=TODAY, product="meloxicam", withdrawal_days=0),)


def test_a_number_tells_no_days_where_none_were_asked_for(desk):
    assert say(desk, "14 days") is None
    say(desk, "gave 2405 meloxicam")
    assert days_said("14", just_asked=False) is None
    assert days_said("2405 98", just_asked=True) is None


def test_only_the_owner_or_family_tell_the_days(desk):
    say(desk, "gave 2405 meloxicam", "Bea")
    out = say(desk, "14 days", "Bea")
    assert out.entries == ()
    assert "owner" in out.text


# -- told by head


def test_a_dose_by_head_holds_all_until_its_tags_are_told(desk):
    """Four of pen 1 had oxy; the whole pen is held for 28 days, till 9 September, until the four are named."""
    out = say(desk, "gave 4 of pen 1 oxy")
    assert "Which 4" in out.text
    assert "all of pen 1 is held till Wed 9 Sep" in out.text
    assert held(desk, "2408").startswith("2408 no")
    (named,) = say(desk, "it was 2401 2402 2403 and 2404", days=3).entries
    assert named == e.Dose(on=TODAY, product="oxytetracycline", tags=("2401", "2402", "2403", "2404"))
    assert held(desk, "2408").startswith("2408 yes")
    assert held(desk, "2404").startswith("2404 no")


def test_the_tags_of_a_load_told_by_head(desk):
    assert "Which 2 went" in say(desk, "shipped 2 from pen 1").text
    assert say(desk, "2401 2402").entries == (e.Ship(on=TODAY, tags=("2401", "2402")),)
    assert [desk.farm.animals[t].status for t in ("2401", "2402", "2403")] == ["sold", "sold", "here"]
    assert sum(load.head for load in desk.farm.shipments) == 2


def test_tags_and_a_weight_name_nobody(desk):
    say(desk, "gave 4 of pen 1 oxy")
    (entry,) = say(desk, "2401 112").entries
    assert isinstance(entry, e.Weight)


# -- held animals on a load


def test_a_whole_pen_with_a_held_one_is_asked_about(desk):
    say(desk, "gave 2404 oxy")
    out = say(desk, "shipped all of pen 1")
    assert out.entries == ()
    assert "2404 is held till Wed 9 Sep" in out.text
    (went,) = press(desk, out, "it went").entries
    assert went == e.Ship(on=TODAY, group="pen 1")


def test_more_than_may_go_is_asked_about(desk):
    """Of a pen in which all but two are held, two may go and three not without a question."""
    tags = [a.tag for a in desk.farm.in_group("pen 1")]
    say(desk, f"gave {' '.join(tags[2:])} oxy")
    out = say(desk, "shipped 3 from pen 1")
    assert out.entries == ()
    assert out.text.startswith("Only 2 of pen 1 may go")
    assert say(desk, "shipped 2 from pen 1").entries != ()


def test_one_noted_lame_is_asked_about(desk):
    say(desk, "2404 limping on the near fore")
    out = say(desk, "shipped 2404")
    assert out.entries == ()
    assert "limping" in out.text


# -- pulled


def test_pulled_asks_for_colostrum_and_keeps_the_answer(desk):
    out = say(desk, "pulled 2431")
    assert "colostrum" in out.cautions
    press(desk, out, "had it")
    lamb = desk.farm.animals["2431"]
    assert (lamb.colostrum, lamb.stages) == (True, (("pulled", TODAY),))


def test_colostrum_said_with_it_is_not_asked(desk):
    out = say(desk, "pulled 2431, had colostrum")
    assert out.entries == (e.Stage(on=TODAY, stage="pulled", tags=("2431",), colostrum=True),)
    assert out.cautions == ()
    out = say(desk, "pulled 2432 no colostrum")
    assert (out.entries[0].colostrum, out.cautions) == (False, ("colostrum",))


# -- doses that are asked about first


@pytest.mark.parametrize(
    ("plan", "before", "said", "asked"),
    [
        ("2 mL", None, "12 ml", ["1.2 mL", "really 12"]),
        ("2 mL", None, "5 ml", None),
        ("1 mL per 10 kg", None, "50 ml", ["5 mL", "really 50"]),  # a lamb of 50 kg gets five
        ("1 ml/10kg", None, "8 ml", None),
        ("see label", "4 ml", "40 ml", ["4 mL", "really 40"]),
        ("see label", "4 ml", "6 ml", None),
        ("see label", None, "500 ml", ["50 mL", "really 500"]),
        ("see label", None, "60 ml", None),
    ],
)  # fmt: skip
def test_a_dose_far_beyond_what_was_told_or_given_is_asked_about(desk, plan, before, said, asked):
    """Five times the plan's dose, what an animal of its weight would get, or the most it was here before."""
    message = desk.book.hear("owner", AT, "")
    desk.record(message, [e.PlanSet(on=TODAY, table="product", name="oxytetracycline", set={"dose": plan})])
    if before:
        say(desk, f"gave 2402 oxy {before}")
    out = say(desk, f"gave 2404 oxy {said}")
    assert (out.ask and [c.label for c in out.ask.choices]) == asked
    if asked:
        assert press(desk, out, asked[0]).entries[0].amount == Decimal(asked[0].split()[0])


@pytest.mark.parametrize("said", ["3 days in a row", "daily for 3 days", "for 3 days", "three days running"])
def test_a_course_is_recorded_day_by_day_or_has_begun(desk, said):
    """The hold counts from the last dose, so whether all are given matters: 11 August, or the first of three."""
    out = say(desk, f"gave 2404 oxy 4 ml {said}")
    days = [x.on for x in press(desk, out, "all given").entries]
    assert days == [date(2026, 8, 9), date(2026, 8, 10), date(2026, 8, 11)]
    out = say(desk, f"gave 2405 oxy 4 ml {said}")
    first, more = press(desk, out, "first today").entries
    assert (first.on, more.due, more.until, more.every) == (TODAY, date(2026, 8, 12), date(2026, 8, 13), "1 days")


def test_a_course_begun_goes_on_with_each_dose(desk):
    """The second dose, told in words, is the job of that day done; the third is due the day after."""
    press(desk, say(desk, "gave 2404 oxy 4 ml for 3 days"), "first today")
    assert [x.due for x in desk.farm.reminders.values()] == [date(2026, 8, 12)]
    say(desk, "gave 2404 oxy 4 ml", days=1)
    assert [x.due for x in desk.farm.reminders.values()] == [date(2026, 8, 13)]
    say(desk, "gave 2404 oxy 4 ml", days=2)
    assert not desk.farm.reminders


def test_a_withdrawal_in_days_is_no_course(desk):
    (entry,) = say(desk, "gave 2404 oxy, 10 days withdrawal").entries
    assert entry.withdrawal_days == 10


def test_tags_that_could_be_weights_are_tags_of_a_dose(desk):
    """Ewes 101 to 103 in a row: nobody gave 102 bottles, and no ewe weighed the next one's tag."""
    (entry,) = say(desk, "gave 101 102 103 cdt").entries
    assert entry == e.Dose(on=TODAY, product="cdt", tags=("101", "102", "103"))


# -- bought in, and before a load


def test_the_age_of_bought_in_lambs_is_asked_where_doses_count_from_birth(desk):
    """Six weeks old on 11 August: born on 30 June."""
    steps = [{"product": "cdt", "step": "first", "after": "birth", "days": [42, 56]}]
    plan = {"dose_plan": [{"name": "lambs", "for": "market lambs", "steps": steps}]}
    assert "How old" not in say(desk, "bought 2501 into pen 1").text
    desk.record(desk.book.hear("owner", AT, ""), [e.PlanSet(on=TODAY, set={**desk.farm.plan_data, **plan})])
    assert "How old" in say(desk, "bought 2502 into pen 1").text
    assert say(desk, "6 weeks old").entries == (e.Tagged(on=TODAY, tag="2502", born=date(2026, 6, 30)),)
    assert desk.farm.animals["2502"].born == date(2026, 6, 30)
    assert say(desk, "6 weeks old") is None
