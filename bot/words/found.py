"""What the rules found, in words: one or two sentences a finding, verb first in anything to do, then why."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from bot.words import say
from bot.words.ahead import adjusted, coming, gains_by, load_made, mating, season
from rules import findings as f
from rules.days import Moment, day_of
from rules.farm import Farm

# What each caution of the outside interface says; one sentence, given once a day for the same matter.
CAUTIONS = {
    "label": "Label and vet decide doses and holds.",
    "withdrawal": "No slaughter before the hold is over.",
    "gorging": "After a gap in milk give small feeds first: they gorge and bloat; vet if one swells or goes down.",
    "colostrum": "Did it have colostrum? A lamb pulled without it needs it within hours; ask the vet.",
    "copper": "Check the label: feed or powder not made for sheep can hold copper that kills them.",
    "fit_to_travel": "Not fit, not loaded: lame, ill or heavily in lamb stays home; vet or local rules decide.",
    "room": "Give them room and air on the trailer, as the local transport rules ask.",
    "bin": "Nobody alone in a bin, never on flowing grain; mind the dust.",
    "losses": "Several deaths close together: call the vet.",
}


def run_out(x: f.RunOut, farm: Farm, m: Moment) -> str:
    if x.on_hand <= 0 and not x.coming:
        text = f"Out of {x.item}."
        if x.order_by is not None or x.supplier:
            text += " " + _order(x, m)
        if x.missed and (opens := next((o for o in m.openings.get(x.supplier or "", ()) if o.end > m.now), None)):
            shut = opens.start > m.now
            text += f" {x.supplier} opens {say.time(opens.start, m.now)}." if shut else f" {x.supplier} is open now."
        return text.strip() + _help(x, farm, m)
    holds = f"{x.item} {say.about(x.on_hand, x.unit)}"
    if x.per_day <= 0:
        return f"{holds}; I can't say how long it lasts, nothing tells me the use."
    if x.level == "know" and x.runs_out is None:
        return f"{holds}: lasts, nothing to order in the next months{_counted(x, m)}."
    if x.ask_count and x.level == "soon" and x.order_amount is None and not x.missed and x.counted is not None:
        now = say.about(x.on_hand, x.unit)
        return f"Count the {x.item}: I go by {say.day(x.counted, m.today)}, and by that it is {now}."
    ends = say.ends(x, m)
    if x.level == "know":
        more = f", {say.about(x.coming, x.unit)} coming" if x.coming else ""
        return f"{holds}{more}: lasts till {ends}, {_rate(x)} a day{_counted(x, m)}.{_surprise(x)}"
    count = f" I go by {say.day(x.counted, m.today)}: count it, too." if x.ask_count and x.counted else ""
    help_ = _help(x, farm, m) if x.missed else ""
    return f"{_order(x, m)} {holds}: gone {ends}{_because(x, m)}.{help_}{_surprise(x)}{count}"


def _rate(x: f.RunOut) -> str:
    return f"{say.number(x.per_day, 1 if x.per_day >= 1 else 2)} {x.unit}"


def _counted(x: f.RunOut, m: Moment) -> str:
    if x.counted is None or (m.today - x.counted).days < 3:
        return ""
    return f" (counted {say.day(x.counted, m.today)})"


def _order(x: f.RunOut, m: Moment) -> str:
    much = say.amount(x.order_amount, x.unit) + " " if x.order_amount is not None else ""
    from_ = f" from {x.supplier}" if x.supplier else ""
    if x.missed:
        help_ = "Borrow, or ration within the label's mixing."
        if x.order_amount is None and x.coming and x.arrives:
            return f"The {x.item} on its way for {say.day(x.arrives, m.today)} may come too late. {help_}"
        back = f" The next delivery is {say.day(x.arrives, m.today)}" if x.arrives else ""
        back += f": order {much.strip()} now." if back and much else "." if back else ""
        return f"Too late to order {x.item} in time.{back} {help_}"
    if x.order_by is None:
        return f"Order {much}{x.item}{from_} now."
    return f"Order {much}{x.item}{from_} by {say.time(x.order_by, m.now)}."


def _because(x: f.RunOut, m: Moment) -> str:
    if not x.closed:
        return ""
    why = f" ({', '.join(dict.fromkeys(x.because))})" if x.because else ""
    return f"; {x.supplier or 'the supplier'} shut {say.days(x.closed, m.today)}{why}"


def _help(x: f.RunOut, farm: Farm, m: Moment) -> str:
    """Where else it may be had before the supplier brings it: another supplier open sooner, who lent some before."""
    before = datetime.combine(x.arrives, time(), m.now.tzinfo) if x.arrives else m.now + timedelta(days=7)
    first = {name: next((o for o in m.openings[name] if o.end > m.now), None) for name in m.openings}
    others = {item.supplier for item in farm.plan.item if item.feeds} - {x.supplier}  # no feed where diesel is sold
    soon = [(max(o.start, m.now), name) for name, o in first.items() if o and o.start < before and name in others]
    text = ""
    if x.missed and soon:
        opens, name = min(soon)
        text = f" {name} {'is open now' if opens == m.now else f'opens {say.time(opens, m.now)}'}: ask there."
    lent = [f.who for f in farm.stock.get(x.item, ()) if f.how == "borrowed" and f.who]
    return text + (f" You borrowed from {lent[-1]} before." if lent else "")


def _surprise(x: f.RunOut) -> str:
    if x.usual is None:
        return ""
    more = x.per_day > x.usual
    return (
        f" It goes {'faster' if more else 'slower'} than I thought: {_rate(x)} a day, not {say.number(x.usual, 1)}"
        + (": more mouths, or a leak?" if more else ".")
    )


def order_late(x: f.OrderLate, farm: Farm, m: Moment) -> str:
    much = f"{say.amount(x.amount, x.unit or '')} " if x.amount is not None else ""
    who = f"Call {x.supplier}" if x.supplier else "Call the supplier"
    return f"{who}: {much}{x.item} was due {say.day(x.was_due, m.today)} and I have not heard it came."


def dose_due(x: f.DoseDue, farm: Farm, m: Moment, of: Sequence[f.DoseDue] = ()) -> str:
    """A step of a dose plan; `of` are the animals' windows it stands for, where they differ."""
    of = sorted(of or (x,), key=lambda y: (y.to, y.from_))
    who = f"{_lambs(x, farm)}, {x.step}"
    short = x.order_amount is not None or (x.doses_on_hand or 0) < (x.doses_needed or 0)
    have = _in_fridge(x, m)
    order = say.amount(x.order_amount, x.unit or "") if x.order_amount else ""
    order += f" from {x.supplier}" if x.supplier else ""
    order += f" by {say.time(x.order_by, m.now)}" if x.order_by else ""
    uncounted = short and x.doses_on_hand is None and farm.plan.item_named(x.product) is not None
    if short and x.from_ > m.today and (order or uncounted):  # the bottle comes first
        for_ = f"for {who}, {_windows(of, m)}"
        if uncounted:
            text = f"Count the {x.product}: {_doses(x.doses_needed or 0)} wanted {for_}."
        else:
            much = order.replace(" from ", f" {x.product} from ", 1) if x.order_amount else f"{x.product}{order}"
            text = f"Order {much}: {have}, {for_}."
    else:
        text = f"Dose {who} {x.product}: {_windows(of, m)}."
        if any(y.missed for y in of):
            text += _LATE.get(x.late or "", " What now, label and vet say.")
        if x.close:
            text += f" The last was {say.day(x.close, m.today)}: label and vet say if that is long enough ago."
        if uncounted:
            text += f" {_doses(x.doses_needed or 0)} needed, none counted: have you a bottle?"
        elif short and x.doses_on_hand is not None:
            text += f" {have}: order {order}." if order else f" {have}{_comes(x, m)}."
        elif x.doses_on_hand is not None:
            text += f" {_doses(x.doses_on_hand)} in the fridge."
    if x.holds_until is not None:
        past = f", past the sale {say.day(x.sale, m.today)}" if x.sale else ""
        text += f" It holds them till {say.day(x.holds_until, m.today)}{past}."
    return text


