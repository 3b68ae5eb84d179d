"""What is in the bins, how much room is left, and what the loads and fields made: dry, in bushels or tonnes.

Nothing here says where to sell or at what price. Bin safety is not arithmetic: the words carry that caution.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from rules import entries as e
from rules.farm import Farm
from rules.plan import Bin, named
from rules.units import POUND, amount, convert

BUSHEL_LANDS = ("US", "CA")  # where loads are told in bushels; elsewhere in tonnes


@dataclass(frozen=True, slots=True)
class BinContents:
    """What a bin holds by the book, in the unit of its capacity. `amount` None: nobody has told. `unread` are entries
    since the last level whose amount was not told or does not convert; `measured` is the day of that level."""

    bin: str
    crop: str | None
    amount: Decimal | None
    unit: str
    room: Decimal | None
    measured: date | None
    unread: int


@dataclass(frozen=True, slots=True)
class Loads:
    """The loads of a crop, of one field or of all. `amount` as they came, `dry` at the moisture it is sold at (None
    where the plan does not tell that, or no load's moisture was told); `per_area` dry yield by `area_unit`."""

    crop: str
    field: str | None
    loads: int
    unread: int  # loads without an amount
    amount: Decimal
    dry: Decimal | None
    moisture: Decimal | None  # of the grain as it came, percent
    unit: str
    per_area: Decimal | None = None
    area_unit: str | None = None


def in_unit(farm: Farm, crop: str | None, value: Decimal, unit: str, to: str) -> Decimal:
    """Grain in another unit; bushels go by the crop's test weight. Raises ValueError where the plan has none.

    A bushel is a weight here, as grain is traded: 36.744 to the tonne at 60 lb, 39.368 at 56, 68.894 at 32.
    """
    if unit == to:
        return value
    row = named(farm.plan.crop, crop) if crop else None
    bushel = row.test_weight * POUND if row and row.test_weight else None
    if "bu" in (unit, to) and bushel is None:
        raise ValueError(f"the plan has no test weight for {crop or 'this grain'}")
    country = farm.plan.farm.country
    kilos = value * bushel if unit == "bu" and bushel else convert(value, unit, "kg", country)
    return kilos / bushel if to == "bu" and bushel else convert(kilos, "kg", to, country)


def dry_weight(wet: Decimal, moisture: Decimal, dry: Decimal) -> Decimal:
    """What grain weighs once dried to `dry` percent (or, drier than that, with the water it lacks): water alone.

    Handling loss (0.22 to 1.71 %) comes on top. Source: D. Karki, South Dakota State Univ., 2019.
    """
    return wet * (100 - moisture) / (100 - dry)


def bin_contents(farm: Farm) -> list[BinContents]:
    """Every bin of the plan: the last level told, and what was put in and taken out since."""
    return [_contents(farm, row) for row in farm.plan.bin]


def bins_for(farm: Farm, crop: str) -> list[BinContents]:
    """The bins a crop can go to as it comes, best first: beside the same crop, then empty ones kept for it, then any
    empty one. A bin nobody has told of counts as holding what the plan says: it comes last, if it is of this crop."""
    rows = {row.name: row for row in farm.plan.bin}
    ranked = []
    for n, held in enumerate(bin_contents(farm)):
        empty, mine = held.amount == 0, rows[held.bin].crop in (crop, None)
        if held.amount is None:
            rank = 3 if rows[held.bin].crop == crop else None
        elif empty:
            rank = 1 if rows[held.bin].crop == crop else 2
        else:
            rank = 0 if held.crop == crop and held.room != 0 else None
        if rank is not None:
            ranked.append((rank, not mine, n, held))
    return [held for *_, held in sorted(ranked, key=lambda r: r[:3])]


def _contents(farm: Farm, row: Bin) -> BinContents:
    size = amount(row.capacity) if row.capacity else None
    unit = size.unit if size else _unit(farm, row.crop)
    crop, held, measured, unread = row.crop, None, None, 0
    for entry in farm.bins.get(row.name, ()):
        if isinstance(entry, e.Sale):
            continue
        out = isinstance(entry, e.BinMove) and entry.from_ == row.name
        crop = crop if out else entry.crop or crop
        try:
            if entry.amount is None or entry.unit is None:
                raise ValueError
            much = in_unit(farm, crop, entry.amount, entry.unit, unit)
        except ValueError:
            unread += 1
            continue
        if isinstance(entry, e.BinLevel):
            held, measured = much, entry.on
        elif held is not None or not out:  # out of a bin nobody has measured: still not known
            held = max(Decimal(0), (held or Decimal(0)) + (-much if out else much))
    if held is not None:
        held = round(held, 1)
    room = max(Decimal(0), size.value - held) if size and held is not None else None
    return BinContents(row.name, crop, held, unit, room, measured, unread)


def _unit(farm: Farm, crop: str | None) -> str:
    row = named(farm.plan.crop, crop) if crop else None
    return "bu" if farm.plan.farm.country in BUSHEL_LANDS and row and row.test_weight else "t"


def loads_of(farm: Farm, year: int, by_field: bool = False) -> list[Loads]:
    """The loads told in a calendar year, by crop, or by crop and field with its yield; in the plan's order of crops."""
    lots: dict[tuple[str, str | None], list[e.Load]] = {}
    for load in farm.loads:
        if load.on.year == year and load.crop:
            lots.setdefault((load.crop, load.field if by_field else None), []).append(load)
    order = {row.name: n for n, row in enumerate(farm.plan.crop)}
    return [
        _total(farm, crop, field, lots[crop, field])
        for crop, field in sorted(lots, key=lambda k: (order.get(k[0], len(order)), k[0], k[1] or ""))
    ]


def _total(farm: Farm, crop: str, field: str | None, loads: Sequence[e.Load]) -> Loads:
    """Sums of the loads. One whose moisture was not told counts as dry as the rest of its lot."""
    unit, row = _unit(farm, crop), named(farm.plan.crop, crop)
    wet = water = tested = Decimal(0)
    unread = 0
    for load in loads:
        try:
            if load.amount is None:
                raise ValueError
            much = in_unit(farm, crop, load.amount, load.unit or unit, unit)
        except ValueError:
            unread += 1
            continue
        wet += much
        if load.moisture is not None:
            tested, water = tested + much, water + much * load.moisture
    moisture = water / tested if tested else None
    dry = dry_weight(wet, moisture, row.dry) if moisture is not None and row and row.dry is not None else None
    ground = named(farm.plan.field, field) if field else None
    area = amount(ground.area) if ground and ground.area else None
    made = Loads(
        crop, field, len(loads), unread, round(wet, 1), None if dry is None else round(dry, 1),
        None if moisture is None else round(moisture, 2), unit,
    )  # fmt: skip
    if area is None or not area.value:
        return made
    return replace(made, per_area=round((wet if dry is None else dry) / area.value, 2), area_unit=area.unit)
