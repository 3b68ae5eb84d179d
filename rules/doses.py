"""Which step of a dose plan is due for which animals, from when to when, and whether the bottles are there.

The plan is the farmer's and the vet's: no product, dose, interval or withdrawal is made up here, and whether a late
series goes on or starts again is the label's to say. How long a dose holds an animal back is in `rules.withdrawal`.
"""

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from rules.beasts import Beast, in_scope
from rules.days import Moment
from rules.farm import Farm
from rules.findings import DoseDue
from rules.jobs import stage_plan
from rules.ordering import Terms, arrives, order_by
from rules.plan import DosePlan, DoseStep
from rules.sales import sale_days
from rules.units import convert
from rules.withdrawal import hold_after

EARLY_DAYS = 2  # given so long before its window, a dose still is the step (common practice, no source: ask label, vet)
ORDER_AHEAD = timedelta(days=4)  # a bottle that must be ordered is said so long before the last moment
URGENT_DAYS = 1  # a missed dose is urgent so long; then it waits for the morning message
GAIN = Decimal("0.3")  # kg a day since the last weighing, to see whether a lamb nears the sale (common practice)
TOGETHER = timedelta(days=3)  # animals that reach a dose one by one are dosed together (common practice, no source)
LAMBS_EARLY = 21  # days before the first due date a lambing still is of this season
NEAR = Decimal("0.85")  # of the least ship weight: near enough that a hold can cost a sale


@dataclass(frozen=True, slots=True)
class Open:
    """A step that a beast has not had. `ahead`: what it counts from, or the dose before it, is still to come; `close`:
    the dose before it was given a shorter time ago than the plan's windows lie apart."""

    step: DoseStep
    beast: Beast
    from_: date
    to: date
    ahead: bool
    close: date | None = None


def dose_due(farm: Farm, moment: Moment) -> list[DoseDue]:
    """Every step of the dose plans that is not given: the animals, the window, the doses needed and in the fridge.

    Why: a vaccine is only as good as its dates, and the bottle must be there before them. A window is counted from the
    plan's event (or from its plan age, or a group's first due date, until that is told) and includes both its days. A
    dose of the product from the start of the window on, after the step before, is the step. `know` before the window;
    `soon` from its first day, or some days before the last moment to order a bottle that is short; `act` on the last
    day, and where an order cannot wait for the next morning. A missed dose stays until it is given or waved off.
    Windows: the farm's plan (published ones differ by weeks: the handbook of the plan's vet, not ours).
    """
    found: dict[tuple[str, str, str, date, date, bool, date | None], list[Open]] = {}
    kept: dict[tuple[str, bool], list[Beast]] = {}
    for plan in farm.plan.dose_plan:
        for beast in in_scope(farm, plan, moment.today, kept):
            for x in _open_steps(farm, plan, beast, moment.today):
                key = (plan.name, x.step.step, beast.group, x.from_, x.to, x.ahead, x.close)
                found.setdefault(key, []).append(x)
    dues = [_due(farm, key[0], opens, moment) for key, opens in found.items()]
    stocked = _with_stock(farm, sorted(dues, key=lambda x: (x.from_, x.to, x.plan, x.step, x.group or "")), moment)
    order = {"act": 0, "soon": 1, "know": 2}
    return sorted(stocked, key=lambda x: (order[x.level], x.to, x.plan, x.step, x.group or "", x.from_))


# -- when


