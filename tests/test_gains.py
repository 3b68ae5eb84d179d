"""How single animals grow, and which have stopped: seen through the farm, in its own units.

The model behind is tested by itself; here it is what a farmer is told of it.
"""

import random
from datetime import date, timedelta
from decimal import Decimal

import pytest
from barn import animal, at, barn

from rules import entries as e
from rules.gains import adjusted, gain_drop, growth, side_by_side

TODAY = date(2026, 8, 11)
BORN = date(2026, 4, 10)
PLAN = {
    "ship": {"min": 42, "max": 48, "sales": ["thursday"]},
    "group": [
        {"name": "pen", "keeps": "market lambs"},
        {"name": "keepers", "keeps": "replacements"},
        {"name": "ewes", "keeps": "ewes"},
    ],
}
VISITS = (70, 56, 42, 28, 14, 0)  # days ago


def weighed(tag, kg, back=0, unit="kg"):
    return e.Weight(on=TODAY - timedelta(back), tag=tag, weight=Decimal(str(round(kg, 1))), unit=unit)


def lamb(tag, now, gain, lost=0.0, group="pen", wobble=0.3):
    """A lamb weighed every fortnight; `lost` is what it is short of on the last visit."""
    err = random.Random(tag)
    yield animal(tag, group, BORN, sex="ewe", birth_type=2)
    for back in VISITS:
        yield weighed(tag, now - gain * back + err.gauss(0, wobble) - (0 if back else lost), back)


def pen(*more, heads=14, plan=PLAN):
    told = [x for n in range(heads) for x in lamb(str(100 + n), 36 + 0.4 * n, 0.24 + 0.004 * (n % 5))]
    return barn(plan, *told, *more)


def test_what_the_scale_showed_is_its_weight_that_day():
    """For a day on which it was weighed nothing is foretold."""
    (one,) = growth(pen(), at(TODAY), ["103"], TODAY)
    assert one.weight == one.low == one.high == one.last
    assert one.last_on == TODAY


def test_weight_on_a_day_to_come():
    """Nine days on it gained nine days' worth, give or take, within an interval that widens with the days."""
    farm = pen()
    soon, late = (growth(farm, at(TODAY), ["103"], TODAY + timedelta(n))[0] for n in (9, 30))
    assert float(soon.weight) == pytest.approx(37.2 + 9 * 0.25, abs=1.2)
    assert soon.low < soon.weight < soon.high
    assert late.high - late.low > soon.high - soon.low
    assert float(soon.gain) == pytest.approx(0.25, abs=0.03)


def test_the_day_it_will_be_ready():
    """A lamb 3 kg short that gains a quarter kilogram a day is there in about twelve days; a ready one today."""
    near, there = growth(pen(*lamb("7", 39.0, 0.25), *lamb("8", 46.0, 0.25)), at(TODAY), ["7", "8"], TODAY)
    assert abs((near.ready - TODAY).days - 12) <= 5
    assert there.ready == TODAY


def test_no_ready_day_for_those_not_for_sale():
    """Replacements and ewes are weighed, too, but do not become ready."""
    ewe = [animal("e1", "ewes", date(2022, 4, 1)), *(weighed("e1", 78 - b / 50, b) for b in (300, 150, 0))]
    keeper, old = growth(
        pen(*lamb("7", 39.0, 0.25, group="keepers"), *ewe), at(TODAY), ["7", "e1"], TODAY + timedelta(7)
    )
    assert keeper.ready is None
    assert old.ready is None
    assert 70 < old.weight < 86


def test_nothing_known_nothing_said():
    """No such animal, or a ewe nobody ever weighed."""
    assert growth(pen(animal("e1", "ewes")), at(TODAY), ["e1", "nobody"], TODAY) == []


def test_a_lamb_never_weighed_is_told_from_its_herd():
    """Its age and its mates say about what it weighs, with more doubt than of one that was weighed."""
    new, known = growth(pen(animal("7", "pen", BORN, sex="ewe")), at(TODAY), ["7", "105"], TODAY + timedelta(2))
    assert 33 < new.weight < 45
    assert new.high - new.low > (known.high - known.low) * Decimal("1.5")


