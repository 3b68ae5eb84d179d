"""Answers to questions: the answer first, then why, then stop. Made from the findings and the farm as it stands."""

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal

from bot.reading import Question
from bot.words import say
from bot.words.ahead import figures
from bot.words.examples import help_screen
from bot.words.found import CAUTIONS, advice, found, held, hold, lines, price_age, together
from bot.words.kept import is_for_market, since_last
from bot.words.land import bins, eggs, loads
from rules import findings as f
from rules.days import Moment
from rules.farm import Animal, Farm
from rules.spent import spent
from rules.weighing import to_weigh

Answer = Callable[[Question, Sequence[f.Finding], Farm, Moment], str]
_NO_SHIP_WEIGHT = "I don't know the ship weight yet. Tell me, like: ship from 42 to 48 kg."
_MOST = 8  # lines of a list before the rest is counted


def answer(question: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    """The answer to a question, from the findings it was answered with."""
    return _ANSWERS[question.about](question, findings, farm, m)


def _lines(lines: Sequence[str], most: int = _MOST) -> str:
    if len(lines) <= most:
        return "\n".join(lines)
    return "\n".join([*lines[:most], f"and {len(lines) - most} more."])


def _ready(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    found_ = [x for x in findings if isinstance(x, f.Ready)]
    if not found_:
        return _NO_SHIP_WEIGHT
    x = found_[0]
    if len(found_) > 1:
        return _what_if(q, x, found_[1], farm, m)
    if q.about == "ship_plan":
        return found(x, farm, m)
    if q.group:
        return _ready_in(q.group, x, farm, m)
    text = found(x, farm, m)
    if x.advice != "ship" and x.tags:
        text += f" Ready: {say.tags(x.tags, 24)}."
    return text


def _what_if(q: Question, x: f.Ready, advised: f.Ready, farm: Farm, m: Moment) -> str:
    """A load supposed, beside the next one as it is advised."""
    when = say.day(x.sale, m.today) if x.sale else "then"
    if q.wait is not None:
        text = f"By {when}: likely {x.low} to {x.high} ready, {advised.now} now."
        text += f" {say.tags(advised.heavy, 6)} would go over {_top(farm)} by waiting." if advised.heavy else ""
    elif x.tags:
        which = f"over {say.number(q.over)}" if q.over is not None else "ready"
        text = f"{len(x.tags)} {which} {when}: {say.tags(x.tags, 24)}."
        if x.per_head_now is not None and x.per_head_wait is not None:
            differ = x.per_head_now - x.per_head_wait
            left, much = (say.money(v, farm, price=True) for v in (x.per_head_now, abs(differ)))
            text += f" {left} a head is left, {much} {'more' if differ >= 0 else 'less'} than with the sale after."
    else:
        text = f"None {'over ' + say.number(q.over) if q.over is not None else 'ready'} {when}."
    text += "".join(f" {hold(h, m)}" for h in x.held[:3] if h.tag not in {y.tag for y in advised.held})
    advice_ = advice(advised, farm, m)
    return f"{text} As it stands, {advice_[:1].lower()}{advice_[1:]}{price_age(advised, m)}"


def _top(farm: Farm) -> str:
    return say.number(farm.plan.ship.max) if farm.plan.ship.max is not None else "the top weight"


def _ready_in(group: str, x: f.Ready, farm: Farm, m: Moment) -> str:
    """Who of one group makes the weight by now, by the last weighing."""
    minimum = farm.plan.ship.min
    held = {h.tag: h for h in x.held}
    there = [a for a in farm.in_group(group) if a.weighings and minimum and a.weighings[-1].weight >= minimum]
    free = [a.tag for a in there if a.tag not in held]
    text = f"{len(free)} of {group} ready by their last weighing"
    text += f": {say.tags(free, 24)}." if free else "."
    kept = [hold(held[a.tag], m) for a in there if a.tag in held]
    return " ".join([text, *kept[:3]])


def _close(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    minimum = farm.plan.ship.min
    if q.weigh:
        return _weigh_list(q, farm, m)
    found_ = [x for x in findings if isinstance(x, f.Ready)]
    if minimum is None or not found_:
        return _NO_SHIP_WEIGHT
    near = [farm.animals[t] for t in found_[0].close if not q.group or farm.animals[t].group == q.group]
    lines = [
        f"{a.tag} {say.number(a.weighings[-1].weight, 1)}, {say.number(minimum - a.weighings[-1].weight, 1)} to go"
        f"{_when_weighed(a, m)}"
        for a in sorted(near, key=lambda a: (-(a.weighings[-1].weight if a.weighings else 0), a.tag))
        if a.weighings
    ]
    if not lines:
        return f"None close{' in ' + q.group if q.group else ''}."
    return _lines([f"{len(lines)} close to {say.weight(minimum, farm)}:", *lines], 10)


def _weigh_list(q: Question, farm: Farm, m: Moment) -> str:
    """Whom to weigh before the sale; the rest by how many, and why not."""
    listed = to_weigh(farm, m, q.by, q.group)
    if listed is None:
        return "No tagged lambs for sale, or no ship weight told." if not q.group else f"None for sale in {q.group}."
    rest = [(listed.surely, "surely ready"), (listed.short, "surely not"), (listed.held, "held")]
    others = say.words([f"{n} {why}" for n, why in rest if n])
    by = f"for {say.day(listed.sale, m.today)}"
    if not listed.open:
        return f"Nobody to weigh {by}: {others}." if others else f"Nobody to weigh {by}."
    more = f" and {len(listed.open) - 16} more" if len(listed.open) > 16 else ""
    text = f"Weigh {len(listed.open)} {by}: {say.tags(sorted(x.tag for x in listed.open[:16]), 16)}{more}."
    return f"{text} {others[0].upper()}{others[1:]}." if others else text


def _when_weighed(animal: Animal, m: Moment) -> str:
    on = animal.weighings[-1].on
    return "" if on == m.today else f" ({say.day(on, m.today)})"


def _when_ready(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    growth = [x for x in findings if isinstance(x, f.Growth)]
    minimum = farm.plan.ship.min
    if minimum is None:
        return _NO_SHIP_WEIGHT
    if q.tag:
        if not growth:
            return f"I can't tell for {q.tag}: no weights to go by."
        x = growth[0]
        if x.ready is None:
            gain = f" at {say.gain(x.gain, farm)}" if x.gain is not None else ""
            return f"{q.tag}: not in sight{gain}."
        if x.ready <= m.today:
            return f"{q.tag}: at {say.number(minimum)} now, about {say.weight(x.weight, farm)}."
        gain = f", {say.gain(x.gain, farm)}" if x.gain is not None else ""
        return f"{q.tag}: about {say.day(x.ready, m.today)}{gain}."
    days = sorted(x.ready for x in growth if x.ready)
    if not days:
        return "No weights to go by yet."
    half = days[(len(days) - 1) // 2]
    ready = sum(d <= m.today for d in days)
    return (
        f"{ready} of {len(growth)} at {say.number(minimum)} now, half of them by {say.day(half, m.today)}, "
        f"the last about {say.day(days[-1], m.today)}."
    )


def _growth(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    if q.split or q.adjusted is not None:
        return _lines([found(x, farm, m) for x in findings]) or "No weights to go by yet."
    growth = [x for x in findings if isinstance(x, f.Growth)]
    if not growth:
        return "No weights to go by yet."
    if q.tag:
        animal = farm.animals.get(q.tag)
        since = since_last(animal, farm) if animal else ""
        return found(growth[0], farm, m) + (f" Last: {since}." if since else "")
    gains = sorted((x.gain, x.tag) for x in growth if x.gain is not None)
    if not gains:
        return "No weights to go by yet."
    mean = mean_gain(growth)
    text = f"{q.group or 'All for market'}: {say.gain(mean, farm)} on average, {len(gains)} head."
    slow = [t for g, t in gains if g < mean * Decimal("0.6")]
    best = gains[-1]
    text += f" Best {best[1]}, {say.gain(best[0], farm)}."
    return text + (f" Slow: {say.tags(slow, 8)}." if slow else "")


def mean_gain(growth: Sequence[f.Growth]) -> Decimal:
    """The mean of the gains that are known; there is at least one."""
    gains = [x.gain for x in growth if x.gain is not None]
    return sum(gains, Decimal(0)) / len(gains)


def _animal(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    animal = farm.animals.get(farm.now_tagged(q.tag or ""))
    if animal is None:
        return "Which animal?"
    first = [f"{animal.tag}: {animal.sex or 'sheep'}" + (f" in {animal.group}" if animal.group else "")]
    if not animal.here:
        first.append(f"{animal.status} {say.day(animal.gone, m.today)}" if animal.gone else animal.status)
    if animal.born:
        first.append(f"born {say.day(animal.born, m.today)}" + (f" of {animal.dam}" if animal.dam else ""))
    lines = [", ".join(first) + "."]
    if animal.weighings:
        w = animal.weighings[-1]
        since = since_last(animal, farm)
        lines.append(f"{say.weight(w.weight, farm)} {say.day(w.on, m.today)}" + (f", {since}." if since else "."))
    for x in findings:
        if (isinstance(x, f.Growth) and animal.here and is_for_market(animal, farm)) or isinstance(x, f.Withdrawal):
            lines.append(found(x, farm, m))
    for d in animal.doses[-3:]:
        lines.append(f"{d.product} {say.day(d.on, m.today)}{' for ' + d.for_ if d.for_ else ''}.")
    lines += [f"{say.day(on, m.today)}: {text}." for on, text in animal.notes[-2:]]
    if animal.lambed:
        on, count = animal.lambed[-1]
        lines.append(f"Lambed {count} {say.day(on, m.today)}.")
    return "\n".join(lines)


def _stock(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    told = {x.item: x for x in findings if isinstance(x, f.RunOut)}
    items = [i for i in farm.plan.item if q.item in (None, i.name) and q.supplier in (None, i.supplier)]
    lines = []
    for item in items:
        if item.name in told:
            lines.append(found(told[item.name], farm, m))
        elif q.item:
            lines.append(f"{item.name}: nobody has counted it yet. Tell me, like: 3 {item.unit}s {item.name} left.")
    if not lines:
        return "Nothing counted yet. Tell me, like: 3 bags milk left."
    return _lines(lines)


def _lasts(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    text = _stock(q, findings, farm, m)
    x = next((x for x in findings if isinstance(x, f.RunOut) and x.item == q.item), None)
    if x is None or q.by is None or x.runs_out is None:
        return text
    enough = x.runs_out > q.by
    return f"{'Yes' if enough else 'No'}, {'past' if enough else 'not to'} {say.day(q.by, m.today)}: {text}"


def _order(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    late = [found(x, farm, m) for x in findings if isinstance(x, f.OrderLate)]
    orders = [x for x in findings if isinstance(x, f.RunOut | f.DoseDue | f.KitShort)]
    if q.item and orders:
        x = next((x for x in orders if x.level != "know"), orders[0])
        if x.level == "know":
            by = f", order by {say.time(x.order_by, m.now)}" if x.order_by else ""
            return f"Not yet{by}. {found(x, farm, m)}"
        return found(x, farm, m)
    if not orders:
        return "\n".join(["Nothing to order this week.", *late])
    lines = []
    for supplier in dict.fromkeys(x.supplier for x in orders):  # one list for each, to read out on the phone
        mine = [x for x in orders if x.supplier == supplier]
        last = min((x.order_by for x in mine if x.order_by), default=None)
        by = f", by {say.time(last, m.now)}" if last else ""
        lines.append(f"{supplier or 'Somewhere'}: {say.words(_wanted(mine))}{by}.")
    return _lines([*lines, *late])


def _wanted(orders: Sequence[f.RunOut | f.DoseDue | f.KitShort]) -> list[str]:
    """Each item once, with as much of it as is wanted for all."""
    wanted: dict[str, tuple[Decimal, str]] = {}
    for x in orders:
        match x:
            case f.KitShort():
                name, much, unit = x.item, x.needed - (x.on_hand or 0), x.unit
            case f.DoseDue():
                name, much, unit = x.product, x.order_amount or Decimal(0), x.unit
            case _:
                name, much, unit = x.item, x.order_amount or Decimal(0), x.unit
        before = wanted.get(name, (Decimal(0), ""))[0]
        wanted[name] = max(before, much), unit or ""
    return [f"{say.amount(much, unit)} {name}" if much else name for name, (much, unit) in wanted.items()]


def _open(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    on = q.by or m.today
    names = [q.supplier] if q.supplier else [s.name for s in farm.plan.supplier if s.name in m.openings]
    return _lines([_open_on(name, on, m) for name in names]) or "Nobody has told me any opening hours."


def _open_on(name: str, on: date, m: Moment) -> str:
    if name not in m.openings:
        return f"Nobody has told me when {name} is open."
    times = [o for o in m.openings[name] if o.start.date() == on]
    why = m.closures.get(name, {}).get(on) or m.holidays.get(on)
    if times:
        spans = " and ".join(f"{o.start:%H:%M} to {o.end:%H:%M}" for o in times)
        return f"{name} is open {say.day(on, m.today)}, {spans}" + (f" ({why})." if why else ".")
    after = next((o for o in m.openings[name] if o.start.date() > on), None)
    opens = f" Opens {say.time(after.start, m.now)}." if after else ""
    return f"{name} is shut {say.day(on, m.today)}" + (f" ({why})." if why else ".") + opens


def _due(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    now = [x for x in findings if x.level != "know"]
    later = [x for x in findings if x.level == "know"]
    about = q.tag or q.group or q.product
    if not now and not later:
        return f"Nothing due{' for ' + about if about else ''}."
    shown = now or later
    text = _lines(
        [_whose(x, farm) + line for (x, _), line in zip(together(shown, m.today), lines(shown, farm, m), strict=True)]
    )
    return text if now else f"Nothing due now. Next:\n{text}"


def _whose(x: f.Finding, farm: Farm) -> str:
    """Whose job it is, where it is no owner's."""
    who = getattr(x, "who", None)
    return next((f"{p.name}: " for p in farm.plan.person if p.name == who and p.role != "owner"), "")


def _withdrawal(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    on = q.by or m.today
    holds = [x for x in findings if isinstance(x, f.Withdrawal)]
    stop = [x for x in holds if x.until is None or x.until > on]
    if q.tag:
        if stop:
            return f"{q.tag} no: " + " ".join(held(x, m) for x in stop)
        over = f" Was held till {say.day(holds[-1].until, m.today)}." if holds and holds[-1].until else ""
        return f"{q.tag} yes{' ' + say.day(on, m.today) if q.by else ''}, no hold on it.{over}"
    product = farm.plan.product_named(q.product) if q.product else None
    if product and not q.group:
        if product.withdrawal_days is None:
            text = f"Nobody has told me the withdrawal of {product.name}: what do label and vet say?"
        else:
            text = f"{product.name}: {product.withdrawal_days} days as told me; the label and the vet decide."
        return _lines([text, *(found(x, farm, m) for x in stop)])
    if not stop:
        return f"None held{' in ' + q.group if q.group else ''}."
    return _lines([found(x, farm, m) for x in stop])


def _used(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    since, till = q.since or m.today.replace(day=1), q.till or m.today
    span = say.day(since, m.today) + ("" if since == till else f" to {say.day(till, m.today)}")
    rows = spent(farm, since, till, q.item)
    if not rows:
        return f"Nothing told or counted of {q.item or 'the stores'}, {span}."
    lines = []
    for x in rows:
        text = f"{x.item}: used {say.about(x.used, x.unit)}"
        text += f", about {say.money(x.worth, farm)}" if x.worth else ""
        text += f"; thrown out {say.about(x.lost, x.unit)}" if x.lost else ""
        text += f"; bought {say.about(x.bought, x.unit)}" if x.bought else ""
        text += f" for {say.money(x.paid, farm)}" if x.paid else ""
        lines.append(text + ".")
    paid, worth = sum(x.paid or 0 for x in rows), sum(x.worth or 0 for x in rows)
    sums = [f"bought for {say.money(Decimal(paid), farm)}"] if paid else []
    sums += [f"used about {say.money(Decimal(worth), farm)}"] if worth else []
    total = f", in all {' and '.join(sums)}" if sums and len(rows) > 1 else ""
    return _lines([f"{span[0].upper() + span[1:]}{total}:", *lines], 10)


def _head(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    groups = [q.group] if q.group else [g.name for g in farm.plan.group]
    heads = [(g, farm.head(g)) for g in groups]
    if q.group:
        counted = farm.counts.get(q.group)
        text = f"{heads[0][1]} in {q.group}"
        if counted and counted[-1][1] != heads[0][1]:
            text += f"; you counted {counted[-1][1]} {say.day(counted[-1][0], m.today)}"
        return text + "."
    return f"{sum(n for _, n in heads)} in all: " + ", ".join(f"{g} {n}" for g, n in heads) + "."


def _lambing(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    lines = [found(x, farm, m) for x in findings]
    return _lines(lines) or "No lambing in sight: no rams in that I know of."


def _mating(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    """A mating supposed beside the one it is set against, what both rest on, and what nobody knows."""
    plans = [x for x in findings if isinstance(x, f.MatingPlan)]
    if not plans or not plans[0].ewes:
        return "Which ewes, and how many? I know of none to put rams to."
    new = plans[0]
    text, unknown = f"{new.group}: {found(new, farm, m)}", ["whether they cycle then", "the price then"]
    for old in plans[1:]:
        how = "synced" if old.synced else f"rams {(old.out - old.rams).days} days from {say.day(old.rams, m.today)}"
        text += f"\n{how[:1].upper()}{how[1:]} instead: lambing to {say.day(old.to, m.today)}, {old.ready} ready to "
        text += say.day(old.ready_to, m.today)
        if new.freight is not None and new.keep is not None and old.freight is not None and old.keep is not None:
            saved = new.freight + new.keep - old.freight - old.keep
            text += f" in {old.loads} loads; freight and keep {say.money(abs(saved), farm, price=True)} a head "
            text += "less" if saved >= 0 else "more"
        text += "."
        if new.synced != old.synced:
            unknown = ["what inserts cost", *unknown]
    if new.synced:
        text += " 70 % hold to inserts (Reid and Shannon 1987)."
    return f"{text}\n{figures(new.figures)} I don't know {', '.join(unknown)}."


def _coming(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    lines = [found(x, farm, m) for x in findings]
    return _lines(lines) or "None in sight: no lambs growing and no rams in that I know of."


def _shipped(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    """The season, then the last load; culls and breeding stock are told apart from the lambs."""
    season = next((x for x in findings if isinstance(x, f.Season)), None)
    last = next((x for x in findings if isinstance(x, f.LoadMade)), None)
    untold = [x for x in farm.shipments if x.sale is None and x.on.year == m.today.year]
    text = found(season, farm, m) if season else "No lambs shipped or sold this year."
    if last is not None:
        text += f" Last: {found(last, farm, m)}"
    if untold:
        text += f" No price told yet for {untold[-1].head} of {say.day(untold[-1].on, m.today)}."
    return text


def _room(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    x = next((x for x in findings if isinstance(x, f.Room)), None)
    if x is None:
        return "No weights to go by yet."
    at = f"at {say.weight(x.weight, farm)}"
    if x.heads is None or q.space is None:
        stand, lie, fleece = (say.number(space) for space in x.space)
        text = f"{stand} m2 a head to stand {at}, {lie} to lie down, {fleece} in fleece."
        text += " Tell me the floor, like: how many fit in 12 by 6 ft."
    else:
        stands, lies, fleeces = x.heads
        on = f"{at} on {say.number(q.space)} m2"
        text = f"{lies} {on} with room to lie down, {stands} standing, {fleeces} in full fleece."
    return f"{text} {CAUTIONS['room']}"


_ANSWERS: dict[str, Answer] = {
    "ready": _ready,
    "close": _close,
    "when_ready": _when_ready,
    "ship_plan": _ready,
    "animal": _animal,
    "growth": _growth,
    "stock": _stock,
    "lasts": _lasts,
    "order": _order,
    "open": _open,
    "due": _due,
    "withdrawal": _withdrawal,
    "head": _head,
    "lambing_due": _lambing,
    "used": _used,
    "shipped": _shipped,
    "room": _room,
    "mating": _mating,
    "coming": _coming,
    "eggs": eggs,
    "bins": bins,
    "loads": loads,
    "help": lambda q, findings, farm, m: help_screen(farm),
}
