"""Room on a trailer by published rules, and ewes too near lambing to ride."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from barn import animal, at, barn

from rules import entries as e
from rules.travel import near_lambing, room

DAY = date(2026, 8, 11)
PLAN = {
    "ship": {"min": 30, "max": 80},
    "group": [{"name": "pen", "keeps": "market lambs"}, {"name": "ewes", "keeps": "ewes"}],
}


def lambs(weight):
    told = [animal(str(n), "pen", date(2026, 4, 1)) for n in range(6)]
    days = [DAY - timedelta(back) for back in (7, 0)]
    seen = [e.Weight(on=on, tag=str(n), weight=Decimal(weight), unit="kg") for n in range(6) for on in days]
    return barn(PLAN, *told, *seen)


def test_floor_by_weight():
    """A = k W^0.67: 0.227 to stand and 0.282 to lie for 35 kg; a quarter more in fleece (Sheep lose balance when
    loosely packed, 2010). 0.22 was too small to lie down, 0.27 let most lie (Cockram et al. 1996)."""
    got = room(lambs(35), at(DAY), None)
    stand, lie, fleece = got.space
    assert float(stand) == pytest.approx(0.227, abs=0.01)
    assert float(lie) == pytest.approx(0.282, abs=0.012)
    assert float(fleece) == pytest.approx(0.352, abs=0.015)
    assert got.heads is None


def test_never_less_than_the_law():
    """Regulation (EC) 1/2005, Annex I ch. VII: from 55 kg 0.30 m2, in fleece 0.40."""
    stand, lie, fleece = room(lambs(60), at(DAY), None).space
    assert stand >= Decimal("0.30")
    assert fleece >= Decimal("0.40")
    assert lie >= stand


def test_rounded_down():
    """Room for 13.7 is a load of 13 (Texas A&M AgriLife, 2019): a whisker less than seven heads' floor takes six."""
    lie = float(room(lambs(35), at(DAY), None).space[1])
    assert room(lambs(35), at(DAY), 7 * lie * 0.985).heads[1] == 6


def test_near_lambing():
    """Nine tenths of a gestation over, or lambed within a week (Regulation (EC) 1/2005; from memory)."""
    ewe = animal("1", "ewes", date(2022, 3, 1), sex="ewe")
    farm = barn(PLAN, ewe, e.RamsIn(on=DAY - timedelta(140), group="ewes"))
    assert near_lambing(farm, farm.animals["1"], DAY)
    early = barn(PLAN, ewe, e.RamsIn(on=DAY - timedelta(100), group="ewes"))
    assert not near_lambing(early, early.animals["1"], DAY)
    lambed = e.Lambing(on=DAY - timedelta(3), dam="1", born=(e.Born(sex="ewe"),))
    fresh = barn(PLAN, ewe, e.RamsIn(on=DAY - timedelta(140), group="ewes"), lambed)
    assert near_lambing(fresh, fresh.animals["1"], DAY)
    assert not near_lambing(fresh, fresh.animals["1"], DAY + timedelta(20))
