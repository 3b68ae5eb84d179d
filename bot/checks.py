"""The timetable: which checks look when, and which of their findings are worth saying now.

A reminder is due because the book says so; the timetable only knocks. `serve` and `replay` walk the same table. What
was said is kept by the finding's key, so it is not said again unless it changed or its moment came.
"""

import logging
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, TypeAlias

from bot.when import daily, local
from rules import breeding, doses, gains, jobs, laying, loads, losses, stores
from rules.days import Moment, day_of
from rules.doses import TOGETHER
from rules.farm import Farm
from rules.findings import DoseDue, Finding, Ready, RunOut

log = logging.getLogger(__name__)

Rule: TypeAlias = Callable[[Farm, Moment], Iterable[Finding]]

RULES: tuple[Rule, ...] = (
    losses.losses,
    stores.run_out,
    stores.order_late,
    doses.dose_due,
    stores.kit_short,
    jobs.job_due,
    loads.ready,
    breeding.lambing_due,
    laying.lay_drop,
    gains.gain_drop,
)
_ORDERS: tuple[Rule, ...] = (stores.run_out, doses.dose_due, stores.kit_short)

BEFORE_CUT_OFF = timedelta(hours=4)  # the family hears after two of them, and has two to act
ASK_AGAIN = timedelta(days=6)  # before an item that was counted when asked for is to be counted again
UNANSWERED = timedelta(hours=2)  # waking hours an urgent message may lie there before the family hears of it
LAST_DAYS = 3  # before the end of a dose's window, in which it is said once more
RANK = {"act": 0, "soon": 1, "know": 2}


@dataclass(frozen=True, slots=True)
class Check:
    """One row: its name, when it looks next (strictly after a moment), and the findings it would speak of."""

    name: str
    next: Callable[[Farm, datetime], datetime | None]
    look: Callable[[Farm, Moment], Iterator[Finding]]


def _zone(farm: Farm) -> str:
    return farm.plan.farm.timezone


def _morning(farm: Farm, after: datetime) -> datetime | None:
    return daily(farm.plan.farm.morning, _zone(farm), after)


def _evening(farm: Farm, after: datetime) -> datetime | None:
    return daily(farm.plan.farm.evening, _zone(farm), after)


def _cut_off(farm: Farm, after: datetime) -> datetime | None:
    """Four hours before each supplier's last moment for orders, where that is a waking hour."""
    times = {s.order_before for s in farm.plan.supplier if s.order_before is not None}
    early = [(datetime.combine(date(2000, 1, 3), t) - BEFORE_CUT_OFF).time() for t in times]
    waking = sorted(t for t in early if farm.plan.farm.morning < t < farm.plan.farm.evening)
    return min((daily(t, _zone(farm), after) for t in waking), default=None)


def _reminder(farm: Farm, after: datetime) -> datetime | None:
    moments = [
        local(datetime.combine(day, time.fromisoformat(job.time)), _zone(farm))
        for job in farm.reminders.values() if job.time
        for day in (jobs.turn(job, after.date()), jobs.turn_after(job, after.date())) if day
    ]  # fmt: skip
    return min((m for m in moments if m > after), default=None)


def found_by(rules: Iterable[Rule], farm: Farm, m: Moment) -> Iterator[Finding]:
    """What the rules find. One that fails must not silence the others: milk is warned of though lambs can't be told."""
    for rule in rules:
        try:
            yield from list(rule(farm, m))
        except Exception:
            log.exception("A rule failed: %s", rule)


def _all(farm: Farm, m: Moment) -> Iterator[Finding]:
    yield from (x for x in found_by(RULES, farm, m) if x.level != "know")


def _urgent(farm: Farm, m: Moment) -> Iterator[Finding]:
    """What must be ordered before they shut: a dose on its last day is no order."""
    for x in found_by(_ORDERS, farm, m):
        if x.level == "act" and not (isinstance(x, DoseDue) and x.order_by is None):
            yield x


def _tonight(farm: Farm, m: Moment) -> Iterator[Finding]:
    """What cannot wait for the morning, and the load for a sale tomorrow."""
    for x in _all(farm, m):
        if x.level == "act" or (isinstance(x, Ready) and x.sale == m.today + timedelta(days=1)):
            yield x


def _timed(farm: Farm, m: Moment) -> Iterator[Finding]:
    yield from (x for x in found_by((jobs.job_due,), farm, m) if isinstance(x.due, datetime) and x.due <= m.now)


CHECKS: tuple[Check, ...] = (
    Check("morning", _morning, _all),
    Check("reminder", _reminder, _timed),
    Check("cut-off", _cut_off, _urgent),
    Check("evening", _evening, _tonight),
)


# -- worth saying


def gist(x: Finding, times: int, now: datetime, old: dict[str, Any] | None = None) -> dict[str, Any]:
    """What is kept of a finding that was said: enough to see whether it has changed."""
    due = x.due.isoformat() if x.due else None
    kept = {"level": x.level, "due": due, "advice": getattr(x, "advice", None) or _late(x), "times": times}
    if isinstance(x, DoseDue):
        kept["short"] = _short(x)
    if isinstance(x, Ready) and x.advice == "ship":
        kept["tags"] = list(x.tags)
    if isinstance(x, RunOut):
        said = datetime.fromisoformat(old["at"]) if old and old.get("at") else None
        kept |= {"at": now.isoformat(), "times": 1 if said and _renewed(x, said) else times}
        kept |= {"missed": bool(x.missed), "only_count": _only_count(x)}
        kept["asked"] = now.date().isoformat() if x.ask_count else (old or {}).get("asked")
    return kept


