"""Units against published factors."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.units import amount, convert, like, unit_named

# Weights and Measures Act, R.S.C. 1985 c. W-6, Sch. II (pound, gallon, ton, hundredweight of Canada); NIST Handbook 44
# App. C (US gallon 231 cubic inches); 1 acre = 43,560 square feet of 0.3048 m. The long ton and its hundredweight of
# 112 lb: from memory.
PUBLISHED = [
    ("1", "lb", "kg", "US", "0.45359237"),
    ("1", "ton", "kg", "US", "907.18474"),
    ("1", "ton", "kg", "CA", "907.18474"),
    ("1", "ton", "lb", "GB", "2240"),
    ("1", "cwt", "lb", "US", "100"),
    ("1", "cwt", "lb", "CA", "100"),
    ("1", "cwt", "lb", "IE", "112"),
    ("1", "gal", "L", "US", "3.785411784"),
    ("1", "gal", "L", "CA", "4.54609"),
    ("1", "gal", "L", "NZ", "4.54609"),
    ("1", "ac", "ha", "US", "0.40468564224"),
    ("1", "t", "kg", "IE", "1000"),
    ("2", "dozen", "each", "US", "24"),
]


@pytest.mark.parametrize(("value", "unit", "to", "country", "expected"), PUBLISHED)
def test_published_factors(value: str, unit: str, to: str, country: str, expected: str) -> None:
    """Each unit is what the law or the standard says, to the last digit."""
    assert convert(Decimal(value), unit, to, country) == Decimal(expected)


@pytest.mark.parametrize(("unit", "to"), [("bag", "lb"), ("L", "kg"), ("head", "kg"), ("bale", "bag")])
def test_unlike_units_refuse(unit: str, to: str) -> None:
    """A bag is no weight, and a litre no kilo."""
    assert not like(unit, to, "US")
    with pytest.raises(ValueError, match="not the same kind"):
        convert(Decimal(1), unit, to, "US")


@given(st.decimals(min_value=0, max_value=100000, places=2), st.sampled_from(["lb", "kg", "t", "ton", "g", "cwt"]))
def test_there_and_back(value: Decimal, unit: str) -> None:
    """A weight turned into kilos and back is the weight."""
    there = convert(value, unit, "kg", "US")
    assert abs(convert(there, "kg", unit, "US") - value) < Decimal("1e-9")


@pytest.mark.parametrize(
    ("word", "unit"),
    [("lbs", "lb"), ("#", "lb"), ("kilos", "kg"), ("tonnes", "t"), ("tons", "ton"), ("cc", "mL"), ("mls", "mL"),
     ("bushels", "bu"), ("doz", "dozen"), ("hd", "head"), ("has", None), ("as", None)],
)  # fmt: skip
def test_spoken_forms(word: str, unit: str | None) -> None:
    """The words a farmer uses; "has" is no hectare."""
    assert unit_named(word) == unit


def test_an_amount_says_what_was_expected() -> None:
    """A wrong amount in a plan is answered with a good one."""
    assert amount("0.5 lb").value == Decimal("0.5")
    with pytest.raises(ValueError, match="like '25 lb'"):
        amount("lots")
