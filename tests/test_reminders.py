"""Reminders as people ask for them, and how they say that a job is done; the farm is made up, told on a Tuesday."""

from datetime import date, datetime
from pathlib import Path

import pytest

from bot.book import Book
from bot.conversation import hear
from bot.desk import Desk, Heard, open_desk
from bot.files import load_folder
from bot.timetable import knock
from rules import entries as e

AT = datetime.fromisoformat("2026-08-11T07:10:00-05:00")


@pytest.fixture
def desk():
    with Book.open(None) as book:
        load_folder(book, Path(__file__).parent / "talks" / "farm", AT)
        yield open_desk(book)


def told(desk: Desk, text: str, who: str = "owner") -> list[e.Entry]:
    return [x for out in hear(desk, Heard(AT, who, text)) for x in out.entries]


@pytest.mark.parametrize(
    ("text", "said", "due", "more"),
    [
        ("remind me every monday to check the water", "check the water", (8, 17), {"every": "monday"}),
        ("remind me to check the water every monday", "check the water", (8, 17), {"every": "monday"}),
        ("remind me every 2 weeks to trim feet", "trim feet", (8, 25), {"every": "14 days"}),
        ("remind me every other day from friday to weigh", "weigh", (8, 14), {"every": "2 days"}),
        ("remind me daily to check the trough", "check the trough", (8, 12), {"every": "1 days"}),
        ("remind me every day at 5 to shut the hens", "shut the hens", (8, 11),
         {"every": "1 days", "time": "17:00", "group": "hens"}),
        ("remind me every mon and thu at 8 to look at the ram", "look at the ram", (8, 13),
         {"every": "monday thursday", "time": "08:00"}),
        ("remind me on the first of every month to pay the mill", "pay the mill", (9, 1), {"every": "1 months"}),
        ("remind me on the last day of every month to do the book", "do the book", (8, 31),
         {"every": "1 months", "of_month": 31}),
        ("remind me every month on the 30th to read the meter", "read the meter", (8, 30),
         {"every": "1 months", "of_month": 30}),
        ("remind me at the end of each month to do the books", "do the books", (8, 31),
         {"every": "1 months", "of_month": 31}),
        ("remind me monthly on the 5th to clean the tank", "clean the tank", (9, 5), {"every": "1 months"}),
        ("remind me each morning till friday to look at 2404", "look at 2404", (8, 12),
         {"every": "1 days", "until": date(2026, 8, 14), "tag": "2404"}),
        ("remind Bea to worm the ewes tomorrow", "worm the ewes", (8, 12), {"who": "Bea", "group": "ewes"}),
        ("remind us in 2 weeks to move the ewes", "move the ewes", (8, 25), {"group": "ewes"}),
        ("remind me to look at 2404 at 7", "look at 2404", (8, 11), {"time": "19:00", "tag": "2404"}),
    ],
)  # fmt: skip
def test_a_reminder_as_it_is_asked_for(desk, text, said, due, more):
    (entry,) = told(desk, text)
    assert entry == e.Remind(on=AT.date(), text=said, due=date(2026, *due), **more)


def test_without_a_day_it_is_asked(desk):
    (out,) = hear(desk, Heard(AT, "owner", "remind me to ring the vet"))
    assert not out.entries
    assert [c.label for c in out.ask.choices] == ["tomorrow", "in a week"]


@pytest.mark.parametrize(
    ("text", "job"),
    [
        ("done", "check the water"),
        ("water checked", "check the water"),
        ("done the water", "check the water"),
        ("checked the water", "check the water"),
        ("no need to remind me about the water", "check the water"),
        ("water is checked now", "check the water"),
    ],
)
def test_done_in_the_words_people_use(desk, text, job):
    told(desk, "remind me today to check the water")
    (entry,) = told(desk, text)
    assert isinstance(entry, e.Done)
    assert entry.text == job


def test_a_job_about_an_animal_is_done_in_its_own_words(desk):
    told(desk, "remind me today to recheck 2404")
    (entry,) = told(desk, "2404 rechecked")
    assert (entry.kind, entry.text) == ("done", "recheck 2404")


def test_done_with_several_jobs_is_asked(desk):
    told(desk, "remind me today to check the water")
    told(desk, "remind me today to ring the vet")
    (out,) = hear(desk, Heard(AT, "owner", "done"))
    assert [c.label for c in out.ask.choices] == ["check the water", "ring the vet"]


def test_a_job_told_of_in_other_words_stays_what_was_told(desk):
    """A dose given is a dose, though a job was to give it."""
    told(desk, "remind me today to drench 2404 with oxy")
    (entry,) = told(desk, "gave 2404 oxy")
    assert isinstance(entry, e.Dose)


def test_a_helper_hears_of_the_own_jobs_only_and_the_owner_not_of_those(desk):
    knock(desk, AT)
    told(desk, "remind me tomorrow to salt the ewes", "Bea")
    told(desk, "remind me tomorrow to ring the vet")
    outs = knock(desk, datetime.fromisoformat("2026-08-12T07:00:00-05:00"), late=None)
    assert {out.to: out.text.splitlines()[1] for out in outs} == {"Bea": "Salt the ewes.", "owner": "Ring the vet."}
