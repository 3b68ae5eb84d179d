"""The load for a sale: who counts as ready, who is held, and whether to ship or wait.

The farms here are small and their lambs grow evenly (their scale errs by a few hundred grams), so that what should be
advised can be seen without arithmetic.
"""

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from barn import animal, at, barn, dose

from rules import entries as e
from rules import herd as herds
from rules.farm import Animal
from rules.loads import ready, shrink
from rules.travel import unfit

THURSDAY = date(2026, 8, 13)
TUESDAY = date(2026, 8, 11)
BORN = date(2026, 4, 10)
SHIP = {"min": 42, "max": 48, "sales": ["thursday"], "load_min": 6, "load_full": 20}
MONEY = {"trip_cost": 100, "keep_cost": Decimal("0.30"), "price": [
    {"from": 38, "per": Decimal("2.40")}, {"from": 42, "per": Decimal("2.60")}, {"from": 49, "per": Decimal("2.20")},
]}  # fmt: skip
GROUPS = [
    {"name": "pen", "keeps": "market lambs"},
    {"name": "nursery", "keeps": "bottle lambs"},
    {"name": "keepers", "keeps": "replacements"},
    {"name": "ewes", "keeps": "ewes"},
]
PRODUCTS = [{"name": "oxytet", "withdrawal_days": 28}, {"name": "pain relief"}]


def flock(weights, *told, on=TUESDAY, gain=0.25, group="pen", unit="kg", farm=None, **ship):
    """Lambs by tag, weighed every 14 days up to `on`, when they have these weights."""
    facts = []
    for tag, weight in weights.items():
        err = random.Random(tag)
        facts.append(animal(tag, group, BORN, sex="ewe", birth_type=2))
        for back in (56, 42, 28, 14, 0):
            shown = Decimal(str(round(weight - gain * back + (err.gauss(0, 0.3) if back else 0), 1)))
            facts.append(e.Weight(on=on - timedelta(back), tag=tag, weight=shown, unit=unit))
    plan = {"ship": {**SHIP, **ship}, "group": GROUPS, "product": PRODUCTS}
    return barn({**plan, **(farm or {})}, *facts, *told)


def lambs(count, weight, first=100):
    return {str(first + n): weight + 0.1 * (n % 5) for n in range(count)}


def found(farm, day=TUESDAY, hour=6, **asked):
    (one,) = ready(farm, at(day, hour), **asked)
    return one


def test_nothing_to_say():
    """No ship weight told, or nothing kept for sale: no finding; no weight of anyone is no trouble."""
    assert ready(flock(lambs(3, 43), min=None), at(TUESDAY)) == []
    assert ready(flock(lambs(3, 43), group="keepers"), at(TUESDAY)) == []
    one = found(barn({"ship": SHIP, "group": GROUPS}, animal("1", "pen")))
    assert (one.now, one.tags, one.advice) == (0, (), "too_few")


def test_now_counts_todays_weights_as_they_are():
    """The scale is believed for today: the ship weight itself counts, a tenth less does not, the heavy count too."""
    one = found(flock({"1": 42.0, "2": 41.9, "3": 55.0, "4": 30.0}))
    assert one.now == 2
    assert "2" in one.close
    assert "4" not in one.close


def test_only_market_and_bottle_lambs_count():
    """Replacements and ewes never do; a lamb moved to the keepers is out, a sold one too."""
    told = [
        *(animal(tag, group, BORN) for tag, group in (("7", "keepers"), ("8", "ewes"))),
        *(e.Weight(on=TUESDAY, tag=tag, weight=Decimal(60), unit="kg") for tag in "78"),
        e.Move(on=TUESDAY, tags=("1",), to="keepers"),
        e.Ship(on=TUESDAY, tags=("2",)),
    ]
    farm = flock({"1": 45.0, "2": 45.0, "3": 45.0}, *told)
    assert found(farm).now == 1
    assert found(flock({"3": 45.0}, group="nursery")).now == 1


