"""The morning round: a few things, the urgent first, place by place; the rest behind "more"; nothing, no message."""

from datetime import datetime
from pathlib import Path

import pytest

from bot.book import Book
from bot.conversation import hear
from bot.desk import Desk, Heard, Out, open_desk
from bot.files import load_folder
from bot.timetable import knock
from rules import entries as e

AT = datetime.fromisoformat("2026-08-11T12:00:00-05:00")
MORNING = datetime.fromisoformat("2026-08-12T06:00:00-05:00")
STEPS = [
    {"product": "cdt", "step": "first", "after": "housed", "days": [0, 5]},
    {"product": "cdt", "step": "second", "after": "first", "days": [21, 28]},
]
PLANS = {"pen doses": "market lambs", "bottle doses": "bottle lambs"}


@pytest.fixture
def desk():
    with Book.open(None) as book:
        load_folder(book, Path(__file__).parent / "talks" / "farm", AT)
        desk = open_desk(book)
        message = book.hear("owner", AT, "")
        desk.record(message, [
            e.PlanSet(on=AT.date(), set={
                **desk.farm.plan_data,
                "dose_plan": [{"name": name, "for": keeps, "steps": STEPS} for name, keeps in PLANS.items()],
            }),
        ])  # fmt: skip
        knock(desk, AT)
        yield desk


def say(desk: Desk, text: str, at: datetime = AT) -> Out:
    return hear(desk, Heard(at, "owner", text))[0]


def morning(desk: Desk, at: datetime = MORNING) -> Out | None:
    outs = [o for o in knock(desk, at, late=None) if o.at == at and o.to == "owner"]
    return outs[0] if outs else None


def press(desk: Desk, out: Out, label: str) -> Out:
    button = next(b for b in out.buttons if b.label == label)
    return hear(desk, Heard(out.at, out.to, press=button.press))[0]


def test_nothing_to_do_no_message(desk):
    assert morning(desk) is None


def test_one_walk_through_the_barn_does_it(desk):
    """Told in turns of two places, said place by place; what has no place comes first."""
    for job in ("pen 1 to see to its feet", "the nursery lamps", "pen 1 hay rack", "the vet"):
        say(desk, f"remind me tomorrow about {job}")
    rows = morning(desk).text.splitlines()[1:]
    places = ["pen 1" if "pen 1" in r.lower() else "nursery" if "nursery" in r.lower() else "" for r in rows]
    assert places == ["", "pen 1", "pen 1", "nursery"]


def test_at_most_seven_things_and_900_characters_the_rest_behind_more(desk):
    for n in range(12):
        say(desk, f"remind me tomorrow to see to gate {'abcdefghijkl'[n] * 3} by the long lane and the far pump house")
    out = morning(desk)
    things = [row for row in out.text.splitlines() if row[:1].isdigit()]
    assert len(things) <= 7
    assert len(out.text) <= 900
    more = press(desk, out, "more")
    assert len(things) + len(more.text.splitlines()) == 12


def test_more_can_be_said_in_words(desk):
    for n in range(9):
        say(desk, f"remind me tomorrow to mend gate {'abcdefghi'[n] * 3}")
    morning(desk)
    assert len(say(desk, "more", MORNING).text.splitlines()) == 2


def test_buttons_tell_apart(desk):
    say(desk, "remind me tomorrow to ring the vet")
    say(desk, "remind me tomorrow to salt the ewes")
    labels = [b.label for b in morning(desk).buttons]
    assert len(set(labels)) == len(labels) == 4


def test_lambs_of_several_windows_are_one_line(desk):
    """Six bottle lambs, two housed a day before the others: one thing to do, with who is first."""
    say(desk, "2431 2432 housed", AT)
    day = datetime.fromisoformat("2026-08-12T12:00:00-05:00")
    say(desk, "2433 2434 housed", day)
    last = datetime.fromisoformat("2026-08-16T06:00:00-05:00")
    out = morning(desk, last)
    doses = [row for row in out.text.splitlines() if "cdt" in row]
    assert len(doses) == 1
    assert "2431 and 2432 by today, the rest by tomorrow" in doses[0]


def test_the_answer_about_a_late_dose_is_remembered(desk):
    """Given on 11 August, the second is due from 1 to 8 September; asked on the 9th, and told once it is known."""
    say(desk, "2431 housed")
    say(desk, "gave 2431 cdt")
    out = morning(desk, datetime.fromisoformat("2026-09-09T06:00:00-05:00"))
    assert "Carry on, or start the series again" in out.text
    (entry,) = press(desk, out, next(b.label for b in out.buttons if b.label.endswith("carry on"))).entries
    assert (entry.table, entry.name, entry.set) == ("product", "cdt", {"late": "carry on"})
    later = say(desk, "what's due", datetime.fromisoformat("2026-09-10T06:00:00-05:00"))
    assert "Carry on with it, as told me" in later.text
    assert not [b for b in later.buttons if "carry" in b.label]