def _open_steps(farm: Farm, plan: DosePlan, beast: Beast, today: date) -> Iterator[Open]:
    """The steps not given, each with its window; a step that counts from one not given yet is foreseen from today.

    Where label or vet say that a late series starts again, a dose after the window is the step before it anew.
    """
    steps: dict[str, tuple[date, bool]] = {}  # the day each was given, or is to be expected; and whether it was
    last: dict[str, date] = {}  # the last dose of each product that was taken for a step
    before: dict[
        str, tuple[date, date]
    ] = {}  # the first day of the step of each product before, and the last where it is still to come
    for step in plan.steps:
        span = _window(farm, beast, step, steps)
        if span is None:
            continue
        counts_from, from_, to = span
        after = last.get(step.product, date.min)
        ahead = _ahead(beast, step, steps)
        doses = [d.on for d in beast.doses if d.product == step.product and d.on >= counts_from and d.on > after]
        while doses and min(doses) > to and late(farm, step, steps) == "start again":
            last[step.product] = min(doses)
            steps[step.after or ""] = last[step.product], True
            counts_from, from_, to = _window(farm, beast, step, steps) or span
            doses = [on for on in doses if on >= counts_from and on > last[step.product]]
        opened, shut = before.get(step.product, (from_, date.min))
        before[step.product] = from_, date.min
        if doses and not ahead:
            last[step.product] = min(doses)
            steps[step.step] = last[step.product], True
        elif not (farm.waves and farm.waved_off(_key(plan, step, beast, from_))):
            steps[step.step] = (max(today, from_), False)
            given, one_by_one = last.get(step.product), step.after not in steps
            soon = one_by_one and given is not None and max(today, from_) - given < from_ - opened
            ahead = ahead or (one_by_one and shut >= today)
            before[step.product] = from_, to
            yield Open(step, beast, from_, to, ahead, given if soon else None)


def _ahead(beast: Beast, step: DoseStep, steps: Mapping[str, tuple[date, bool]]) -> bool:
    """Whether what a step counts from has yet to come: a step not given, or her own lambing."""
    if step.after == "lambing" and beast.tag:
        return beast.due is not None and not _lambed(beast, beast.due)
    earlier = steps.get(step.after or "")
    return earlier is not None and not earlier[1]


def late(farm: Farm, step: DoseStep, steps: Container[str]) -> str | None:
    """What label or vet say of a step that comes late, where it counts from an earlier one; "ask": nobody has told."""
    if step.after not in steps:
        return None
    row = farm.plan.product_named(step.product)
    return (row.late if row else None) or "ask"


def _lambed(beast: Beast, due: date) -> date | None:
    return next((on for on, _ in reversed(beast.lambed) if on >= due - timedelta(LAMBS_EARLY)), None)


def _key(plan: DosePlan, step: DoseStep, beast: Beast, from_: date) -> str:
    return DoseDue(
        level="know", plan=plan.name, step=step.step, product=step.product, group=beast.group, from_=from_, to=from_
    ).key  # fmt: skip


def _window(
    farm: Farm, beast: Beast, step: DoseStep, steps: Mapping[str, tuple[date, bool]]
) -> tuple[date, date, date] | None:
    """(from when a dose counts, first day, last day); None while an event it hangs on is neither told nor foreseen.

    A dose given by the day that was foreseen goes on counting when the event then comes later.
    """
    if len(step.days) != 2:
        return None
    a, b = step.days
    before = _event(farm, beast, step.before, steps) if step.before else None
    if step.after:
        after = _event(farm, beast, step.after, steps)
        if after is None:
            return None
        low, high = sorted((a, b))
        from_, to = after + timedelta(low), after + timedelta(high)
        if before is not None:
            to = max(from_, min(to, before))
        return from_ - timedelta(EARLY_DAYS), from_, to
    if before is None:
        return None
    from_, to = before - timedelta(max(a, b)), before - timedelta(min(a, b))
    foreseen = _foreseen(farm, beast, step.before or "") or before
    return min(from_, foreseen - timedelta(max(a, b))) - timedelta(EARLY_DAYS), from_, to


def _event(farm: Farm, beast: Beast, event: str, steps: Mapping[str, tuple[date, bool]]) -> date | None:
    """The day of an event: as told, else as foreseen."""
    if event in steps:
        return steps[event][0]
    if event == "birth":
        return beast.born
    if event == "lambing":
        due = beast.due
        if due is None or (beast.since is not None and beast.since > due):
            return None  # she came when the group was lambing already
        return _lambed(beast, due) or due
    told = next((on for name, on in reversed(beast.stages) if name == event), None)
    return told or _foreseen(farm, beast, event)


def _foreseen(farm: Farm, beast: Beast, event: str) -> date | None:
    if event == "lambing":
        return beast.due
    if event == "pulled":  # nobody told: it came to the bottle when it came into the group, or was born into it
        return (beast.since or beast.born) if beast.keeps == "bottle lambs" else None
    plan = stage_plan(farm, beast.keeps, beast.at_foot)
    age = {"creep": plan.creep, "weaned": plan.weaned}.get(event) if plan else None
    return beast.born + timedelta(age) if beast.born and age is not None else None


