"""A farm for a rule's test: a plan as a farm folder holds it, and what was told, day by day."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from rules import entries as e
from rules.days import Moment, Opening
from rules.farm import Fact, Farm
from rules.fold import BEGINNING, Fold

ZONE = ZoneInfo("Europe/Dublin")
PLACE = {"name": "Sallow Hill", "country": "IE", "timezone": "Europe/Dublin", "weight": "kg"}


def barn(plan: dict[str, Any], *told: e.Entry) -> Farm:
    """The farm of a plan (its place filled in) after these entries, each told at noon of its day, in this order."""
    fold = Fold()
    first = e.PlanSet(on=date(2026, 1, 1), set={"farm": PLACE, **plan})
    facts = [Fact(BEGINNING, 1, "owner", first)]
    for seq, entry in enumerate(told, start=2):
        early = isinstance(entry, e.AnimalSet | e.PlanSet)
        noon = datetime.combine(entry.on, time(12), ZONE).astimezone(UTC)
        facts.append(Fact(BEGINNING if early else noon + timedelta(seconds=seq), seq, "owner", entry))
    fold.tell(facts)
    return fold.farm


def animal(tag: str, group: str, born: date | None = None, **more: Any) -> e.AnimalSet:
    return e.AnimalSet(on=date(2026, 1, 1), tag=tag, group=group, born=born, **more)


def dose(on: date, product: str, **more: Any) -> e.Dose:
    return e.Dose(on=on, product=product, **more)


def at(day: date, hour: int = 6, minute: int = 0, **calendar: Any) -> Moment:
    """A moment, six in the morning where not said."""
    return Moment(datetime.combine(day, time(hour, minute), ZONE), **calendar)


def weekdays(start: date, count: int) -> list[Opening]:
    """Openings from 9 to 17 on the weekdays among `count` days."""
    days = (d for d in (start + timedelta(n) for n in range(count)) if d.weekday() < 5)
    return [Opening(datetime.combine(d, time(9), ZONE), datetime.combine(d, time(17), ZONE)) for d in days]
