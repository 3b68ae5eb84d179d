"""Words that turn a telling over: "did not give", "dead or sleeping, can't tell", "thursday instead".

A row accounts for numbers and names, whatever stands between them; these words are what it may have passed over. What
was denied is not recorded; what was left open is asked, with what was read as the first choice.
"""

from collections.abc import Sequence

from bot.fact import Ask, Choice
from bot.slots import Piece
from rules.entries import Entry

_NO = {
    "not", "no", "never", "without", "nor", "neither", "cannot", "nothing", "nobody", "nae", "aint",
    "didnt", "havent", "hasnt", "isnt", "wasnt", "arent", "werent", "doesnt", "dont", "wont", "cant", "couldnt",
}  # fmt: skip
# After a "not" or "no" these say how it was, not that it was otherwise: "not bad", "no problem".
_MILD = {
    "bad", "good", "great", "happy", "fun", "pretty", "nice", "easy", "long", "worth", "looking", "surprised", "far",
    "problem", "problems", "worries", "issues", "trouble", "bother", "rush", "hurry", "joke", "fuss", "drama", "complaints",
    "signs", "sign", "kidding", "thanks", "that", "too", "so", "wonder", "messing", "help", "matter", "question", "doubt",
    "rain", "wind", "luck", "sleep", "idea how", "harm", "change", "losses", "deaths", "reaction", "complications",
}  # fmt: skip
_OPEN = {"or", "either", "unsure", "dunno", "guessing", "possibly", "perhaps", "supposedly"}
_SHRUGS = ("not sure", "cant tell", "dont know", "no idea", "cant remember", "not certain", "hard to say", "dont remember", "cant recall")
# Entries whose own words deny: nothing left, no sale, not open, put right, seen not eating, not in lamb.
_DENYING = {"on_hand", "sale_day", "closed", "open", "correct", "note", "scanned", "ordered", "undo", "remind", "loss", "retagged", "product"}
# Doings that a "not" just before them takes back.
_DOING = (
    "dose", "ship", "sell", "die", "cull", "weaned", "docked", "castrated", "shorn", "pulled", "housed", "creep", "move", "come",
    "fed", "order", "borrow", "lend", "foster", "lambed", "tagged", "weigh", "rams", "inserts", "fieldwork", "load", "augered",
    "out", "closed", "spoil", "in",
)  # fmt: skip


def denied(pieces: Sequence[Piece], entries: Sequence[Entry]) -> bool:
    """Whether a "not" stands just before the doing that was read: nothing happened then."""
    for n, p in enumerate(pieces):
        if p.text not in _NO or p.kind != "word":
            continue
        after = [q for q in pieces[n + 1 : n + 4] if q.kind == "word"]
        if after and after[0].text in _MILD:
            continue
        doing = next((q for q in after if q.is_(*_DOING)), None)
        if doing is None or doing.is_("sick") and not doing.is_("die"):
            continue
        out = doing.is_("out") and p.text in ("not", "isnt", "arent", "aint", "never", "werent", "wasnt")
        own = any(e.kind in _DENYING for e in entries) and not out
        if not own:
            return True
    return False


def left_open(pieces: Sequence[Piece], entries: Sequence[Entry]) -> Ask | None:
    """Asked where a "not", an "or" or a shrug is left over that no entry of this kind speaks of."""
    text = " ".join(p.text for p in pieces if p.kind == "word")
    words = [p for n, p in enumerate(pieces) if p.kind == "word" and not _harmless(pieces, n)]
    notes = all(e.kind == "note" for e in entries)
    shrug = any(s in text for s in _SHRUGS)
    if not shrug and any(e.kind in _DENYING for e in entries):
        shrug = not notes and any(p.text in _OPEN for p in words)
    elif not shrug:
        shrug = any(p.text in _OPEN or p.text in _NO or p.text == "instead" for p in words)
    if not shrug or notes:
        return None
    return Ask("Did I get that right?", (Choice("yes", tuple(entries)), Choice("no, I'll say it again")))


def _harmless(pieces: Sequence[Piece], n: int) -> bool:
    p = pieces[n]
    after = pieces[n + 1].text if n + 1 < len(pieces) else ""
    before = pieces[n - 1].text if n else ""
    if p.text == "or":
        return after in ("so", "less", "thereabouts", "whatever", "something") or (before, after) == ("more", "less")
    if p.text in _NO:
        return after in _MILD or not after
    return False
