"""Misspelt words: what each must mean, and the words that are no slip of another."""

import pytest

from bot.slips import meant

MEANT = {
    "cownted": "counted", "hawled": "hauled", "drencht": "drenched", "deliverd": "delivered", "weihged": "weighed",
    "recieved": "received", "wieght": "weight", "thersday": "thursday", "hoggits": "hoggets", "ninty": "ninety",
    "lambd": "lambed", "takin": "taking", "ewse": "ewes",
}  # fmt: skip


@pytest.mark.parametrize("word", MEANT)
def test_a_slip_is_taken_for_the_word_it_sounds_like(word: str) -> None:
    """Vowels, doubled and swapped letters are slips of the thumb; what sounds alike comes before what looks alike."""
    assert meant(word) == MEANT[word]


@pytest.mark.parametrize("word", ["slipped", "skipped", "stripped", "tripped", "created", "sheet", "tales"])
def test_a_word_is_no_slip_of_another(word: str) -> None:
    """What English has stays what it is, however near to a word of the barn."""
    assert meant(word, ("milk",)) is None


def test_another_word_that_is_nearer_leaves_it_as_it_is() -> None:
    """A slip of a word that has nothing to do with the farm is none of the farm's."""
    assert meant("bilding") is None


def test_names_of_this_farm_are_meant_too() -> None:
    assert meant("primrse", ("primrose",)) == "primrose"
    assert meant("primrse") is None
