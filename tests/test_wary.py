"""Messages that look like a telling and are not, or tell less than it seems: each was once written down wrong.

On the made-up farm of `example_farm`. What is asserted is what may be written, not how the bot asks.
"""

from typing import Any

import pytest
from example_farm import told


def kinds(text: str) -> list[Any]:
    """The kinds that a message records, with whom or what each is about; empty where it records nothing."""
    got = told(text)
    return [(d["kind"], d.get("tags") or d.get("tag") or d.get("group")) for d in got] if isinstance(got, list) else []


NOTHING_OF_ANIMALS = (
    "2431 not weaned", "2401 nearly died", "2401 slipped on the ice", "2401 skipped his feed", "lost my phone in pen 1",
    "sold the old truck for 4500", "moved 4 gates to pen 2", "docked 5 bucks from his pay", "weaning 2431 friday",
    "2401 passed the vet check", "2401 is dying", "2401 was 108 yesterday and 110 today", "101 twins last year too",
    "R7 out with the ewes", "12 head from pen 1 shipped, 2401 stayed", "shipped 5 from pen 1: 2401 2402 2403 2404",
    "gave 2401 and 2402 5 ml and 6 ml oxy", "2401/2402 108", "2401 wasnt weighed, 108 was 2402", "2401 108 109",
    "guess 2401 is 108", "2401 maybe 108", "moved 2401 to pen 3", "2401 will be 112 by friday",
    "101 scanned twins", "tagged 2431 2502", "vet charged 85 for 2401", "2401 2402 2403 108 109",
)  # fmt: skip


@pytest.mark.parametrize("text", NOTHING_OF_ANIMALS)
def test_nothing_is_written_of_an_animal(text: str) -> None:
    """A denial, a near thing, a plan, a thing that is no animal, or a number that could be two: nothing is written."""
    assert [k for k in kinds(text) if k[0] != "note"] == []


NOTHING_OF_STORES = (
    "bin 1 temp 52", "bin 1 corn 15.2", "2 broken eggs", "ate 4 eggs", "12 eggs to Bea", "mill shut early friday",
    "2 bags of milk left, 3 of that other stuff", "will pick up 4 bags of milk tomorrow",
    "drop 2 bags of milk at the neighbours", "diesel 4.10 a gal",
    "milk 300 bags left", "bin 1 9000 bu", "40 dozen eggs",
    "2 bags milk left but 1 is wet", "market up 5 cents", "sold a load of corn 48000 lb at 4.10", "paid the mill 580",
    "got 10 bags milk 58 each, paid 580",
)  # fmt: skip


@pytest.mark.parametrize("text", NOTHING_OF_STORES)
def test_nothing_is_written_of_a_store(text: str) -> None:
    """A heat, a moisture, eggs that are gone, a plan, an amount beyond belief: asked or left alone."""
    assert kinds(text) == []


ONLY_THESE = {
    "gave 2401 oxy 5 ml, 2402 limping": [("dose", ["2401"]), ("note", ["2402"])],
    "gave 2401 oxy, 2402 drench": [("dose", ["2401"]), ("dose", ["2402"])],
    "found 2431 dead, 2432 looks bad, gave her 2 ml oxy": [("loss", ["2431"]), ("dose", ["2432"])],
    "lost the gate key, 2401 got out": [("note", ["2401"])],
    "2401 is gone lame": [("note", ["2401"])],
    "2401 cut his leg": [("note", ["2401"])],
    "2401 stiff on his legs": [("note", ["2401"])],
    "moved 2401 and 2402 to pen 2, 2403 108": [("move", ["2401", "2402"]), ("weight", "2403")],
    "drenched pen 1, havent done pen 2": [("dose", "pen 1")],
    "might ship 12, got 10 bags of milk": [("received", None)],
    "shipped 4 from pen 1: 2401 2402 2403 2404": [("ship", ["2401", "2402", "2403", "2404"])],
    "lost 2431, bloat": [("loss", ["2431"])],
}


@pytest.mark.parametrize("text", ONLY_THESE)
def test_each_animal_gets_its_own(text: str) -> None:
    """What is said of one animal is not written of another."""
    assert kinds(text) == ONLY_THESE[text]


def test_some_came_and_some_went() -> None:
    """In one breath, what came is received and what was fed is used."""
    got = told("got 10 bags of milk and 5 bags of creep, fed 2 of milk")
    assert [(d["kind"], d["item"], int(d["amount"])) for d in got] == [
        ("received", "milk replacer", 10), ("received", "creep pellets", 5), ("used", "milk replacer", 2),
    ]  # fmt: skip


def test_where_weaned_lambs_went_is_kept_with_it():
    weaned = {"kind": "stage", "stage": "weaned", "tags": ["2431"]}
    assert told("weaned 2431 into pen 1") == [weaned, {"kind": "move", "tags": ["2431"], "to": "pen 1"}]
    assert told("weaned 2431 in the nursery") == [weaned]
