"""Sale days ahead, and what one head brings: the plan's table as prices heard and made have moved it."""

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from barn import animal, at, barn

from rules import entries as e
from rules.sales import next_sale, prices, sale_days

THURSDAY = date(2026, 8, 13)
TABLE = [{"from": 32, "per": Decimal("2.40")}, {"from": 42, "per": Decimal("2.60")}]


def selling(*told, **ship):
    pens = [{"name": "pen", "keeps": "market lambs"}]
    return barn({"ship": {"min": 42, "max": 48, "sales": ["thursday"], **ship}, "group": pens}, *told)


def on_day(day, held):
    return e.SaleDay(on=date(2026, 8, 1), date=day, held=held)


def test_the_weekdays_of_the_plan():
    """A sale every Thursday, a holiday or not."""
    assert sale_days(selling(), date(2026, 12, 22), 2) == [date(2026, 12, 24), date(2026, 12, 31)]


def test_a_sale_called_off_and_one_more():
    """What was told of single days counts before the weekday."""
    farm = selling(on_day(THURSDAY, False), on_day(date(2026, 8, 15), True))
    assert sale_days(farm, date(2026, 8, 10), 3) == [date(2026, 8, 15), date(2026, 8, 20), date(2026, 8, 27)]


def test_no_sale_days_told():
    """A plan without sales has none, and looking for one ends."""
    assert sale_days(selling(sales=[]), THURSDAY, 3) == []
    assert next_sale(selling(sales=[]), at(THURSDAY)) is None


@pytest.mark.parametrize(
    ("hour", "by", "day"),
    [
        (6, None, 13),
        (11, None, 13),
        (12, None, 20),
        (6, date(2026, 8, 13), 13),
        (15, date(2026, 8, 13), 20),
        (15, date(2026, 8, 14), 20),
        (6, date(2026, 8, 21), 27),
        (6, date(2026, 8, 1), 13),
    ],
)
def test_from_noon_on_the_next_one(hour, by, day):
    """The sale on or after the day asked for; today's until noon."""
    assert next_sale(selling(), at(THURSDAY, hour), by) == date(2026, 8, day)


def test_once_the_load_left_the_next_one():
    """A load of that day, told by tag, by head or as a sale, closes the sale; one of last week does not."""
    lamb = animal("7", "pen")
    assert next_sale(selling(lamb, e.Ship(on=THURSDAY, tags=("7",))), at(THURSDAY, 8)) == date(2026, 8, 20)
    assert next_sale(selling(lamb, e.Ship(on=THURSDAY, head=4)), at(THURSDAY, 8)) == date(2026, 8, 20)
    assert next_sale(selling(lamb, e.Ship(on=date(2026, 8, 6), tags=("7",))), at(THURSDAY, 8)) == THURSDAY
    hay = e.Sale(on=THURSDAY, what="hay", amount=Decimal(4), unit="bale", price=Decimal(6))
    assert next_sale(selling(lamb, hay), at(THURSDAY, 8)) == THURSDAY


def head(table, weight, sd=0.0):
    return float(table.head(np.array([weight]), np.array([sd]))[0])


def test_a_step_applies_to_the_whole_weight():
    """The arithmetic of the Manitoba Co-operator's auction reports: 111 lb at 1.14 brings 126.54, 72 at 1.21 87.12."""
    steps = [{"from": 60, "per": Decimal("1.21")}, {"from": 100, "per": Decimal("1.14")}]
    table = prices(selling(min=60, max=None, price=steps), THURSDAY)
    assert head(table, 111.0) == pytest.approx(126.54)
    assert head(table, 72.0) == pytest.approx(87.12)


def test_a_doubtful_weight_counts_with_both_prices():
    """Right on a step, half the head's price is the lower step's: found by drawing weights."""
    table = prices(selling(price=TABLE), THURSDAY)
    drawn = np.random.default_rng(1).normal(42.0, 1.5, 200_000)
    paid = np.where(drawn >= 42.0, drawn * 2.6, drawn * 2.4).mean()
    assert head(table, 42.0, 1.5) == pytest.approx(paid, rel=2e-4)


