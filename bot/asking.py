"""Which findings answer a question, or go with what was told: the same rules as the timetable's.

No words here."""

from collections.abc import Callable, Container, Sequence
from datetime import datetime, timedelta

from bot.reading import Question
from rules import (
    breeding,
    doses,
    gains,
    jobs,
    laying,
    loads,
    losses,
    mating,
    sales,
    sold,
    stores,
    travel,
    weighing,
    withdrawal,
)
from rules.days import Moment
from rules.entries import Dose, Entry, Loss, OnHand, Ordered, RamsIn, RamsOut, Ration, Received, Sale, Scanned, Used
from rules.farm import Animal, Farm
from rules.findings import DoseDue, Finding, KitShort

_STORED = OnHand | Received | Used | Ordered | Ration


def market(farm: Farm, group: str | None = None) -> list[Animal]:
    """The tagged animals here that are to be sold: of one group, or of all that keep market or bottle lambs."""
    groups = [group] if group else farm.keeping("market lambs", "bottle lambs")
    return [a for g in groups for a in farm.in_group(g)]


def _stores(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    found: list[Finding] = list(stores.run_out(farm, m))
    if question.about == "order":
        short: list[DoseDue | KitShort] = [x for x in doses.dose_due(farm, m) if x.order_amount is not None]
        short += stores.kit_short(farm, m)
        if not question.item:
            found = [x for x in stores.run_out(farm, m) if x.level != "know" or _within(x.order_by, question, m)]
            found += stores.order_late(farm, m)
        found += [x for x in short if x.level != "know" or _within(x.order_by, question, m)]
    return [x for x in found if question.item in (None, _item(x)) and question.supplier in (None, _supplier(x))]


def _item(x: Finding) -> str | None:
    return getattr(x, "item", None) or getattr(x, "product", None)


def _supplier(x: Finding) -> str | None:
    return getattr(x, "supplier", None)


def _within(order_by: datetime | None, question: Question, m: Moment) -> bool:
    """Whether an order falls due by the day asked for, or within a week."""
    return order_by is not None and order_by.date() <= (question.by or m.today + timedelta(days=7))


def _growth(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    if question.split or question.adjusted is not None:
        split, to = question.split, question.adjusted or 0
        table = gains.side_by_side(farm, m, question.group, split) if split else None
        found = table if split else gains.adjusted(farm, m, question.group, to)
        return [found] if found else []
    tags = [question.tag] if question.tag else [a.tag for a in market(farm, question.group)]
    on = question.by or sales.next_sale(farm, m) or m.today
    return gains.growth(farm, m, tags, on)


def _due(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    found: list[Finding] = [*doses.dose_due(farm, m), *jobs.job_due(farm, m)]
    if not (question.tag or question.group or question.product):
        found += [*stores.order_late(farm, m), *stores.kit_short(farm, m)]
        found += [x for x in stores.run_out(farm, m) if x.level != "know"]
    return [x for x in found if _about(x, question, farm)]


def _about(x: Finding, question: Question, farm: Farm) -> bool:
    tags = getattr(x, "tags", ()) or (getattr(x, "tag", None) or "",)
    group = getattr(x, "group", None)
    if question.tag and question.tag not in tags:
        return False
    if (
        question.group
        and question.group != group
        and not any(farm.animals[t].group == question.group for t in tags if t in farm.animals)
    ):
        return False
    return question.product in (None, getattr(x, "product", None))


def _withdrawal(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    return [x for x in withdrawal.withdrawal(farm, m) if _about(x, question, farm)]


def _animal(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    return [*_growth(question, farm, m), *_withdrawal(question, farm, m)] if question.tag else []


def _ready(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    """The load asked about; of a what-if, that load first and then the next one as advised."""
    asked = loads.ready(farm, m, by=question.by)
    if question.over is not None or question.trip is not None:
        return [*loads.ready(farm, m, question.by, over=question.over, trip=question.trip), *asked]
    if question.wait is not None and asked:
        start = asked[0].sale or m.today
        return [*loads.ready(farm, m, by=start + timedelta(days=question.wait)), *asked]
    return asked


def _shipped(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    return [x for x in (sold.season(farm, m.today), sold.last_made(farm, m.today)) if x is not None]


def _room(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    found = travel.room(farm, m, None if question.space is None else float(question.space))
    return [found] if found else []


def _lambing(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    """When ewes lamb, and what is wanted ahead of it: boosters, and what the house is short of."""
    steps = {(plan.name, s.step) for plan in farm.plan.dose_plan for s in plan.steps if s.before == "lambing"}
    ahead = [x for x in doses.dose_due(farm, m) if (x.plan, x.step) in steps]
    found: list[Finding] = [*breeding.lambing_due(farm, m), *ahead, *stores.kit_short(farm, m)]
    return [x for x in found if question.group in (None, getattr(x, "group", None))]


def _mating(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    """A mating as supposed and as it is; of no group named, the one joined last, else the largest."""
    ewes = farm.keeping("ewes") or farm.keeping("replacements")
    if not ewes:
        return []
    joined = [(x.start, g) for g in ewes if (x := breeding.last_mating(farm, g))]
    group = question.group or (max(joined)[1] if joined else max(ewes, key=farm.head))
    return mating.suppose(
        farm, m, group, rams=question.rams, stay=question.stay, synced=question.synced, instead=question.instead
    )


def _coming(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    found = mating.coming(farm, m, question.group)
    return [found] if found else []


def _eggs(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    fed = laying.feed_dozen(farm, m)
    return [*laying.lay_drop(farm, m), *([fed] if fed else [])]


def _close(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    if not question.weigh:
        return _ready(question, farm, m)
    listed = weighing.to_weigh(farm, m, question.by, question.group)
    return listed.open if listed else []


_FIND: dict[str, Callable[[Question, Farm, Moment], Sequence[Finding]]] = {
    "ready": _ready,
    "ship_plan": _ready,
    "close": _close,
    "shipped": _shipped,
    "room": _room,
    "mating": _mating,
    "coming": _coming,
    "eggs": _eggs,
    "when_ready": _growth,
    "growth": _growth,
    "animal": _animal,
    "stock": _stores,
    "lasts": _stores,
    "order": _stores,
    "due": _due,
    "withdrawal": _withdrawal,
    "lambing_due": _lambing,
}


def findings_for(question: Question, farm: Farm, m: Moment) -> list[Finding]:
    """What the rules say to a question; empty where it is answered from the farm as it stands alone."""
    find = _FIND.get(question.about)
    return list(find(question, farm, m)) if find else []


def findings_with(entries: Sequence[Entry], farm: Farm, m: Moment) -> list[Finding]:
    """What the rules say at once to what was just told: how long a feed lasts, how long a hold, when lambs come."""
    items = dict.fromkeys(x.item for x in entries if isinstance(x, _STORED))
    found: list[Finding] = [x for x in (stores.run_out(farm, m) if items else ()) if x.item in items]
    doses_ = [x for x in entries if isinstance(x, Dose)]
    if doses_:
        products = {x.product for x in doses_}
        tags = {t for x in doses_ for t in x.tags}
        groups = {x.group for x in doses_ if x.group}
        held = [x for x in withdrawal.withdrawal(farm, m) if x.product in products]
        found += [x for x in held if x.tag in tags or x.group in groups or _of_group(x.tag, groups, farm)]
        groups |= {group for t in tags if t in farm.animals and (group := farm.animals[t].group)}
        found += [x for x in _to_give(farm, m, products) if x.group in groups]
    if came := {x.item for x in entries if isinstance(x, Received)} & {x.name for x in farm.plan.product}:
        found += _to_give(farm, m, came)
    if any(isinstance(x, Loss) for x in entries):
        found += losses.losses(farm, m)
    if any(isinstance(x, Sale) and x.what is None for x in entries):
        made = sold.last_made(farm, m.today)
        found += [made] if made and (made.net is not None or made.shrink is not None) else []
    bred = {x.group for x in entries if isinstance(x, RamsIn | RamsOut | Scanned)}
    found += [x for x in (breeding.lambing_due(farm, m) if bred else ()) if x.group in bred]
    return found


def _to_give(farm: Farm, m: Moment, products: Container[str]) -> list[DoseDue]:
    """Steps whose window is open, of these products: who is left of those dosed in one go, who waited for a bottle."""
    due = (x for x in doses.dose_due(farm, m) if x.product in products)
    return [x for x in due if x.level != "know" and x.from_ <= m.today]


def _of_group(tag: str | None, groups: set[str], farm: Farm) -> bool:
    return tag in farm.animals and farm.animals[tag].group in groups
