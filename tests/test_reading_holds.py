"""What must hold for any message of a kind: said back it is the same, and what says nothing changes nothing.

Made-up entries and messages of the farm of the talks, as hypothesis draws them.
"""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from test_reading import AT, FARM, farm_of, plain

from bot.book import Book
from bot.conversation import hear
from bot.desk import Heard, open_desk
from bot.files import load_folder
from bot.reading import Ask, Nothing, Record, read
from bot.shown import entry_data
from bot.tags import tags_of
from bot.when import local
from bot.words import chat
from bot.words.kept import echo
from rules import entries as e
from tests.test_talks import TALKS

NOW = local(datetime.fromisoformat(AT), "America/Chicago")
TODAY = NOW.date()
PLACE = farm_of(FARM)
LAMBS = sorted(a.tag for a in PLACE.in_group("pen 1"))
SMALL = sorted(a.tag for a in PLACE.in_group("nursery"))
DAYS = st.integers(0, 4).map(lambda back: TODAY - timedelta(back))
HALVES = st.integers(1, 24).map(lambda n: Decimal(n) / 2)
ABOUT = st.sampled_from(LAMBS + SMALL).map(lambda t: {"tags": (t,)}) | st.sampled_from(["pen 1", "nursery"]).map(
    lambda g: {"group": g}
)


def weights(tag: str, on: date, more: int) -> e.Weight:
    last = PLACE.animals[tag].weighings[-1].weight
    return e.Weight(on=on, tag=tag, weight=last + Decimal(more) / 2, unit="lb")


def stocked(kind: type, on: date, amount: Decimal, item: str) -> e.Entry:
    return kind(on=on, item=item, amount=amount, unit="bag" if item == "milk" else "bale")  # type: ignore[no-any-return]


ENTRIES = st.one_of(
    st.builds(weights, st.sampled_from(LAMBS), DAYS, st.integers(-4, 10)),
    st.builds(stocked, st.sampled_from([e.OnHand, e.Received, e.Used]), DAYS, HALVES, st.sampled_from(["milk", "hay"])),
    st.builds(lambda on, who, product: e.Dose(on=on, product=product, **who), DAYS, ABOUT,
              st.sampled_from(["cdt", "oxytetracycline", "meloxicam"])),
    st.builds(lambda on, who, stage: e.Stage(on=on, stage=stage, **who), DAYS, ABOUT,
              st.sampled_from(["weaned", "docked", "castrated", "shorn", "housed"]))
    .filter(lambda x: x.stage != "castrated" or all(PLACE.animals[t].sex != "ewe" for t in x.tags)),  # a ewe is asked
    st.builds(lambda on, tag: e.Move(on=on, tags=(tag,), to="nursery"), DAYS, st.sampled_from(LAMBS)),
    st.builds(lambda on, tag: e.Loss(on=on, tags=(tag,)), DAYS, st.sampled_from(LAMBS)),
    st.builds(lambda on, tag: e.Ship(on=on, tags=(tag,)), DAYS, st.sampled_from(LAMBS)),
    st.builds(lambda on, count: e.Eggs(on=on, count=count), DAYS, st.integers(1, 30)),
    st.builds(lambda on, n: e.BinLevel(on=on, bin="bin 1", amount=Decimal(n), unit="bu", crop="corn"), DAYS,
              st.integers(50, 4000)),
)  # fmt: skip


def told(text: str) -> list[dict[str, object]] | None:
    got = read(text, NOW, PLACE)
    return [plain(entry_data(x)) for x in got.entries] if isinstance(got, Record) else None


@given(ENTRIES)
@settings(max_examples=250, deadline=None)
def test_what_is_said_of_an_entry_gives_it_back(entry: e.Entry) -> None:
    """Whatever the value, the animal, the day: the words it is said back in record the same again."""
    assert told(echo(entry, PLACE, TODAY)) == [plain(entry_data(entry))]


MESSAGES = (
    "2404 112", "2 bags of milk left", "got 10 bags milk from the mill", "gave 2405 oxy 5 ml", "28 eggs", "weaned 2431",
    "shipped 2408", "lost 2432", "101 had twins", "bin 1 2200 bu", "sprayed the back forty", "2409 limping left hind",
    "ordered 4 bags milk, comes friday", "moved 2410 to nursery",
)  # fmt: skip
CHATTER = (
    "lol", "thanks", "what a day", "grand morning", "cheers", "see you later", "hope you are well", "love it", "phew",
    "too hot for this", "back to the house now", "good night",
)  # fmt: skip


@given(st.sampled_from(MESSAGES), st.sampled_from(CHATTER), st.booleans(), st.sampled_from([". ", "\n", "! "]))
@settings(max_examples=150, deadline=None)
def test_chatter_beside_a_fact_changes_nothing(text: str, chatter: str, first: bool, between: str) -> None:
    """No number and no name of the farm in it: what is told stays as it is."""
    beside = f"{chatter}{between}{text}" if first else f"{text}{between}{chatter}"
    assert told(beside) == told(text)


