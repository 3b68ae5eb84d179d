"""Words that turn a telling over: "did not give", "dead or sleeping, can't tell", "thursday instead".

A row accounts for numbers and names, whatever stands between them; these words are what it may have passed over. What
was denied is not recorded; what was left open is asked, with what was read as the first choice.
"""

import itertools
from collections.abc import Sequence

from bot.fact import Ask, Choice
from bot.slots import Piece
from rules.entries import Entry

_NO = {
    "not", "no", "never", "without", "nor", "neither", "cannot", "nothing", "nobody", "nae", "aint", "didnt", "havent",
    "hasnt", "isnt", "wasnt", "arent", "werent", "doesnt", "dont", "wont", "cant", "couldnt",
}  # fmt: skip
_HELPING = {"did", "do", "does", "have", "has", "had"}  # "did not give" whatever word of giving follows
_HELPED = {"didnt", "havent", "hasnt", "never", "couldnt", "dont", "doesnt"}
# After a "not" or "no" these say how it was, not that it was otherwise: "not bad", "no problem".
_MILD = {
    "bad", "good", "great", "happy", "fun", "pretty", "nice", "easy", "long", "worth", "looking", "surprised", "far",
    "problem", "problems", "worries", "issues", "trouble", "bother", "rush", "hurry", "joke", "fuss", "drama",
    "complaints", "signs", "sign", "kidding", "thanks", "that", "too", "so", "wonder", "messing", "help", "matter",
    "question", "doubt", "rain", "wind", "luck", "sleep", "harm", "change", "losses", "deaths", "reaction",
    "complications",
}  # fmt: skip
_WATCHING = {
    "look", "see", "check", "know", "catch", "notice", "remember", "hear", "wait", "matter", "mind", "like", "bother",
}  # fmt: skip
# Words that leave open what was, or say what ought to be.
_OPEN = {
    "maybe", "guess", "probably", "prob", "bet", "betting", "gotta", "must", "ought", "figure", "figuring", "estimate",
    "estimating", "give", "should", "should be", "shd be", "or", "either", "unsure", "dunno", "guessing", "possibly",
    "perhaps", "supposedly",
}  # fmt: skip
_SHRUGS = (
    "not sure", "cant tell", "dont know", "no idea", "cant remember", "not certain", "hard to say", "dont remember",
    "cant recall", "book says", "it says", "you have", "you had", "you said", "you told", "you got", "supposed to",
)  # fmt: skip
# Entries whose own words deny: nothing left, no sale, not open, put right, seen not eating, not in lamb.
_DENYING = {
    "on_hand", "sale_day", "closed", "open", "correct", "note", "scanned", "ordered", "undo", "remind", "retagged",
    "product",
}  # fmt: skip
_SMALL = ("at", "in", "on", "to", "is", "was", "up to", "now", "over", "of")
# Doings that a "not" just before them takes back.
_DOING = (
    "dose", "ship", "sell", "die", "cull", "weaned", "docked", "castrated", "shorn", "pulled", "housed", "creep",
    "move", "come", "fed", "order", "borrow", "lend", "foster", "lambed", "tagged", "weigh", "rams", "inserts",
    "fieldwork", "load", "augered", "out", "closed", "spoil", "in",
)  # fmt: skip


def _denies_itself(entry: Entry) -> bool:
    """Whether an entry's own words deny; "pulled 2431, no colostrum" is one too."""
    return entry.kind in _DENYING or getattr(entry, "colostrum", None) is False


def denied(pieces: Sequence[Piece], entries: Sequence[Entry]) -> bool:
    """Whether a "not" takes back the doing that was read ("did not give", "not out of milk yet"): nothing happened."""
    own = any(map(_denies_itself, entries))
    for n, p in enumerate(pieces):
        if p.text not in _NO or p.kind != "word":
            continue
        after = list(itertools.takewhile(lambda q: q.kind == "word", _chunk(pieces, n)[1][:3]))
        if not after or after[0].text in _MILD:
            continue
        if after[0].text in _WATCHING:  # "had twins, didnt look what they are"
            continue
        helped = pieces[n - 1].text in _HELPING if n and p.text == "not" else p.text in _HELPED
        doing = next((q for q in after if q.is_(*_DOING) and q.text not in _SMALL), None)
        if doing is not None and doing.is_("out") and (helped or p.text in ("not", "never", "isnt", "arent")):
            return True
        if not own and (helped or (doing is not None and not doing.is_("sick"))):
            return True
    return False


def left_open(pieces: Sequence[Piece], entries: Sequence[Entry]) -> Ask | None:
    """Asked where a "not", an "or" or a shrug is left over that no entry of this kind speaks of."""
    text = " ".join(p.text for p in pieces if p.kind == "word")
    words = [p for n, p in enumerate(pieces) if p.kind == "word" and not _harmless(pieces, n) and _beside(pieces, n)]
    notes = all(e.kind in ("note", "cull") for e in entries)  # "cull 419, no teeth"
    shrug = any(s in text for s in _SHRUGS)
    if not shrug and any(map(_denies_itself, entries)):
        shrug = not notes and any(p.text in _OPEN for p in words)
    elif not shrug:
        shrug = any(p.text in _OPEN or p.text in _NO or p.text == "instead" for p in words)
    if not shrug or notes:
        return None
    return Ask("Did I get that right?", (Choice("yes", tuple(entries)), Choice("no, I'll say it again")))


def _chunk(pieces: Sequence[Piece], n: int) -> tuple[Sequence[Piece], Sequence[Piece]]:
    """What stands before and after a piece, up to the nearest comma or "and" (a gap in places)."""
    start, end = n, n + 1
    while start > 0 and pieces[start - 1].kind != "sep" and pieces[start - 1].end == pieces[start].start:
        start -= 1
    while end < len(pieces) and pieces[end].kind != "sep" and pieces[end].start == pieces[end - 1].end:
        end += 1
    return pieces[start:n], pieces[n + 1 : end]


def _beside(pieces: Sequence[Piece], n: int) -> bool:
    """Whether a word stands in one chunk with a number or a name; "106 to the cull pen, no teeth" gives a reason."""
    before, after = _chunk(pieces, n)
    kinds = ("num", "name", "tag", "day") if pieces[n].text == "instead" else ("num", "name", "tag")
    return any(p.kind in kinds for p in (*before, *after))


def _harmless(pieces: Sequence[Piece], n: int) -> bool:
    p = pieces[n]
    after = pieces[n + 1].text if n + 1 < len(pieces) else ""
    before = pieces[n - 1].text if n else ""
    if p.text == "or":
        return after in ("so", "less", "thereabouts", "whatever", "something") or (before, after) == ("more", "less")
    if p.text in _NO:
        return after in _MILD or not after
    return False
