"""What was written, said back: first the fact in words that would be read the same way again, then what it means."""

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from bot.words import say
from bot.words.found import found, left_to_give
from bot.words.plan import plan_set
from rules import entries as e
from rules import findings as f
from rules.days import Moment
from rules.doses import near_ready
from rules.farm import Animal, Farm
from rules.sales import sale_days
from rules.travel import hold
from rules.weighing import Weighed

Echo = Callable[[Any, Farm], str]
MOST_SAID = 150  # letters of a reply in the alley


def subject(entry: e.About) -> str:
    """Who an entry is about."""
    if entry.tags:
        return say.tags(entry.tags)
    if entry.head is not None:
        return f"{entry.head} head" + (f" from {entry.group}" if entry.group else "")
    return entry.group or ""


def _lamb(lamb: e.Born) -> str:
    said = [lamb.sex or "lamb"]
    if lamb.weight is not None:
        said.append(f"{say.number(lamb.weight)} {lamb.unit}")
    if lamb.tag:
        said.append(f"tag {lamb.tag}")
    return ("dead " if lamb.alive is False else "") + " ".join(said)


def _lambing(entry: e.Lambing, farm: Farm) -> str:
    count = {1: "a single", 2: "twins", 3: "triplets"}.get(len(entry.born), f"{len(entry.born)} lambs")
    if all(b == e.Born() for b in entry.born):
        return f"{entry.dam or 'a ewe'} lambed {count}"
    return f"{entry.dam or 'a ewe'} lambed {say.words([_lamb(b) for b in entry.born])}"


def _dose(entry: e.Dose, farm: Farm) -> str:
    much = f" {say.amount(entry.amount, entry.unit or '')}" if entry.amount is not None else ""
    each = " each" if much and (entry.group or len(entry.tags) > 1) else ""
    why = f" for {entry.for_}" if entry.for_ else ""
    how = (f" {entry.route}" if entry.route else "") + (f", batch {entry.batch}" if entry.batch else "")
    return f"gave {subject(entry)} {entry.product}{much}{each}{how}{why}"


def _stage(entry: e.Stage, farm: Farm) -> str:
    had = "" if entry.colostrum is None else ", had colostrum" if entry.colostrum else ", no colostrum"
    return f"{subject(entry)} {'on creep' if entry.stage == 'creep' else entry.stage}{had}"


def _sale(entry: e.Sale, farm: Farm) -> str:
    if entry.what:
        what = f"{say.amount(entry.amount, entry.unit or '')} {entry.what}" if entry.amount is not None else entry.what
    else:
        what = subject(entry)
    price = f" at {say.money(entry.price, farm, price=True)} a {entry.per}" if entry.price is not None else ""
    total = f", {say.money(entry.total, farm, price=True)} in all" if entry.total is not None else ""
    mean = f", average {say.number(entry.mean_weight, 1)} {entry.unit}" if entry.mean_weight is not None else ""
    return f"sold {what}{price}{total}{mean}"


def _market(entry: e.MarketPrice, farm: Farm) -> str:
    span = ""
    if entry.from_ is not None or entry.to is not None:
        low = say.number(entry.from_) if entry.from_ is not None else ""
        span = f"{low}-{say.number(entry.to)} " if entry.to is not None else f"over {low} "
    per = f" a {entry.per}" if entry.per else ""
    return f"{span}{entry.what or 'lambs'} at {say.money(entry.price, farm, price=True)}{per}"


def _ration(entry: e.Ration, farm: Farm) -> str:
    return f"{entry.group} gets {say.amount(entry.amount, entry.unit)} {entry.item} a head a day from now on"


def _stock(verb: str) -> Echo:
    def said(entry: Any, farm: Farm) -> str:
        how = {"borrowed": " borrowed", "given_back": " given back", "lent": " lent", "spoiled": " thrown out"}
        to = f" to {entry.group}" if getattr(entry, "group", None) else ""
        who = f" ({entry.who})" if getattr(entry, "who", None) else ""
        verb_ = how.get(getattr(entry, "how", None) or "", verb)
        source = f" from {entry.supplier}" if getattr(entry, "supplier", None) else ""
        return f"{entry.item} {say.amount(entry.amount, entry.unit)}{verb_}{source}{to}{who}"

    return said


