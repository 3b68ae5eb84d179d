"""The farm plan: what the farm is, as its owner describes it. Plain frozen records, one for each table.

Amounts stay as written ("25 lb"; read them with `rules.units.amount`), opening hours as OpenStreetMap text. Nothing is
checked here (bot/plan.py does that, when a folder is loaded) and nothing is a guess: what is None was not said.
Field names are the keys of the outside interface, with a trailing underscore only where Python needs it.
"""

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import time
from decimal import Decimal
from typing import Any, TypeVar

from rules.records import from_data
from rules.units import Amount, amount, convert, factor


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """[farm]. `weight` is the unit of a bare animal weight, kg or lb."""

    name: str
    country: str
    subdivision: str | None = None
    timezone: str
    weight: str = "kg"
    currency: str = "EUR"
    morning: time = time(6, 0)
    evening: time = time(19, 30)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceStep:
    """From this live weight on, `per` is paid for each unit of weight; a step applies to the whole weight."""

    from_: Decimal
    per: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipping:
    """[ship]. Weights live, in the farm's unit; `sales` are weekdays in English; money in the farm's currency."""

    min: Decimal | None = None
    max: Decimal | None = None
    sales: tuple[str, ...] = ()
    load_min: int | None = None
    load_full: int | None = None
    trip_cost: Decimal | None = None
    keep_cost: Decimal | None = None
    price: tuple[PriceStep, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    name: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Person(Named):
    role: str = "owner"
    telegram: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group(Named):
    """`head` where its animals are not tagged."""

    keeps: str = ""
    head: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """What one head of a group gets in a day, as the farmer guesses."""

    group: str
    per_head_day: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Item(Named):
    """Something kept in store, counted in `unit`; `holds` is what one unit weighs or contains."""

    unit: str = "each"
    holds: str | None = None
    supplier: str | None = None
    feeds: tuple[Feed, ...] = ()
    order_min: str | None = None
    order_step: str | None = None
    store_max: str | None = None
    keeps_days: int | None = None
    withdrawal_days: int | None = None
    service: Decimal | None = None

    def units(self, value: Decimal, unit: str, country: str) -> Decimal:
        """An amount said in any unit, in this item's own. Nothing is nothing in every unit; one each of what is kept in
        bags is a bag (it was told before the unit was). Raises ValueError where the plan does not tell how."""
        if unit == self.unit or not value:
            return value
        if self.holds is not None:
            held = amount(self.holds)
            try:
                return convert(value, unit, held.unit, country) / held.value
            except ValueError:
                pass
        if unit == "each" and factor(self.unit, country) is None:
            return value
        return convert(value, unit, self.unit, country)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplier(Named):
    """`hours` in OpenStreetMap opening_hours syntax; an order after `order_before` counts as the next open day's;
    `lead_days` are open days from the order's day to the delivery."""

    hours: str | None = None
    order_before: time | None = None
    lead_days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Product(Named):
    """Something given to animals. `withdrawal_days` (meat) None: nobody has said yet. `late` is what label or vet say
    of a dose of a series that comes late: "carry on" or "start again"."""

    dose: str | None = None
    withdrawal_days: int | None = None
    egg_withdrawal_days: int | None = None
    opened_days: int | None = None
    late: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """`amount` of an item, `per` ewe or per group."""

    item: str
    amount: str
    per: str = "group"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    for_: str
    needs: tuple[Need, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StagePlan:
    """For what a group `keeps`: the age in days at which a stage is foreseen."""

    for_: str
    creep: int | None = None
    weaned: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseStep:
    """`days` = (a, b): with `before`, from a to b days before that event; with `after`, from a to b days after it;
    with both, counted from `after` and still before `before`."""

    product: str
    step: str
    before: str | None = None
    after: str | None = None
    days: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DosePlan:
    """`dam` tells lambs apart by their mother: "dosed" (with the first step's product while she carried them), or
    "not dosed", which takes those of unknown mothers too."""

    name: str
    for_: str
    first_time: bool = False
    dam: str | None = None
    steps: tuple[DoseStep, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin(Named):
    crop: str | None = None
    capacity: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop(Named):
    """`test_weight` in lb a bushel, `dry` the percent moisture it is sold at."""

    test_weight: Decimal | None = None
    dry: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Field(Named):
    area: str | None = None


AnyNamed = TypeVar("AnyNamed", bound=Named)


def named(rows: Iterable[AnyNamed], name: str) -> AnyNamed | None:
    """The row of that name (names only, no also-names), or None."""
    return next((row for row in rows if row.name == name), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The whole plan. Tables are tuples in the order of the farm folder."""

    farm: Place
    ship: Shipping = Shipping()
    person: tuple[Person, ...] = ()
    group: tuple[Group, ...] = ()
    item: tuple[Item, ...] = ()
    supplier: tuple[Supplier, ...] = ()
    product: tuple[Product, ...] = ()
    kit: tuple[Kit, ...] = ()
    stage_plan: tuple[StagePlan, ...] = ()
    dose_plan: tuple[DosePlan, ...] = ()
    bin: tuple[Bin, ...] = ()
    crop: tuple[Crop, ...] = ()
    field: tuple[Field, ...] = ()

    def group_named(self, name: str) -> Group | None:
        return named(self.group, name)

    def item_named(self, name: str) -> Item | None:
        return named(self.item, name)

    def supplier_named(self, name: str) -> Supplier | None:
        return named(self.supplier, name)

    def product_named(self, name: str) -> Product | None:
        return named(self.product, name)

    def takes(self, product: str, value: Decimal | None = None, unit: str | None = None) -> Decimal | None:
        """What one animal's dose takes of the stock of the item of that name, in the item's unit: by what was said
        with the dose, else by the product's own dose, else as one dose. None where the plan does not tell how."""
        item, row = self.item_named(product), self.product_named(product)
        said = [Amount(value, unit)] if value is not None and unit else []
        if row and row.dose:
            with suppress(ValueError):  # "by weight, see label" is no amount
                said.append(amount(row.dose))
        if item is None:
            return None
        for dose in (*said, Amount(Decimal(1), "dose")):
            try:
                return item.units(dose.value, dose.unit, self.farm.country)
            except ValueError:
                continue
        return None

    def amount_of(self, item: Item, text: str) -> Decimal:
        """An amount written in the plan, in the item's unit."""
        said: Amount = amount(text)
        return item.units(said.value, said.unit, self.farm.country)


TABLES = ("person", "group", "item", "supplier", "product", "kit", "stage_plan", "dose_plan", "bin", "crop", "field")


def plan_from(data: Mapping[str, Any]) -> Plan:
    """The plan that plain data (a farm.toml as read) describes; it must have been checked. Raises ValueError."""
    return from_data(Plan, data)


def key_of(table: str) -> str:
    """What a row of that table is called by."""
    return "for" if table in ("kit", "stage_plan") else "name"


# (table, list inside its rows, key, the tables it names a row of)
REFERS: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    ("item", "", "supplier", ("supplier",)),
    ("item", "feeds", "group", ("group",)),
    ("kit", "needs", "item", ("item", "product")),
    ("dose_plan", "steps", "product", ("product",)),
    ("bin", "", "crop", ("crop",)),
)


def changed(data: Mapping[str, Any], table: str, name: str | None, set_: Mapping[str, Any]) -> dict[str, Any]:
    """Plan data with one row (of a table of rows) or a single table (`farm`, `ship`) changed. A row that is given
    another name keeps the old one as an also-name, and what names it in other rows follows."""
    if table not in TABLES:
        return {**data, table: {**data.get(table, {}), **set_}}
    key = key_of(table)
    rows = [dict(row) for row in data.get(table, [])]
    row = next((row for row in rows if row.get(key) == name), None)
    new = set_.get(key, name)
    if set_.get("gone"):
        rows = [row for row in rows if row.get(key) != name]
    elif row is None and new == name:
        rows.append({key: name, **set_})
    elif row is not None:
        row.update(set_)
    if row is not None and new != name:
        row["also"] = [also for also in row.get("also", ()) if also != new] + [name]
        return _referring({**data, table: rows}, table, name, new)
    return {**data, table: rows}


def _referring(data: dict[str, Any], table: str, name: str | None, new: str) -> dict[str, Any]:
    """Plan data in which what named a row by its old name has the new one."""
    for holder, inner, key, to in REFERS:
        if table in to and data.get(holder):
            rows = [dict(row) for row in data[holder]]
            for row in rows:
                if inner and row.get(inner):
                    row[inner] = [{**x, key: new} if x.get(key) == name else x for x in row[inner]]
                elif row.get(key) == name:
                    row[key] = new
            data = {**data, holder: rows}
    return data
