"""What goes out beside the words of an answer: a picture, a sheet to print, or a file. It picks what is drawn from
which findings and series; the drawing is in `bot.pictures`, and nothing is drawn before its bytes are asked for."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from bot import tables
from bot.asking import findings_for
from bot.pictures import frame, growth, loads, sheet, stock, yard
from bot.reading import Question
from bot.words import chat, say
from bot.words.answers import mean_gain
from rules import findings as f
from rules import series
from rules.days import Moment
from rules.farm import Farm
from rules.grain import bin_contents, loads_of

if TYPE_CHECKING:
    from bot.pictures.frame import Figure

PNG, PDF, CSV = "image/png", "application/pdf", "text/csv"
PAST = 7  # days drawn beyond the day that matters

Draw = Callable[[], "Figure"]


@dataclass(frozen=True, slots=True)
class Paper:
    """A picture, a sheet or a file; `made` gives its bytes, the same for the same book and moment. `said` are words to
    go with it beside the answer."""

    name: str
    kind: str
    made: Callable[[], bytes]
    said: str = ""


def paper(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Paper | str | None:
    """What goes with the answer, or what is missing for it, in words. None where only words were asked for."""
    if q.as_ == "chart":
        draw = _CHARTS.get(q.about, _no_picture)(q, findings, farm, m)
        if isinstance(draw, str):
            return draw
        return Paper(_name(q, m, "png"), PNG, lambda: frame.png(draw))
    makers = {"sheet": _SHEETS, "file": _FILES}.get(q.as_ or "")
    if makers is None:
        return None
    make = makers.get(q.about)
    if q.about == "animal" and q.as_ == "sheet" and q.tag:
        make = tables.story
    if make is None:
        return chat.NO_SHEET
    if make is tables.to_sort and not any(isinstance(x, f.Ready) for x in findings):
        return chat.NO_SHIP_WEIGHT
    table = make(q, findings, farm, m)
    if table.empty:
        return chat.NOTHING_TO_WRITE
    said = chat.written(table.title, sum(len(part.rows) for part in table.parts))
    if q.as_ == "file":
        return Paper(_name(q, m, "csv"), CSV, lambda: tables.csv(table), said)
    foot = f"{farm.plan.farm.name}, {m.now:%a} {m.today.day} {m.now:%b %Y %H:%M}"
    return Paper(_name(q, m, "pdf"), PDF, lambda: sheet.sheet(table, foot, m.now), said)


def paper_again(q: Question, farm: Farm, m: Moment) -> Paper | None:
    """The same once more, from the farm as it stood at that moment."""
    found = paper(q, findings_for(q, farm, m), farm, m)
    return found if isinstance(found, Paper) else None


def _name(q: Question, m: Moment, ending: str) -> str:
    """A file name that sorts and says what it is: "growth-pen-1-2026-08-11.png"."""
    about = [q.about, *(x[:24] for x in (q.tag, q.group, q.item, q.product, q.bin, q.crop) if x), m.today.isoformat()]
    return re.sub(r"[^\w-]+", "-", "-".join(about)).strip("-").lower() + f".{ending}"


def _no_picture(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    return chat.NO_PICTURE


def _growth(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    by = next((x for x in findings if isinstance(x, f.GainsBy)), None)
    if by is not None:
        return lambda: growth.sides(f"Gains by {(by.split or '').replace('_', ' ')}", by, farm)
    found = [x for x in findings if isinstance(x, f.Growth)]
    ready = [x.ready for x in found if x.ready]
    until = max([x.on for x in found] + [m.today + timedelta(14)] + ready[: 1 if q.tag else 0]) + timedelta(PAST)
    animals = [a for x in found if (a := farm.animals[x.tag]).weighings or q.tag]
    course = series.course(farm, m, [a.tag for a in animals], until) if animals else None
    if course is None:
        return chat.NO_WEIGHTS
    if q.tag:
        return lambda: growth.one(found[0], animals[0], course, farm, m.today)
    gains = [x for x in found if x.gain is not None]
    said = [f"{len(gains)} head, {say.gain(mean_gain(found), farm)}"] if gains else []
    if len(animals) < len(found):
        said.append(f"without {len(found) - len(animals)} never weighed")
    return lambda: growth.several(q.group or "For market", said, animals, course, farm, m.today)


def _stock(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    found = [x for x in findings if isinstance(x, f.RunOut)]
    one = next((x for x in found if q.item in (None, x.item)), None)
    item = farm.plan.item_named(one.item) if one else None
    if one is None or item is None:
        return chat.NOT_COUNTED
    ends = max(day for day in (one.runs_out, one.arrives, one.lasts_to, m.today + timedelta(PAST)) if day)
    level = series.level(farm, item, m, (one.runs_out or ends) + timedelta(2) if one.runs_out else ends)
    if level is None:
        return chat.NO_USE
    return lambda: stock.stock(one, level, m)


def _stores(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    """One item's level ahead where one is named, else all items by how long they last."""
    found = [x for x in findings if isinstance(x, f.RunOut)]
    if q.item or (len(found) == 1 and found[0].stock_out):
        return _stock(q, findings, farm, m)
    return (lambda: stock.items(found, m)) if found else chat.NOT_COUNTED