def test_a_button_records_as_many_as_were_due(desk):
    """Eight of pen 1 had it, told by head: four are left, and "dosed" gives it to four, not to twelve."""
    say(desk, "housed pen 1")
    say(desk, "gave 8 of pen 1 cdt")
    out = say(desk, "what's due")
    (entry,) = press(desk, out, next(b.label for b in out.buttons if b.label.endswith("dosed"))).entries
    assert (entry.group, entry.head, entry.tags) == ("pen 1", 4, ())


def test_what_to_order_names_the_bottles(desk):
    """Twelve doses by Sunday the 16th, none there: a bottle of twenty, ordered by Friday to come on Saturday."""
    say(desk, "0 bottles cdt left")
    say(desk, "housed pen 1")
    text = say(desk, "what do I need to order").text
    assert text == "Hollow Feed: 1 bottle cdt, by 14:00 Fri 14 Aug."
    out = say(desk, "what's due")
    (entry,) = press(desk, out, "ordered").entries
    assert (entry.item, entry.amount, entry.unit) == ("cdt", 1, "bottle")
    assert say(desk, "what do I need to order").text == "Nothing to order this week."


def test_a_dose_says_which_sale_it_misses(desk):
    """2410 weighed 113 on 4 August, for a sale on Wednesdays: 28 days of oxytetracycline miss tomorrow's."""
    assert "2410 misses the sale tomorrow" in say(desk, "gave 2410 oxy").text


def at(day: str, hour: int = 6) -> datetime:
    return datetime.fromisoformat(f"{day}T{hour:02}:00:00-05:00")


def test_who_is_left_of_those_to_dose_is_said_with_the_dose(desk):
    say(desk, "2431 2432 2433 housed")
    assert "Still to dose: 2432 and 2433, first cdt, window to Sun 16 Aug." in say(desk, "gave 2431 cdt").text
    assert "Still" not in say(desk, "gave 2432 2433 cdt").text


def test_a_window_is_said_when_it_opens_and_on_its_last_day_and_not_every_morning(desk):
    """Housed on the 11th, five days: the morning after, and the 16th."""
    say(desk, "1 bottle of cdt left")
    say(desk, "2431 2432 housed")
    days = [f"2026-08-{n}" for n in range(12, 17)]
    said = [d[-2:] for d in days if (out := morning(desk, at(d))) and "cdt" in out.text]
    assert said == ["12", "16"]


def test_a_long_window_is_said_once_more_three_days_before_its_end(desk):
    """The second dose from 1 to 8 September, after a first on 11 August: 1, 5 and 8 September."""
    say(desk, "1 bottle of cdt left")
    say(desk, "2431 housed")
    say(desk, "gave 2431 cdt")
    days = [f"2026-09-0{n}" for n in range(1, 9)]
    said = [d[-2:] for d in days if (out := morning(desk, at(d))) and "second cdt" in out.text]
    assert said == ["01", "05", "08"]


def test_a_bottle_that_came_makes_it_a_new_matter(desk):
    """Said on the 12th with nothing in the fridge; one comes on the 13th, and so it can be done now."""
    say(desk, "0 bottles of cdt left")
    say(desk, "2431 2432 housed")
    assert "0 of 2 doses" in morning(desk).text
    assert morning(desk, at("2026-08-13")) is None
    assert "Still to dose: 2431 and 2432" in say(desk, "got 1 bottle of cdt", at("2026-08-13", 9)).text
    assert "Dose 2431 and 2432" in morning(desk, at("2026-08-14")).text


def test_several_deaths_are_told_once_with_the_vet_first(desk):
    say(desk, "2431 died")
    out = say(desk, "2432 died")
    assert "Call the vet: 2 dead in nursery on one day" in out.text
    assert out.text.count("vet") == 1
    assert out.cautions == ("losses",)
    evening = [o for o in knock(desk, at("2026-08-11", 21), late=None) if o.to == "owner"]
    assert not evening  # who was told with the death is not told again that day


def test_a_job_to_come_says_its_day(desk):
    say(desk, "remind me on friday to worm the rams")
    assert "Worm the rams, Fri 14 Aug." in say(desk, "what's due").text
