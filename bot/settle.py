"""Between reading and the book: what a reading means on this farm, at this moment, in this sender's history.

A reading that is sure of its words can still be doubtful in fact (a held lamb shipped): that is asked. An undo, a
correction, finds what it means here. Nothing is written here.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from bot.plan_check import plan_mistakes
from bot.plan_shape import said
from bot.reading import Ask, Choice, Reading, Record
from bot.words import chat
from rules import entries as e
from rules.farm import Farm
from rules.findings import Hold
from rules.fold import Fold, last_of, stands
from rules.loads import hold
from rules.plan import changed
from rules.records import as_data

_WEIGHED: Mapping[type[e.Said], str] = {e.Weight: "tag"}
_STORED: Mapping[type[e.Said], str] = {e.OnHand: "item", e.Received: "item", e.Used: "item", e.Ordered: "item"}
_ORDINALS = ("first", "second", "third", "fourth")
_YES = {"yes", "y", "yep", "yeah", "aye", "ok", "right", "correct", "thats it", "that one"}
_NO = {"no", "n", "nope", "neither", "none", "none of these", "forget it", "leave it"}


_PASS = _NO | {"dont know", "not sure", "no idea", "later", "not yet", "nobody", "nothing", "pass", "dunno", "idk"}


def meant(reading: Reading, farm: Farm) -> Reading:
    """The reading as it stands on this farm: shipping a held animal is asked about first, with the day."""
    if not isinstance(reading, Record):
        return reading
    if wrong := _misfit(reading.entries, farm):
        return Ask(wrong)
    for entry in reading.entries:
        if isinstance(entry, e.Ship | e.Sale) and (held := _held(entry, farm)):
            tags = tuple(t for t in entry.tags if t not in {h.tag for h in held})
            choices = [Choice("it went", reading.entries)]
            if tags:
                rest = tuple(replace(x, tags=tags) if x is entry else x for x in reading.entries)
                choices.append(Choice("without it" if len(held) == 1 else "without them", rest))
            return Ask(chat.held_went(held, entry.on), (*choices, Choice("none of these", ())))
    return reading


def _misfit(entries: Iterable[e.Entry], farm: Farm) -> str | None:
    """What is wrong with the plan as these entries would leave it, or None: the checks are those of a file."""
    changes = [x for x in entries if isinstance(x, e.PlanSet) and x.table]
    if not changes:
        return None
    after = farm.plan_data
    for x in changes:
        after = changed(after, str(x.table), x.name, x.set)
    people = after.get("person", [])
    if people and not any(row.get("role", "owner") == "owner" for row in people):
        return chat.NO_OWNER
    mistakes = plan_mistakes({t: said(rows) for t, rows in after.items()})
    return chat.does_not_fit(mistakes[0]) if mistakes else None


def _held(entry: e.Ship | e.Sale, farm: Farm) -> list[Hold]:
    animals = [farm.animals[t] for t in map(farm.now_tagged, entry.tags) if t in farm.animals]
    return [h for a in animals if a.here and (h := hold(farm, a, entry.on)) is not None]


def settled(fold: Fold, recorded: Iterable[tuple[int, ...]], entries: Sequence[e.Entry]) -> list[e.Entry] | str:
    """The entries as they go into the book: an undo with what it takes back, a correction with what it replaces.
    A sentence where there is nothing of the kind. `recorded` is what the sender's messages told, the last one first."""
    if wrong := _misfit(entries, fold.farm):
        return wrong
    found: list[e.Entry] = []
    for entry in entries:
        if isinstance(entry, e.Undo):
            seqs = _last_told(fold, recorded, entry.count or 1)
            if not seqs:
                return chat.NOTHING_TO_UNDO
            found.append(replace(entry, withdraws=seqs))
        elif isinstance(entry, e.Correct):
            corrected = _corrected(fold, entry)
            if corrected is None:
                return chat.nothing_to_correct(entry.tag or entry.item or "")
            found.append(corrected)
        else:
            found.append(entry)
    return found


def _last_told(fold: Fold, recorded: Iterable[tuple[int, ...]], count: int) -> tuple[int, ...]:
    """The standing entries of the last `count` messages that still say something."""
    seqs: list[int] = []
    for told in recorded:
        standing = [s for s in stands(fold, told) if not isinstance(fold.told[s].entry, e.Undo | e.Edited)]
        if standing:
            seqs = standing + seqs
            count -= 1
        if count == 0:
            break
    return tuple(seqs)


def _corrected(fold: Fold, entry: e.Correct) -> e.Correct | None:
    """The correction with the entry that was wrong, and the one that now stands in its place and on its day."""
    old = last_of(fold, _WEIGHED if entry.tag else _STORED, entry.tag or entry.item or "")
    if old is None:
        return None
    if isinstance(old.entry, e.Weight):
        right = {"weight": entry.weight, "unit": entry.unit}
    else:
        right = {"amount": entry.amount, "unit": entry.unit}
    instead = as_data(replace(old.entry, **{k: v for k, v in right.items() if v is not None}))  # type: ignore[arg-type]
    return replace(entry, withdraws=(old.seq,), instead=instead)


def chosen(text: str, ask: Mapping[str, Any]) -> int | None:
    """Which choice of an open question these words take: by its label, its place, or yes and no; None for others."""
    words = re.sub(r"[^\w. ]", "", text.lower()).strip(" .")
    labels = [str(c["label"]).lower() for c in ask.get("choices", [])]
    plain = [re.sub(r"[^\w. ]", "", x).strip() for x in labels]
    if not words or not labels:
        return None
    if plain.count(words) == 1:
        return plain.index(words)
    if words in _PASS and plain.count("skip") == 1:
        return plain.index("skip")
    if words in _NO:
        return next((n for n, x in enumerate(plain) if x in _NO or x.startswith("none")), None)
    if words in _YES and len([x for x in plain if x not in _NO]) == 1:
        return 0
    place = re.fullmatch(r"(?:the )?(first|second|third|fourth)(?: one)?", words)
    if place and _ORDINALS.index(place[1]) < len(labels):
        return _ORDINALS.index(place[1])
    return None