def test_pounds_are_said_in_pounds():
    """On a farm of pounds the same lamb has 2.2 times the numbers, gains to two places."""
    plan = {**PLAN, "farm": {"name": "x", "country": "US", "timezone": "Europe/Dublin", "weight": "lb"}}
    plan["ship"] = {"min": 95, "max": 110}
    (kg,), (lb,) = (growth(pen(plan=p), at(TODAY), ["105"], TODAY + timedelta(7)) for p in (PLAN, plan))
    assert float(lb.weight) == pytest.approx(float(kg.weight) / 0.45359237, abs=0.2)
    assert float(lb.gain) == pytest.approx(float(kg.gain) / 0.45359237, abs=0.006)
    assert lb.gain == round(lb.gain, 2)


def test_one_that_stopped_is_named():
    """It gained nothing for a fortnight, its pen went on: its gain and what was usual are said."""
    (one,) = gain_drop(pen(*lamb("7", 38.0, 0.25, lost=3.0)), at(TODAY))
    assert one.tag == "7"
    assert one.gain < Decimal("0.05")
    assert one.usual > Decimal("0.17")
    assert one.since == TODAY - timedelta(14)


def test_a_pen_that_grows_is_left_in_peace():
    """Slow ones, a light day for all, and the scale's own error are no stall."""
    slow = lamb("7", 28.0, 0.15)
    assert gain_drop(pen(*slow), at(TODAY)) == []
    wet = [weighed(str(100 + n), 34.5 + 0.4 * n, 0) for n in range(14)]  # all two kg light when weighed once more
    assert gain_drop(pen(*wet), at(TODAY)) == []


def test_a_pen_that_stops_is_one_matter():
    """Where half of a pen stalls, the pen is named once; the pen that goes on is not."""
    stop = [x for n in range(8) for x in lamb(f"9{n}", 37.0 + n / 5, 0.25, lost=3.2 if n % 2 else 0.0, group="keepers")]
    found = gain_drop(pen(*stop), at(TODAY))
    assert [(x.group, x.tag) for x in found] == [("keepers", None)]


def test_an_old_weighing_is_no_news():
    """Two months after the last visit nothing is said of it any more; nor of one that was sold."""
    farm = pen(*lamb("7", 38.0, 0.25, lost=3.0))
    assert gain_drop(farm, at(TODAY + timedelta(60))) == []
    assert gain_drop(pen(*lamb("7", 38.0, 0.25, lost=3.0), e.Ship(on=TODAY, tags=("7",))), at(TODAY)) == []


def test_one_age_for_all():
    """A breeder's worked example: a ewe lamb, 7.5 lb at birth and 45 lb at 66 days, is 41.59 lb at 60 (derived)."""
    place = {"name": "Sallow Hill", "country": "US", "timezone": "America/Chicago", "weight": "lb"}
    born = TODAY - timedelta(66)
    told = [animal("1", "pen", born, sex="ewe", birth_weight=Decimal("7.5")), weighed("1", 45, unit="lb")]
    got = adjusted(barn({**PLAN, "farm": place}, *told), at(TODAY), None, 60)
    assert [(r.tag, r.weight) for r in got.rows] == [("1", Decimal("41.6"))]


@pytest.mark.parametrize(("age", "to"), [(70, 60), (90, 90), (130, 120)])
def test_the_usual_age(age, to):
    """Under 75 days 60, 75 to 100 days 90, older 120 (Sheep 201)."""
    told = [animal("1", "pen", TODAY - timedelta(age), sex="ewe"), weighed("1", 30)]
    assert adjusted(barn(PLAN, *told), at(TODAY), None, 0).days == to


def test_weighed_too_far_from_the_age():
    """A straight line holds within 7 days of 60 and 28 of 90 (Boggess et al. 1991); farther off is left out."""
    told = [animal("1", "pen", TODAY - timedelta(70), sex="ewe"), weighed("1", 30)]
    farm = barn(PLAN, *told)
    near, far = adjusted(farm, at(TODAY), None, 90), adjusted(farm, at(TODAY), None, 60)
    assert (len(near.rows), near.left) == (1, 0)
    assert (len(far.rows), far.left) == (0, 1)


def test_gains_side_by_side():
    """Best first, each class by its own animals; an animal of no known class counts in none."""
    fast, slow = list(lamb("1", 40, 0.30)), list(lamb("2", 36, 0.20))
    farm = barn(PLAN, *fast, *slow, animal("1", "pen", BORN, sex="ram"), animal("2", "pen", BORN, sex="ewe"))
    got = side_by_side(farm, at(TODAY), None, "sex")
    assert [(r.name, r.head) for r in got.rows] == [("ram", 1), ("ewe", 1)]
    assert got.rows[0].gain > got.rows[1].gain
    assert side_by_side(farm, at(TODAY), None, "dam") is None
