"""Answers about eggs, bins and loads of grain: the figure first, then what it is made of."""

from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal

from bot.reading import Question
from bot.words import say
from bot.words.found import CAUTIONS, found
from rules import findings as f
from rules.days import Moment
from rules.farm import Farm
from rules.grain import BinContents, Loads, bin_contents, bins_for, loads_of
from rules.laying import hen_days

MOST = 8  # lines


def eggs(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    week = [x for x in farm.eggs if m.today - timedelta(days=6) <= x.on <= m.today]
    if not week:
        return "No eggs told in the last 7 days."
    total = sum(x.count for x in week)
    days = len({x.on for x in week})
    text = f"{total} eggs in the last 7 days, {say.number(Decimal(total) / days, 0)} a day"
    rate = hen_days(farm, m.today - timedelta(days=6), m.today)
    before = hen_days(farm, m.today - timedelta(days=13), m.today - timedelta(days=7))
    if rate is not None:
        text += f", {say.number(rate * 100, 0)} a 100 hens"
        text += f" ({say.number(before * 100, 0)} the week before)" if before is not None else ""
    return " ".join([f"{text}.", *(found(x, farm, m) for x in findings)])


def bins(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    if q.goes and q.crop:
        return _goes(q.crop, farm)
    held = [b for b in bin_contents(farm) if q.bin in (None, b.bin) and (not q.crop or b.crop == q.crop)]
    return "\n".join(_bin(b) for b in held) or "No bin with that."


def _bin(b: BinContents) -> str:
    if b.amount is None:
        return f"{b.bin}: nobody has told me what is in it."
    room = f", room for {say.amount(b.room, b.unit)}" if b.room is not None else ""
    return f"{b.bin} {say.amount(b.amount, b.unit)}{' ' + b.crop if b.crop else ''}{room}."


def _goes(crop: str, farm: Farm) -> str:
    """Where a crop can go as it comes, so that it is handled once."""
    fits = bins_for(farm, crop)
    if not fits:
        return f"No bin takes {crop} as it stands: each holds something else, or is full. {CAUTIONS['bin']}"
    lines = []
    for b in fits[:4]:
        room = f"room for {say.amount(b.room, b.unit)}" if b.room is not None else "I don't know its room"
        if b.amount is None:
            lines.append(f"{b.bin} if it is clear: nobody has told me what is in it")
        elif b.amount == 0:
            lines.append(
                f"{b.bin}, empty" + (f" but kept for {b.crop}" if b.crop not in (None, crop) else "") + f", {room}"
            )
        else:
            lines.append(f"{b.bin}, {room} beside its {crop}")
    return f"{crop[:1].upper()}{crop[1:]}: {'; then '.join(lines)}. Filled in this order nothing is handled twice."


def loads(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    by_field = q.field is not None or q.split == "field"
    totals = [
        x for x in loads_of(farm, m.today.year, by_field=by_field)
        if q.crop in (None, x.crop) and q.field in (None, x.field)
    ]  # fmt: skip
    lines = [_load(x) for x in totals]
    if len(lines) > MOST:
        lines = [*lines[:MOST], f"and {len(lines) - MOST} more."]
    return "\n".join(lines) or f"No loads told{' off ' + q.field if q.field else ''} this year."


def _load(x: Loads) -> str:
    of = f"{x.field}, {x.crop}" if x.field else x.crop
    text = f"{of}: {x.loads} load{'' if x.loads == 1 else 's'}, {say.amount(x.amount, x.unit)}"
    text += f" at {say.number(x.moisture, 1)} %" if x.moisture is not None else ""
    text += f", {say.amount(x.dry, x.unit)} dry" if x.dry is not None else ""
    if x.per_area and x.area_unit:
        text += f", {say.number(x.per_area, 1)} {x.unit} a{'n acre' if x.area_unit == 'ac' else ' ' + x.area_unit}"
    text += f"; {x.unread} without an amount" if x.unread else ""
    return text + "."