def _ordered(entry: e.Ordered, farm: Farm) -> str:
    due = f", comes {say.day(entry.due, entry.on)}" if entry.due else ""
    if entry.amount is None:
        return f"order of {entry.item}{due}"
    source = f" from {entry.supplier}" if entry.supplier else ""
    return f"ordered {say.amount(entry.amount, entry.unit or '')} {entry.item}{source}{due}"


def _shut(word: str) -> Echo:
    def said(entry: Any, farm: Farm) -> str:
        span = say.day(entry.from_, entry.on)
        if entry.to != entry.from_:
            span += f" to {say.day(entry.to, entry.on)}"
        return f"{entry.supplier} {word} {span}" + (f", {entry.hours}" if entry.hours else "")

    return said


def _scanned(entry: e.Scanned, farm: Farm) -> str:
    names = (("in_lamb", "in lamb"), ("empty", "empty"), ("singles", "singles"), ("twins", "twins"))
    said = [f"{getattr(entry, k)} {w}" for k, w in (*names, ("triplets", "triplets")) if getattr(entry, k) is not None]
    return f"{entry.group or ''} scanned {', '.join(said)}".strip()


def _bin_move(entry: e.BinMove, farm: Farm) -> str:
    from_ = f" from {entry.from_}" if entry.from_ else ""
    to = f" to {entry.to}" if entry.to else ""
    return f"moved {say.amount(entry.amount, entry.unit)}{' ' + entry.crop if entry.crop else ''}{from_}{to}"


def _load(entry: e.Load, farm: Farm) -> str:
    much = f" {say.amount(entry.amount, entry.unit or '')}" if entry.amount is not None else ""
    wet = f" at {say.number(entry.moisture)} %" if entry.moisture is not None else ""
    field = f" off {entry.field}" if entry.field else ""
    to = f" to {entry.to}" if entry.to else ""
    return f"load of {entry.crop or 'grain'}{much}{wet}{field}{to}"


def _correct(entry: e.Correct, farm: Farm) -> str:
    was = f", was {say.number(entry.was)}" if entry.was is not None else ""
    if entry.tag and entry.weight is not None:
        return f"{entry.tag} changed to {say.weight(entry.weight, farm, entry.unit)}{was}"
    if entry.item and entry.amount is not None:
        return f"{entry.item} changed to {say.amount(entry.amount, entry.unit or '')}{was}"
    return "changed"


def _breeding(words: str) -> Echo:
    def said(entry: Any, farm: Farm) -> str:
        head = f" {entry.head} ewes" if getattr(entry, "head", None) is not None else ""
        rams = f" ({say.tags(entry.rams)})" if getattr(entry, "rams", ()) else ""
        synced = ", synced" if getattr(entry, "synced", None) else ""
        return f"{words} {entry.group or 'the ewes'}{rams}{',' if head else ''}{head}{synced}"

    return said


def _remind(entry: e.Remind, farm: Farm) -> str:
    at = f" {entry.time}" if entry.time else ""
    who = entry.who if entry.who and entry.who in {p.name for p in farm.plan.person} else "you"
    of_month = f" on the {entry.of_month}{'st' if entry.of_month == 31 else 'th'}" if entry.of_month else ""
    again = f" {_every(entry.every)}{of_month}, first" if entry.every else ""
    end = f", till {say.day(entry.until, entry.on)}" if entry.until else ""
    return f"I'll remind {who}{again} {say.day(entry.due, entry.on)}{at}{end}: {entry.text}"


def _every(every: str) -> str:
    """How often a job comes round: "every 2 weeks", "every Mon and Thu"."""
    count, _, unit = every.partition(" ")
    if unit not in ("days", "months"):
        return "every " + say.words([name[:3].capitalize() for name in every.split()])
    n, noun = int(count), unit[:-1]
    if noun == "day" and n % 7 == 0:
        n, noun = n // 7, "week"
    return f"every {noun}" if n == 1 else f"every {n} {noun}s"


def _arrived(entry: e.Arrived, farm: Farm) -> str:
    into = f" into {entry.group}" if entry.group and entry.tags else ""
    return f"{subject(entry)} arrived{into}" + (f" from {entry.from_}" if entry.from_ else "")


