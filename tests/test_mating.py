"""Matings supposed and told: published shares of ewes by cycle, and loads months on."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from barn import animal, at, barn

from rules import entries as e
from rules.breeding import Mating
from rules.mating import coming, figures, lambing_days, suppose, trips

RAMS = date(2026, 10, 10)
PLAN = {
    "ship": {"min": 42, "max": 48, "trip_cost": 60, "keep_cost": Decimal("0.30"), "load_min": 6, "load_full": 20},
    "group": [{"name": "ewes", "keeps": "ewes", "head": 100}, {"name": "pen", "keeps": "market lambs"}],
}


def compared(farm, **supposed):
    asked = {"rams": None, "stay": None, "synced": None, "instead": None, **supposed}
    return suppose(farm, at(RAMS), "ewes", **asked)


def test_most_lamb_in_the_first_cycle():
    """Teagasc Athenry 2014: 85 % of the ewes lambed within 17 days, of those that lamb; gestation blurs the edge."""
    share = lambing_days(Mating(RAMS), 0.85, 34)
    first = share[: 147 + 17].sum() / share.sum()
    assert 0.75 < first < 0.90
    assert share[:144].sum() == 0
    assert 0.95 < share.sum() <= 1.0


def test_after_inserts():
    """Reid and Shannon 1987: joined at 30 h 70 % hold to the first service, 88 to 90 % in the end. The first lamb
    within the gestation's spread of one another (144 to 152 days, New Mexico State Univ.)."""
    first = lambing_days(Mating(RAMS, synced=True), 0.85, 2)
    assert first.sum() == pytest.approx(0.70)
    assert (first > 0).sum() <= 11
    final = lambing_days(Mating(RAMS, synced=True), 0.85, 25).sum()
    assert 0.86 <= final <= 0.92


def test_rams_out_earlier():
    """Three weeks instead of six: tighter, fewer in lamb, and the two are set side by side from the same day."""
    new, old = compared(barn(PLAN), stay=21, instead=42)
    assert new.from_ == old.from_
    assert new.to < old.to
    assert new.in_lamb < old.in_lamb
    assert (new.out - new.rams, old.out - old.rams) == (timedelta(21), timedelta(42))


def test_synced_is_tighter():
    synced, natural = compared(barn(PLAN), rams=date(2027, 3, 1), synced=True)
    assert synced.synced
    assert not natural.synced
    assert synced.peak - synced.from_ < natural.peak - natural.from_
    assert synced.rams == natural.rams == date(2027, 3, 1)


def test_a_mating_told_is_what_a_what_if_is_set_against():
    """The rams are in: leaving them three weeks is set against the mating in the book."""
    farm = barn(PLAN, e.RamsIn(on=RAMS - timedelta(5), group="ewes", head=80))
    new, old = compared(farm, stay=21)
    assert new.rams == old.rams == RAMS - timedelta(5)
    assert new.ewes == old.ewes == 80


def test_one_plan_where_both_are_the_same():
    assert len(compared(barn(PLAN), rams=RAMS)) == 1


def test_the_book_gives_way_to_the_farm():
    """Ten lambings and twenty lambs of its own: litter and losses are the farm's, the rest stays the book's."""
    born = date(2026, 3, 1)
    ewes = [animal(str(n), "ewes", date(2022, 3, 1), sex="ewe") for n in range(100, 112)]
    lambed = [
        e.Lambing(on=born + timedelta(n % 8), dam=str(100 + n), born=tuple(
            e.Born(sex="ewe", tag=f"{n}{k}", alive=False if n == 0 and k == "a" else None) for k in "ab"
        ))
        for n in range(12)
    ]  # fmt: skip
    own = {f.name: (f.value, f.own) for f in figures(barn(PLAN, *ewes, *lambed), RAMS).said()}
    assert own["litter"] == (2, True)
    assert own["loss"] == (Decimal("0.04"), True)  # one of twenty-four born dead
    assert own["first"] == (Decimal("0.97"), True)  # all within eight days
    assert own["days"][1] is False
    book = {f.name: f.own for f in figures(barn(PLAN), RAMS).said()}
    assert not any(book.values())


def test_trips_are_as_far_apart_as_costs_least():
    """A dear trip waits for more heads; where nothing is told of the trip there is nothing to compare."""
    weekly = [5.0] * 12
    cheap = trips(barn(PLAN), weekly)
    dear = trips(barn({**PLAN, "ship": {**PLAN["ship"], "trip_cost": 400}}), weekly)
    assert dear.loads < cheap.loads
    assert dear.heads > cheap.heads
    assert trips(barn({"ship": {"min": 42}, "group": PLAN["group"]}), weekly) is None


def test_what_comes_ready():
    """Rams in and nothing born: all that come are unborn, months ahead, and they make loads."""
    farm = barn(PLAN, e.RamsIn(on=RAMS, group="ewes"), e.Scanned(on=RAMS + timedelta(80), group="ewes", twins=50))
    got = coming(farm, at(RAMS + timedelta(90)))
    assert got.unborn == 100  # as scanned
    assert got.head == pytest.approx(89, abs=1)  # 11 % lost, US average (US Sheep Experiment Station 2019)
    assert got.weeks[0].start > RAMS + timedelta(147 + 60)
    assert got.loads >= 5
    assert coming(barn(PLAN), at(RAMS)) is None
