"""The treatment record: every dose as the book has it, one line an animal, with the days that were to be kept.

What a record must hold: animal, date, drug, disease, dose, route, withdrawal (even 0), who gave it, and the day from
which it may be slaughtered (Are your Treatment Records FDA Ready, Washington State Univ.; to be kept two years there,
five in the UK). What nobody told stays empty; nothing is filled in but what the plan says of the product.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from rules.farm import Farm, Given
from rules.withdrawal import ends


@dataclass(frozen=True, slots=True)
class Treatment:
    """One product given to one animal, or to `head` of a group whose tags are not told. `until` is the first day it may
    go to slaughter, `eggs_from` the first whose eggs may be sold; None: nobody has told the days, or there are none."""

    on: date
    tag: str | None
    eid: str | None
    group: str | None
    head: int
    product: str
    amount: Decimal | None
    unit: str | None
    label: str | None  # the plan's dose
    reason: str | None
    route: str | None
    batch: str | None
    by: str
    days: int | None
    until: date | None
    egg_days: int | None
    eggs_from: date | None


def treatments(
    farm: Farm, tag: str | None = None, group: str | None = None, product: str | None = None
) -> list[Treatment]:
    """All that was given, the oldest first; of one animal, group or product where named. Animals that left stay in."""
    found = [x for rows in (_of_animals(farm), _of_groups(farm)) for x in rows]
    wanted = [
        (seq, x) for seq, x in found
        if tag in (None, x.tag) and group in (None, x.group) and product in (None, x.product)
    ]  # fmt: skip
    return [x for _, x in sorted(wanted, key=lambda pair: (pair[1].on, pair[0], pair[1].tag or ""))]


def _of_animals(farm: Farm) -> Iterator[tuple[int, Treatment]]:
    for tag in sorted(farm.animals):
        animal = farm.animals[tag]
        named = [d for d in animal.doses if not d.unnamed]
        for until, given, days in ends(farm, named, eggs=False):
            yield given.seq, _row(farm, given, tag, animal.eid, animal.group, 1, (days, until), (None, None))


def _of_groups(farm: Farm) -> Iterator[tuple[int, Treatment]]:
    """What was told of a group, as far as no animal of it has it on its own record."""
    carried = {d.seq for animal in farm.animals.values() for d in animal.doses if not d.unnamed}
    open_ = {u.seq: u.head for u in farm.unnamed if u.kind == "dose"}
    for group in sorted(farm.group_doses):
        doses = [d for d in farm.group_doses[group] if d.seq not in carried and (not d.unnamed or d.seq in open_)]
        eggs: Iterable[tuple[date | None, Given, int | None]] = ((None, d, None) for d in doses)
        if group in farm.keeping("hens"):
            eggs = ends(farm, doses, eggs=True)
        for (until, given, days), (eggs_from, _, egg_days) in zip(ends(farm, doses, eggs=False), eggs, strict=True):
            head = open_.get(given.seq) or given.head or farm.head(group)
            yield given.seq, _row(farm, given, None, None, group, head, (days, until), (egg_days, eggs_from))


def _row(
    farm: Farm, given: Given, tag: str | None, eid: str | None, group: str | None, head: int,
    meat: tuple[int | None, date | None], eggs: tuple[int | None, date | None],
) -> Treatment:  # fmt: skip
    row = farm.plan.product_named(given.product)
    return Treatment(
        given.on, tag, eid, group, head, given.product, given.amount, given.unit, row.dose if row else None,
        "medicated feed" if given.for_ == "feed" else given.for_, given.route, given.batch, given.by, *meat, *eggs,
    )  # fmt: skip
