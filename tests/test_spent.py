"""What was used in a span and what it cost: by counts, deliveries and what was told; money by the last price told."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from barn import animal, barn, dose

from rules import entries as e
from rules.spent import spent

PLAN = {
    "group": [{"name": "bottles", "keeps": "bottle lambs"}],
    "item": [
        {"name": "milk", "unit": "bag", "holds": "10 kg"},
        {"name": "vaccine", "unit": "bottle", "holds": "10 dose"},
    ],
    "product": [{"name": "vaccine", "dose": "2 mL"}],
}  # fmt: skip
MAY = date(2026, 5, 1)


def day(n):
    return MAY + timedelta(n - 1)


def left(n, amount):
    return e.OnHand(on=day(n), item="milk", amount=Decimal(amount), unit="bag")


def came(n, amount, **more):
    return e.Received(on=day(n), item="milk", amount=Decimal(amount), unit="bag", **more)


def used(n, amount, **more):
    return e.Used(on=day(n), item="milk", amount=Decimal(amount), unit="bag", **more)


def milk(*told, since=1, till=31):
    rows = spent(barn(PLAN, *told), day(since), day(till), "milk")
    return rows[0] if rows else None


def test_what_two_counts_show_is_used():
    """Ten bags on the 1st, four more on the 3rd, eight left on the 11th: six used."""
    assert milk(left(1, 10), came(3, 4), left(11, 8)).used == 6


def test_what_was_told_is_not_counted_twice():
    assert milk(left(1, 10), used(3, 2), left(11, 6)).used == 4


def test_a_span_takes_its_share_of_what_lies_between_two_counts():
    """Ten bags gone from the 1st to the 11th is one a day: five of them in the five days from the 2nd to the 6th."""
    assert milk(left(1, 10), left(11, 0), since=2, till=6).used == 5
    assert milk(left(1, 10), left(11, 0), since=12) is None


@pytest.mark.parametrize(("how", "eaten", "lost"), [("lent", 0, 0), ("spoiled", 0, 2), (None, 2, 0)])
def test_lent_and_thrown_out_are_not_eaten(how, eaten, lost):
    row = milk(left(1, 10), used(3, 2, how=how), came(4, 1))
    assert (row.used, row.lost) == (eaten, lost)


def test_money_is_what_was_paid_and_the_used_at_the_last_price():
    """Two bags for 80 and then one for 44: the three cost 124, and the two used are worth 44 each."""
    row = milk(came(1, 2, price=Decimal(80)), came(5, 1, price_each=Decimal(44)), used(6, 2))
    assert (row.paid, row.worth, row.bought) == (124, 88, 3)


def test_a_dose_takes_from_its_bottle():
    bottle = e.OnHand(on=MAY, item="vaccine", amount=Decimal(2), unit="bottle")
    lambs = [animal(str(n), "bottles") for n in range(5)]
    (row,) = spent(barn(PLAN, *lambs, bottle, dose(day(2), "vaccine", group="bottles")), MAY, day(31))
    assert (row.item, row.used) == ("vaccine", Decimal("0.5"))
