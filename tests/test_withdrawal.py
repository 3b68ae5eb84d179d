"""No animal leaves before its last hold is over; what nobody has told holds until somebody does."""

from datetime import date
from decimal import Decimal

import pytest
from barn import animal, at, barn, dose

from rules import entries as e
from rules.withdrawal import held, withdrawal

PLAN = {
    "group": [
        {"name": "pen", "keeps": "market lambs"},
        {"name": "shed", "keeps": "market lambs"},
        {"name": "bottles", "keeps": "bottle lambs"},
        {"name": "hens", "keeps": "hens", "head": 20},
    ],
    "product": [
        {"name": "six", "withdrawal_days": 6},
        {"name": "forty-five", "withdrawal_days": 45},
        {"name": "nobody said"},
        {"name": "zero", "withdrawal_days": 0, "egg_withdrawal_days": 7},
    ],
    "item": [{
        "name": "medicated", "unit": "bag", "withdrawal_days": 5, "feeds": [{"group": "pen"}],
    }],
}  # fmt: skip
MARCH = [date(2026, 3, n) for n in range(1, 32)]
PEN = (animal("1", "pen"), animal("2", "pen"), animal("3", "pen"))


def until(farm, tag, on=MARCH[0]):
    found = held(farm, farm.animals[tag], on)
    return found and found.until


@pytest.mark.parametrize(
    ("product", "given", "first_free"),
    [
        # Finnish Medicines Agency, What is a withdrawal period: 6 days, earliest on the 7th day after the last dose
        ("six", date(2026, 3, 1), date(2026, 3, 8)),
        # extension dairy page (dairy-cattle.extension.org): a 45-day product holds at least 45 days
        ("forty-five", date(2026, 3, 1), date(2026, 4, 16)),
        # over the end of a leap February
        ("six", date(2028, 2, 25), date(2028, 3, 3)),
        # 0 days: the entry has no hour, so the day of the dose itself is not free
        ("zero", date(2026, 3, 1), date(2026, 3, 2)),
    ],
)
def test_the_day_of_the_dose_and_every_day_told_are_held(product, given, first_free):
    """Held on the day before, free on the first day."""
    farm = barn(PLAN, *PEN, dose(given, product, tags=("1",)))
    assert until(farm, "1", given) == first_free
    assert held(farm, farm.animals["1"], first_free) is None
    assert held(farm, farm.animals["2"], given) is None


def test_the_latest_end_of_several_products_decides():
    """A short product after a long one does not free the animal (several products: from memory, unverified)."""
    farm = barn(PLAN, *PEN, dose(MARCH[0], "forty-five", tags=("1",)), dose(MARCH[4], "six", tags=("1",)))
    (found,) = withdrawal(farm, at(MARCH[5]))
    assert (found.tag, found.product, found.until) == ("1", "forty-five", date(2026, 4, 16))


def test_a_repeated_dose_counts_from_the_last_one():
    farm = barn(PLAN, *PEN, dose(MARCH[0], "six", tags=("1",)), dose(MARCH[3], "six", tags=("1",)))
    assert until(farm, "1") == date(2026, 3, 11)


def test_days_told_with_a_dose_count_where_they_are_longer():
    """The vet's 28 days for an off-label dose beat the plan's 6; a slip of 2 days does not."""
    farm = barn(PLAN, *PEN, dose(MARCH[0], "six", tags=("1",), withdrawal_days=28),
                dose(MARCH[0], "six", tags=("2",), withdrawal_days=2))  # fmt: skip
    assert until(farm, "1") == date(2026, 3, 30)
    assert until(farm, "2") == date(2026, 3, 8)


def test_a_product_without_days_holds_until_someone_says():
    told = (*PEN, dose(MARCH[0], "nobody said", tags=("1",)), dose(MARCH[1], "six", tags=("1",)))
    found = held(barn(PLAN, *told), barn(PLAN, *told).animals["1"], date(2027, 3, 1))
    assert (found.until, found.product) == (None, "nobody said")
    answered = barn(PLAN, *told, e.Product(on=MARCH[2], product="nobody said", withdrawal_days=10))
    assert until(answered, "1") == date(2026, 3, 12)


