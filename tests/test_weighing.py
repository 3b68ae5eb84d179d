"""Whom to weigh before a sale, and what a run of weights says: from diaries, in the farm's own unit."""

import random
from datetime import date, timedelta
from decimal import Decimal

import pytest
from barn import animal, at, barn, dose

from rules import entries as e
from rules.weighing import to_weigh, weighed

TODAY = date(2026, 8, 11)
BORN = date(2026, 4, 10)
PLAN = {
    "ship": {"min": 42, "max": 48, "sales": ["thursday"]},
    "group": [{"name": "pen", "keeps": "market lambs"}, {"name": "keepers", "keeps": "replacements"}],
    "product": [{"name": "oxy", "withdrawal_days": 28}],
}


def scale(tag, kg, back=0):
    return e.Weight(on=TODAY - timedelta(back), tag=tag, weight=Decimal(str(round(kg, 1))), unit="kg")


def lamb(tag, last, group="pen", until=14):
    """A lamb that gained 250 g a day, weighed each fortnight up to `until` days ago, when it had `last`."""
    err = random.Random(tag)
    yield animal(tag, group, BORN, sex="ewe", birth_type=2)
    for back in (70, 56, 42, 28, 14, 0):
        if back >= until:
            yield scale(tag, last - 0.25 * (back - until) + err.gauss(0, 0.3), back)


def pen(*more):
    """Eight lambs last weighed a fortnight ago: two far past the weight, two far from it, four about to reach it."""
    lasts = {"1": 47.0, "2": 46.5, "3": 28.0, "4": 29.5, "5": 37.5, "6": 38.0, "7": 38.5, "8": 39.0}
    return barn(PLAN, *(x for tag, last in lasts.items() for x in lamb(tag, last)), *more)


def test_only_those_are_weighed_whose_readiness_a_weighing_decides() -> None:
    """Sure ones and hopeless ones stay in the pen; the most open come first."""
    found = to_weigh(pen(), at(TODAY))
    assert found is not None
    assert {x.tag for x in found.open} == {"5", "6", "7", "8"}
    assert (found.surely, found.short, found.held) == (2, 2, 0)
    assert all(x.low < 42 <= x.high for x in found.open)


@pytest.mark.parametrize(
    ("told", "least"),
    [
        (scale("6", 43.0), (3, 0, 0)),
        (scale("6", 40.0), (0, 3, 0)),
        (dose(TODAY, "oxy", tags=("6",)), (2, 2, 1)),
    ],
    ids=["weighed, ready", "weighed, short", "held"],
)
def test_weighed_today_or_held_it_need_not_be_weighed(told: e.Entry, least: tuple[int, int, int]) -> None:
    """The scale has decided already, or can decide nothing. (One weight of today may settle others, too.)"""
    found = to_weigh(pen(told), at(TODAY))
    assert found is not None
    assert "6" not in {x.tag for x in found.open}
    counts = (found.surely, found.short, found.held)
    assert all(n >= most for n, most in zip(counts, least, strict=True))
    assert sum(counts) + len(found.open) == 8


def test_replacements_and_farms_without_a_ship_weight_have_no_list() -> None:
    """Nothing is sold, so nothing is to be decided."""
    assert to_weigh(barn(PLAN, *lamb("1", 38.0, group="keepers")), at(TODAY)) is None
    assert to_weigh(barn({"group": PLAN["group"]}, *lamb("1", 38.0)), at(TODAY)) is None


def test_a_held_lamb_is_neither_ready_nor_near() -> None:
    """It is named as held; who draws the load must not take it."""
    farm = pen(
        dose(TODAY, "oxy", tags=("7", "8")), scale("7", 43), scale("8", 41.5), scale("5", 41.5), scale("6", 42.5)
    )
    found = weighed(farm, at(TODAY), ["5", "6", "7", "8"])
    assert found is not None
    assert (found.ready, found.held, [t for t, _ in found.near]) == (("6",), ("7", "8"), ["5"])
    assert (found.head, found.least, found.most) == (4, Decimal("41.5"), Decimal("43"))