def left_to_give(xs: Sequence[f.DoseDue], farm: Farm, m: Moment) -> str:
    """Who still is to be dosed now, in one line: those whose window ends first, and how many more."""
    said = together(xs, m.today)
    x, of = said[0]
    assert isinstance(x, f.DoseDue)
    first = sorted((y for y in of if isinstance(y, f.DoseDue)), key=lambda y: (y.to, y.from_))
    more = sum(y.head or len(y.tags) for y, _ in said[1:] if isinstance(y, f.DoseDue))
    text = f"Still to dose: {_lambs(x, farm)}, {x.step} {x.product}, {_windows(first, m)}"
    return text + (f"; and {more} more." if more else ".")


def _in_fridge(x: f.DoseDue, m: Moment) -> str:
    """Why there is too little: not enough, an opened bottle that does not keep, or others who need it before."""
    have, needed = x.doses_on_hand or 0, x.doses_needed or 0
    if x.opened_till:
        return f"the opened bottle keeps till {say.day(x.opened_till, m.today)}"
    if have < needed:
        return f"{have} of {_doses(needed)} in the fridge"
    return f"{_doses(have)} in the fridge, wanted before"


def _comes(x: f.DoseDue, m: Moment) -> str:
    return f", more comes {say.day(x.arrives, m.today)}" if x.arrives else ""


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