TAILS = ("", " 🐑", " 👍👍", "\n", "  ", "!", " .")


@given(st.sampled_from(MESSAGES), st.randoms(use_true_random=False), st.sampled_from(TAILS))
@settings(max_examples=150, deadline=None)
def test_letters_spaces_and_pictures_change_nothing(text: str, chance: object, tail: str) -> None:
    """Any mixture of capitals, doubled spaces and what trails behind."""
    pick = chance.choice  # type: ignore[attr-defined]
    mixed = "".join(pick([c.upper(), c.lower(), c]) if c != " " else pick([" ", "  ", "   "]) for c in text)
    assert told(mixed + tail) == told(text)


@given(st.lists(st.sampled_from(MESSAGES), min_size=2, max_size=3, unique=True), st.sampled_from([". ", "\n", ", "]))
@settings(max_examples=120, deadline=None)
def test_facts_may_come_in_any_order(texts: list[str], between: str) -> None:
    """Swapping facts swaps their entries; a comma may leave them in doubt, but never makes others of them.

    Pairs of them once lost a fact, or took an animal of the one into the other: "shipped 2408, lost 2432", "28 eggs.
    101 had twins", a line that ends in a unit, a sentence that ends in "friday."."""
    there, back = told(between.join(texts)), told(between.join(reversed(texts)))
    each = [x for text in texts for x in told(text) or []]
    if between != ", ":
        assert there is not None
        assert back is not None
    key = repr
    assert there is None or sorted(there, key=key) == sorted(each, key=key)
    assert back is None or sorted(back, key=key) == sorted(each, key=key)


OF_ONE = ("{} 112", "gave {} oxy", "shipped {}", "lost {}", "weaned {}", "moved {} to nursery", "{} limping")


@given(st.sampled_from(LAMBS + SMALL), st.integers(0, 3), st.sampled_from("0123456789"), st.sampled_from(OF_ONE))
@settings(max_examples=200, deadline=None)
def test_a_tag_with_a_digit_changed_is_asked(tag: str, place: int, digit: str, words: str) -> None:
    """One digit otherwise, and no such animal: asked, with the right one among the choices nine times in ten."""
    wrong = tag[:place] + digit + tag[place + 1 :]
    assume(not tags_of(PLACE).named(wrong))
    assert isinstance(read(words.format(wrong), NOW, PLACE), Ask | Nothing)


SAID = [
    *MESSAGES, "same for 2406", "2406 too", "make that 3", "no, 113", "no, 2406", "sorry 3 bags", "that was yesterday",
    "not 2404, 2405", "undo", "scrap the last two", "what did i just say", "yes", "no", "the second", "bags", "2404",
    "112", "milk 3", "2499 105", "2412 1220", "gave oxy to a lamb", "another lamb", "and the other pens",
    "how many ready", "done", "no, hay", "help", "ok", "left",
]  # fmt: skip


@given(st.lists(st.tuples(st.sampled_from(["owner", "Ivo"]), st.sampled_from(SAID), st.booleans()), max_size=9))
@settings(max_examples=40, deadline=None)
def test_no_talk_goes_wrong_and_undo_leaves_the_farm_as_before(talk: list[tuple[str, str, bool]]) -> None:
    """Messages and edits in any order: never a fault of ours, and what stands is what the book says from the start."""
    with Book.open(None) as book:
        load_folder(book, TALKS / "farm", NOW - timedelta(days=1))
        desk = open_desk(book)
        for n, (who, text, edit) in enumerate(talk):
            name = f"m{n - 1}" if edit else f"m{n}"
            outs = hear(desk, Heard(NOW + timedelta(minutes=n), who, text, name, edit))
            assert all(out.text and chat.broken() not in out.text for out in outs)
        assert open_desk(book).farm == desk.farm


@pytest.mark.parametrize("text", ["2404 112", "got 4 bags milk", "gave 2404 oxy", "moved 2404 to nursery"])
@pytest.mark.parametrize("change", ["make that 113", "no, 2405", "that was yesterday", "no, hay"])
def test_undo_of_a_change_and_of_what_it_changed_leaves_nothing(text: str, change: str) -> None:
    """Taken back twice, the farm is as if nothing had been said."""
    with Book.open(None) as book:
        load_folder(book, TALKS / "farm", NOW - timedelta(days=1))
        desk = open_desk(book)
        before = desk.farm.copy()
        for n, said in enumerate([text, change, "undo", "undo"]):
            hear(desk, Heard(NOW + timedelta(minutes=n), "owner", said))
        assert desk.farm == before
