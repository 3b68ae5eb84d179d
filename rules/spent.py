"""What was used of each item in a span of days, and what it cost; how fast things go is in `rules.use`.

What was eaten between two counts is spread evenly over their days: nobody weighs each bucket. Lent, thrown out and sold
are told apart from eaten, as they were told.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

from rules.farm import Farm, StockFact


@dataclass(frozen=True, slots=True)
class Spent:
    """Of one item: `used` in its unit (eaten, given or missing at a count), `lost` (thrown out), what was `bought` and
    what that `paid`; `worth` is the used at the last price told. None: no price told."""

    item: str
    unit: str
    used: Decimal
    lost: Decimal
    bought: Decimal
    paid: Decimal | None
    worth: Decimal | None


def spent(farm: Farm, since: date, till: date, item: str | None = None) -> list[Spent]:
    """Each item of which something was used, thrown out or bought from `since` to `till`, both days included."""
    found = []
    for row in farm.plan.item:
        if item not in (None, row.name):
            continue
        facts = list(farm.stock.get(row.name, ()))
        inside = [x for x in facts if since <= x.on <= till]
        bought = [x for x in inside if x.what == "received" and x.how is None]
        lost = sum((x.amount for x in inside if x.what == "used" and x.how == "spoiled"), Decimal(0))
        used = _said(_used(facts, since, till))
        told = [x for x in facts if x.cost is not None and x.amount and x.on <= till]
        price = (told[-1].cost or Decimal(0)) / told[-1].amount if told else None
        if used or lost or bought:
            paid = [x.cost for x in bought if x.cost is not None]
            found.append(Spent(
                row.name, row.unit, used, lost, sum((x.amount for x in bought), Decimal(0)),
                sum(paid, Decimal(0)) if paid else None, _money(used * price) if price is not None else None,
            ))  # fmt: skip
    return found


def _used(facts: list[StockFact], since: date, till: date) -> Decimal:
    """What was told as eaten or given in a span, and what counts show to be gone beyond that."""
    total, left, counted = Decimal(0), Decimal(0), None
    for x in facts:
        if x.what == "on_hand":
            gone = max(Decimal(0), left - x.amount)
            if counted is not None and gone:
                days = max(1, (x.on - counted).days)
                within = (min(x.on, till) - max(counted, since - timedelta(1))).days
                total += gone * max(0, min(days, within)) / days
            left, counted = x.amount, x.on
        elif x.what == "received":
            left += x.amount
        else:
            left -= x.amount
            if x.how in (None, "dosed") and x.what == "used" and since <= x.on <= till:
                total += x.amount
    return total


def _said(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.1"), ROUND_HALF_UP)


def _money(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.01"), ROUND_HALF_UP)