_LATE = {
    "ask": " Carry on, or start the series again: what do label and vet say?",
    "carry on": " Carry on with it, as told me.",
    "start again": " Start the series again with it, as told me.",
}


def _lambs(x: f.DoseDue, farm: Farm) -> str:
    """Who a step is for: lambs at foot are not to be taken for the ewes of their group."""
    at_foot = any(p.name == x.plan and p.for_ == "lambs at foot" for p in farm.plan.dose_plan)
    count = x.head or len(x.tags)
    if at_foot and not (x.tags and len(x.tags) <= 6):
        return f"{count} lambs at foot in {x.group}"
    return _some(x.tags, x.group, x.head)


def _windows(of: Sequence[f.DoseDue], m: Moment) -> str:
    """The window, or who of them must have it first, and by when the rest."""
    first = of[0]
    same = [y for y in of if bool(y.missed) == bool(first.missed) and (first.missed or y.to == first.to)]
    rest = [y for y in of if y not in same]
    if not rest or (not first.missed and first.to > m.today):
        late = "late, it was to be by" if first.missed else ""
        return f"{late} {say.day(first.to, m.today)}" if late else _window(first.from_, first.to, m)
    tags = tuple(t for y in same for t in y.tags)
    who = _some(tags, None, sum(y.head or 0 for y in same) or None)
    when = f"late since {say.day(first.to, m.today)}" if first.missed else f"by {say.day(first.to, m.today)}"
    return f"{who} {when}, the rest by {say.day(rest[0].to, m.today)}"


def _doses(count: int) -> str:
    return f"{count} dose{'' if count == 1 else 's'}"


def _window(from_: date, to: date, m: Moment) -> str:
    if from_ > m.today:
        return f"from {say.day(from_, m.today)} to {say.day(to, m.today)}"
    return f"window to {say.day(to, m.today)}"


def _some(tags: Sequence[str], group: str | None, head: int | None) -> str:
    """Who, short: a few tags by name, many by their number."""
    if tags and len(tags) <= 6:
        return say.tags(tags)
    count = len(tags) or head
    return f"{count} in {group}" if count and group else group or f"{count} head"


def ready(x: f.Ready, farm: Farm, m: Moment) -> str:
    """The load for a sale, the answer first."""
    if x.sale is None:
        return f"{x.now} ready now."
    when = say.day(x.sale, m.today)
    text = f"{x.now} ready now"
    if x.low is not None and x.high is not None and x.sale != m.today:
        span = f"{x.low}" if x.low == x.high else f"{x.low} to {x.high}"
        text += f", likely {span} by {when}"
    text = {
        "ship": f"Ship {len(x.tags)} {when}: ",
        "wait": "Wait with the load: ",
        "too_few": "Too few for a trip: ",
    }.get(x.advice or "", "") + text
    text += _money(x, farm, m)
    text += "."
    if x.advice == "ship" and x.tags:
        text += f" Take {say.tags(x.tags, 24)}."
    if x.heavy:
        top = say.number(farm.plan.ship.max) if farm.plan.ship.max is not None else "the top weight"
        text += f" {say.tags(x.heavy, 6)} would go over {top} by waiting."
    if x.held:
        text += " " + " ".join(hold(h, m) for h in x.held[:4])
        text += f" And {len(x.held) - 4} more held." if len(x.held) > 4 else ""
    if x.fill:
        text += f" Culls that can ride, apart from the lambs: {say.tags(x.fill, 8)}."
    if x.unnamed:
        text += f" {x.unnamed} head were told without tags: which were they?"
    return text + price_age(x, m)


