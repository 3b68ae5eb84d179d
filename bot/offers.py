"""The buttons under a finding: what a press records, or says. Two words at most, in the farmer's voice."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.words import chat
from rules import entries as e
from rules import findings as f
from rules.days import Moment
from rules.doses import EARLY_DAYS
from rules.farm import Farm


@dataclass(frozen=True, slots=True)
class Offer:
    """One button: its label, the entries that pressing it records, or what it says where it records nothing."""

    label: str
    entries: tuple[e.Entry, ...] = ()
    say: str | None = None


def offers(x: f.Finding, of: Sequence[f.Finding], farm: Farm, m: Moment, *, several: bool) -> list[Offer]:
    """What can be answered with a thumb to a finding, which may stand for several (`of`); where `several` stand under
    one message they must tell apart."""
    found = _of(x, of, farm, m)
    name = getattr(x, "item", None) or getattr(x, "product", None)
    if several and name:
        short = name.split()[0]
        return [Offer(f"{short} {o.label}", o.entries, o.say) for o in found]
    return found


def _of(x: f.Finding, of: Sequence[f.Finding], farm: Farm, m: Moment) -> list[Offer]:
    match x:
        case f.RunOut():
            return [*_ordered(x, x.item, m), _later(of, m), _count(x)]
        case f.OrderLate():
            return [*_came(x, m), _later(of, m)]
        case f.DoseDue():
            return [*_dose_due(x, farm, m), _later(of, m)]
        case f.JobDue(product=str(product)):
            given = e.Dose(on=m.today, product=product, tags=x.tags, group=None if x.tags else x.group)
            return [Offer("given", (given,)), _later(of, m)]
        case f.JobDue(seq=int()):
            done = e.Done(on=m.today, text=x.text, tag=x.tag, group=x.group, job=x.seq)
            return [Offer("done", (done,)), _later(of, m)]
        case f.JobDue(stage=str(stage)) if x.tags:
            reached = e.Stage(on=m.today, stage=stage, tags=x.tags)
            return [Offer("on creep" if stage == "creep" else stage, (reached,)), _later(of, m)]
    return []


def _dose_due(x: f.DoseDue, farm: Farm, m: Moment) -> list[Offer]:
    """Given, ordered where it is short, and what label or vet say of a late one, which is kept for the product."""
    group = None if x.tags else x.group
    some = x.head if group and x.head != farm.head(group) else None
    dose = e.Dose(on=m.today, product=x.product, tags=x.tags, group=group, head=some)
    offered = [Offer("dosed", (dose,))] if x.from_ <= m.today + timedelta(EARLY_DAYS) else []
    offered += _ordered(x, x.product, m)
    if x.late == "ask":
        for said in ("carry on", "start again"):
            told = e.PlanSet(on=m.today, table="product", name=x.product, set={"late": said})
            offered.append(Offer(said, (told,)))
    return offered


def _came(x: f.OrderLate, m: Moment) -> list[Offer]:
    if x.amount is None or x.unit is None:
        return []
    return [Offer("came", (e.Received(on=m.today, item=x.item, amount=x.amount, unit=x.unit, supplier=x.supplier),))]


def _ordered(x: f.RunOut | f.DoseDue, item: str, m: Moment) -> list[Offer]:
    """That it is ordered, where the finding says how much."""
    if x.order_amount is None:
        return []
    order = e.Ordered(on=m.today, item=item, amount=x.order_amount, unit=x.unit, supplier=x.supplier, due=x.arrives)
    return [Offer("ordered", (order,))]


def _count(x: f.RunOut) -> Offer:
    return Offer("count wrong", (), chat.count_anew(x.item, x.on_hand, x.unit))


def _later(of: Sequence[f.Finding], m: Moment) -> Offer:
    """Put off for three hours, or till the next morning, but never past an hour before it must be done."""
    until = m.now + timedelta(hours=3 if any(x.level == "act" for x in of) else 20)
    for x in of:
        if isinstance(x.due, datetime):
            until = min(until, max(x.due - timedelta(hours=1), m.now + timedelta(minutes=30)))
    return Offer("later", tuple(e.Wave(on=m.today, key=x.key, until=until.isoformat(timespec="minutes")) for x in of))
