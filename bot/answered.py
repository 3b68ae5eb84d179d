"""What an answer in words makes of an open question: the choice it takes, or the message asked about put right by it.

A question is asked because one thing in a message is doubtful or missing. An answer in words puts that one thing in its
place, and the message is read anew; it is taken only where every reading of it that leaves no doubt is the same. What
is a fact of its own is never an answer: that is for the caller to see first.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from bot.reading import Answer, Ask, Reading, Record
from bot.slots import Piece

_YES = {
    "yes", "y", "yep", "yeah", "yup", "ya", "aye", "ok", "okay", "sure", "right", "correct", "thats", "it", "indeed",
}  # fmt: skip
_NO = {"no", "n", "nope", "nah", "naw", "neither", "none", "nothing"}
_PASS = {"dont know", "not sure", "no idea", "later", "not yet", "nobody", "pass", "dunno", "idk"}
_OUT = re.compile(r"(?:no|none|another|other|weigh again|skip|leave)\b")  # choices that keep nothing
_WAYS_OUT = {"none of these", "none of them", "forget it", "leave it", "never mind", "nevermind", "skip it"}
_ANOTHER = re.compile(
    r"(?:no |nope |none )?(?:its |it was |that was )?(?:an|a|some)?(?:other|nother|different)"
    r"(?: (?:one|lamb|ewe|ram|tag|animal|pen|group|bin|sheep|item))?"
    r"|(?:no )?(?:its |it was |that was )?(?:the )?wrong (?:one|lamb|ewe|ram|tag|animal|pen|sheep)"
)
_ORDINALS = {
    "first": 0, "1st": 0, "top": 0, "second": 1, "2nd": 1, "third": 2, "3rd": 2, "fourth": 3, "4th": 3, "last": -1,
    "bottom": -1,
}  # fmt: skip
_PLACE = re.compile(
    rf"(?:option |number |no |choice )?({'|'.join(_ORDINALS)})(?: one| choice| option| of (?:them|those))?"
)
# Words that only carry an answer: "no, it was the ewes please".
_LEAD = re.compile(
    r"^(?:(?:no|nope|nah|yes|yep|yeah|sorry|oh|ah|oops|i meant|meant|i mean|make that|make it|should be|it should be|"
    r"its|it is|it was|was|that was|thats|the|them|those|from|in|into|to|for|on|of|about|abt|um|er|just|only|all)"
    r"\b[ ,.:!]*)+"
)
_FILL = {
    "it", "its", "the", "a", "an", "that", "was", "is", "one", "ones", "please", "pls", "they", "them", "of", "those",
    "in", "on", "to", "for", "really", "just", "thats", "lamb", "i", "mean", "meant", "then", "sorry", "and",
}  # fmt: skip


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"[^\w. ]", "", text.lower())).strip(" .")


def chosen(text: str, ask: Mapping[str, Any], *, newest: bool = True) -> int | None:
    """Which choice of an open question these words take: by its label, and, of the `newest` question, by its place or
    yes and no; None where they take none."""
    said = plain(text)
    labels = [plain(str(c["label"])) for c in ask.get("choices", [])]
    if not said or not labels:
        return None
    for same in (lambda x: x, _bare):
        found = [n for n, label in enumerate(labels) if same(label) == same(said) and same(said)]
        if len(found) == 1:
            return found[0]
    if not newest:
        return None
    if said in _PASS | _NO and labels.count("skip") == 1:
        return labels.index("skip")
    out = [n for n, label in enumerate(labels) if _OUT.match(label)]
    if says_no(text):
        return out[-1] if out else None
    if says_yes(text):
        sure = [n for n, label in enumerate(labels) if label.split()[0] in ("yes", "add") or label == "it went"]
        rest = [n for n in range(len(labels)) if n not in out]
        return sure[0] if len(sure) == 1 else rest[0] if len(rest) == 1 else None
    place = _PLACE.fullmatch(_LEAD.sub("", said) or said)
    if place and -1 <= _ORDINALS[place[1]] < len(labels):
        return _ORDINALS[place[1]] % len(labels)
    return None


def says_no(text: str) -> bool:
    """Whether it says no more than no, or that none of the choices is meant."""
    return plain(text) in _WAYS_OUT | _NO


def says_yes(text: str) -> bool:
    """Whether it says no more than yes."""
    words = plain(text).split()
    return bool(words) and words[0] in _YES and set(words) <= _YES | _FILL


def _bare(words: str) -> str:
    """An answer or a label without the words that only carry it."""
    return " ".join(w for w in words.split() if w not in _FILL | _YES | {"no", "nope"}) or words


def wants_another(text: str) -> bool:
    """Whether it says that none of the choices is the one: "another lamb"."""
    return _ANOTHER.fullmatch(plain(text)) is not None


def answered(
    words: str,
    text: str,
    ask: Mapping[str, Any],
    cut: Callable[[str], Sequence[Piece]],
    put_in: Callable[[str, Piece, str], str],
    reading: Callable[[str], Reading],
) -> tuple[Reading, str] | None:
    """The message `text`, that was asked about, with the answer put in its place: its reading, and the text that gives
    it. None where the words are no answer, or it is left in doubt which of its things they put right."""
    bare = _LEAD.sub("", words.lower().strip()).strip(" .,!")
    said = [p for p in cut(bare) if p.kind != "sep"]
    core = [p for p in said if p.kind != "word" or p.unit]
    if not core or any(p.text not in _FILL for p in said if p not in core):
        return None
    if len(core) > 1 and not all(p.tags for p in core) and not all(p.names for p in core):
        return None  # several animals or several names answer together, not an animal and a number
    put = [(reading(t), t) for t in dict.fromkeys(put_in(text, p, x) for p, x in _put(bare, core, cut(text)))]
    added = _added(bare, core, text, ask["why"].lower())
    for found in (put, [(reading(t), t) for t in dict.fromkeys(added)]):
        sure = [(r, t) for r, t in found if isinstance(r, Record | Answer)]
        if sure:
            return sure[0] if all(r == sure[0][0] for r, _ in sure) else None
    doubted = [(r, t) for r, t in put if isinstance(r, Ask) and r.choices and r.why != ask["why"]]
    return doubted[0] if len(doubted) == 1 else None


# What a question asks for, by its words: only that is added to a message where it was missing.
_ASKED_FOR = {
    "num": re.compile(r"\bhow (?:many|much)\b|\bwhat does .* (?:weigh|hold)\b"),
    "tag": re.compile(
        r"\bwhich (?:animal|one|lamb|ewe|ram|tag)\b|\bwho got\b|\bfor which\b|\bthe tags\b|\bwhose\b|make sense"
    ),
    "name": re.compile(
        r"\b(?:which|in which|out of which|of which) (?:one|group|pen|bin|field|item|product|ewes|crop)\b|\bwho got\b"
        r"|\bwhat was given\b|\bof what\b|\bwhat last\b|\bwithdrawal of\b|make sense"
    ),
    "day": re.compile(r"\bwhich days?\b|\bwhen\b"),
}
_PLACE_ASKED = re.compile(r"\bwhich (?:group|pen|bin|field|ewes)\b")
_STANDS_FOR = {"num": ("num", "vague", "tag"), "tag": ("num", "tag"), "name": ("name",), "day": ("day",)}


def _put(bare: str, core: Sequence[Piece], old: Sequence[Piece]) -> Iterator[tuple[Piece, str]]:
    """Each thing in the message that the answer could put right, and what is put in its place."""
    for p in old:
        if p.kind == "name" and not set(p.names) & set(core[0].names):
            continue  # a group does not stand for a feed
        if core[0].unit and (p.tags or p.unit not in (None, core[0].unit)):
            continue  # "5 ml" stands for no animal
        if len(core) == 1 and p.kind in _STANDS_FOR.get(core[0].kind, ()):
            unit = f" {p.unit}" if p.unit and not core[0].unit and core[0].kind == "num" else ""
            yield p, bare + unit


def _added(bare: str, core: Sequence[Piece], text: str, why: str) -> Iterator[str]:
    """The message with the answer added, where that is what was missing."""
    kinds = {core[0].kind, *(("tag",) if core[0].tags else ())}
    if any(pattern.search(why) for kind, pattern in _ASKED_FOR.items() if kind in kinds):
        yield f"{bare} {text}"
        yield f"{text} {bare}"
        if core[0].kind == "name" and _PLACE_ASKED.search(why):
            yield from (f"{text} {link} {bare}" for link in ("in", "to", "for", "of"))
