"""What goes out beside the words of an answer: a picture, a sheet to print, or a file. It picks what is drawn from
which findings and series; the drawing is in `bot.pictures`, and nothing is drawn before its bytes are asked for."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from bot.asking import findings_for
from bot.pictures import frame, growth, stock
from bot.reading import Question
from bot.words import chat, say
from bot.words.answers import mean_gain
from rules import findings as f
from rules import series
from rules.days import Moment
from rules.farm import Farm

if TYPE_CHECKING:
    from bot.pictures.frame import Figure

PNG, PDF, CSV = "image/png", "application/pdf", "text/csv"
PAST = 7  # days drawn beyond the day that matters

Draw = Callable[[], "Figure"]


@dataclass(frozen=True, slots=True)
class Paper:
    """A picture, a sheet or a file; `made` gives its bytes, the same for the same book and moment."""

    name: str
    kind: str
    made: Callable[[], bytes]


def paper(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Paper | str | None:
    """What goes with the answer, or what is missing for it, in words. None where only words were asked for."""
    if q.as_ == "chart":
        draw = _CHARTS.get(q.about, _no_picture)(q, findings, farm, m)
        if isinstance(draw, str):
            return draw
        return Paper(_name(q, m, "png"), PNG, lambda: frame.png(draw))
    return None


def paper_again(q: Question, farm: Farm, m: Moment) -> Paper | None:
    """The same once more, from the farm as it stood at that moment."""
    found = paper(q, findings_for(q, farm, m), farm, m)
    return found if isinstance(found, Paper) else None


def _name(q: Question, m: Moment, ending: str) -> str:
    """A file name that sorts and says what it is: "growth-pen-1-2026-08-11.png"."""
    about = [q.about, *(x for x in (q.tag, q.group, q.item, q.product, q.bin, q.crop) if x), m.today.isoformat()]
    return re.sub(r"[^\w-]+", "-", "-".join(about)).strip("-").lower() + f".{ending}"


def _no_picture(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    return chat.NO_PICTURE


def _growth(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Draw | str:
    found = [x for x in findings if isinstance(x, f.Growth)]
    ready = [x.ready for x in found if x.ready]
    until = max([x.on for x in found] + [m.today + timedelta(14)] + ready[: 1 if q.tag else 0]) + timedelta(PAST)
    course = series.course(farm, m, [x.tag for x in found], until)
    if course is None:
        return chat.NO_WEIGHTS
    if q.tag:
        animal = farm.animals[found[0].tag]
        return lambda: growth.one(found[0], animal, course, farm, m.today)
    animals = [farm.animals[x.tag] for x in found]
    if not any(a.weighings for a in animals):
        return chat.NO_WEIGHTS
    gains = [x for x in found if x.gain is not None]
    said = [f"{len(gains)} head, {say.gain(mean_gain(found), farm)}"] if gains else []
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


_CHARTS: dict[str, Callable[[Question, Sequence[f.Finding], Farm, Moment], Draw | str]] = {
    "growth": _growth,
    "animal": _growth,
    "stock": _stock,
    "lasts": _stock,
    "order": _stock,
}
