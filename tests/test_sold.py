"""What loads made: shrink and price against published figures, the season's numbers from a short diary."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from barn import animal, barn

from rules import entries as e
from rules.sold import last_made, season

SALE = date(2026, 8, 12)
BORN = date(2026, 4, 10)
PLACE = {"name": "Sallow Hill", "country": "US", "timezone": "America/Chicago", "weight": "lb", "currency": "USD"}
PLAN = {
    "farm": PLACE,
    "ship": {"min": 90, "max": 130, "load_min": 4, "load_full": 20, "trip_cost": 100},
    "group": [{"name": "pen", "keeps": "market lambs"}, {"name": "ewes", "keeps": "ewes"}],
}


def load(tags, weight, on=SALE, **sale):
    """Lambs weighed the day before, shipped, and sold at a price; nothing of it: not sold yet."""
    told = [animal(tag, "pen", BORN, sex="ewe") for tag in tags]
    told += [e.Weight(on=on - timedelta(1), tag=tag, weight=Decimal(str(weight)), unit="lb") for tag in tags]
    told.append(e.Ship(on=on, tags=tuple(tags)))
    return [*told, e.Sale(on=on, head=len(tags), **sale)] if sale else told


@pytest.mark.parametrize(("home", "sold", "shrink"), [(95, 90, "0.053"), (108, 100, "0.074")])
def test_shrink_as_published(home, sold, shrink):
    """New Mexico bulletin 1009: 95 to 108 lb on the farm sells as 90 to 100 lb."""
    told = load(["1", "2"], home, price=Decimal("1.14"), per="lb", mean_weight=Decimal(sold), unit="lb")
    made = last_made(barn(PLAN, *told), SALE)
    assert (made.home, made.sold, made.shrink) == (home, sold, Decimal(shrink))


@pytest.mark.parametrize(
    ("weight", "price", "made"), [(111, "1.14", "126.54"), (72, "1.21", "87.12"), (69, "1.23", "84.87")]
)
def test_price_to_head_value(weight, price, made):
    """Manitoba Co-operator market reports, Winnipeg auction: price a pound and what a head made."""
    told = load(["1"], weight, price=Decimal(price), per="lb", mean_weight=Decimal(weight), unit="lb")
    assert last_made(barn(PLAN, *told), SALE).gross == Decimal(made)
    by_cwt = load(["1"], weight, price=Decimal(price) * 100, per="cwt", mean_weight=Decimal(weight), unit="lb")
    assert last_made(barn(PLAN, *by_cwt), SALE).gross == Decimal(made)


def test_the_trip_is_shared_and_taken_off():
    """Four on a trip of 100 is 25 a head; a total is shared by the heads it was for."""
    made = last_made(barn(PLAN, *load(list("1234"), 110, total=Decimal(1000))), SALE)
    assert (made.gross, made.freight, made.net) == (250, 25, 225)


def test_foreseen_is_the_price_known_before():
    """The load's own price does not tell what was foreseen of it."""
    heard = e.MarketPrice(on=SALE - timedelta(7), price=Decimal("2.00"), per="lb")
    told = load(["1", "2"], 110, price=Decimal("3.00"), per="lb", mean_weight=Decimal(110), unit="lb")
    made = last_made(barn(PLAN, heard, *told), SALE)
    assert made.foresaw == Decimal("170.00")  # 110 at 2.00, less half of the trip
    assert made.net == Decimal("280.00")


def test_a_season():
    """Two loads, one of them not priced; culls are no market lambs."""
    told = [
        *load(["1", "2"], 110, total=Decimal(600)),
        *load([str(n) for n in range(10, 20)], 100, on=SALE + timedelta(14)),
        animal("900", "ewes", date(2020, 3, 1), sex="ewe"),
        e.Ship(on=SALE + timedelta(14), tags=("900",)),
    ]
    got = season(barn(PLAN, *told), SALE + timedelta(30))
    assert (got.head, got.loads, got.priced) == (12, 2, 2)
    assert got.net == Decimal("250.00")
    assert [(f.low, f.high, f.each) for f in got.freight] == [(2, 2, Decimal("50.00")), (10, 10, Decimal("10.00"))]
    assert got.days == round((2 * 124 + 10 * 138) / 12)
    assert 100 < got.weight < 110


def test_nothing_sold():
    farm = barn(PLAN, *load(["1"], 110))
    assert last_made(farm, SALE) is None
    assert season(farm, date(2027, 1, 5)) is None
