"""What the farm does not have, in a message that is plain otherwise: an item, a product, a group, an animal. A new one?

Once it is on the plan, the message is read again, on its own day (`Choice.again`); so the whole message is taken here.
"""

import re
from collections.abc import Sequence

from bot.fact import Ask, Choice, Doubt, Fact, instead_of
from bot.phrases.details import set_
from bot.slots import Piece
from rules.entries import AnimalSet


def a_new(fact: Fact, table: str, name: str, *others: Choice, **keys: str | None) -> Ask:
    """Whether a name is that of a new row, of which these keys were said; `others` are rows that may have been meant."""
    fact.use(*range(len(fact.pieces)))
    new = set_(fact.said.date(), table, name, **{key: value for key, value in keys.items() if value})
    first = Choice(f"new {table}", (new,), again=True)
    return Ask(f"{name[:1].upper()}{name[1:]} is new to me. A new {table}?", (first, *others, Choice("none of these")))


_MOVED = ("moved", "shifted", "drafted", "put", "moving", "turned into", "walked", "move")
_INTO = ("to", "into", "onto", "in", "over to", "up to", "down to", "in with", "back to", "out to")
_PLACES = {
    "pen", "paddock", "pasture", "field", "shed", "barn", "yard", "lot", "stall", "house", "mob", "flock", "group", "jug",
    "meadow", "hill", "creep", "pens", "corral", "run", "byre", "fold", "park", "block", "bay", "room", "hospital",
}  # fmt: skip


def unknown_group(fact: Fact) -> Ask | None:
    """ "moved 2641 to the far pen": animals named or counted, put into a place that is no group of the plan."""
    into = max((n for n, p in enumerate(fact.pieces) if p.kind == "word" and p.text in _INTO), default=0)
    if not into or not any(p.text in _MOVED for p in fact.pieces[:into]):
        return None
    after: list[Piece] = []
    for p in fact.pieces[into + 1 :]:
        if p.kind not in ("word", "num") or p.text in ("with", "for", "because", "after", "before", "on"):
            break
        after.append(p)
    words = [p.text for p in after if p.text not in ("the", "my", "our", "a", "his", "her")]
    if not 1 <= len(words) <= 4 or not _PLACES & set(words) or words[-1] == "group" or words == ["house"]:
        return None
    counted = [p for _, p in fact.nums() if p not in after and p.unit in (None, "head")]
    if not fact.tags() and len(counted) != 1:
        return None
    return a_new(fact, "group", " ".join(words))


_NUMBERED = {
    "pen": "group", "mob": "group", "flock": "group", "group": "group", "bin": "bin", "silo": "bin", "hopper": "bin",
}  # fmt: skip


_OF_BINS = ("bu", "t", "ton", "cwt", "lb", "kg")


def numbered_place(fact: Fact) -> Ask | None:
    """ "weaned pen 3", "bin 4 2200 bu": a pen or bin by number or letter that the plan does not have."""
    for n, p in enumerate(fact.pieces[:-1]):
        after = fact.pieces[n + 1]
        plain = after.kind in ("num", "word") and not after.unit and re.fullmatch(r"\d{1,2}|[b-hj-z]", after.text)
        table = _NUMBERED.get(p.text) if p.kind == "word" and plain else None
        full = table != "bin" or any(q.unit in _OF_BINS or q.text in ("empty", "full") for q in fact.pieces)
        if table and full:
            return a_new(fact, table, f"{p.text} {after.text}")
    return None


def no_such_animal(fact: Fact, p: Piece, near: Sequence[str], new: bool = True) -> Doubt:
    """A tag that no animal has: the nearest ones, and where few are near whether it is a new one, and in which group."""
    groups: list[str | None] = [g.name for g in fact.plan.group]
    groups = (groups or [None])[: max(0, 3 - len(near))]
    fresh = [
        Choice(f"new, {g}" if g else "new animal", (AnimalSet(on=fact.said.date(), tag=p.text, group=g),), again=True)
        for g in groups if new and len(p.text) < 15
    ]  # fmt: skip
    why = f"No {p.text} on the farm. " + ("Which one?" if near or not fresh else "A new animal?")
    return Doubt(why, (*fresh, Choice("none of these")), instead_of(p, near))
