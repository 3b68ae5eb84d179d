"""The conversation: once only, whoever asks; open questions over a restart; who may change what; calm mishaps."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from bot import conversation
from bot.book import Book, BookTrouble, fold
from bot.conversation import hear
from bot.desk import Desk, Heard, Out, open_desk
from bot.files import load_folder
from bot.timetable import knock, next_knock
from rules import entries as e

FARM = Path(__file__).parent / "talks" / "farm"
NOON = datetime.fromisoformat("2026-08-11T12:00:00-05:00")


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with Book.open(tmp_path / "farm.book") as made:
        load_folder(made, FARM, NOON - timedelta(days=1))
        yield made


@pytest.fixture
def desk(book: Book) -> Desk:
    return open_desk(book)


def say(desk: Desk, text: str, who: str = "owner", minutes: int = 0, **more: object) -> list[Out]:
    return hear(desk, Heard(NOON + timedelta(minutes=minutes), who, text, **more))  # type: ignore[arg-type]


def press(desk: Desk, button: str, who: str = "owner", minutes: int = 1) -> list[Out]:
    return hear(desk, Heard(NOON + timedelta(minutes=minutes), who, press=button))


def weights(desk: Desk, tag: str) -> list[float]:
    return [float(w.weight) for w in desk.farm.animals[tag].weighings if w.on == NOON.date()]


def test_an_update_that_comes_twice_is_recorded_once(desk: Desk) -> None:
    """The second delivery of an update says and records nothing."""
    assert len(say(desk, "2404 112", update=7)) == 1
    assert say(desk, "2404 112", update=7) == []
    assert weights(desk, "2404") == [112.0]


def test_a_choice_counts_once_however_often_it_is_pressed(desk: Desk) -> None:
    """Pressed three times, by two of the buttons: one entry."""
    (asked,) = say(desk, "milk 3")
    left, came = asked.buttons[0].press, asked.buttons[1].press
    assert press(desk, left)[0].entries != ()
    assert [out.entries for button in (left, came) for out in press(desk, button)] == [(), ()]
    assert [f.what for f in desk.farm.stock["milk"]] == ["on_hand"]


def test_open_questions_survive_a_restart_and_are_answered_in_any_order(book: Book) -> None:
    """Two questions asked, the bot started anew: the second is answered first, and both are recorded."""
    desk = open_desk(book)
    first, second = say(desk, "milk 3")[0], say(desk, "hay 40", minutes=1)[0]
    anew = open_desk(book)
    press(anew, second.buttons[0].press, minutes=2)
    press(anew, first.buttons[0].press, minutes=3)
    assert float(anew.farm.stock["hay"][-1].amount) == 40
    assert float(anew.farm.stock["milk"][-1].amount) == 3


def test_two_people_texting_at_once_never_mix(desk: Desk) -> None:
    """One's "the second" is no answer to the other's question, and one's undo leaves the other's entry."""
    say(desk, "milk 3")
    say(desk, "hay 5", "Ivo")
    (out,) = say(desk, "the second", "Ivo", 1)
    assert [(x.item, x.kind) for x in out.entries] == [("hay", "received")]  # type: ignore[attr-defined]
    say(desk, "2404 112", minutes=2)
    say(desk, "2405 113", "Ivo", 3)
    say(desk, "undo", minutes=4)
    assert weights(desk, "2404") == []
    assert weights(desk, "2405") == [113.0]


def test_a_button_is_not_another_persons(desk: Desk) -> None:
    """A doubt of one person cannot be settled by a stranger or a colleague."""
    (asked,) = say(desk, "milk 3")
    assert press(desk, asked.buttons[0].press, "Ivo") == []
    assert press(desk, asked.buttons[0].press, "nobody") == []
    assert "milk" not in desk.farm.stock


def test_a_stranger_learns_nothing_and_changes_nothing(desk: Desk) -> None:
    """No answer, no entry, to words, edits and presses."""
    before = desk.book.count()
    assert say(desk, "how many ready", "stranger") == []
    assert say(desk, "2404 112", "stranger") == []
    assert desk.book.count() == before


def test_an_edited_message_stands_in_the_place_and_on_the_day_of_the_first(desk: Desk) -> None:
    """Edited the next day, it still counts for the day it was sent; what it had said is gone."""
    say(desk, "2404 112", message="m1")
    (out,) = hear(desk, Heard(NOON + timedelta(days=1), "owner", "2404 121", "m1", edit=True))
    assert weights(desk, "2404") == [121.0]
    assert out.text.startswith("Changed.")


def test_an_edit_after_a_press_takes_back_what_the_press_recorded(desk: Desk) -> None:
    """A doubt settled by a button, then the message edited: only the edited weight stands."""
    (asked,) = say(desk, "2404 1180", message="m1")
    press(desk, asked.buttons[0].press)
    hear(desk, Heard(NOON + timedelta(minutes=2), "owner", "2404 117", "m1", edit=True))
    assert weights(desk, "2404") == [117.0]


def test_helpers_record_but_do_not_change_the_plan(desk: Desk) -> None:
    """A helper's weight is kept, a helper's withdrawal days are not."""
    assert say(desk, "2404 112", "Bea")[0].entries != ()
    assert say(desk, "meloxicam is 14 days before they can ship", "Bea")[0].entries == ()
    product = desk.farm.plan.product_named("meloxicam")
    assert product is not None
    assert product.withdrawal_days is None


def test_where_the_book_cannot_be_written_it_is_told_and_nothing_lingers(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The farm in memory is the farm in the book again, so that the next answer is right."""

    def full(*_: object) -> int:
        raise BookTrouble(None, "the disk is full", "Make room on it")

    monkeypatch.setattr(desk.book, "owe", full)
    with pytest.raises(BookTrouble, match="disk is full"):
        say(desk, "2404 112")
    assert weights(desk, "2404") == []
    assert desk.fold.farm == fold(desk.book).farm