def _short(x: DoseDue) -> bool:
    few = x.doses_on_hand is not None and x.doses_on_hand < (x.doses_needed or 0)
    return few or x.order_amount is not None


def _late(x: Finding) -> str | None:
    """A dose that has come to be late is news: what now is asked."""
    return "late" if isinstance(x, DoseDue) and x.missed else None


def worth(x: Finding, old: dict[str, Any] | None, said_at: datetime | None, now: datetime) -> bool:
    """Whether to say a finding now. `old` is the gist of when it was last said."""
    if old is None or said_at is None:
        return True
    if isinstance(x, RunOut) and _only_count(x):
        asked = date.fromisoformat(old["asked"]) if old.get("asked") else None
        return asked is None or (x.counted is not None and x.counted >= asked and now.date() - asked >= ASK_AGAIN)
    ago = now - said_at
    today, said_on = now.date(), said_at.astimezone(now.tzinfo).date()
    moved = _moved(x, old, said_on, today)
    if isinstance(x, RunOut) and (old.get("only_count") or _renewed(x, said_at)):
        return True  # only a count was asked for then; or it was ordered or came since, and that does not last
    if isinstance(x, RunOut) and x.missed:  # nothing to be done before they open, and nothing new until then
        return not old.get("missed") or (x.order_amount is not None and _due_today(x, today) and said_on < today)
    if RANK[x.level] < RANK[old["level"]] or moved <= -1 or moved >= 3 or ago >= timedelta(days=14):
        return True  # it got worse, came nearer, or is another matter of the same name
    if (getattr(x, "advice", None) or _late(x)) != old["advice"]:
        return True
    if isinstance(x, DoseDue) and not x.missed and old.get("short") not in (None, _short(x)):
        return x.from_ <= today or _short(x)  # the bottle is here now, or an opened one is past its days
    if isinstance(x, Ready) and any(h.tag in old.get("tags", ()) for h in x.held):
        return True  # one of those named for the load may not go any more
    if x.level == "soon":
        if isinstance(x, DoseDue) and (x.to - today).days == LAST_DAYS and today - said_on >= TOGETHER:
            return True
        if x.due is None or day_of(x.due) > today:
            return False
        if old["due"] is not None and date.fromisoformat(old["due"][:10]) > said_on:
            return day_of(x.due) == today and said_on < today  # said ahead, and now its day has come
        return ago >= timedelta(days=min(8, 2 ** int(old["times"]))) - timedelta(hours=2)
    if moved > 0 and said_on < today:
        return True
    wait = min(8, 2 ** max(0, int(old["times"]) - 1))
    return ago >= timedelta(days=wait) - timedelta(hours=2)


def _renewed(x: RunOut, said_at: datetime) -> bool:
    """Whether the item was ordered or came since it was said, in answer to that or unasked: a new matter."""
    return x.renewed is not None and x.renewed >= said_at


def _only_count(x: RunOut) -> bool:
    """Whether it asks for nothing but a count."""
    return bool(x.ask_count) and x.order_amount is None and not x.missed


def _due_today(x: Finding, today: date) -> bool:
    return x.due is not None and day_of(x.due) <= today


def batch(x: Finding) -> str:
    """What is done in one go though it falls due animal by animal: a step of a dose plan in one group. Said once in a
    few days; its last day (act) is said in any case."""
    return f"batch:{x.plan}:{x.step}:{x.group}" if isinstance(x, DoseDue) else ""


def _moved(x: Finding, old: dict[str, Any], said_on: date, today: date) -> int:
    """By how many days the moment to act has moved since it was said; nearer is below zero. What was to be done at
    once then, and still is, has not moved."""
    if x.due is None or old["due"] is None:
        return 0
    due, before = day_of(x.due), date.fromisoformat(old["due"][:10])
    return 0 if due <= today and before <= said_on else (due - before).days


def waved(x: Finding, farm: Farm, now: datetime) -> bool:
    """Whether somebody has put this off, or waved it away, and that still holds."""
    wave = farm.waves.get(x.key)
    return wave is not None and (wave.until is None or datetime.fromisoformat(wave.until) > now)


def waking(start: datetime, hours: timedelta, farm: Farm) -> datetime:
    """The moment so many waking hours after another; waking is from the morning message to the evening one."""
    zone, at = _zone(farm), start
    while True:
        dawn = local(datetime.combine(at.date(), farm.plan.farm.morning), zone)
        dusk = local(datetime.combine(at.date(), farm.plan.farm.evening), zone)
        at = max(at, dawn)
        if at + hours <= dusk:
            return at + hours
        hours -= max(timedelta(0), dusk - at)
        at = local(datetime.combine(at.date() + timedelta(days=1), farm.plan.farm.morning), zone)