def test_a_dose_told_by_head_holds_the_whole_group_until_the_tags_are_told():
    told = (*PEN, dose(MARCH[0], "six", group="pen", head=2))
    farm = barn(PLAN, *told)
    assert [x.tag for x in withdrawal(farm, at(MARCH[1]))] == ["1", "2", "3"]
    named = barn(PLAN, *told, dose(MARCH[1], "six", tags=("1", "3")))
    assert [x.tag for x in withdrawal(named, at(MARCH[1]))] == ["1", "3"]


def test_an_animal_that_left_the_pen_is_freed_with_the_others_once_the_tags_are_told():
    farm = barn(
        PLAN, *PEN, dose(MARCH[0], "six", group="pen", head=2), e.Move(on=MARCH[0], tags=("2",), to="shed"),
        dose(MARCH[1], "six", tags=("1", "3")),
    )  # fmt: skip
    assert until(farm, "2") is None


def test_all_of_a_group_told_by_head_leaves_nothing_open():
    farm = barn(PLAN, *PEN, dose(MARCH[0], "six", group="pen", head=3))
    assert farm.unnamed == ()
    assert held(farm, farm.animals["2"], MARCH[1]).why is None


def test_hens_are_held_for_their_eggs():
    """Egg days, not meat days, and the whole flock."""
    farm = barn(PLAN, dose(MARCH[0], "zero", group="hens"))
    (found,) = withdrawal(farm, at(MARCH[1]))
    assert (found.group, found.tag, found.until) == ("hens", None, date(2026, 3, 9))


def test_medicated_feed_holds_whoever_ate_it():
    """As long as it is fed the hold moves on; it counts from the last day, and goes along to another pen."""
    come = e.Received(on=MARCH[0], item="medicated", amount=Decimal(4), unit="bag")
    farm = barn(PLAN, *PEN, animal("9", "shed"), come, e.Move(on=MARCH[4], tags=("3",), to="shed"))
    assert until(farm, "1", MARCH[9]) == date(2026, 3, 16)
    assert until(farm, "3", MARCH[9]) == date(2026, 3, 11)
    assert held(farm, farm.animals["9"], MARCH[9]) is None
    empty = barn(PLAN, *PEN, come, e.OnHand(on=MARCH[6], item="medicated", amount=Decimal(0), unit="bag"),
                 e.Move(on=MARCH[8], tags=("2",), to="shed"), e.Move(on=MARCH[8], tags=("9",), to="pen"))  # fmt: skip
    assert until(empty, "1", MARCH[9]) == date(2026, 3, 13)
    assert until(empty, "2", MARCH[9]) == date(2026, 3, 13)


def test_one_that_joins_after_the_medicated_feed_is_free():
    farm = barn(
        PLAN, *PEN, animal("9", "shed"), e.Received(on=MARCH[0], item="medicated", amount=Decimal(4), unit="bag"),
        e.OnHand(on=MARCH[6], item="medicated", amount=Decimal(0), unit="bag"),
        e.Move(on=MARCH[7], tags=("9",), to="pen"),
    )  # fmt: skip
    assert held(farm, farm.animals["9"], MARCH[8]) is None


def test_animals_that_are_gone_are_not_listed():
    farm = barn(PLAN, *PEN, dose(MARCH[0], "six", group="pen"), e.Loss(on=MARCH[1], tags=("2",)))
    assert [x.tag for x in withdrawal(farm, at(MARCH[1]))] == ["1", "3"]


def test_heads_without_tags_take_their_hold_along():
    farm = barn(
        {**PLAN, "group": [{"name": "a", "keeps": "market lambs", "head": 30}, {"name": "b", "keeps": "market lambs"}]},
        dose(MARCH[0], "six", group="a"), e.Move(on=MARCH[2], group="a", head=10, to="b"),
    )  # fmt: skip
    assert [(x.group, x.until) for x in withdrawal(farm, at(MARCH[3]))] == [("a", MARCH[7]), ("b", MARCH[7])]