OLD_PRICE, STALE_PRICE = 7, 14  # days after which the age of a price is said, and a newer one asked for


def price_age(x: f.Ready, m: Moment) -> str:
    """How old the price is that an advice rests on, or that none was heard; nothing where it is fresh or not in it."""
    if x.per_head_now is None:
        return ""
    if x.price_from is None:
        return " The price is the plan's: heard one?" if x.advice == "ship" else ""
    days = (m.today - x.price_from).days
    if days <= OLD_PRICE:
        return ""
    return f" The price is from {say.day(x.price_from, m.today)}{': heard a newer one?' if days > STALE_PRICE else '.'}"


def advice(x: f.Ready, farm: Farm, m: Moment) -> str:
    """What to do about the load, in one sentence."""
    if x.sale is None or x.advice is None:
        return ""
    when = say.day(x.sale, m.today)
    if x.advice == "ship":
        return f"Ship {len(x.tags)} {when}{_money(x, farm, m)}."
    return f"{'Too few for a trip' if x.advice == 'too_few' else 'Wait with the load'} {when}{_money(x, farm, m)}."


def _money(x: f.Ready, farm: Farm, m: Moment) -> str:
    """What waiting saves or costs each head; nothing where the plan has no prices."""
    if x.per_head_now is None or x.per_head_wait is None:
        return ""
    differ = x.per_head_wait - x.per_head_now
    much = say.money(abs(differ), farm, price=True)
    if x.advice == "ship":
        left = say.money(x.per_head_now, farm)
        return f"; waiting loses {much} a head" if differ < 0 else f"; {left} a head is left"
    after = ""
    if x.next_sale and x.expected_next is not None:
        after = f", {say.number(x.expected_next, 0)} by {say.day(x.next_sale, m.today)}"
    return f"{after}; waiting {'saves' if differ >= 0 else 'costs'} {much} a head{_split(x, farm)}"


def _split(x: f.Ready, farm: Farm) -> str:
    """What the saving by waiting is made of: freight, and growth and price less keep."""
    if x.freight_saved is None or x.freight_saved <= 0 or x.per_head_now is None or x.per_head_wait is None:
        return ""
    rest = x.per_head_wait - x.per_head_now - x.freight_saved
    freight, other = say.money(x.freight_saved, farm, price=True), say.money(abs(rest), farm, price=True)
    return f": {freight} in freight" + (f", and growth {other} over keep" if rest >= 0 else f", less {other} for keep")


def hold(x: f.Hold, m: Moment) -> str:
    if x.why and not x.until:
        return f"{x.tag} stays: {x.why}."
    if x.until is None:
        return f"{x.tag} held: nobody has told the withdrawal of {x.product}."
    return f"{x.tag} held till {say.day(x.until, m.today)} ({x.product or x.why})."


def growth(x: f.Growth, farm: Farm, m: Moment) -> str:
    text = f"{x.tag}: about {say.weight(x.weight, farm)} {say.day(x.on, m.today)} ({say.span(x.low, x.high)})"
    if x.gain is not None:
        text += f", {say.gain(x.gain, farm)}"
    if x.ready is not None:
        minimum = say.number(farm.plan.ship.min) if farm.plan.ship.min is not None else "weight"
        text += f", at {minimum} {'now' if x.ready <= m.today else say.day(x.ready, m.today)}"
    return text + "."


def withdrawal(x: f.Withdrawal, farm: Farm, m: Moment) -> str:
    return f"{x.tag or x.group or ''} {held(x, m)}".strip()


def held(x: f.Withdrawal, m: Moment) -> str:
    """Till when, for what, without saying who."""
    given = f" {say.day(x.given, m.today)}" if x.given else ""
    if x.until is None:
        return f"held for {x.product}{given}, nobody has told its withdrawal days. What do label and vet say?"
    days = f", {x.days} days" if x.days is not None else ""
    return f"held till {say.day(x.until, m.today)} ({x.product}{given}{days})."


