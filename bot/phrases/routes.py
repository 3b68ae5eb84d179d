"""How a dose was given and from which batch, where that is said with it: a treatment record asks for both."""

import re

from bot.fact import Doubt, Fact

# "im" alone begins many a message ("im giving him"): it is a route only behind something, and before no doing word.
_ROUTES = (
    ("under the skin", re.compile(r"\bsub ?-?q\b|\bsq\b|\bs ?/? ?c\b|\bsub ?-?cut\w*|\bunder (?:the|his|her|its|their) skin\b")),
    ("in the muscle", re.compile(r"(?<=\S )i ?/?m\b(?! \w+ing\b)|\bintra ?-?muscular\w*|\bin(?:to)? (?:the|his|her|its|their) (?:muscle|neck muscle)\b")),
    ("in the vein", re.compile(r"(?<=\S )i ?/?v\b|\bintra ?-?venous\w*|\bin(?:to)? (?:the|his|her|its) vein\b")),
    ("by mouth", re.compile(r"\boral(?:ly)?\b|\bby mouth\b|\bper os\b|\bdown (?:the|his|her|its|their) (?:throat|neck)s?\b")),
    ("on the skin", re.compile(r"\bpour(?:ed)? ?-?on\b|\bspot(?:ted)? ?-?on\b|\btopical(?:ly)?\b|\bsprayed (?:it )?on\b")),
    ("in the eye", re.compile(r"\bin(?:to)? (?:the|his|her|its|both) eyes?\b")),
    ("up the nose", re.compile(r"\bup (?:the|his|her|its) nose\b|\bintra ?-?nasal(?:ly)?\b")),
)  # fmt: skip

_NUMBER = ("no", "num", "number", "#", ":")
_LEADS = re.compile(r"number|#|:|[a-z]{1,3}|[-/]")


def route(fact: Fact) -> str | None:
    """The way it was given, in one of a few names; None where none or several are said."""
    text = fact.text.replace(".", "")
    found = [name for name, pattern in _ROUTES if pattern.search(text)]
    return found[0] if len(found) == 1 else None


def batch(fact: Fact) -> str | None:
    """What stands after "batch", "lot" or "batch no", with a figure in it. Raises Doubt where it may be an animal."""
    for n, p in enumerate(fact.pieces):
        if p.text == "batch" or (p.text == "lot" and not (n and fact.pieces[n - 1].text in ("the", "whole"))):
            at, said = n + 1, ""
            while at < len(fact.pieces) and _LEADS.fullmatch(fact.pieces[at].text):  # "no", or the letters before it
                said += "" if fact.pieces[at].text in _NUMBER else fact.pieces[at].text
                at += 1
            if at < len(fact.pieces) and re.search(r"\d", fact.pieces[at].text) and not fact.pieces[at].unit:
                if fact.pieces[at].tags and not said:
                    raise Doubt(f"Is {fact.pieces[at].text} the batch, or an animal?")
                fact.use(at)
                return (said + fact.pieces[at].text).upper()
    return None
