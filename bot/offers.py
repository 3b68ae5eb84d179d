"""The buttons under a finding: what a press records, or says. Two words at most, in the farmer's voice."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.words import say
from rules import entries as e
from rules import findings as f
from rules.days import Moment
from rules.farm import Farm


@dataclass(frozen=True, slots=True)
class Offer:
    """One button: its label, the entries that pressing it records, or what it says where it records nothing."""

    label: str
    entries: tuple[e.Entry, ...] = ()
    say: str | None = None


def offers(x: f.Finding, farm: Farm, m: Moment, *, several: bool = False) -> list[Offer]:
    """What can be answered to a finding with a thumb; `several` stand under one message and must tell apart."""
    found = _of(x, farm, m)
    name = getattr(x, "item", None) or getattr(x, "product", None)
    if several and name:
        short = name.split()[0]
        return [Offer(f"{short} {o.label}", o.entries, o.say) for o in found]
    return found


def _of(x: f.Finding, farm: Farm, m: Moment) -> list[Offer]:
    match x:
        case f.RunOut():
            return _run_out(x, m)
        case f.OrderLate():
            return [*_came(x, m), _later(x, m)]
        case f.DoseDue():
            group = None if x.tags else x.group
            dose = e.Dose(on=m.today, product=x.product, tags=x.tags, group=group)
            return [Offer("dosed", (dose,)), _later(x, m)]
        case f.JobDue(seq=int()):
            return [Offer("done", (e.Done(on=m.today, text=x.text, tag=x.tag, group=x.group),)), _later(x, m)]
    return []


def _came(x: f.OrderLate, m: Moment) -> list[Offer]:
    if x.amount is None or x.unit is None:
        return []
    return [Offer("came", (e.Received(on=m.today, item=x.item, amount=x.amount, unit=x.unit, supplier=x.supplier),))]


def _run_out(x: f.RunOut, m: Moment) -> list[Offer]:
    found = []
    if x.order_amount is not None:
        order = e.Ordered(
            on=m.today, item=x.item, amount=x.order_amount, unit=x.unit, supplier=x.supplier, due=x.arrives
        )
        found.append(Offer("ordered", (order,)))
    found.append(_later(x, m))
    count = f"How much {x.item} is there? Tell me, like: {say.amount(x.on_hand, x.unit)} {x.item} left."
    return [*found, Offer("count wrong", (), count)]


def _later(x: f.Finding, m: Moment) -> Offer:
    """Put off for three hours, or till the next morning, but never past an hour before it must be done."""
    until = m.now + timedelta(hours=3)
    if x.level != "act":
        until = m.now + timedelta(hours=20)
    if isinstance(x.due, datetime):
        until = min(until, max(x.due - timedelta(hours=1), m.now + timedelta(minutes=30)))
    return Offer("later", (e.Wave(on=m.today, key=x.key, until=until.isoformat(timespec="minutes")),))