def lambing_due(x: f.LambingDue, farm: Farm, m: Moment) -> str:
    who = f"{x.group}" + (f", {x.head} ewes" if x.head else "")
    lambs = f", about {say.number(x.lambs, 0)} lambs" if x.lambs is not None else ""
    return (
        f"{who}: lambing from {say.day(x.from_, m.today)}, most about {say.day(x.peak, m.today)}, "
        f"to {say.day(x.to, m.today)}{lambs}."
    )


def job_due(x: f.JobDue, farm: Farm, m: Moment) -> str:
    day = day_of(x.due) if x.due else m.today
    late = f" (since {say.day(day, m.today)})" if day < m.today else ""
    late = f", {say.day(day, m.today)}" if day > m.today else late
    who = f": {_some(x.tags, x.group, None)}" if x.tags else ""
    if x.light:
        who += f"; {say.tags(x.light, 6)} still light: wean on 250 g of feed a day three days running"
    about = x.tag or (x.group if x.seq is not None and not x.tags else None)
    if about and about.lower() not in x.text.lower():
        who = f" ({about})"
    return _upper(x.text) + who + late + "."


def gain_drop(x: f.GainDrop, farm: Farm, m: Moment) -> str:
    who = x.tag or x.group
    return f"Look at {who}: gaining {say.gain(x.gain, farm)}, usual is {say.gain(x.usual, farm)}."


def losses(x: f.Losses, farm: Farm, m: Moment) -> str:
    days = "on one day" if x.days == 1 else f"within {x.days} days"
    return f"Call the vet: {x.head} dead in {x.group} {days}, several deaths close together."


def kit_short(x: f.KitShort, farm: Farm, m: Moment) -> str:
    have = say.amount(x.on_hand, x.unit or "") if x.on_hand is not None else "none counted"
    by = f" by {say.time(x.order_by, m.now)}" if x.order_by else ""
    source = f" from {x.supplier}" if x.supplier else ""
    need = say.amount(x.needed, x.unit or "")
    return f"Get {x.item} in for lambing in {x.group}: {need} needed, {have}; order{source}{by}."


def lay_drop(x: f.LayDrop, farm: Farm, m: Moment) -> str:
    return (
        f"Look at {x.group}: {say.number(x.rate * 100, 0)} eggs a 100 hens a day, usual is "
        f"{say.number(x.usual * 100, 0)}. Water, feed, light, mites, a hidden nest?"
    )


def feed_dozen(x: f.FeedDozen, farm: Farm, m: Moment) -> str:
    return f"{say.amount(x.amount, x.unit)} {say.words(x.items)} a dozen."


_SAY: dict[str, Callable[[Any, Farm, Moment], str]] = {
    fn.__name__: fn
    for fn in (
        run_out, order_late, dose_due, ready, load_made, season, growth, gains_by, adjusted, withdrawal, lambing_due,
        mating, coming, job_due, gain_drop, losses, kit_short, lay_drop, feed_dozen,
    )
}  # fmt: skip


def found(finding: f.Finding, farm: Farm, m: Moment) -> str:
    """One finding in words."""
    return _SAY[finding.rule](finding, farm, m)


_FIRST = {"act": 0, "soon": 1, "know": 2}


def together(findings: Sequence[f.Finding], today: date) -> list[tuple[f.Finding, tuple[f.Finding, ...]]]:
    """What is said as one thing, with the findings it stands for: a step of a dose plan in one group, however many
    windows its animals have, as long as all are open or none is; animals that stall, together. The nearest window is
    the one said."""
    same: dict[object, list[f.Finding]] = {}
    for x in findings:
        match x:
            case f.DoseDue():
                name: object = (x.plan, x.step, x.product, x.group, x.level == "know", x.from_ > today)
            case f.GainDrop():
                name = x.rule
            case _:
                name = (x.key, len(same))
        same.setdefault(name, []).append(x)
    return [(_one(xs), tuple(xs)) for xs in same.values()]


