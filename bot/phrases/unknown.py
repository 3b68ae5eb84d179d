"""What the plan does not have, in a message that is plain otherwise: an item, a product, a group. A new one?

Once it is on the plan, the message is read again, on its own day (`Choice.again`); so the whole message is taken here.
"""

from bot.fact import Ask, Choice, Fact
from bot.phrases.details import set_
from bot.slots import Piece


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