def test_counts_are_whole_and_in_order():
    """Far above all are ready, far below none, near it some; bounds are whole numbers around the middle."""
    one = found(flock({**lambs(6, 46), **lambs(6, 41.6, 200), **lambs(6, 30, 300)}))
    assert 6 <= one.low <= one.expected <= one.high <= 12
    assert one.low < one.high
    assert one.expected_next > one.expected


def test_on_the_sale_morning_the_scale_is_known():
    """Weighed on the very day, nothing is left to chance."""
    one = found(flock({**lambs(4, 42), **lambs(5, 41.4, 200)}, on=THURSDAY), THURSDAY)
    assert (one.sale, one.now, one.low, one.expected, one.high) == (THURSDAY, 4, 4, 4, 4)


def test_the_sale_asked_for():
    """By a day, from noon on, and after the load left: the next one, with more ready."""
    farm = flock(lambs(12, 41.5))
    assert [found(farm, by=by).sale.day for by in (None, date(2026, 8, 14), date(2026, 9, 1))] == [13, 20, 3]
    assert found(farm, by=date(2026, 8, 20)).expected > found(farm).expected
    assert found(farm, THURSDAY, 13).sale == date(2026, 8, 20)
    assert found(farm, THURSDAY, 13).now == found(farm, THURSDAY, 11).now


def test_held_are_named_and_not_counted():
    """A withdrawal with its day, a product of unknown days, a lame one with the farmer's words."""
    told = [
        dose(date(2026, 8, 5), "oxytet", tags=("100",)),
        dose(date(2026, 8, 5), "pain relief", tags=("101",)),
        e.Note(on=TUESDAY, text="limping on the near fore", tags=("102",)),
        dose(date(2026, 7, 15), "oxytet", tags=("103",)),  # over on the day of the sale
    ]
    one = found(flock(lambs(8, 47.5), *told, **MONEY))
    holds = {h.tag: h for h in one.held}
    assert holds["100"].until == date(2026, 9, 3)
    assert holds["101"].product == "pain relief"
    assert holds["101"].until is None
    assert holds["102"].why == "limping on the near fore"
    assert set(holds) == {"100", "101", "102"}
    assert one.now == 4  # 103 is held today still
    assert (one.low, one.high) == (5, 5)
    assert set(one.tags) == {"103", "104", "105", "106", "107"}


@pytest.mark.parametrize(
    ("notes", "holds"),
    [
        (["lame"], True),
        (["limping on the near fore"], True),
        (["scouring badly"], True),
        (["has a cough"], True),
        (["off her feed"], True),
        (["not eating"], True),
        (["pneumonia again"], True),
        (["nice lamb, keep an eye on"], False),
        (["lost its tag"], False),
        (["lame", "better"], False),
        (["lame", "walking sound again"], False),
        (["lame", "limp is gone"], False),
        (["cough", "ok now"], False),
        (["cough", "eating fine"], False),
        (["no longer limping"], False),
        (["lame", "still lame"], True),
        (["lame", "no better"], True),
        (["lame", "a bit better but still limping"], True),
        (["lame", "not right yet"], True),
        (["lame but eating fine"], True),
        (["lame", "better", "limping again"], True),
        (["gone lame"], True),
        (["has gone right lame behind"], True),
        (["stopped eating"], True),
        (["better watch her, limping a touch"], True),
        (["lame", "not limping any more"], False),
        (["lame", "good lamb, deep in the loin"], True),
        (["ill-tempered brute"], False),
        (["broken tag"], False),
        (["fills out well"], False),
    ],
)
def test_noted_lame_or_ill(notes, holds):
    """Since the last note that says it is better; in doubt it is held. The words: common practice, no source."""
    lamb = replace(Animal("1"), notes=tuple((TUESDAY, text) for text in notes))
    assert (unfit(lamb, THURSDAY) is not None) == holds


def test_a_note_grows_old():
    """A lamb that scoured in the nursery is not held in autumn."""
    lamb = replace(Animal("1"), notes=((date(2026, 4, 20), "scouring"),))
    assert unfit(lamb, date(2026, 5, 1))
    assert unfit(lamb, THURSDAY) is None