# -- how urgent, and with what


def _due(farm: Farm, plan: str, opens: Sequence[Open], moment: Moment) -> DoseDue:
    first, today = opens[0], moment.today
    named = all(x.beast.tag and x.step.product not in x.beast.vague for x in opens)
    head = sum(x.beast.head for x in opens)
    missed = today > first.to and not first.ahead
    if first.ahead or today < first.from_:
        level = "know"
    elif missed:
        level = "act" if (today - first.to).days <= URGENT_DAYS else "soon"
    else:
        level = "act" if today == first.to else "soon"
    hold = _holds(farm, [x.beast for x in opens], first.step.product, max(today, first.from_))
    steps = next((p.steps for p in farm.plan.dose_plan if p.name == plan), ())
    return DoseDue(
        level=level, due=today if missed else first.to, plan=plan, step=first.step.step, product=first.step.product,
        tags=tuple(sorted(x.beast.tag for x in opens if x.beast.tag)) if named else (), group=first.beast.group,
        head=None if named else head, from_=first.from_, to=first.to, doses_needed=head,
        holds_until=hold and hold[0], sale=hold and hold[1], missed=missed or None, close=first.close,
        late=late(farm, first.step, [s.step for s in steps]) if missed else None,
    )  # fmt: skip


def _holds(farm: Farm, beasts: Iterable[Beast], product: str, on: date) -> tuple[date, date] | None:
    """(until when a dose that day would hold them, the sale it would miss), where one will be near ship weight then."""
    free, sale = hold_after(farm, product, on), next(iter(sale_days(farm, on, 1)), None)
    if free is None or sale is None or sale >= free:
        return None
    near = any(
        b.keeps in ("market lambs", "bottle lambs") and b.weighed and near_ready(farm, *b.weighed, sale) for b in beasts
    )
    return (free, sale) if near else None


def near_ready(farm: Farm, weighed: date, weight: Decimal, on: date) -> bool:
    """Whether a lamb last weighed so is, or nearly is, of ship weight on a day."""
    place, least = farm.plan.farm, farm.plan.ship.min
    days = max(0, min((on - weighed).days, 42))  # a weight older than six weeks says little
    return least is not None and weight + convert(GAIN, "kg", place.weight, place.country) * days >= NEAR * least


def _with_stock(farm: Farm, dues: Iterable[DoseDue], moment: Moment) -> Iterator[DoseDue]:
    """The doses in the fridge beside those needed; where the earlier windows leave too few, from whom and by when."""
    fridges: dict[str, Fridge | None] = {}
    for x in dues:
        day = max(x.from_, moment.today)
        if x.product not in fridges:
            fridges[x.product] = _fridge(farm, x.product)
        fridge, row = fridges[x.product], farm.plan.item_named(x.product)
        x = replace(x, doses_on_hand=doses_on_hand(farm, x.product, day))
        if fridge is None or row is None:
            yield _short(farm, x, moment)
            continue
        coming = fridge.arrive(x.to)
        if fridge.give(x.doses_needed or 0, day):
            till = fridge.till if moment.today <= fridge.till < day else None
            x = replace(x, order_amount=fridge.bought, unit=row.unit, opened_till=till)
            x = _short(farm, x, moment)
        yield replace(x, arrives=x.arrives or coming)


