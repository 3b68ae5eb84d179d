"""What loads made, what matings come to, gains and weights side by side: figures told, nothing to be done."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from bot.words import say
from rules import findings as f
from rules.days import Moment
from rules.farm import Farm


def load_made(x: f.LoadMade, farm: Farm, m: Moment) -> str:
    """What a load made, against what was foreseen."""
    text = f"{x.head} {say.day(x.on, m.today)}"
    if x.sold is not None:
        text += f" at {say.weight(x.sold, farm)}"
    if x.home is not None:
        text += f", {say.number(x.home, 1)} at home"
    if x.shrink is not None:
        text += f" ({say.number(x.shrink * 100, 1)} % shrink)" if x.shrink > 0 else " (no shrink)"
    if x.net is not None:
        after = " after freight" if x.freight is not None else ""
        text += f": {say.money(x.net, farm)} a head{after}"
        text += f", foreseen {say.money(x.foresaw, farm)}" if x.foresaw is not None else ""
    return text + "."


def season(x: f.Season, farm: Farm, m: Moment) -> str:
    text = f"{x.head} head this year in {x.loads} load{'' if x.loads == 1 else 's'}"
    text += f", mean {say.weight(x.weight, farm)}" if x.weight is not None else ""
    text += f", {x.days} days to market" if x.days is not None else ""
    if x.net is not None:
        of = "" if x.priced == x.head else f" ({x.priced} head priced)"
        text += f", {say.money(x.net, farm)} a head after freight{of}"
    text += "."
    if x.freight:
        sizes = [f"{say.money(y.each, farm, price=True)} with {_heads(y)}" for y in x.freight]
        text += f" Freight a head: {', '.join(sizes)}."
    return text


def _heads(x: f.Freight) -> str:
    return f"{x.low}" if x.low == x.high else f"{x.low} to {x.high}"


def gains_by(x: f.GainsBy, farm: Farm, m: Moment) -> str:
    """Gains side by side; of many dams the best and the slowest."""
    rows = [f"{r.name} {say.gain(r.gain, farm)}" + (f" ({r.head})" if x.split != "dam" else "") for r in x.rows]
    if len(rows) <= 8:
        return f"{', '.join(rows)}."
    return f"Best: {', '.join(rows[:4])}. Slowest: {', '.join(rows[:-4:-1])}. {len(rows)} in all."


def adjusted(x: f.Adjusted, farm: Farm, m: Moment) -> str:
    """Weights at one age: the mean, by sex and birth type, the best and the lightest."""
    far = f" {x.left} not weighed near that age." if x.left else ""
    if not x.rows:
        return f"None weighed near {x.days} days of age.{far}"
    lots: dict[str, list[Decimal]] = {}
    for r in x.rows:
        for name in (r.sex, {1: "single", 2: "twin", 3: "triplet"}.get(r.litter or 0)):
            lots.setdefault(name or "", []).append(r.weight)
    by = [f"{name}s {say.number(sum(w, Decimal(0)) / len(w), 1)}" for name, w in sorted(lots.items()) if name]
    mean = sum((r.weight for r in x.rows), Decimal(0)) / len(x.rows)
    text = f"At {x.days} days: mean {say.weight(mean, farm)} of {len(x.rows)}"
    text += f"; {', '.join(by)}" if by else ""
    best = [f"{r.tag} {say.number(r.weight, 1)}" for r in x.rows[:3]]
    text += f". Best {', '.join(best)}"
    if len(x.rows) > 3:
        text += f"; lightest {x.rows[-1].tag} {say.number(x.rows[-1].weight, 1)}"
    return f"{text}.{far}"


def mating(x: f.MatingPlan, farm: Farm, m: Moment) -> str:
    """What a mating comes to."""
    how = "Synced" if x.synced else f"Rams {(x.out - x.rams).days} days"
    text = f"{how} from {say.day(x.rams, m.today)}: lambing {_dates(x.from_, x.to, m)}, most about "
    text += f"{say.day(x.peak, m.today)}; {x.in_lamb} of {x.ewes} in lamb, {x.lambs} lambs. "
    text += f"{x.ready} ready {_dates(x.ready_from, x.ready_to, m)}"
    if x.loads is not None and x.freight is not None and x.keep is not None and x.heads is not None:
        text += f" in {x.loads} load{'' if x.loads == 1 else 's'} of {say.number(x.heads, 0)}, "
        text += (
            f"{say.money(x.freight, farm, price=True)} freight and {say.money(x.keep, farm, price=True)} keep a head"
        )
    return text + "."


def coming(x: f.Coming, farm: Farm, m: Moment) -> str:
    """How many come ready each week; of many weeks the first ones."""
    weeks = [f"{say.day(w.start, m.today)} {say.number(w.heads, 0)}" for w in x.weeks if w.start > m.today]
    now = [f"this week {say.number(w.heads, 0)}" for w in x.weeks if w.start <= m.today]
    more = f", and {len(weeks) - 10} weeks more" if len(weeks) > 12 else ""
    first = [f"week from {w}" for w in weeks[:1]]
    text = f"Ready: {', '.join([*now, *first, *weeks[1 : 10 if more else 12]])}{more}."
    text += f" {x.head} in all" + (f", {x.unborn} of them not born yet" if x.unborn else "")
    if x.loads is not None and x.heads is not None:
        text += f": {x.loads} load{'' if x.loads == 1 else 's'} of about {say.number(x.heads, 0)}"
    return text + f". {figures(x.figures if x.unborn else x.figures[-1:])}"


_BOOK = {
    "first": "{} % lamb in 17 days (Teagasc 2014)",
    "litter": "{} lambs a ewe (Ehrhardt 2014)",
    "loss": "{} % lost (US Sheep Experiment Station 2019)",
    "days": "{} days to market (Ontario)",
}


def figures(of: Sequence[f.Figure]) -> str:
    """The figures a forecast rests on, whose they are: the farm's first, the book's with their sources."""
    said = [(x, _BOOK[x.name].format(_figure(x))) for x in of]
    own = [text.partition(" (")[0] for x, text in said if x.own]
    book = [text for x, text in said if not x.own]
    lines = [f"Your own: {', '.join(own)}." if own else "", f"By the book: {', '.join(book)}." if book else ""]
    return " ".join(x for x in lines if x)


def _figure(x: f.Figure) -> str:
    if x.name in ("first", "loss"):
        return say.number(x.value * 100, 0)
    return say.number(x.value, 0 if x.name == "days" else 1)


def _dates(start: date, end: date, m: Moment) -> str:
    return f"{say.day(start, m.today)} to {say.day(end, m.today)}"
