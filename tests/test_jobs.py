"""Reminders stay until they are done; creep and weaning come by age."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from barn import ZONE, animal, at, barn, dose

from rules import entries as e
from rules.jobs import job_due, turn_after

PLAN = {
    "group": [
        {"name": "ewes", "keeps": "ewes"},
        {"name": "bottles", "keeps": "bottle lambs"},
    ],
    "stage_plan": [{"for": "bottle lambs", "creep": 14, "weaned": 40}, {"for": "ewes", "weaned": 90}],
}
MAY = date(2026, 5, 1)


def remind(text, due, **more):
    return e.Remind(on=MAY, text=text, due=due, **more)


def jobs(farm, day, hour=6, minute=0):
    return [(x.text, x.level) for x in job_due(farm, at(day, hour, minute))]


@pytest.mark.parametrize(
    ("day", "hour", "level"),
    [(4, 20, "know"), (5, 6, "soon"), (5, 8, "soon"), (5, 9, "act"), (5, 22, "act"), (9, 6, "soon")],
)
def test_a_reminder_with_a_time_is_due_from_that_time_on(day, hour, level):
    farm = barn(PLAN, remind("ring the vet", date(2026, 5, 5), time="09:00"))
    (found,) = job_due(farm, at(date(2026, 5, day), hour))
    assert (found.level, found.due, found.seq) == (level, datetime(2026, 5, 5, 9, tzinfo=ZONE), 2)


@pytest.mark.parametrize(("day", "level"), [(4, "know"), (5, "soon"), (6, "soon"), (30, "soon")])
def test_a_reminder_without_a_time_is_for_the_day(day, level):
    assert jobs(barn(PLAN, remind("mend the gate", date(2026, 5, 5))), date(2026, 5, day)) == [("mend the gate", level)]


def test_a_reminder_goes_when_it_is_done_waved_off_or_its_animal_is_gone():
    told = (animal("7", "bottles"), remind("look at its foot", MAY, tag="7"))
    assert jobs(barn(PLAN, *told), MAY) == [("look at its foot", "soon")]
    (found,) = job_due(barn(PLAN, *told), at(MAY))
    for end in (
        e.Done(on=MAY, text="foot"),
        e.Done(on=MAY, tag="7"),
        e.Loss(on=MAY, tags=("7",)),
        e.Wave(on=MAY, key=found.key),
    ):
        assert jobs(barn(PLAN, *told, end), MAY + timedelta(1)) == []


def test_a_reminder_follows_a_tag_that_was_replaced():
    farm = barn(PLAN, animal("7", "bottles"), remind("check", MAY, tag="7"), e.Retagged(on=MAY, tag="7", to="90"))
    assert [x.tag for x in job_due(farm, at(MAY))] == ["90"]


def turns(count=6, **more):
    """The days on which a job comes round, the first one and those after it."""
    job, days = remind("check", **more), []
    day = job.due
    while day is not None and len(days) < count:
        days.append(day)
        day = turn_after(job, day)
    return days


@pytest.mark.parametrize(
    ("due", "every", "until", "days"),
    [
        ((5, 4), "7 days", None, [(5, 4), (5, 11), (5, 18)]),
        ((5, 4), "1 days", (5, 6), [(5, 4), (5, 5), (5, 6)]),
        ((5, 7), "monday thursday", None, [(5, 7), (5, 11), (5, 14), (5, 18)]),
        ((5, 31), "1 months", None, [(5, 31), (6, 30), (7, 31), (8, 31)]),
        ((11, 30), "3 months", None, [(11, 30), (2, 28), (5, 30)]),
    ],
)
def test_a_job_comes_round(due, every, until, days):
    """By the calendar of 2026 and 2027: 4 May 2026 is a Monday."""
    end = date(2026, *until) if until else None
    found = turns(len(days) + (1 if until else 0), due=date(2026, *due), every=every, until=end)
    assert [(d.month, d.day) for d in found] == days


def test_the_31st_is_the_last_of_a_shorter_month_and_the_31st_again_after_it():
    """Done each time on its day: January, February, March, April and May of 2027."""
    day, told = date(2027, 1, 31), [remind("book", date(2027, 1, 31), every="1 months")]
    days = []
    for _ in range(5):
        (found,) = job_due(barn(PLAN, *told), at(day))
        days.append((found.due.month, found.due.day))
        told.append(e.Done(on=found.due, text="book"))
        day = found.due + timedelta(1)
    assert days == [(1, 31), (2, 28), (3, 31), (4, 30), (5, 31)]


def test_a_repeated_job_stands_once_and_comes_again_when_done():
    """Every Monday from 4 May: missed on the 4th and the 11th it is one job, of the 11th; done that Tuesday it is next
    due on the 18th."""
    told = remind("water", date(2026, 5, 4), every="monday")
    (found,) = job_due(barn(PLAN, told), at(date(2026, 5, 12)))
    assert (found.due, found.turn, found.level) == (date(2026, 5, 11), date(2026, 5, 11), "soon")
    farm = barn(PLAN, told, e.Done(on=date(2026, 5, 12), text="water"))
    (found,) = job_due(farm, at(date(2026, 5, 13)))
    assert (found.due, found.level) == (date(2026, 5, 18), "know")
    assert job_due(barn(PLAN, told, e.Done(on=date(2026, 5, 12), text="water", stop=True)), at(date(2026, 5, 19))) == []


def test_each_turn_is_a_matter_of_its_own_and_the_last_day_ends_it():
    farm = barn(PLAN, remind("trough", date(2026, 5, 4), every="1 days", until=date(2026, 5, 6)))
    keys = [x.key for n in (4, 5, 6, 7) for x in job_due(farm, at(date(2026, 5, n)))]
    assert len(set(keys)) == 3


def test_a_job_is_for_whoever_asked_or_was_named():
    farm = barn(PLAN, remind("salt", MAY), remind("worm the ewes", MAY, who="Jo"))
    assert [x.who for x in job_due(farm, at(MAY))] == ["owner", "Jo"]


def test_done_takes_the_due_one_of_two_that_its_words_fit():
    farm = barn(PLAN, remind("salt", MAY), remind("salt", MAY + timedelta(7)), e.Done(on=MAY, text="salt"))
    assert [x.due for x in job_due(farm, at(MAY))] == [MAY + timedelta(7)]


def test_two_reminders_of_one_text_are_two():
    farm = barn(PLAN, remind("salt", MAY), remind("salt", MAY + timedelta(7)))
    assert len({x.key for x in job_due(farm, at(MAY))}) == 2


def test_creep_and_weaning_are_foreseen_by_age():
    """Born on 1 May: creep on the 15th, weaning on 10 June; those of age are one job, those of next week another."""
    lambs = (animal("1", "bottles", MAY), animal("2", "bottles", MAY), animal("3", "bottles", MAY + timedelta(4)))
    farm = barn(PLAN, *lambs)
    assert jobs(farm, date(2026, 5, 7)) == []
    found = job_due(farm, at(date(2026, 5, 15)))
    assert [(x.text, x.tags, x.due, x.level) for x in found] == [
        ("start creep", ("1", "2"), date(2026, 5, 15), "soon"),
        ("start creep", ("3",), date(2026, 5, 19), "know"),
    ]
    done = barn(PLAN, *lambs, e.Stage(on=date(2026, 5, 15), stage="creep", group="bottles"))
    assert jobs(done, date(2026, 5, 20)) == []
    assert [(x.text, x.tags) for x in job_due(done, at(date(2026, 6, 10)))] == [("wean", ("1", "2")), ("wean", ("3",))]


def test_a_weaned_lamb_needs_no_creep():
    farm = barn(PLAN, animal("1", "bottles", MAY), e.Stage(on=date(2026, 5, 12), stage="weaned", tags=("1",)))
    assert jobs(farm, date(2026, 5, 16)) == []


def test_light_lambs_are_named_before_their_milk_stops():
    """At least 9 kg (Teagasc, Artificial rearing of lambs): 8.5 is too light, 9.0 is not, nobody weighed the third."""
    lambs = tuple(animal(tag, "bottles", MAY) for tag in ("1", "2", "3"))
    light = e.Weight(on=date(2026, 6, 8), tag="1", weight=Decimal("8.5"), unit="kg")
    heavy = e.Weight(on=date(2026, 6, 8), tag="2", weight=Decimal(9), unit="kg")
    wean = next(x for x in job_due(barn(PLAN, *lambs, light, heavy), at(date(2026, 6, 10))) if x.text == "wean")
    assert (wean.tags, wean.light) == (("1", "2", "3"), ("1",))


def test_lambs_at_foot_go_by_the_ewes_row_and_ewes_are_not_weaned():
    farm = barn(
        PLAN, animal("101", "ewes", date(2022, 1, 1), sex="ewe"), animal("1", "ewes", date(2026, 2, 1), dam="101"),
        e.Lambing(on=date(2026, 2, 2), dam="101", born=(e.Born(),)),
    )  # fmt: skip
    found = job_due(farm, at(date(2026, 5, 2)))
    assert [(x.text, x.tags, x.group, x.level) for x in found] == [
        ("wean", ("1",), "ewes", "soon"), ("wean", (), "ewes", "know")
    ]  # fmt: skip
    weaned = e.Stage(on=MAY, stage="weaned", group="ewes")
    assert jobs(barn(PLAN, e.Lambing(on=date(2026, 2, 2), dam="101", born=(e.Born(),)), weaned), date(2026, 5, 9)) == []


def test_which_had_a_dose_told_by_head_is_asked_before_the_sale_it_holds_them_from():
    """Sales on Wednesdays; a dose of 28 days told by head on 4 May: asked from Monday the 11th on, not before."""
    plan = {
        "group": [{"name": "pen", "keeps": "market lambs"}], "ship": {"min": Decimal(42), "sales": ["wednesday"]},
        "product": [{"name": "oxy", "withdrawal_days": 28}],
    }  # fmt: skip
    pen = [animal(str(n), "pen") for n in range(6)]
    told = dose(date(2026, 5, 7), "oxy", group="pen", head=2)
    assert [len(job_due(barn(plan, *pen, told), at(date(2026, 5, n)))) for n in (8, 10, 11, 13)] == [0, 0, 1, 1]
    named = dose(date(2026, 5, 7), "oxy", tags=("1", "2"))
    assert job_due(barn(plan, *pen, told, named), at(date(2026, 5, 11))) == []
