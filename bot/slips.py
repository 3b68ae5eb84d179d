"""Misspelt words: which words are none, and what each of those must be a slip of.

A word that English has, or the barn, is never a slip of another: "sheet" is not sheep, "tales" not tails. What is no
word at all is taken for the one word of the trade, or name of this farm, that it can be; of two as near, for neither.
"""

import re
from collections.abc import Iterable
from functools import cache, lru_cache

from rapidfuzz.distance import OSA
from spellchecker import SpellChecker

from bot.numbers import WORDS
from bot.verbs import BY_WORDS
from rules.units import SPOKEN

# Times a word is said in the film subtitles that the dictionary counts: below the one slips stand among its words,
# above the other it is said by everybody.
_USED, _COMMON = 150, 1000

# What else is said on a farm or asked of it. Words of these lists are known, and what slips may mean.
_SAID = """
sheep lamb lambs ewes hogget hoggets gimmer gimmers wether wethers shearling shearlings theave theaves teg tegs tup
tups ewe ram cade cades poddy poddies bummer bummers hens pullet pullets layers heifer yesterday today tomorrow
tonight morning afternoon evening night weekend weeks week month monday tuesday wednesday thursday friday saturday
sunday january february march april june july august september october november december christmas easter thur thurs
tues weds wednes sept which when what whats where wheres whens whos ready close nearly enough much many long last
still until till before after since about around withdrawal withhold weight growth gaining price prices average order
ordered booster vaccine wormer drench colostrum haylage baleage silage straw barley wheat oats canola lucerne alfalfa
pellets nuts cobs powder replacer mineral moved moving milking bottle bottles paddock trailer tonnes bags bales litres
gallons acres hectares dozen kilos pounds supplier mill merchant delivery delivered please remind reminder chart graph
print spreadsheet list should would could together another couple half quarter eleven twelve twenty hundred because
their there everything everybody everyone loaf bread diesel quad fence fencing creek
"""
_NOT_MEANT = frozenset("loaf bread quad heifer because their there")  # known, and nothing that matters here


@cache
def _trade() -> frozenset[str]:
    """The words of the trade, four letters and more."""
    spans = {w for span in BY_WORDS for w in span}
    units = {f + s for forms in SPOKEN.values() for f in forms if f.isalpha() and len(f) > 2 for s in ("", "s")}
    return frozenset(w for w in {*spans, *units, *WORDS, *_SAID.split()} if len(w) >= 4)


@cache
def _english(used: int) -> frozenset[str]:
    """The words used so many times, without their apostrophes."""
    counted = SpellChecker(distance=1).word_frequency
    counted.remove_by_threshold(used)
    return frozenset(w.replace("'", "") for w in counted.words())


@cache
def _said_by_all() -> dict[str, list[str]]:
    """The words that everybody uses, by their first letter."""
    found: dict[str, list[str]] = {}
    for word in _english(_COMMON) - _trade():
        found.setdefault(word[:1], []).append(word)
    return found


def real(word: str) -> bool:
    """Whether a word is one that English or the barn has, and so no slip of another."""
    return word in _trade() or word in _english(_USED)


@lru_cache(maxsize=8192)
def meant(word: str, names: tuple[str, ...] = ()) -> str | None:
    """The one word of the trade or of `names` that a word of letters alone must be a slip of; None where it is a word
    itself, or where none or several are in reach, or any other word is nearer."""
    if len(word) < 4 or real(word) or not word.isascii():
        return None
    if word.endswith("in") and real(word + "g"):
        return word + "g"  # "takin"
    ours = {*_trade(), *names} - _NOT_MEANT
    near = _near(word, ours)
    if not near:
        return None
    best = [other for rank, other in near if rank == near[0][0]]
    others = _near(word, _said_by_all().get(word[0], ()))
    if (others and others[0][0] < near[0][0]) or len({_stem(w) for w in best}) > 1:
        return None
    if word[-1] in "dt" and best[0][-1] not in "dt" and (done := _past_of(best[0])) in ours:
        return done  # "drensht" is what was done, not what to do
    return best[0]


def _past_of(word: str) -> str:
    return word + "d" if word.endswith("e") else word + "ed"


def _near(word: str, words: Iterable[str]) -> list[tuple[tuple[int, int], str]]:
    """The words that one can be a slip of, nearest first, each with how near: what sounds alike comes first."""
    found = []
    for other in words:
        if (
            abs(len(other) - len(word)) > 3
            or len(other) < 4
            or not (other[0] == word[0] or _SAME_START.get(other[0]) == word[0])
        ):
            continue
        alike = _sound(word) == _sound(other)
        reach = 3 if alike and len(word) >= 9 else 2 if len(word) >= 7 or (alike and len(word) >= 5) else 1
        far = OSA.distance(word, other, score_cutoff=reach)
        swapped = sorted(word) == sorted(other)
        if far > reach or (len(word) == len(other) and len(word) < 6 and not alike and not swapped):
            continue  # a short word with another letter is another word
        found.append(((far - 2 * alike, far), other))
    return sorted(found)


_SAME_START = {"c": "k", "k": "c", "p": "f", "f": "p", "w": "h", "h": "w"}


def _stem(word: str) -> str:
    return word.rstrip("s")


@lru_cache(maxsize=16384)
def _sound(word: str) -> str:
    """How a word sounds: its consonants, those alike as one; "weighed" and "wayd" are W-D."""
    said = re.sub(r"ing$", "in", word)
    for letters, sound in _SOUNDS:
        said = re.sub(letters, sound, said)
    first = said[:1] if said[:1] in "aeiou" else ""
    return first + re.sub(r"(.)\1+", r"\1", re.sub(r"[aeiouy]", "", said))


_SOUNDS = (
    (r"ough\b", "uf"), (r"igh|eigh|aigh", "i"), (r"ph", "f"), (r"^wh", "w"), (r"^kn", "n"), (r"^wr", "r"),
    (r"tch|ch", "2"), (r"gn", "n"), (r"dge?", "d"), (r"sh", "1"), (r"th", "3"), (r"ck|q|c(?![eiy])", "k"),
    (r"c|z", "s"), (r"g(?=[ei])", "j"), (r"x", "ks"), (r"(?<=[aeiou])w", ""), (r"h", ""), (r"(?<=..)(?:ed|d|t)$", "d"),
)  # fmt: skip