def test_nobody_sends_what_was_never_weighed():
    """A lamb told only by its birth counts by its herd, but never rides unweighed; nor is money said for it."""
    old = [animal(t, "pen", date(2025, 11, 1), sex="ewe") for t in ("8", "9")]
    one = found(flock(lambs(10, 47.5), *old, **MONEY))
    assert one.advice == "ship"
    assert not {"8", "9"} & set(one.tags)
    none = found(flock(lambs(4, 30), *old, **MONEY))
    assert (none.tags, none.per_head_now) == ((), None)


def test_heavy_ones_are_named():
    """Those past the top weight by the next sale; they make the load a job for the days before it."""
    farm = flock({**lambs(5, 38), "1": 46.8, "2": 44.0, "3": 52.0}, **MONEY)
    one = found(farm)
    assert one.heavy == ("1", "3")
    assert (one.level, found(farm, date(2026, 8, 7)).level) == ("soon", "know")


def test_a_small_load_waits_for_a_fuller_trailer():
    """Three ready and ten more next week, a dear trip: wait. Ten ready near the top weight: ship them."""
    few = found(flock({**lambs(3, 42.5), **lambs(10, 40.3, 200)}, **MONEY))
    assert (few.advice, few.tags) == ("too_few", ())
    assert few.per_head_wait > few.per_head_now
    full = found(flock({**lambs(10, 47), **lambs(4, 36, 200)}, **MONEY))
    assert full.advice == "ship"
    assert set(full.tags) == set(lambs(10, 47))
    assert full.per_head_now > full.per_head_wait


def test_enough_ready_but_waiting_pays():
    """Eight just ready that gain 65 cents a day for 30 cents of keep: wait, although the load is met."""
    one = found(flock(lambs(8, 42.5), **MONEY))
    assert (one.advice, one.tags, one.level) == ("wait", (), "know")
    dear = found(flock(lambs(8, 42.8), **{**MONEY, "keep_cost": 2}))
    assert dear.advice == "ship"  # the same lambs where keep costs more than they gain


def test_the_last_lamb_goes_alone():
    """With nobody left to share a trip, one at the top weight goes; with twenty coming on, it waits for them."""
    alone = {"1": 48.5}
    assert found(flock(alone, **MONEY)).advice == "ship"
    assert found(flock({**alone, **lambs(20, 39.5, 200)}, **MONEY)).advice == "too_few"


def test_light_ones_stay_when_heavy_ones_go():
    """A load is chosen lamb by lamb: the ready ones that still gain cheaply need not ride with the heavy ones."""
    light = lambs(18, 42.5, 200)
    one = found(flock({**lambs(10, 47), **light}, **MONEY))
    assert set(lambs(10, 47)) <= set(one.tags)
    assert not set(one.tags) & set(light)


def test_what_is_left_a_head():
    """Weighed on the day, one price, ten lambs of 46 kg: 46 x 2.60 less a tenth of the trip."""
    price = [{"from": 30, "per": Decimal("2.60")}]
    one = found(flock({str(n): 46.0 for n in range(10, 20)}, on=THURSDAY, **{**MONEY, "price": price}), THURSDAY)
    assert float(one.per_head_now) == pytest.approx(46 * 2.60 - 10, abs=1.0)


