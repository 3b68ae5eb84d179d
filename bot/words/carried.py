"""What is asked where a message leans on the one before it, and how a change of what was told is said."""

from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from bot.told import Change, Told
from bot.words import say
from bot.words.kept import echo, since_last, subject, to_go
from rules import entries as e
from rules.farm import Animal, Farm


def names(who: Sequence[e.About]) -> str:
    return say.words([subject(x) for x in who])


IN_FULL = "What of the others? Tell me in full, which and what."


def same_what(who: Sequence[e.About]) -> str:
    return f"The same what for {names(who)}? Tell me in full."


def in_full(entry: e.Entry, who: Sequence[e.About], farm: Farm) -> str:
    return f"Last was: {echo(entry, farm, entry.on)}. What of {names(who)}? Tell me in full."


def no_such(tag: str) -> str:
    return f"No {tag} on the farm. Which one?"


def gone(animal: Animal) -> str:
    return f"{animal.tag} is {animal.status} in my book. Which one was it?"


def what_weight(tag: str) -> str:
    return f"What does {tag} weigh?"


def that_weight(weights: Sequence[e.Weight], farm: Farm) -> str:
    first = weights[0]
    return f"{say.words([x.tag for x in weights])} at {say.weight(first.weight, farm, first.unit)} too?"


def which_others(entry: e.Entry, farm: Farm) -> str:
    return f"Which others? Last was: {echo(entry, farm, entry.on)}."


def which_day(words: str) -> str:
    return f"Which day is {words}?"


def to_come(day: date, today: date) -> str:
    return f"{say.day(day, today)} is still to come: which day was it?"


def all_of_them(count: int, day: date, today: date) -> str:
    return f"All {count} {say.day(day, today)}, or just the last?"


def make_what(heard: str) -> str:
    return f'"{heard}": of what? I have nothing of yours just before it. Tell me in full.'


def really(what: str) -> str:
    return f"Really: {what}?"


def not_of(entry: e.Entry, farm: Farm) -> str:
    return f"Last was: {echo(entry, farm, entry.on)}. That does not go with it. Tell me in full."


def meant_that(what: str, at: datetime, now: datetime) -> str:
    """It was told some time ago: is it meant?"""
    when = f"{at:%H:%M}" if at.date() == now.date() else f"{at:%H:%M} {say.day(at.date(), now.date())}"
    return f"You told me that at {when}. Now: {what}?"


def same(entries: Sequence[e.Entry], farm: Farm, today: date) -> str:
    return "; ".join(echo(x, farm, today) for x in entries)


def name_of(c: Change) -> str:
    """A word or two for what a change puts there, for a button."""
    for key in ("tag", "weight", "amount", "count", "head", "group", "to", "item", "product"):
        if (value := getattr(c.new, key, None)) != getattr(c.old, key, None) and value is not None:
            if isinstance(value, int | Decimal):
                unit = getattr(c.new, "unit", None) or ("eggs" if isinstance(c.new, e.Eggs) else "")
                return say.amount(Decimal(value), unit) if unit != "eggs" else f"{value} eggs"
            return say.tags(value, 2) if isinstance(value, tuple) else str(value)
    return what(c.new)


def what(entry: e.Entry) -> str:
    """A word or two for what an entry is about."""
    for key in ("tag", "item", "product", "bin", "field", "dam", "group"):
        if value := getattr(entry, key, None):
            return str(value)
    tags = getattr(entry, "tags", ())
    return say.tags(tags, 2) if tags else entry.kind


def which_change(changes: Sequence[Change], farm: Farm) -> str:
    return f"Which one: {' or '.join(echo(c.new, farm, c.new.on) for c in changes)}?"


def change(changes: Sequence[Change], farm: Farm, today: date) -> str:
    """All that is changed, each as it is and as it was."""
    first = changes[0] if changes else None
    if first and len(changes) > 3 and all(_moved(c) and c.old.on == first.old.on for c in changes):
        return f"{len(changes)} moved to {say.day(first.new.on, today)}, not {say.day(first.old.on, today)}"
    return "; ".join(changed(c.old, c.new, farm, today) for c in changes)


