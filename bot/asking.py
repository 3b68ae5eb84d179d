"""Which findings answer a question, or go with what was told: the same rules as the timetable's.

No words here."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from bot.reading import Question
from rules import breeding, doses, gains, jobs, loads, losses, sales, stores, weighing, withdrawal
from rules.days import Moment
from rules.entries import Dose, Entry, Loss, OnHand, Ordered, RamsIn, RamsOut, Ration, Received, Scanned, Used
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
    return loads.ready(farm, m, by=question.by)


def _close(question: Question, farm: Farm, m: Moment) -> Sequence[Finding]:
    if not question.weigh:
        return _ready(question, farm, m)
    listed = weighing.to_weigh(farm, m, question.by, question.group)
    return listed.open if listed else []


_FIND: dict[str, Callable[[Question, Farm, Moment], Sequence[Finding]]] = {
    "ready": _ready,
    "ship_plan": _ready,
    "close": _close,
    "when_ready": _growth,
    "growth": _growth,
    "animal": _animal,
    "stock": _stores,
    "lasts": _stores,
    "order": _stores,
    "due": _due,
    "withdrawal": _withdrawal,
    "lambing_due": lambda question, farm, m: [
        x for x in breeding.lambing_due(farm, m) if question.group in (None, x.group)
    ],
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
    if any(isinstance(x, Loss) for x in entries):
        found += losses.losses(farm, m)
    bred = {x.group for x in entries if isinstance(x, RamsIn | RamsOut | Scanned)}
    found += [x for x in (breeding.lambing_due(farm, m) if bred else ()) if x.group in bred]
    return found


def _of_group(tag: str | None, groups: set[str], farm: Farm) -> bool:
    return tag in farm.animals and farm.animals[tag].group in groups