def test_a_fault_of_ours_is_one_calm_sentence(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """No traceback in the chat, the words kept, nothing half written, and the bot goes on."""
    with monkeypatch.context() as broken:
        broken.setattr(conversation, "read", lambda *_: 1 / 0)
        (out,) = say(desk, "2404 112")
    assert out.text.startswith("Not kept")
    assert [h.words for h in desk.book.silent()][-1] == "2404 112"
    assert say(desk, "2404 112", minutes=1)[0].entries != ()


def test_late_starts_neither_lose_nor_double_a_reminder(desk: Desk) -> None:
    """Due while the bot was down for three days: said once at the start, at the present moment."""
    knock(desk, NOON)
    say(desk, "remind me tomorrow to call the vet")
    back = NOON + timedelta(days=3)
    outs = knock(desk, back)
    assert sum("call the vet" in out.text.lower() for out in outs) == 1
    assert all(out.at == back for out in outs)
    assert knock(desk, back + timedelta(minutes=1)) == []
    assert next_knock(desk, back) > back


@pytest.mark.parametrize("start", ["2026-03-07T23:00:00-06:00", "2026-10-31T23:00:00-05:00"])
def test_the_morning_comes_once_a_day_when_clocks_change(desk: Desk, start: str) -> None:
    """Over both changes of 2026, six o'clock by the farm's clock is six o'clock, each day once."""
    at, mornings = datetime.fromisoformat(start), []
    for _ in range(16):
        at = next_knock(desk, at)
        if at.hour == 6:
            mornings.append(at.date())
    assert len(mornings) >= 3
    assert len(set(mornings)) == len(mornings)
    assert all((b - a).days == 1 for a, b in pairwise(mornings))


def test_an_urgent_message_nobody_answers_goes_to_the_family(desk: Desk) -> None:
    """Milk ends over the holiday; the owner says nothing for two waking hours; the family hears of it, once."""
    knock(desk, NOON)
    for day, amount in ((0, "3"), (3, "2.2"), (6, "1.4")):
        hear(desk, Heard(NOON + timedelta(days=18 + day), "owner", f"{amount} bags of milk left"))
    outs = knock(desk, NOON + timedelta(days=40), late=None)
    urgent = [out for out in outs if any(x.level == "act" and x.rule == "run_out" for x in out.findings)]
    first = next(out for out in urgent if out.to == "owner")
    family = [out for out in urgent if out.to == "Ivo"]
    assert family
    assert family[0].at >= first.at + timedelta(hours=2)
    assert len({(out.to, out.at.date()) for out in urgent}) == len(urgent)  # each of them once a day at most
    for out in urgent:  # and with time left to act
        moments = [x.order_by for x in out.findings if x.rule == "run_out" and x.order_by is not None]
        assert all(by - out.at >= timedelta(hours=1) for by in moments)


def test_undo_takes_back_all_that_the_last_message_recorded(desk: Desk) -> None:
    """A message of three facts goes as a whole; entries stay in the book, withdrawn."""
    say(desk, "2404 112, 2405 113, 2 bags of milk left")
    count = desk.book.count()
    (out,) = say(desk, "undo", minutes=1)
    assert isinstance(out.entries[0], e.Undo)
    assert (weights(desk, "2404"), weights(desk, "2405"), desk.farm.stock.get("milk", ())) == ([], [], ())
    assert desk.book.count() == count + 1


def test_a_correction_corrected_leaves_one_fact(desk: Desk) -> None:
    """What a correction had replaced does not stand again when the correction itself is put right."""
    say(desk, "got 4 bags of milk")
    say(desk, "make that 5 bags", minutes=1)
    say(desk, "no, 6", minutes=2)
    assert [float(f.amount) for f in desk.farm.stock["milk"]] == [6.0]
    say(desk, "undo", minutes=3)
    assert [float(f.amount) for f in desk.farm.stock["milk"]] == [5.0]


def test_an_edit_takes_back_what_was_corrected_since(desk: Desk) -> None:
    """Edited twice, and corrected in between by another message: one delivery stands."""
    say(desk, "got 4 bags of milk", message="m1")
    hear(desk, Heard(NOON, "owner", "got 5 bags of milk", "m1", edit=True))
    say(desk, "make that 6", minutes=1, message="m2")
    hear(desk, Heard(NOON + timedelta(minutes=2), "owner", "got 7 bags of milk", "m1", edit=True))
    assert [float(f.amount) for f in desk.farm.stock["milk"]] == [7.0]


def test_what_leans_on_a_message_leans_on_ones_own(desk: Desk) -> None:
    """Two people at once: each one's "make that" and "same for" is about what that one told."""
    say(desk, "2404 112")
    say(desk, "gave 2405 cdt", "Ivo")
    say(desk, "make that 113", minutes=1)
    say(desk, "same for 2406", "Ivo", 1)
    assert weights(desk, "2404") == [113.0]
    assert [len(desk.farm.animals[t].doses) for t in ("2404", "2405", "2406")] == [0, 1, 1]


def test_an_answer_does_not_go_to_an_older_question_first(desk: Desk) -> None:
    """A tag that is a choice of the older question answers the newer one, where it can."""
    say(desk, "2404 and 2405 and 2406 97.5")
    (asked,) = say(desk, "gave oxy to a lamb", minutes=1)
    assert asked.ask is not None
    (out,) = say(desk, "2404", minutes=2)
    assert [x.kind for x in out.entries] == ["dose"]


def test_a_late_yes_answers_no_question_of_yesterday(desk: Desk) -> None:
    """What was asked a day ago is settled by its buttons, not by a word meant for something else."""
    say(desk, "shipped 2404 and 2405, lost 2406?")
    assert say(desk, "yes", minutes=60 * 30) == []
    assert desk.farm.animals["2404"].here


@pytest.mark.parametrize(
    "text", ["no, hay", "no 99", "2499 too", "make that 999 bags", "not 2404, 2499", "wrong tag, 2499"]
)
def test_a_change_in_doubt_is_asked_or_left(desk: Desk, text: str) -> None:
    """Another unit than the item has, a weight the lamb cannot have, a tag nobody has: nothing is written."""
    say(desk, "2404 112")
    say(desk, "3 bags of milk left", minutes=1)
    count = desk.book.count()
    outs = say(desk, text, minutes=2)
    assert desk.book.count() == count
    assert all(out.entries == () for out in outs)


@pytest.mark.parametrize(
    ("asked", "words"),
    [("101 had lambs", "pen 1"), ("milk 3", "the ewes"), ("2412 1220", "5 ml"), ("how long will it last", "no")],
)
def test_only_what_was_asked_for_is_added(desk: Desk, asked: str, words: str) -> None:
    """An answer of another kind than the question writes nothing: it would guess a doing, or an animal."""
    say(desk, asked)
    count = desk.book.count()
    say(desk, words, minutes=1)
    assert desk.book.count() == count


def test_a_weight_of_long_ago_is_not_put_right_by_the_way(desk: Desk) -> None:
    """ "actually 2404 113" a week after the last weighing: of today, or instead of that one?"""
    (out,) = say(desk, "actually 2404 113")
    assert [b.label for b in out.buttons] == ["of today", "instead", "none of these"]
    press(desk, out.buttons[0].press)
    assert weights(desk, "2404") == [113.0]


def test_the_last_two_go_with_what_put_them_right(desk: Desk) -> None:
    """Two weights, one corrected since: both messages are scrapped, and nothing of them stands again."""
    say(desk, "2404 112")
    say(desk, "2405 111", minutes=1)
    say(desk, "make that 113", minutes=2)
    say(desk, "scrap the last two", minutes=3)
    assert (weights(desk, "2404"), weights(desk, "2405")) == ([], [])


def test_replies_in_the_alley_are_two_lines_of_a_telephone(desk: Desk) -> None:
    """One weight or all of a pen in a message: at most two lines and 160 letters; the sum of them is one screen."""
    tags = [f"24{n:02}" for n in range(1, 13)]
    say(desk, "2409 limping on the left hind since the day before yesterday")
    say(desk, "gave 2408 oxy")
    for n in (1, 2, 5, 12):
        some = list(dict.fromkeys([*tags[-n:], "2409", "2408"]))
        text = "\n".join(f"{tag} {109.5 + k / 2:g}" for k, tag in enumerate(some))
        (out,) = say(desk, text, minutes=n)
        assert len(out.text.splitlines()) <= 2, out.text
        assert len(out.text) <= 160, out.text
    (out,) = say(desk, "done", minutes=13)
    assert out.text.startswith("12 weighed")
    assert len(out.text) <= 600
