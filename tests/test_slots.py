"""Pieces: what a number, a unit, a tag, a name or a day of a message is, before any fact is made of it."""

from decimal import Decimal

import pytest
from example_farm import TUESDAY, thistle_rise
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from bot.slots import Piece, pieces
from bot.tags import nearest


def cut(text: str) -> list[Piece]:
    return pieces(text, TUESDAY, thistle_rise())


# The readings of amounts are the contract's: a bag is 1, half a bag 0.5, a couple 2, a dozen 12, 334p 3.34.
AMOUNTS = [
    ("a bag", "1", "bag"), ("half a bag", "0.5", "bag"), ("a couple bags", "2", "bag"), ("a dozen bales", "12", "bale"),
    ("two and a half bags", "2.5", "bag"), ("1 1/2 bags", "1.5", "bag"), ("3 ½ bags", "3.5", "bag"),
    ("a bag and a half", "1.5", "bag"), ("half ton", "0.5", "ton"), ("a tonne bag", "1", "t"), ("5cc", "5", "mL"),
    ("118#", "118", "lb"), ("thirty one and a half pounds", "31.5", "lb"), ("1,100 bu", "1100", "bu"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "value", "unit"), AMOUNTS)
def test_amounts(text: str, value: str, unit: str) -> None:
    """An amount is a number in the unit that was said."""
    found = [(p.value, p.unit) for p in cut(text) if p.kind == "num"]
    assert found == [(Decimal(value), unit)]


@pytest.mark.parametrize(
    ("text", "value", "per"),
    [
        ("5.25 a bale", "5.25", "bale"), ("54.50 ea", "54.50", "each"),
        ("2.44/lb", "2.44", "lb"), ("334p a kg", "3.34", "kg"),
    ],
)  # fmt: skip
def test_prices(text: str, value: str, per: str) -> None:
    """A price carries what it is for."""
    assert [(p.value, p.per) for p in cut(text) if p.kind == "num"] == [(Decimal(value), per)]


@pytest.mark.parametrize(
    ("text", "tags"),
    [
        ("#2401", ["2401"]), ("tag 2401", ["2401"]), ("2401:", ["2401"]), ("r7", ["R7"]), ("r-7", ["R7"]),
        ("DUKE", ["Duke"]), ("twenty four oh one", ["2401"]), ("twenty-four eleven", ["2411"]),
        ("one oh four", ["104"]),
        ("999000000024040", ["2404"]),
    ],
)  # fmt: skip
def test_tags_however_they_are_written(text: str, tags: list[str]) -> None:
    """A tag is the plan's, with or without its mark, in capitals, dictated, or as the electronic number."""
    assert [t for p in cut(text) for t in p.tags] == tags


@given(st.text("0123456789", min_size=4, max_size=5))
def test_no_animal_is_nearer_to_a_mistyped_tag_than_those_offered(written: str) -> None:
    """Tags one slip away are looked up, not looked for; RapidFuzz, which counts the slips to every tag, must agree."""
    farm = thistle_rise()
    slips = {tag: OSA.distance(written, tag) for tag, animal in farm.animals.items() if animal.here and tag.isdigit()}
    least = min(slips.values())
    offered = nearest(written, farm)
    assert bool(offered) == (least <= 2)
    if offered:
        equal = [tag for tag, far in slips.items() if far == least]
        assert set(offered) <= set(equal) if len(equal) > 1 else offered[0] == equal[0]
        assert len(offered) >= min(3, len(equal))


def test_a_number_says_which_animal_it_could_be_and_keeps_its_value() -> None:
    """Ewe 104 may be a weight of 104: the fact decides."""
    tag, weight = (p for p in cut("2401 104") if p.kind == "num")
    assert (tag.tags, weight.tags, weight.value) == (("2401",), ("104",), Decimal(104))


@pytest.mark.parametrize(
    ("text", "table", "name"),
    [
        ("milk", "item", "milk replacer"), ("CD&T", "product", "clostridial vaccine"),
        ("the mill", "supplier", "Hollow Feed"),
        ("finishers", "group", "pen 1"), ("finisher", "item", "finisher"), ("finisher's", "item", "finisher"),
        ("diseal", "item", "diesel"), ("nursry", "group", "nursery"),
    ],
)  # fmt: skip
def test_names(text: str, table: str, name: str) -> None:
    """Names as people say, and slightly misspell, them."""
    assert [p.named(table) for p in cut(text) if p.kind == "name"] == [name]


@pytest.mark.parametrize("text", ["mill", "mile", "meal", "mesh", "way", "day", "hat", "strap"])
def test_an_ordinary_word_is_no_name(text: str) -> None:
    """A word near milk, mash, hay or straw is not taken for it ("mill" is the supplier's own short name)."""
    assert not any("item" in p.names for p in cut(text))


def test_a_day_is_cut_out_before_the_numbers() -> None:
    """The 3 of "aug 3" is no number, and the tag after it is."""
    assert [(p.kind, p.text) for p in cut("aug 3: 2404 74") if p.kind in ("day", "num")] == [
        ("day", "aug 3"), ("num", "2404"), ("num", "74"),
    ]  # fmt: skip


def test_the_night_is_no_day_but_a_scots_one_is() -> None:
    """ "in the night" names no day; "the nicht" is tonight."""
    assert [p.text for p in cut("lost 2404 in the night") if p.kind == "day"] == []
    assert [p.text for p in cut("they are in the nicht") if p.kind == "day"] == ["tonight"]