def _product(entry: e.Product, farm: Farm) -> str:
    dose = f" dose {entry.dose}" if entry.dose else ""
    days = f" withdrawal {entry.withdrawal_days} days" if entry.withdrawal_days is not None else ""
    return f"{entry.product}:{dose}{',' if dose and days else ''}{days}"


_ECHO: dict[type[e.Said], Echo] = {
    e.Weight: lambda x, farm: f"{x.tag} {say.weight(x.weight, farm, x.unit)}",
    e.GroupWeight: lambda x, farm: (
        f"{x.group or 'group'} averaged {say.number(x.mean)} {x.unit}" + (f", {x.head} head" if x.head else "")
    ),
    e.Lambing: _lambing,
    e.Foster: lambda x, farm: f"fostered {x.tag} onto {x.dam}",
    e.Dose: _dose,
    e.Stage: _stage,
    e.Arrived: _arrived,
    e.Tagged: lambda x, farm: (
        f"tagged {x.tag}"
        + (f", out of {x.dam}" if x.dam else "")
        + (f", born {say.day(x.born, x.on)}" if x.born else "")
    ),
    e.Retagged: lambda x, farm: f"{x.tag} is now tag {x.to}",
    e.Move: lambda x, farm: f"moved {subject(x)} to {x.to}",
    e.HeadCount: lambda x, farm: f"{x.head} head in {x.group or 'all'}",
    e.Loss: lambda x, farm: f"lost {subject(x)}" + (f", {x.cause}" if x.cause else ""),
    e.Cull: lambda x, farm: f"{subject(x)} to go with a next load",
    e.Ship: lambda x, farm: f"shipped {subject(x)}" + (f" to {x.to}" if x.to else ""),
    e.Sale: _sale,
    e.SaleDay: lambda x, farm: f"sale {say.day(x.date, x.on)}" + ("" if x.held else " is off"),
    e.MarketPrice: _market,
    e.Eggs: lambda x, farm: f"{x.count} eggs",
    e.InsertsIn: _breeding("inserts in"),
    e.InsertsOut: _breeding("inserts out of"),
    e.RamsIn: _breeding("rams in with"),
    e.RamsOut: _breeding("rams out of"),
    e.Marked: lambda x, farm: f"{x.head} ewes marked" + (f" in {x.group}" if x.group else ""),
    e.Scanned: _scanned,
    e.Received: _stock(" came"),
    e.Used: _stock(" used"),
    e.OnHand: _stock(" left"),
    e.Ordered: _ordered,
    e.Ration: _ration,
    e.Closed: _shut("shut"),
    e.Open: _shut("open"),
    e.BinLevel: lambda x, farm: f"{x.bin} at {say.amount(x.amount, x.unit)}{' ' + x.crop if x.crop else ''}",
    e.BinMove: _bin_move,
    e.Load: _load,
    e.Fieldwork: lambda x, farm: (
        f"{x.field} {x.work}" + (f", {say.amount(x.area, x.unit or '')}" if x.area is not None else "")
    ),
    e.Remind: _remind,
    e.Correct: _correct,
    e.Done: lambda x, farm: f"{'no more reminders' if x.stop else 'done'}: {x.text or x.tag or x.group or ''}",
    e.Product: _product,
    e.Note: lambda x, farm: f"noted {say.tags(x.tags) if x.tags else x.group or ''}: {x.text}",
    e.PlanSet: plan_set,
    e.AnimalSet: lambda x, farm: f"{x.tag} is on the list" + (f", in {x.group}" if x.group else ""),
}


def echo(entry: e.Entry, farm: Farm, today: date) -> str:
    """One entry, said back; its day where that is not today."""
    return _ECHO[type(entry)](entry, farm) + say.on(entry.on, today)


def weighed(entry: e.Weight, farm: Farm, today: date, ready_so_far: int | None) -> str:
    """A weight with what it means: ready or what it lacks, and the gain since the last weighing."""
    animal = farm.animals.get(farm.now_tagged(entry.tag))
    last = animal is not None and bool(animal.weighings) and animal.weighings[-1].on == entry.on
    said = [echo(entry, farm, today) + (to_go(animal, farm) if last else "")]
    if animal and last and (told := since_last(animal, farm)):
        said.append(told)
    text = ". ".join(said) + "."
    if ready_so_far:
        text += f" {ready_so_far} ready so far."
    return text