def _one(xs: Sequence[f.Finding]) -> f.Finding:
    doses = [x for x in xs if isinstance(x, f.DoseDue)]
    if len(doses) < 2:
        return xs[0]
    first = min(doses, key=lambda x: (x.to, x.from_))
    most = max(doses, key=lambda x: x.order_amount or 0)  # the later windows count what the earlier ones take
    return replace(
        first,
        tags=tuple(sorted(t for x in doses for t in x.tags)),
        head=sum(x.head or 0 for x in doses) or None,
        doses_needed=sum(x.doses_needed or 0 for x in doses) or None,
        holds_until=max((x.holds_until for x in doses if x.holds_until), default=None),
        order_by=min((x.order_by for x in doses if x.order_by), default=None),
        order_amount=most.order_amount,
        unit=most.unit,
        supplier=most.supplier,
        arrives=most.arrives,
        level=min((x.level for x in doses), key=_FIRST.__getitem__),
        late=next((x.late for x in doses if x.late), None),
        sale=min((x.sale for x in doses if x.sale), default=None),
    )


def _line(x: f.Finding, of: Sequence[f.Finding], farm: Farm, m: Moment) -> str:
    """One thing to do; animals that stall are named in a row."""
    if isinstance(x, f.DoseDue):
        return dose_due(x, farm, m, [y for y in of if isinstance(y, f.DoseDue)])
    if isinstance(x, f.GainDrop) and len(of) > 1:
        stalled = [str(g.tag or g.group) for g in of if isinstance(g, f.GainDrop)]
        return f"Look at {say.tags(stalled, 8)}: gaining far less than usual."
    return found(x, farm, m)


MOST, ROOM = 7, 900  # things to do, and characters, of one scheduled message


def lines(findings: Sequence[f.Finding], farm: Farm, m: Moment) -> list[str]:
    """Each thing to do, in words."""
    return [_line(x, of, farm, m) for x, of in together(findings, m.today)]


@dataclass(frozen=True, slots=True)
class Round:
    """A scheduled message: its text, the things it says with the findings they stand for, and the rest in words."""

    text: str
    things: tuple[tuple[f.Finding, tuple[f.Finding, ...]], ...]
    rest: str = ""


def message(findings: Sequence[f.Finding], farm: Farm, m: Moment, *, morning: bool) -> Round:
    """A scheduled message, numbered where there are several things: the most urgent are in it, and stand by place, so
    that one walk through the barn does them; what does not fit is behind "more"."""
    things = together(sorted(findings, key=lambda x: _FIRST[x.level]), m.today)
    said = [_line(x, of, farm, m) for x, of in things]
    places = [_place(x, line) for (x, _), line in zip(things, said, strict=True)]
    if len(things) > 1:
        said = [_placed(place, line) for place, line in zip(places, said, strict=True)]
    head = f"{m.today:%a} {m.today.day} {m.today:%b}:" if morning else ""
    fits, size = 0, len(head)
    while fits < min(MOST, len(said)) and (not fits or size + len(said[fits]) + 4 <= ROOM - 12):
        size += len(said[fits]) + 4
        fits += 1
    names = ["", *(g.name for g in farm.plan.group)]
    rank = [_FIRST[x.level] for x, _ in things]
    urgent = {place: min(r for r, p in zip(rank, places, strict=True) if p == place) for place in places}
    shown = sorted(range(fits), key=lambda n: (urgent[places[n]], names.index(places[n]), rank[n], n))
    marks = [f"{n}. " if fits > 1 else "" for n in range(1, fits + 1)]
    body = [mark + said[n] for mark, n in zip(marks, shown, strict=True)]
    more = [f"And {len(said) - fits} more."] if fits < len(said) else []
    text = "\n".join([*([head] if head else []), *body, *more])
    return Round(text, tuple(things[n] for n in shown), "\n".join(said[fits : fits + 12]))


_PLACED = (f.DoseDue, f.JobDue, f.GainDrop, f.LayDrop)


def _place(x: f.Finding, line: str) -> str:
    """Where it is to be done; nothing for what is done on the phone, or anywhere."""
    there = isinstance(x, _PLACED) and not line.startswith(("Order", "Count"))
    return str(getattr(x, "group", None) or "") if there else ""


def _placed(place: str, line: str) -> str:
    """A line with its place before it, where it does not name it."""
    return f"{place}: {line[0].lower() + line[1:]}" if place and place.lower() not in line.lower() else line


def cautions_in(x: f.Finding) -> tuple[str, ...]:
    """The cautions that the words of a finding give."""
    if x.rule in ("losses", "room"):
        return (x.rule,)
    return ("label",) if isinstance(x, f.DoseDue) and x.missed else ()