def _ready(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    found = [x for x in findings if isinstance(x, f.Ready)]
    if not found:
        return chat.NO_SHIP_WEIGHT
    if q.group or found[0].sale is None:
        again = Question("when_ready", group=q.group)
        return _when_ready(again, findings_for(again, farm, m), farm, m)
    ahead = series.ready_ahead(farm, m, found[0])
    return lambda: loads.by_sale(ahead, farm, m)


def _when_ready(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    if q.tag:
        return _growth(q, findings, farm, m)
    found = [x for x in findings if isinstance(x, f.Growth)]
    if farm.plan.ship.min is None:
        return chat.NO_SHIP_WEIGHT
    if not any(x.ready for x in found):
        return chat.NO_WEIGHTS
    said = [f"at {say.weight(farm.plan.ship.min, farm)}, {len(found)} head"]
    return lambda: loads.by_week(q.group or "Ready by week", said, found, m.today)


def _ship_plan(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    found = [x for x in findings if isinstance(x, f.Ready)]
    if not found:
        return chat.NO_SHIP_WEIGHT
    if farm.plan.ship.trip_cost is None:
        return chat.NO_TRIP_COST
    freight = series.freight(farm.plan.ship, max(found[0].now, len(found[0].tags), series.USUAL_LOAD))
    return lambda: loads.economics(found[0], freight, farm, m)


def _shipped(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    went = [x for x in farm.shipments if x.on.year == m.today.year]
    season = next((x for x in findings if isinstance(x, f.Season)), None)
    return (lambda: loads.shipped(season, went, farm, m)) if went or season else chat.NOTHING_TO_DRAW


def _coming(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    found = next((x for x in findings if isinstance(x, f.Coming)), None)
    return (lambda: loads.coming(found, m.today)) if found and found.weeks else chat.NOTHING_TO_DRAW


def _eggs(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    days, week = (series.lay(farm, m.today, q.group, n) for n in (1, 7))
    if not days:
        return chat.NO_LAY
    said = [f"{say.number(week[-1][1] * 100, 0)} a 100 hens, last 7 days"] if week[-1][0] == m.today else []
    return lambda: yard.eggs(said, days, week)


def _bins(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    found = [b for b in bin_contents(farm) if q.bin in (None, b.bin) and (not q.crop or b.crop == q.crop)]
    return (lambda: yard.bins(found)) if any(b.amount is not None for b in found) else chat.NOTHING_TO_DRAW


def _lambing(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    found = sorted((x for x in findings if isinstance(x, f.LambingDue)), key=lambda x: (x.from_, x.group))
    return (lambda: yard.lambing(found)) if found else chat.NOTHING_TO_DRAW


def _loads(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    found = [x for x in loads_of(farm, m.today.year) if not q.crop or x.crop == q.crop]
    return (lambda: yard.harvest(found)) if found else chat.NOTHING_TO_DRAW


_SHEETS: dict[str, tables.Make] = {
    "ready": tables.to_sort, "ship_plan": tables.to_sort, "close": tables.to_sort, "when_ready": tables.to_weigh,
    "growth": tables.to_weigh, "animal": tables.to_weigh, "due": tables.due, "withdrawal": tables.record_to_print,
    "order": tables.to_order, "stock": tables.to_count, "lasts": tables.to_count, "head": tables.heads,
    "shipped": tables.went, "eggs": tables.eggs, "bins": tables.bins, "loads": tables.loads,
    "lambing_due": tables.lambing,
}  # fmt: skip
_FILES: dict[str, tables.Make] = {
    **_SHEETS, "when_ready": tables.weights, "growth": tables.weights, "animal": tables.weights,
    "withdrawal": tables.record, "stock": tables.moved, "lasts": tables.moved,
}  # fmt: skip
_CHARTS: dict[str, Callable[[Question, Sequence[f.Finding], Farm, Moment], Draw | str]] = {
    "growth": _growth,
    "animal": _growth,
    "stock": _stores,
    "lasts": _stores,
    "order": _stores,
    "ready": _ready,
    "close": _ready,
    "when_ready": _when_ready,
    "ship_plan": _ship_plan,
    "shipped": _shipped,
    "coming": _coming,
    "eggs": _eggs,
    "bins": _bins,
    "loads": _loads,
    "lambing_due": _lambing,
}
