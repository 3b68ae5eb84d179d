"""What must never be written down: denied, guessed, told of another, still to come, or meant of something else.

Each of these once recorded something false while the reader was built. Asking is right for all of them; so is saying
nothing where nothing happened. The farm is made up.
"""

import pytest
from example_farm import told

ASKED_OR_NOTHING = (
    "not out of milk yet", "did not give 2431 his cdt", "2431 isn't dead", "101 didnt have twins, single",
    "moved 2401 not 2402 to pen 2", "we are not weaned yet in the nursery", "bet 2401 is 97", "2401 gotta be 97",
    "2401 should be about 97 by now", "give 2401 5 ml oxy", "the book says 2401 was 93",
    "2431 dead or sleeping, cant tell", "pick up 10 bags milk", "order 10 bags milk", "29 or 30 eggs",
    "24 eggs, 2 broken", "neighbor is out of milk", "101's ram lamb is dead", "one of 101's triplets died",
    "put down 97 for 2402, no 2403", "101 looks like twins", "101 and her twins to pen 1", "R7 covered 101",
    "101 103 open", "we have enough milk for 3 days", "3 days of milk left", "pen 1 is averaging .7 lb a day",
    "add 3 bags creep to the count", "took 2431 off 101", "meant 2401 97 not 2402", "i typed 101 should be 102",
    "110 to 130 lambs brought 2.55", "2401 97/98", "sale this wednesday is off, thursday instead",
    "mill closes at noon sat", "mill isnt closed monday",
    "101 triplets, dead", "101 had a ewe, a ram and a ewe, one dead",
    # exceptions, attempts, questions, parts of a group, what others own or do, what is taken back
    "pen 1 got cdt, skipped 2401", "moved everything from pen 1 to nursery and left 2401 behind",
    "gave 2401 thru 2405 cdt but not 2403", "culled 101 but kept 103", "lost 101 but saved 103",
    "2401 died like 2402", "101 lost a tooth", "101 lost her lambs to a coyote", "101 killed her lamb",
    "the twin to 2431 died", "2401 dead lame", "2401 has to be put down", "i think 2401 died",
    "did 2401 get his booster", "could've sold 14 at 2.55", "tried to move 2401 to nursery", "2401 looks 98",
    "feed 3 bales hay a day to pen 1", "my neighbour's 2401 died", "bill lost 12 ewes",
    "the mill has 6 bags of milk left", "bill has 40 bales of hay left", "mill delivered 4 bags of milk to bill",
    "shipped everything over 95 in pen 1", "2401 103.8 f", "bin 1 is 12 ft deep", "half of pen 1 got cdt",
    "moved the heavy ones from pen 1 to nursery", "2401 97, scratch that, 2402 97",
    "drenched pen 1 instead of nursery", "gave 2401 5 ml oxy yesterday and today", "gave oxy to 2401 twice",
    "left 3 bags of milk in the truck", "treated a few of pen 1 with oxy", "bin 1 is about two thirds full",
    "cdt on pen 1 is due friday", "brought 12 in from pen 1",
    "28 doses of cdt to pen 1", "pulled 2 from ewes", "101 lambed 3 two alive", "mill closes at 12 monday",
    # made for other stock: its copper may kill sheep (common practice, no source)
    "got 3 bags of calf milk", "2 bags of calf milk left", "ordered 4 bags cow milk",
)  # fmt: skip


@pytest.mark.parametrize("text", ASKED_OR_NOTHING)
def test_never_written(text: str) -> None:
    """Asked about, or nothing; never an entry."""
    got = told(text)
    assert not isinstance(got, list), got


LITTERS = (
    ("101 twins, ram dead", [("ram", False), (None, None)]),
    ("101 had 2 rams one dead", [("ram", None), ("ram", False)]),
    ("101 lambed 2 live 1 dead", [(None, None), (None, None), (None, False)]),
    ("101 lambed one, born dead", [(None, False)]),
    ("101 had triplets 2 ewes and a ram, all dead", [("ewe", False), ("ewe", False), ("ram", False)]),
    ("101 had a ewe 9 lb and a dead ram lamb", [("ewe", None), ("ram", False)]),
    ("101 lambed, a ram and one dead", [("ram", None), (None, False)]),
)


@pytest.mark.parametrize(("text", "lambs"), LITTERS)
def test_which_lamb_was_dead(text: str, lambs: list[tuple[str | None, bool | None]]) -> None:
    """Dead is the lamb it was said of, and no more of them than were told."""
    (entry,) = told(text)
    assert [(b.get("sex"), b.get("alive")) for b in entry["born"]] == lambs


READ_ALL_THE_SAME = (
    ("2401 97 not bad", ["weight"]), ("gave 2431 cdt no problems", ["dose"]), ("no creep left", ["on_hand"]),
    ("we dont have any creep left", ["on_hand"]), ("down to the last bag of milk", ["on_hand"]),
    ("2401 97, 2402 98 both going wed", ["weight", "weight"]), ("2401 97 n moved him to pen 2", ["weight", "move"]),
    ("97 for 2401", ["weight"]), ("tag 2401 weighs 97 and looks ready", ["weight"]),
    ("drenched pen 1 and pen 2", ["dose", "dose"]), ("101 and 103 both had twins", ["lambing", "lambing"]),
    ("101 lambed 2 live 1 dead", ["lambing"]), ("lost 2 bottle lambs overnight", ["loss"]),
    ("layers out of mash", ["on_hand"]), ("2401 temp 104.5", ["note"]), ("took 14 to the sale", ["ship"]),
    ("10 bags milk ordered yesterday", ["ordered"]), ("got 3 bags mash, 2 bags milk left", ["received", "on_hand"]),
)  # fmt: skip


@pytest.mark.parametrize(("text", "kinds"), READ_ALL_THE_SAME)
def test_their_near_neighbours_are_read(text: str, kinds: list[str]) -> None:
    """The same words in an honest telling do not make it ask."""
    got = told(text)
    assert isinstance(got, list), got
    assert [x["kind"] for x in got] == kinds