def _moved(c: Change) -> bool:
    """Whether only the day is another."""
    return c.new.on != c.old.on and replace(c.old, on=c.new.on) == c.new


def changed(old: e.Entry, new: e.Entry, farm: Farm, today: date) -> str:
    """One thing as it now stands, and what was there before: "milk 3 bags left, was 2 bags"."""
    if _moved(Change((), old, new)):
        return f"{echo(replace(new, on=today), farm, today)}: {say.day(new.on, today)}, not {say.day(old.on, today)}"
    now = echo(new, farm, today)
    for key in ("price", "total"):
        a, b = getattr(old, key, None), getattr(new, key, None)
        if a is not None and b is not None and a != b:
            price = say.money(b, farm, price=True)
            return f"{now}{'' if price in now else f': {price}'}, was {say.money(a, farm, price=True)}"
    was = _was(old, new, farm, today)
    return f"{now}, was {was}" if was else f"{now}. Before: {echo(old, farm, today)}"


def back(old: e.Entry, new: e.Entry, farm: Farm, today: date) -> str:
    """A change that is taken back, and what stands again."""
    return f"{echo(new, farm, today)}. As before: {echo(old, farm, today)}"


def _was(old: e.Entry, new: e.Entry, farm: Farm, today: date) -> str | None:
    """What one thing was before, where only that differs; None where it is better said whole."""
    if type(old) is not type(new):
        return None
    differ = [f.name for f in fields(new) if getattr(old, f.name) != getattr(new, f.name)]
    value: Any = getattr(old, differ[0]) if differ else None
    if isinstance(old, e.Weight) and set(differ) <= {"weight", "unit"}:
        return say.weight(old.weight, farm, old.unit)
    if set(differ) <= {"amount", "unit"} and getattr(old, "amount", None) is not None:
        return say.amount(old.amount, getattr(old, "unit", None) or "")  # type: ignore[attr-defined]
    if len(differ) != 1:
        return None
    if isinstance(value, tuple):
        return say.tags([t for t in value if t not in getattr(new, differ[0])])
    if isinstance(value, date):
        return say.day(value, today)
    return str(value) if isinstance(value, int | str) else None


def put_right(changes: Sequence[Change], farm: Farm, today: date) -> str:
    """What was changed, said once it is written; of a weight, what it means now."""
    text = f"Changed. {change(changes, farm, today)}."
    new = changes[0].new
    animal = farm.animals.get(farm.now_tagged(new.tag)) if len(changes) == 1 and isinstance(new, e.Weight) else None
    if animal is not None:
        means = (to_go(animal, farm).removeprefix(", "), since_last(animal, farm))
        text += "".join(f" {x[0].upper()}{x[1:]}." for x in means if x)
    return text


def edited(old: Sequence[e.Entry], new: Sequence[e.Entry], farm: Farm, today: date) -> str:
    """What an edited message had told before, as far as that is otherwise now."""
    left, said = list(new), []
    for x in old:
        same = next((y for y in left if type(y) is type(x) and what(y) == what(x)), None)
        if same is None:
            said.append(f"Taken back: {echo(x, farm, today)}.")
            continue
        left.remove(same)
        was = _was(x, same, farm, today) if x != same else None
        if was is not None:
            said.append(f"Was {was}." if len(old) == 1 else f"{what(x)} was {was}.")
    return " ".join(said)


def last_told(told: Sequence[Told], asked: str | None, farm: Farm, now: datetime) -> str:
    """What somebody told last, the last first, and what of theirs is still open."""
    lines = []
    for t in told:
        when = f"{t.at:%H:%M}" + ("" if t.at.date() == now.date() else f" {say.day(t.at.date(), now.date())}")
        lines.append(f"{when}: {'; '.join(echo(x, farm, t.at.date()) for x in t.entries[:6])}.")
    if asked:
        lines.insert(0, f"Still open: {asked}")
    return "\n".join(lines[:8]) or "Nothing of yours since yesterday."