def to_go(animal: Animal | None, farm: Farm) -> str:
    """ ", ready" or ", 2 to go" for an animal that is to be sold."""
    ship = farm.plan.ship
    if animal is None or ship.min is None or not animal.weighings or not is_for_market(animal, farm):
        return ""
    last, on = animal.weighings[-1].weight, animal.weighings[-1].on
    if last < ship.min:
        return f", {say.number(ship.min - last, 1)} to go"
    over = ship.max is not None and last > ship.max
    means = f", {say.number(last - ship.max, 1)} over" if over and ship.max is not None else ", ready"
    held = hold(farm, animal, on)
    return f"{means} but {_held(held, on)}" if held else means


def _held(held: f.Hold, today: date) -> str:
    if held.until is not None:
        return f"held till {say.day(held.until, today)}"
    return f"noted: {held.why[:40]}" if held.why else f"held for {held.product}"


def is_for_market(animal: Animal, farm: Farm) -> bool:
    return animal.here and animal.group in farm.keeping("market lambs", "bottle lambs")


def since_last(animal: Animal, farm: Farm) -> str:
    """The gain since the weighing before, or since birth, over at least three days."""
    if not animal.weighings:
        return ""
    last = animal.weighings[-1]
    before = [(w.on, w.weight) for w in animal.weighings[:-1] if (last.on - w.on).days >= 3]
    if before:
        day, weight = before[-1]
        words = f" since {say.day(day, last.on)}"
    elif animal.born and animal.birth_weight is not None and (last.on - animal.born).days >= 7:
        day, weight, words = animal.born, animal.birth_weight, " since birth"
    else:
        return ""
    return say.gain((last.weight - weight) / Decimal((last.on - day).days), farm) + words


def kept(entries: Sequence[e.Entry], farm: Farm, today: date, ready_so_far: int | None = None) -> str:
    """All that one message wrote, in the order said."""
    single = len(entries) == 1
    weights = [x for x in entries if isinstance(x, e.Weight)]
    if len(weights) == len(entries) > 1:
        return _several(weights, farm, today, ready_so_far)
    lines = []
    for entry in entries:
        if isinstance(entry, e.Weight):
            lines.append(weighed(entry, farm, today, ready_so_far if single else None))
        else:
            lines.append(_sentence(echo(entry, farm, today)))
    if len(lines) > 10:
        lines = [f"{len(entries)} kept" + (f", {len(weights)} weights" if weights else "") + ".", *lines[:6]]
        lines.append(f"and {len(entries) - 6} more.")
    if ready_so_far and not single:
        lines.append(f"{ready_so_far} ready so far.")
    return "\n".join(lines)


def _several(weights: Sequence[e.Weight], farm: Farm, today: date, ready_so_far: int | None) -> str:
    """Several weights of one message: each said back, in two lines of a telephone."""
    parts = []
    for x in weights:
        animal = farm.animals.get(farm.now_tagged(x.tag))
        last = animal is not None and bool(animal.weighings) and animal.weighings[-1].on == x.on
        parts.append((f"{x.tag} {say.number(x.weight, 1)}", to_go(animal, farm) if last else ""))
    on = {x.on for x in weights}
    day = say.on(weights[0].on, today) if len(on) == 1 else ""
    ready = f" {ready_so_far} ready so far." if ready_so_far else ""
    text = "; ".join(what + means for what, means in parts)
    if len(text) > MOST_SAID - len(ready) - len(day):
        text = f"{len(parts)} kept: " + ", ".join(what for what, _ in parts[:12])
        text += f" and {len(parts) - 12} more" if len(parts) > 12 else ""
    return f"{text}{day}.{ready}"


def _sentence(text: str) -> str:
    """With a full stop; a capital only where the first word is plainly one of ours, never on a farm name."""
    first = text.split(" ", 1)[0]
    starts = ("gave", "lost", "moved", "shipped", "sold", "load", "noted", "tagged", "ordered", "order", "rams",
              "inserts", "fostered", "done:", "sale", "item", "group", "supplier", "product", "person", "bin", "field",
              "crop", "weigh", "ship", "no")  # fmt: skip
    return (text[0].upper() + text[1:] if first in starts else text).rstrip(".") + "."