def test_no_more_money_above_the_top_weight():
    """Growing on past the farmer's own top weight is never worth more, and less where the table says so."""
    table = prices(selling(price=[*TABLE, {"from": 50, "per": Decimal("2.10")}]), THURSDAY)
    assert head(table, 48.0) == pytest.approx(48 * 2.6)
    assert head(table, 49.5) == pytest.approx(48 * 2.6)
    assert head(table, 51.0) == head(table, 70.0) == pytest.approx(50 * 2.1)


def test_no_prices_told():
    """Nothing is made up."""
    assert prices(selling(), THURSDAY) is None


def price(on, value, **more):
    return e.MarketPrice(on=on, price=Decimal(value), **{"per": "kg", **more})


def test_a_price_heard_today_moves_the_table():
    """Most of the way at once, half of it back after some weeks, and its day is said."""
    fresh = prices(selling(price(THURSDAY, "3.12"), price=TABLE), THURSDAY)  # a fifth up
    assert 42 * 2.6 * 1.12 < head(fresh, 42.001) < 42 * 2.6 * 1.2
    assert fresh.heard == THURSDAY
    old = prices(selling(price(date(2026, 7, 16), "3.12"), price=TABLE), THURSDAY)
    assert 1.05 < head(old, 45.0) / (45 * 2.6) < head(fresh, 45.0) / (45 * 2.6)
    assert old.heard == date(2026, 7, 16)
    gone = prices(selling(price(date(2026, 2, 1), "3.12"), price=TABLE), THURSDAY)
    assert head(gone, 45.0) == pytest.approx(45 * 2.6)
    assert gone.heard is None


def test_a_price_heard_for_some_weights_moves_those_most():
    """What is said of heavy lambs tells little of light ones."""
    table = prices(selling(price(THURSDAY, "3.00", from_=Decimal(42), to=Decimal(48)), price=TABLE), THURSDAY)
    assert head(table, 45.0) / (45 * 2.6) > head(table, 36.0) / (36 * 2.4) > 1


@pytest.mark.parametrize(
    ("value", "per"), [("2.70", "kg"), ("122.47", "cwt"), ("1.2247", "lb"), ("121.50", "head"), ("2.70", None)]
)
def test_however_the_price_is_said(value, per):
    """By kg, lb, a hundred pounds or head (of 45 kg), it is the same price; so its table is the same."""
    by_kg, table = (
        prices(selling(price(THURSDAY, v, per=p), price=TABLE), THURSDAY) for v, p in (("2.70", "kg"), (value, per))
    )
    assert head(table, 45.0) == pytest.approx(head(by_kg, 45.0), rel=1e-4)
    assert head(table, 45.0) > 45 * 2.6


@pytest.mark.parametrize("more", [{"what": "ewes"}, {"what": "hay", "per": "bale"}, {"per": "head"}])
def test_prices_of_other_things_move_nothing(more):
    """Ewes, hay, and a price far off every lamb's."""
    assert prices(selling(price(THURSDAY, "60", **more), price=TABLE), THURSDAY).heard is None


def test_own_sales_move_the_table():
    """What the last load made counts like a price heard, with its own weight; a price alone makes a table."""
    load = e.Ship(on=date(2026, 8, 6), tags=("7",))
    made = e.Sale(on=date(2026, 8, 6), head=1, total=Decimal("126"), mean_weight=Decimal(45), unit="kg")
    table = prices(selling(animal("7", "pen"), load, made, price=TABLE), THURSDAY)
    assert table.heard == date(2026, 8, 6)
    assert 45 * 2.6 < head(table, 45.0) < 126
    assert head(prices(selling(price(THURSDAY, "2.75")), THURSDAY), 44.0) == pytest.approx(44 * 2.75)
