"""The timetable at work: makes the checks that fell due, and says what is worth saying to whom.

`serve` is woken at `next_knock`, `replay` walks there; both make the same `knock`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from json import loads

from bot import checks
from bot.alley import run_ends, summed_up
from bot.book import BookTrouble, fold
from bot.desk import Button, Desk, Out, offer, owed, remember
from bot.when import local
from bot.words import found
from rules.days import Moment
from rules.doses import TOGETHER
from rules.findings import Finding
from rules.plan import Person

LATE = timedelta(minutes=10)  # a check this late is made at the present moment, once, however often it was missed


def next_knock(desk: Desk, after: datetime) -> datetime:
    """When the next scheduled check falls due, strictly after a moment."""
    due = [at for check in checks.CHECKS if (at := check.next(desk.farm, after)) is not None]
    due += [at for at in (_lies_till(desk), *run_ends(desk).values()) if at is not None and at > after]
    return min(due)


def knock(desk: Desk, now: datetime, *, late: timedelta | None = LATE) -> list[Out]:
    """Make every scheduled check that fell due up to now, each at its own time. One that is later than `late` is made
    at the present moment instead, once, however often it was missed. What it says is owed in the book when this
    returns. Raises BookTrouble."""
    kept_last = desk.book.kept("knocked")
    if kept_last is None:
        desk.book.keep("knocked", now.isoformat())
        return []
    at = datetime.fromisoformat(kept_last)
    outs: list[Out] = []
    missed: dict[str, checks.Check] = {}
    while (due := next_knock(desk, at)) <= now:
        at, before = due, at
        rows = [check for check in checks.CHECKS if check.next(desk.farm, before) == at]
        if late is not None and now - at > late:
            missed |= {check.name: check for check in rows}
        else:
            outs += _made(desk, at, at, rows)
    if missed:
        outs += _made(desk, now, at, missed.values())
    return outs


def _made(desk: Desk, now: datetime, due: datetime, rows: Iterable[checks.Check]) -> list[Out]:
    """Make these checks as of `now`, and remember that all up to `due` are made."""
    m = desk.moment(now)
    try:
        with desk.book.block():
            outs = _to_family(desk, m) if (lies := _lies_till(desk)) is not None and lies <= now else []
            for who, ends in run_ends(desk).items():
                outs += [out] if ends <= now and (out := summed_up(desk, who, now, "scheduled")) else []
            for check in rows:
                outs += _looked(desk, check, m)
            desk.book.keep("knocked", due.isoformat())
            return owed(desk, outs)
    except BookTrouble:
        desk.fold = fold(desk.book)
        raise


def _looked(desk: Desk, check: checks.Check, m: Moment) -> list[Out]:
    """What one check says to each owner, and to those whose job it is; nothing where nothing is worth saying."""
    looked = [x for x in check.look(desk.farm, m) if not checks.waved(x, desk.farm, m.now)]
    outs, urgent = [], []
    for person in desk.people():
        theirs = [x for x in looked if _is_for(desk, x, person)]
        if fresh := _fresh(desk, person, theirs, m):
            outs.append(_scheduled(desk, person, fresh, m, morning=check.name == "morning"))
            urgent += [x.key for x in fresh if x.level == "act" and person.role == "owner" and x.key not in urgent]
    if urgent:
        desk.book.keep("urgent", {"at": m.now.isoformat(), "keys": urgent})
    return outs


def _is_for(desk: Desk, x: Finding, person: Person) -> bool:
    """A job is for whoever it was set for; all else, and the job of somebody who left, for the owners."""
    who = getattr(x, "who", None)
    return who == person.name if who and desk.person(who) else person.role == "owner"


def _fresh(desk: Desk, person: Person, looked: Sequence[Finding], m: Moment) -> list[Finding]:
    """Those of the findings that this person has not been told, or that have changed, or whose moment came."""
    fresh = []
    for x in looked:
        spoken = desk.book.said(person.name, x.key)
        old = loads(spoken.gist) if spoken else None
        waits = old is None and _soon_again(desk, person, x, m)
        if checks.worth(x, old, spoken.at if spoken else None, m.now) and not waits:
            fresh.append((x, old))
    batches = {name for x, _ in fresh if (name := checks.batch(x))}
    fresh += [(x, None) for x in looked if checks.batch(x) in batches and x.key not in {y.key for y, _ in fresh}]
    for x, _ in fresh:
        remember(desk, person.name, x, m)
    for name in sorted(batches):
        desk.book.say(person.name, name, "{}", m.now)
    return [x for x, _ in fresh]


def _soon_again(desk: Desk, person: Person, x: Finding, m: Moment) -> bool:
    """Whether others of its batch were said lately, and this one can wait for them to be said again."""
    order_by = getattr(x, "order_by", None)
    waits = checks.batch(x) and x.level == "soon" and (order_by is None or order_by - m.now >= TOGETHER)
    last = desk.book.said(person.name, checks.batch(x)) if waits else None
    return last is not None and m.now - last.at < TOGETHER


def _scheduled(desk: Desk, person: Person, findings: Sequence[Finding], m: Moment, *, morning: bool) -> Out:
    said = found.message(findings, desk.farm, m, morning=morning)
    several = len(said.things) > 1
    rows = [list(offer(desk, person.name, x, of, m, several=several)) for x, of in said.things]
    labels = [b.label for row in rows for b in row]
    buttons = [
        replace(b, label=f"{n} {b.label}") if labels.count(b.label) > 1 else b
        for n, row in enumerate(rows, 1) for b in row
    ]  # fmt: skip
    if said.rest:
        rest = {"matter": "more", "choices": [{"label": "more", "say": said.rest}]}
        buttons.append(Button(f"{desk.book.ask(person.name, m.now, None, rest)}.0", "more"))
    cautions = tuple(dict.fromkeys(c for x in findings for c in found.cautions_in(x)))
    return Out(m.now, person.name, "scheduled", said.text, tuple(buttons), (), None, None, tuple(findings), cautions)


def _lies_till(desk: Desk) -> datetime | None:
    """When an urgent message has lain unanswered for so long that the family should hear of it."""
    urgent, answered = desk.book.kept("urgent"), desk.book.kept("answered")
    if urgent is None:
        return None
    at = datetime.fromisoformat(urgent["at"])
    if answered is not None and datetime.fromisoformat(answered) >= at:
        return None
    return checks.waking(local(at, desk.farm.plan.farm.timezone), checks.UNANSWERED, desk.farm)


def _to_family(desk: Desk, m: Moment) -> list[Out]:
    """An urgent message that nobody answered, to the family, as far as it still holds."""
    keys = desk.book.kept("urgent")["keys"]
    desk.book.keep("urgent", None)
    still = [x for x in checks.found_by(checks.RULES, desk.farm, m) if x.level == "act" and x.key in keys]
    still = [x for x in still if not checks.waved(x, desk.farm, m.now)]
    family = [p for p in desk.people() if p.role == "family"] if still else []
    outs = []
    for person in family:
        if fresh := _fresh(desk, person, still, m):
            outs.append(_scheduled(desk, person, fresh, m, morning=False))
    return outs
