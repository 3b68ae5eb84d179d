"""Between reading and the book: what a reading means on this farm, at this moment, in this sender's history.

A reading that is sure of its words can still be doubtful in fact (a held lamb shipped): that is asked. An undo, a
correction, finds what it means here. Nothing is written here.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from bot.plan_check import plan_mistakes
from bot.plan_shape import said
from bot.reading import Ask, Choice, Reading, Record
from bot.told import Told
from bot.words import chat
from rules import doubt
from rules import entries as e
from rules.farm import Animal, Farm
from rules.findings import Hold
from rules.fold import Fold, last_of, standing, stands
from rules.plan import changed
from rules.records import as_data
from rules.travel import hold
from rules.withdrawal import group_held

_WEIGHED: Mapping[type[e.Said], str] = {e.Weight: "tag"}
STALE_DAYS = 2  # so old a weight is not put right by one that says nothing of what it was
_STORED: Mapping[type[e.Said], str] = {e.OnHand: "item", e.Received: "item", e.Used: "item", e.Ordered: "item"}


def meant(reading: Reading, farm: Farm) -> Reading:
    """The reading as it stands on this farm: shipping a held animal is asked about first, with the day."""
    if not isinstance(reading, Record):
        return reading
    if wrong := _misfit(reading.entries, farm):
        return Ask(wrong)
    for entry in reading.entries:
        if isinstance(entry, e.Correct) and entry.tag in farm.animals and (asked := _doubted(entry, reading, farm)):
            return asked
        if not isinstance(entry, e.Ship | e.Sale) or (isinstance(entry, e.Sale) and entry.what):
            continue
        if held := _held(entry, farm):
            tags = tuple(t for t in entry.tags if t not in {h.tag for h in held})
            choices = [Choice("it went" if len(held) == 1 else "they went", reading.entries)]
            if tags:
                rest = tuple(replace(x, tags=tags) if x is entry else x for x in reading.entries)
                choices.append(Choice("without it" if len(held) == 1 else "without them", rest))
            return Ask(chat.held_went(held, entry.on), (*choices, Choice("none of these", ())))
        if (why := _too_many(entry, farm)) is not None:
            return Ask(why, (Choice("they went", reading.entries), Choice("none of these", ())))
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


def _doubted(entry: e.Correct, reading: Record, farm: Farm) -> Ask | None:
    """A corrected weight that this animal cannot have, judged by all its weights but the wrong one."""
    animal, weight, unit = farm.animals[entry.tag or ""], entry.weight, entry.unit or farm.plan.farm.weight
    bare: Animal = replace(animal, weighings=animal.weighings[:-1])
    if entry.instead is not None or weight is None or doubt.fits(bare, weight, unit, entry.on, farm):
        return None
    values = [*doubt.slips(bare, weight, unit, entry.on, farm)[:2], weight]
    told = [tuple(replace(x, weight=v) if x is entry else x for x in reading.entries) for v in values]
    choices = [Choice(f"{'really ' if v == weight else ''}{v:f}", t) for v, t in zip(values, told, strict=True)]
    return Ask(chat.weighs_that(animal.tag, weight, unit), (*choices, Choice("weigh again")))


def _held(entry: e.Ship | e.Sale, farm: Farm) -> list[Hold]:
    """Those of a load that are held: by tag, or in a whole group that went."""
    if entry.group and entry.head is None and not entry.tags:
        loose = group_held(farm, entry.group, entry.on)
        return [*_holds(farm.in_group(entry.group), entry.on, farm), *([loose] if loose else [])]
    animals = [farm.animals[t] for t in map(farm.now_tagged, entry.tags) if t in farm.animals]
    return _holds(animals, entry.on, farm)


def _holds(animals: Iterable[Animal], on: date, farm: Farm) -> list[Hold]:
    return [h for a in animals if a.here and (h := hold(farm, a, on)) is not None]


def _too_many(entry: e.Ship | e.Sale, farm: Farm) -> str | None:
    """Asked where a load told by head is more than may go of its group (of the market pens, where none is named)."""
    if entry.head is None or entry.tags:
        return None
    groups = [entry.group] if entry.group else farm.keeping("market lambs")
    if entry.group and not farm.tagged(entry.group):
        loose = group_held(farm, entry.group, entry.on)
        return chat.held_went([loose], entry.on) if loose else None
    held = [h for g in groups for h in _holds(farm.in_group(g), entry.on, farm)]
    free = sum(map(farm.head, groups)) - len(held)
    return chat.few_free(entry.head, entry.group, max(0, free), held, entry.on) if held and entry.head > free else None


def of_long_ago(fold: Fold, entries: Sequence[e.Entry], today: date) -> Ask | None:
    """A weight put right that was told days ago, or was not what the farmer says it was: what is meant is asked."""
    for entry in entries:
        if not isinstance(entry, e.Correct) or entry.withdraws or entry.tag is None or entry.weight is None:
            continue
        old = last_of(fold, _WEIGHED, entry.tag)
        if old is None or not isinstance(old.entry, e.Weight):
            continue
        stale = entry.was is None and (today - old.entry.on).days > STALE_DAYS
        if stale or entry.was not in (None, old.entry.weight):
            weight = e.Weight(on=today, tag=entry.tag, weight=entry.weight, unit=entry.unit or old.entry.unit)
            choices = [Choice("of today", (weight,)), Choice("instead", (_corrected(fold, entry) or entry,))]
            return Ask(chat.last_was(old.entry, entry.weight, today), (*choices, Choice("none of these")))
    return None


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
            if corrected is None or not stands(fold, corrected.withdraws[:1]):
                return chat.nothing_to_correct(entry.tag or entry.item or "")
            found.append(corrected)
        else:
            found.append(entry)
    return found


def _last_told(fold: Fold, recorded: Iterable[tuple[int, ...]], count: int) -> tuple[int, ...]:
    """The standing entries of the last `count` messages that still say something. One message that only put others
    right is taken back by itself; of several messages, each goes with what has put it right since."""
    seqs: list[int] = []
    for told in recorded:
        if count == 1 and not seqs:
            found = [s for s in stands(fold, told) if not isinstance(fold.told[s].entry, e.Undo | e.Edited)]
        else:
            own = [s for s in told if not isinstance(fold.told[s].entry, e.Correct)]
            found = [n for s in said_by(fold, own) for n in taken(fold, s)]
        if found:
            seqs = found + seqs
            count -= 1
        if count == 0:
            break
    return tuple(seqs)


def _corrected(fold: Fold, entry: e.Correct) -> e.Correct | None:
    """The correction with the entry that was wrong, and the one that now stands in its place and on its day."""
    if entry.withdraws:
        return entry
    old = last_of(fold, _WEIGHED if entry.tag else _STORED, entry.tag or entry.item or "")
    if old is None:
        return None
    if isinstance(old.entry, e.Weight):
        right = {"weight": entry.weight, "unit": entry.unit}
    else:
        right = {"amount": entry.amount, "unit": entry.unit}
    instead = as_data(replace(old.entry, **{k: v for k, v in right.items() if v is not None}))  # type: ignore[arg-type]
    return replace(entry, withdraws=taken(fold, old.seq), instead=instead)


def taken(fold: Fold, seq: int) -> tuple[int, ...]:
    """The numbers that taking back an entry must withdraw: of a correction, what it had replaced as well, which else
    would stand again."""
    return (seq, *getattr(fold.told[seq].entry, "withdraws", ()))


def said_by(fold: Fold, seqs: Iterable[int]) -> tuple[int, ...]:
    """What stands of these entries, by themselves or as they were corrected since; an edit takes all of it back."""
    mine = set(seqs)
    for seq in sorted(fold.told):
        if isinstance(entry := fold.told[seq].entry, e.Correct) and mine.intersection(entry.withdraws):
            mine.add(seq)
    return tuple(s for s in stands(fold, sorted(mine)) if not isinstance(fold.told[s].entry, e.Undo | e.Edited))


def told_before(fold: Fold, messages: Iterable[tuple[datetime, tuple[int, ...]]], most: int) -> list[Told]:
    """What the last messages of a sender told that still stands, the last first, as what follows may lean on it."""
    found: list[Told] = []
    for at, seqs in messages:
        facts = [(taken(fold, s), standing(fold.told[s].entry)) for s in stands(fold, seqs)]
        said = tuple((s, x) for s, x in facts if not isinstance(x, e.Undo | e.Edited | e.Wave))
        if said:
            found.append(Told(at, said))
        elif not found and not all(_only_corrected(fold, x) for _, x in facts if isinstance(x, e.Undo)):
            break  # taken back: there is nothing to lean on
        if len(found) == most:
            break
    return found


def _only_corrected(fold: Fold, undo: e.Undo) -> bool:
    """Whether an undo took back no more than corrections: what they had changed is what was told last again."""
    return all(isinstance(fold.told[s].entry, e.Correct) for s in undo.withdraws if s in fold.told)
