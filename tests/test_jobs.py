"""Reminders stay until they are done; creep and weaning come by age."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from barn import ZONE, animal, at, barn

from rules import entries as e
from rules.jobs import job_due

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
    [(4, 20, "know"), (5, 6, "soon"), (5, 8, "soon"), (5, 9, "act"), (5, 22, "act"), (9, 6, "act")],
)
def test_a_reminder_with_a_time_is_due_from_that_time_on(day, hour, level):
    farm = barn(PLAN, remind("ring the vet", date(2026, 5, 5), time="09:00"))
    (found,) = job_due(farm, at(date(2026, 5, day), hour))
    assert (found.level, found.due, found.seq) == (level, datetime(2026, 5, 5, 9, tzinfo=ZONE), 2)


@pytest.mark.parametrize(("day", "level"), [(4, "know"), (5, "soon"), (6, "act"), (30, "act")])
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