def test_shrink_is_learnt_from_own_loads():
    """95 lb on the farm sold as 90: 5.3 % (New Mexico bulletin 1009). The first load tells part of it, more of it more;
    a sale that names carcass weights tells nothing."""
    told = []
    for n in range(60):
        on = date(2026, 7, 2) + timedelta(7 * (n // 20))
        told += [animal(f"s{n:02}", "pen", BORN), e.Weight(on=on, tag=f"s{n:02}", weight=Decimal(95), unit="lb")]
    loads = [tuple(f"s{n:02}" for n in range(20 * k, 20 * k + 20)) for k in range(3)]
    for k, tags in enumerate(loads):
        on = date(2026, 7, 2) + timedelta(7 * k)
        sold = e.Sale(on=on, head=20, price=Decimal(100), per="head", mean_weight=Decimal(90), unit="lb")
        told += [e.Ship(on=on, tags=tags), sold]
    after = {heads: shrink(barn({"group": GROUPS}, *told[:120], *told[120 : 120 + 2 * heads])) for heads in (0, 1, 3)}
    assert after[0] == 0.0
    assert 0.02 < after[1] < after[3] < 0.053
    dead = [*told[:121], replace(told[121], mean_weight=Decimal(45))]
    assert shrink(barn({"group": GROUPS}, *dead)) == 0.0


def test_costs_not_told():
    """Without price, trip or keep the load minimum decides, and no money is said."""
    for count, advice in ((6, "ship"), (5, "too_few")):
        one = found(flock(lambs(count, 45)))
        assert (one.advice, len(one.tags)) == (advice, count if advice == "ship" else 0)
        assert one.per_head_now is None


def test_over_a_full_trailer_is_a_second_trip():
    """At the top weight waiting costs only keep: four over a full trailer wait for the load of the next weeks."""
    weights, flat = {**lambs(24, 47.8), **lambs(12, 44, 200)}, [{"from": 30, "per": Decimal("2.60")}]
    assert len(found(flock(weights, **{**MONEY, "price": flat})).tags) == 20
    assert len(found(flock(weights, **{**MONEY, "price": flat, "trip_cost": 1})).tags) == 24


def test_culls_fill_the_trailer():
    """Culls ride where there is room, held ones do not; a cull told first goes first."""
    old = [animal(tag, "ewes") for tag in ("901", "902", "903", "904")]
    told = [
        e.Cull(on=date(2026, 8, 2), tags=("902",)),
        e.Cull(on=date(2026, 8, 1), tags=("903",)),
        e.Cull(on=date(2026, 8, 3), tags=("904",)),
        dose(TUESDAY, "oxytet", tags=("904",)),
    ]
    assert found(flock(lambs(18, 47), *old, *told, **MONEY)).fill == ("903", "902")
    assert found(flock(lambs(19, 47), *old, *told, **MONEY)).fill == ("903",)


def test_which_left_is_asked():
    """Told by head, it is open which went: the number is said, and the heaviest are taken to be gone until told."""
    weights = {**lambs(5, 47), **lambs(5, 43, 200)}
    by_head = found(flock(weights, e.Ship(on=TUESDAY, group="pen", head=4)))
    assert by_head.unnamed == 4
    assert by_head.now == 6
    named = found(flock(weights, e.Ship(on=TUESDAY, group="pen", head=1), e.Ship(on=TUESDAY, tags=("200",))))
    assert (named.unnamed, named.now) == (None, 9)


def test_what_if():
    """Only the ones over a weight, only these, or on another day."""
    farm = flock({**lambs(5, 47), **lambs(5, 43, 200)}, **MONEY)
    assert set(found(farm, over=Decimal(46)).tags) == set(lambs(5, 47))
    assert found(farm, only=("101", "200", "999")).tags == ("101", "200")
    friday = found(farm, trip=date(2026, 8, 14))
    assert friday.sale == date(2026, 8, 14)
    assert friday.next_sale == date(2026, 8, 20)


def test_no_sale_days_told():
    """Ready ones are counted for the day asked; no sale is made up."""
    one = found(flock(lambs(7, 45), sales=[]))
    assert (one.sale, one.next_sale, one.now, one.advice) == (None, None, 7, "ship")


def test_lambs_without_tags_count_by_their_mean():
    """Thirty head of 42 kg mean: about half are ready at 42 (spread of 12 %), more by the next sale; none can be named.

    At a mean of 113.4 lb with 13.4 lb spread, 69 % are over 106.8 lb: the normal table at half a standard deviation.
    """
    loose = [*GROUPS, {"name": "field", "keeps": "market lambs", "head": 30}]
    mean = e.GroupWeight(on=TUESDAY, group="field", head=30, mean=Decimal(42), unit="kg")
    one = found(barn({"ship": SHIP, "group": loose}, mean))
    assert one.now == 15
    assert 10 <= one.low < one.expected < one.high <= 22
    assert one.expected_next > one.expected
    assert (one.tags, one.advice) == ((), "ship")
    lb = e.GroupWeight(on=TUESDAY, group="field", mean=Decimal("113.4"), unit="lb")
    assert found(barn({"ship": {**SHIP, "min": Decimal("48.44")}, "group": loose}, lb)).now == round(30 * 0.69)
    assert ready(barn({"ship": SHIP, "group": loose}), at(TUESDAY)) == []  # nobody weighed them


def test_the_same_facts_give_the_same_finding():
    """After a restart (nothing kept between answers), and told in another order."""
    weights = {**lambs(6, 43), **lambs(6, 40, 200)}
    first = found(flock(weights, **MONEY))
    herds._KEPT.clear()
    herds._fitted.cache_clear()
    assert found(flock(dict(reversed(weights.items())), **MONEY)) == first


def test_pounds_and_kilograms_are_one_flock():
    """The same lambs weighed in pounds on a farm of pounds: as many ready, the same chosen."""
    weights = {**lambs(8, 47), **lambs(8, 41, 200)}
    kg = found(flock(weights, on=THURSDAY), THURSDAY)
    pound = Decimal("0.45359237")
    ship = {"min": 42 / pound, "max": 48 / pound}
    farm = flock({}, farm={"farm": {"name": "x", "country": "US", "timezone": "Europe/Dublin", "weight": "lb"}}, **ship)
    told = [animal(t, "pen", BORN, sex="ewe", birth_type=2) for t in weights]
    told += [
        e.Weight(on=w.on, tag=t, weight=w.weight, unit="kg")
        for t in weights
        for w in flock(weights, on=THURSDAY).animals[t].weighings
    ]
    lb = found(barn(farm.plan_data, *told), THURSDAY)
    assert (lb.now, lb.tags, lb.advice) == (kg.now, kg.tags, kg.advice)
    assert abs(lb.expected_next - kg.expected_next) <= Decimal("0.1")


def test_without_any_money_a_second_trip_goes_only_for_a_load():
    """Three over the full trailer stay, the lightest; six over are a load of their own."""
    weights = {str(100 + n): 43 + 0.5 * n for n in range(23)}
    few = found(flock(weights))
    assert len(few.tags) == 20
    assert {"100", "101", "102"}.isdisjoint(few.tags)
    assert len(found(flock({**weights, **lambs(3, 44, 300)})).tags) == 26


def test_without_a_least_load_a_third_of_a_full_one_is_worth_the_drive():
    """Common practice, no source: 6 of 20. With neither told, one that is ready goes."""
    assert found(flock(lambs(5, 43), load_min=None)).advice == "too_few"
    assert found(flock(lambs(6, 43), load_min=None)).advice == "ship"
    assert found(flock(lambs(1, 43), load_min=None, load_full=None)).advice == "ship"


def test_a_load_supposed():
    """Only those over a weight, or on a day of its own: that load, whatever the advice is."""
    farm = flock({**lambs(3, 43), **lambs(3, 46, 200)}, **MONEY)
    assert set(found(farm, over=Decimal(45)).tags) == {"200", "201", "202"}
    saturday = found(farm, trip=date(2026, 8, 15))
    assert saturday.sale == date(2026, 8, 15)
    assert len(saturday.tags) == 6
    assert found(farm, over=Decimal(70)).advice == "too_few"


def test_a_cull_near_lambing_does_not_fill_the_trailer():
    told = [
        *(animal(tag, "ewes", date(2021, 3, 1), sex="ewe") for tag in ("900", "901")),
        e.RamsIn(on=TUESDAY - timedelta(150), group="ewes"),
        e.Cull(on=TUESDAY, tags=("900", "901")),
        e.Lambing(on=TUESDAY - timedelta(10), dam="901", born=(e.Born(sex="ewe"),)),
    ]
    assert found(flock(lambs(8, 45), *told)).fill == ("901",)