def meaning(findings: Sequence[f.Finding], farm: Farm, m: Moment, told: Sequence[e.Entry] = ()) -> list[str]:
    """What the rules say to what was just written, without saying the fact again."""
    apart = f.Withdrawal | f.DoseDue
    lines = [lasts(x, m) or found(x, farm, m) for x in findings if not isinstance(x, apart) and not _untold(x)]
    holds = [x for x in findings if isinstance(x, f.Withdrawal)]
    open_ = [x for x in holds if x.until is None]
    if open_:
        who = open_[0].tag or open_[0].group if len(open_) == 1 else f"{len(open_)}"
        lines.append(f"{who} held until somebody tells the days of {open_[0].product}.")
    elif any(t.head is not None and farm.tagged(t.group) for t in told if isinstance(t, e.Dose)):
        pass  # which they were is asked for, and what is held until then said with it
    elif holds:
        latest = max(holds, key=lambda x: (x.until or date.max, x.tag or ""))
        until = say.day(latest.until, m.today) if latest.until else ""
        lines.append(f"Held till {until}." if len(holds) == 1 else f"{len(holds)} held till {until}.")
        lines += _misses([x.tag for x in holds if x.tag and x.until], latest.until, farm, m)
    left = [x for x in findings if isinstance(x, f.DoseDue)]
    return lines[:6] + ([left_to_give(left, farm, m)] if left else [])


def _misses(tags: Sequence[str], until: date | None, farm: Farm, m: Moment) -> list[str]:
    """The sale that lambs of ship weight, or nearly, miss by a hold."""
    sale = next(iter(sale_days(farm, m.today, 1)), None)
    animals = [farm.animals[t] for t in tags if t in farm.animals]
    near = [
        a.tag for a in animals
        if sale and is_for_market(a, farm) and a.weighings
        and near_ready(farm, a.weighings[-1].on, a.weighings[-1].weight, sale)
    ]  # fmt: skip
    if not (sale and until and near and sale < until):
        return []
    return [f"{say.tags(near, 6)} {'misses' if len(near) == 1 else 'miss'} the sale {say.day(sale, m.today)}."]


def _untold(x: f.Finding) -> bool:
    """An item of which nothing tells the use: there is nothing to say beyond what was just said back."""
    return isinstance(x, f.RunOut) and x.level == "know" and x.runs_out is None


def lasts(x: f.Finding, m: Moment) -> str | None:
    """How long an item lasts, where nothing is to be done about it yet."""
    if not isinstance(x, f.RunOut) or x.level != "know" or x.runs_out is None:
        return None
    by = f" Order by {say.time(x.order_by, m.now)}." if x.order_by else ""
    return (
        f"{x.item} lasts till {say.ends(x, m)}, {say.number(x.per_day, 1 if x.per_day >= 1 else 2)} {x.unit} a day.{by}"
    )


def weighing(w: Weighed, farm: Farm, today: date) -> str:
    """The sum of a run of weights, when it is done."""
    unit = farm.plan.farm.weight
    text = f"{w.head} weighed, {say.number(w.least, 1)} to {say.number(w.most, 1)} {unit}, mean {say.number(w.mean, 1)}"
    text += f", spread {say.number(w.spread, 1)}." if w.head > 2 else "."
    if farm.plan.ship.min is not None:
        text += f" {len(w.ready)} ready."
        if w.held:
            text += f" Held: {say.tags(w.held, 6)}."
        if w.near:
            by = f" by {say.day(w.sale, today)}" if w.sale else ""
            text += (
                f" {len(w.near)} more{by}: "
                + say.words([f"{t} ({say.number(x, 1)} to go)" for t, x in w.near[:6]])
                + "."
            )
    if w.gain is not None:
        text += f" Gain since last time {say.gain(w.gain, farm)}."
    if w.odd:
        text += f" Look at {say.tags(w.odd, 6)}: no gain."
    if w.missing:
        text += f" Not weighed: {say.tags(w.missing, 8)}."
    return text