def _short(farm: Farm, x: DoseDue, moment: Moment) -> DoseDue:
    """A dose there is too little for: the last moment to order for its first day, else for its last."""
    item = farm.plan.item_named(x.product)
    supplier = farm.plan.supplier_named(item.supplier) if item and item.supplier else None
    openings = moment.openings.get(supplier.name, ()) if supplier else ()
    if supplier is None or not openings:  # nobody knows when to order: said some days before the window
        x = replace(x, supplier=supplier.name if supplier else None)
        near = timedelta(0) < x.from_ - moment.today <= ORDER_AHEAD
        return replace(x, level="soon", due=x.from_) if near and x.doses_on_hand is not None else x
    terms = Terms(openings, supplier.order_before, supplier.lead_days if supplier.lead_days is not None else 1)
    ends = [datetime.combine(day, time(6), moment.now.tzinfo) for day in (x.from_, x.to)]
    last = [at for at in (order_by(terms, end) for end in ends) if at is not None and at >= moment.now]
    if not last:
        return replace(x, supplier=supplier.name)
    comes = arrives(terms, last[0])
    x = replace(x, supplier=supplier.name, order_by=last[0], arrives=comes.date() if comes else None)
    if x.level == "act" or last[0] - moment.now > ORDER_AHEAD:
        return x
    known = x.doses_on_hand is not None
    urgent = known and last[-1] < next_morning(farm, moment)
    return replace(x, level="act" if urgent else "soon", due=last[0])


def next_morning(farm: Farm, moment: Moment) -> datetime:
    """When the next morning message goes out."""
    today = datetime.combine(moment.today, farm.plan.farm.morning, moment.now.tzinfo)
    return today if moment.now < today else today + timedelta(days=1)


def doses_on_hand(farm: Farm, product: str, on: date) -> int | None:
    """Whole doses that can be used on a day: full bottles, and the opened one while it keeps. None: never counted."""
    fridge = _fridge(farm, product)
    if fridge is None:
        return None
    fridge.throw_out(on)
    return int((fridge.left / fridge.each + Decimal("0.000001")).to_integral_value(ROUND_FLOOR))


@dataclass
class Fridge:
    """What there is of a product, in its item's unit, of which each dose takes `each`.

    An opened one keeps `keeps`, the one open now till `till`; `bought` are the whole units that must be had beside
    those there and `coming`, to give what was given here.
    """

    each: Decimal
    keeps: timedelta
    left: Decimal = Decimal(0)
    opened: date = date.max
    coming: list[tuple[date | None, Decimal]] = field(default_factory=list)
    came: date | None = None
    bought: Decimal = Decimal(0)
    till: date = date.max

    def throw_out(self, on: date) -> None:
        """An opened bottle that is past its days by then is of no use."""
        if on - self.opened > self.keeps:
            self.left, self.opened = self.left // 1, date.max

    def change(self, to: Decimal, on: date) -> None:
        """So much is left after something came, went or was counted on a day."""
        before, self.left = self.left, max(Decimal(0), to)
        if not self.left % 1:
            self.opened = date.max
        elif self.opened == date.max or before // 1 > self.left // 1:
            self.opened = on  # a bottle was begun, at the latest now

    def arrive(self, by: date) -> date | None:
        """Orders expected before a day are there; the day of the last of them."""
        here = [x for x in self.coming if x[0] is None or x[0] < by]
        self.left += sum((much for _, much in here), Decimal(0))
        self.coming = [x for x in self.coming if x not in here]
        self.came = max((day for day, _ in here if day), default=self.came)
        return self.came

    def give(self, doses: int, on: date) -> bool:
        """Give so many on a day; whether that, and all given before, takes more than there is."""
        self.throw_out(on)
        short = max(Decimal(0), self.each * doses - self.left).to_integral_value(ROUND_CEILING)
        self.bought += short
        self.change(self.left + short - self.each * doses, on)
        return self.bought > 0


def _fridge(farm: Farm, product: str) -> Fridge | None:
    """The stock of a product as told; None: nobody has counted it, or the plan does not tell what a dose takes."""
    facts, each = farm.stock.get(product, ()), farm.plan.takes(product)
    if not each or not any(f.what in ("on_hand", "received") for f in facts):
        return None
    row = farm.plan.product_named(product)
    fridge = Fridge(each, timedelta(row.opened_days) if row and row.opened_days is not None else timedelta.max)
    for fact in facts:
        if fact.what == "used":
            fridge.throw_out(fact.on)  # and a new one begun
        change = fact.amount if fact.what in ("on_hand", "received") else -fact.amount
        fridge.change(change if fact.what == "on_hand" else fridge.left + change, fact.on)
    if fridge.opened < date.max and fridge.keeps < timedelta.max:
        fridge.till = fridge.opened + fridge.keeps
    fridge.coming = [(o.due, o.amount) for o in farm.orders if o.item == product]
    return fridge
