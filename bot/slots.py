"""A message cut into typed pieces: days, numbers with their units, farm names, tags, and words by what they do.

Nothing is decided here. A number that could be a tag says which; a span that names several things keeps them all; what
a piece means is for the fact it stands in (`bot.reading`, `bot.phrases`).
"""

import re
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal

from bot import when
from bot.names import Index, Names, index_of
from bot.numbers import FRACTIONS, OH, ONES, TENS, WORDS, run_end, spoken
from bot.spelling import plain
from bot.tags import Tags, squash, tags_of
from bot.verbs import BY_WORDS, CLASSES, LONGEST, STRONG, WILL
from rules.doubt import fits
from rules.farm import Farm
from rules.units import unit_named

_TOKEN = re.compile(r"\d+(?:,\d{3})+(?:\.\d+)?|\d*\.\d+|\d+|[a-z]+(?:'[a-z]+)?|[½¼¾]|\n|[^\s\w]")
_SEPARATORS = {",", ";", "\n", ".", "!", "&", "+", "(", ")", "|"}
_MONEY = {"$", "£", "€"}
_COINS = {"p": Decimal("0.01"), "pence": Decimal("0.01"), "cents": Decimal("0.01"), "c": Decimal("0.01")}
_NOTES = {"guineas", "bucks", "dollars", "dollar", "quid", "euro", "euros", "pounds sterling", "usd", "nzd"}
_VAGUE = {
    ("some",), ("few",), ("a", "few"), ("several",), ("lots",), ("plenty",), ("loads",), ("nearly", "out"),
    ("almost", "out"), ("a", "bit"), ("handful",), ("a", "handful"), ("bugger", "all"), ("not", "much"), ("low",),
    ("running", "low"), ("getting", "low"), ("a", "little"), ("heaps",), ("wee", "bit"), ("about", "out"),
    ("not", "many"), ("hardly", "any"), ("barely", "any"), ("loads", "of"), ("bits",), ("most",), ("tonne", "of"), ("tons", "of"), ("piles",), ("pile",),
}  # fmt: skip
_KINDS = {
    "whole",
    "more",
    "big",
    "small",
    "full",
    "round",
    "square",
    "good",
    "new",
    "old",
    "wee",
    "extra",
    "large",
    "other",
    "of",
}
_PACKS = {
    "tray",
    "trays",
    "pallet",
    "pallets",
    "box",
    "boxes",
    "carton",
    "cartons",
    "crate",
    "crates",
    "skip",
    "lorryload",
}
_BEFORE_NUMBERS = {
    "tag",
    "ewe",
    "lamb",
    "ram",
    "no",
    "x",
    "to",
    "and",
    "n",
    "at",
    "is",
    "was",
    "sow",
    "weighed",
    "wether",
    "tup",
}
_TAG_IS = re.compile(r"tag (?:is |no\.? |number )?#?(?:[a-z]{1,3}-?|(?:[a-z]{3,7} ))?\d")  # no item: an animal's
TAG_WORDS = {"tag", "no", "number", "ewe", "ram", "tup", "lamb", "#"}
_COUNTED_THINGS = {
    "of", "more", "head", "gone", "left", "lambs", "ewes", "rams", "tups", "hens", "hoggets", "wethers", "sheep", "culls", "cull",
    "stores", "fats", "eggs", "went", "away", "dead", "died", "lost", "sold", "empty", "singles", "twins", "triplets",
}  # fmt: skip
_IN_ALL = (
    ["the", "pair"], ["the", "lot"], ["the", "two"], ["the", "three"], ["for", "the", "lot"], ["for", "the", "pair"],
    ["all", "up"], ["in", "total"], ["in", "all"], ["altogether"], ["all", "told"],
)  # fmt: skip
_ROUGH = {"about", "abt", "bout", "around", "roughly", "approx", "circa", "maybe", "like", "say", "near", "nearly", "~"}


@dataclass(slots=True)
class Piece:
    """One piece of a message, [start, end) of its tokens.

    kind: num (with `value`, `unit`, `per`, `money`, `percent`, and the `tags` it may be), name, tag (an animal that is
    no number), day, vague, sep, word. `classes` are what a word does ("hold", "come" ...).
    """

    kind: str
    text: str
    start: int
    end: int
    value: Decimal | None = None
    unit: str | None = None
    per: str | None = None
    money: bool = False
    percent: bool = False
    rough: bool = False
    tags: tuple[str, ...] = ()
    full: bool = False
    names: Names = field(default_factory=dict)
    classes: frozenset[str] = frozenset()
    day: when.Phrase | None = None
    mended: bool = False
    spelled: bool = False
    new: bool = False  # in the way tags are written here, and no animal's

    @property
    def number(self) -> Decimal:
        """Its value, 0 where it has none."""
        return self.value if self.value is not None else Decimal(0)

    def is_(self, *classes: str) -> bool:
        return any(c in self.classes for c in classes)

    def named(self, table: str) -> str | None:
        """The one row of a table that this piece names, or None."""
        rows = self.names.get(table, ())
        return rows[0] if len(rows) == 1 else None


def _own(farm: Farm) -> frozenset[str]:
    return index_of(farm.plan).own | tags_of(farm).letters


def _past(found: re.Match[str]) -> str:
    return found[1] + ("d" if found[1].endswith("e") else "ed")


def pieces(text: str, said: datetime, farm: Farm) -> list[Piece]:
    """The pieces of a message, in order."""
    words = _said(text, farm)
    days = when.found(words, said, farm.plan.farm.country)
    return _of_one_colour(_Cutter(words, days, farm).cut(), said, farm)


def _said(text: str, farm: Farm) -> str:
    return plain(text, _own(farm), index_of(farm.plan).tokens, tags_of(farm).colours)


_COUNTED = {"lambs", "lamb", "ewes", "ewe", "rams", "ram", "tups", "tup", "hens", "eggs", "egg", "more", "other", "others", "of",
            "head", "to", "-", "/", ".", "or"}  # fmt: skip


def _of_one_colour(cut: list[Piece], said: datetime, farm: Farm) -> list[Piece]:
    """ "blue 1, 2 and 4", "blue 8 32, 17 31.5": the colour is said once, and goes with the numbers listed behind it."""
    doing = any(STRONG.get(p.text, "weigh") != "weigh" for p in cut)
    tagging = any(p.is_("tagged") for p in cut)
    stem, weighed = "", False  # the colour as it is written; whether a weight stands behind the animal named last
    for n, p in enumerate(cut):
        before, after = (cut[n - 1] if n else None), (cut[n + 1] if n + 1 < len(cut) else None)
        if (p.kind == "tag" or (p.new and tagging)) and (
            written := re.match(r"[a-z]{3,} ?(?=\d+$)", p.tags[0] if p.tags else p.text, re.IGNORECASE)
        ):
            stem, weighed = written[0], False
        elif p.kind == "num" and stem and before is not None and before.kind == "tag":
            weighed = True
        elif p.kind == "num" and stem and before is not None and before.kind == "sep":
            tag = stem + p.text
            listed = _listed(p, after) and not (
                before.text in (",", "\n")
                and not doing
                and not tagging
                and not weighed
                and _weighs(cut[n - 2].tags, p, said, farm)
            )
            if listed and tag in farm.animals and (not weighed or _weighs((tag,), after, said, farm)):
                cut[n] = replace(p, kind="tag", text=tag.lower(), tags=(tag,), full=True)
            elif listed and tagging and cut[n - 2].new:
                cut[n] = replace(p, text=tag, tags=(), new=True)
            else:
                stem = ""
            weighed = False
        elif not (p.kind == "sep" and p.text in (",", "and", "n", "&", "+", "\n")):
            stem = ""
    return cut


def _listed(p: Piece, after: Piece | None) -> bool:
    """Whether a number can be one of several tags: it counts nothing and measures nothing."""
    counts = after is not None and (after.text in _COUNTED or bool({"group", "item"} & set(after.names)))
    return p.text.isdigit() and p.unit is None and not (p.money or p.percent or p.per or counts)


def _weighs(tags: tuple[str, ...], p: Piece | None, said: datetime, farm: Farm) -> bool:
    """Whether a number can be the weight of an animal."""
    if p is None or p.kind != "num" or len(tags) != 1:
        return False
    return fits(farm.animals[tags[0]], p.number, p.unit or farm.plan.farm.weight, said.date(), farm)


def instead_of(text: str, piece: Piece, words: str, farm: Farm) -> str:
    """The message with other words in the place of one of its pieces."""
    said = _said(text, farm)
    spans = [(m.start(), m.end()) for m in _TOKEN.finditer(said)]
    end = spans[min(piece.end, len(spans)) - 1][1]
    return f"{said[: spans[piece.start][0]]}{words}{said[end:]}"


class _Cutter:
    """Walks the tokens of one message, taking the longest piece at each."""

    def __init__(self, text: str, days: list[when.Phrase], farm: Farm) -> None:
        self.spans = [(m.start(), m.end(), m[0]) for m in _TOKEN.finditer(text)]
        self.tokens = [t for _, _, t in self.spans]
        self.bare = [t.replace("'", "") for t in self.tokens]
        self.flat_from = [n for n, t in enumerate(self.bare) if t not in ("-", "&")]
        self.flat_at = {n: k for k, n in enumerate(self.flat_from)}
        self.flat = [self.bare[n] for n in self.flat_from]
        self.counted = [str(ONES[t]) if t in ONES else t for t in self.flat]  # "silo two"
        self.index: Index = index_of(farm.plan)
        self.tags: Tags = tags_of(farm)
        self.text = text
        self.sterling = farm.plan.farm.country == "GB"
        self.days = {}
        for phrase in days:
            inside = [n for n, (a, b, _) in enumerate(self.spans) if a < phrase.end and b > phrase.start]
            if len(inside) > 1 and self.tokens[inside[-1]] == "." and len(self.tokens[inside[-2]]) > 5:
                inside.pop()  # "friday." ends a sentence, "fri." may not
            if inside:
                self.days[inside[0]] = (inside[-1] + 1, phrase)
        self.found: list[Piece] = []

    def cut(self) -> list[Piece]:
        at = 0
        while at < len(self.tokens):
            piece = (
                self._day(at) or self._dictated(at) or self._tag(at) or self._name(at) or self._vague(at) or self._number(at)
                or self._verb(at) or self._mended(at) or self._plain(at)
            )  # fmt: skip
            if self.found and (whole := self._lettered(self.found[-1], piece)) is not None:
                self.found[-1] = whole
            else:
                self.found.append(piece)
            at = piece.end
        return self.found

    def _lettered(self, letters: Piece, number: Piece) -> Piece | None:
        """One tag of its letters and a number spoken behind them ("y twenty six oh five"), or None."""
        whole = self.tags.exact.get(squash(letters.text + number.text))
        if (
            whole is not None
            and letters.text[:1].isalpha()
            and letters.kind in ("word", "name")
            and number.kind == "num"
            and not number.unit
        ):
            return replace(number, kind="tag", text=whole.lower(), start=letters.start, full=True, tags=(whole,))
        if (
            number.spelled
            and not number.unit
            and letters.kind == "word"
            and letters.text.isalpha()
            and len(letters.text) > 2
        ):
            if (written := self.tags.new(letters.text + number.text)) is not None:
                return replace(number, text=written, start=letters.start, tags=(), new=True)
        if letters.kind != "word" or not letters.text.isalpha() or len(number.tags) != 1 or number.kind != "num":
            return None
        if not number.tags[0].lower().startswith(letters.text) or number.unit:
            return None
        return replace(number, kind="tag", text=f"{letters.text} {number.text}", start=letters.start, full=True)

    def _dictated(self, at: int) -> Piece | None:
        """A tag of a letter and digits as a phone hears it: "f oh three one", "f oh eleven", "f oh sixty four"."""
        letter, end, digits = self.tokens[at], at + 1, ""
        if len(letter) != 1 or letter not in self.tags.letters:
            return None
        best = None
        while end < len(self.tokens) and len(digits) < 6:
            word = self.tokens[end]
            if word in OH:
                digits += "0"
            elif word in TENS:
                ones = ONES.get(self.tokens[end + 1], 0) if end + 1 < len(self.tokens) else 0
                if 0 < ones < 10 and letter + digits + str(TENS[word] + ones) in self.tags.exact:
                    best = end + 2, digits + str(TENS[word] + ones)
                digits += str(TENS[word])
            elif word in ONES:
                digits += str(ONES[word])
            else:
                break
            end += 1
            if letter + digits in self.tags.exact and (best is None or end > best[0]):
                best = end, digits
        if best is None:
            return None
        tag = self.tags.exact[letter + best[1]]
        return Piece("tag", tag.lower(), at, best[0], tags=(tag,), full=True)

    def _day(self, at: int) -> Piece | None:
        if at not in self.days:
            return None
        end, phrase = self.days[at]
        name = self.index.at(self.bare, at)
        if name and at + name[0] >= end and not phrase.names_day:
            return None
        return Piece("day", phrase.text, at, end, day=phrase)

    def _tag(self, at: int) -> Piece | None:
        """A tag with letters in it, or written in several words ("blue 214", "Y31-07", "R7", "duke")."""
        start = at + 1 if self.tokens[at] == "#" and at + 1 < len(self.tokens) else at
        for size in range(min(self.tags.longest + 2, len(self.tokens) - start), 0, -1):
            part = self.tokens[start : start + size]
            if part[0] in "#-" or part[-1] in ("#", "-") or any(p in _SEPARATORS for p in part):
                continue
            joined = squash("".join(part).removesuffix("'s"))
            short = self.tags.short(part)
            if short is not None and self._adjoined(start, size):
                return Piece("tag", " ".join(part), at, start + size, tags=(short,), full=True)
            if size == 1 and joined.isalpha() and joined.endswith("s") and joined not in self.tags.exact:
                joined = joined[:-1]  # "dukes in with the ewes"
            if joined in self.tags.exact and (not joined.isdigit() or size > 1):
                if joined.isdigit() and not ("-" in part and len(part) == 3):
                    continue
                if joined.isalpha() and self.index.at(self.bare, start):
                    continue
                return Piece("tag", " ".join(part), at, start + size, tags=(self.tags.exact[joined],), full=True)
        if size_ := self._digit(at) and self.tokens[at + 1 : at + 2] in (["st"], ["nd"], ["rd"], ["th"]):
            if size_ and self._adjoined(at, 2):
                return Piece("word", self.tokens[at] + self.tokens[at + 1], at, at + 2)  # "his 2nd cdt"
        return self._new_tag(start)

    def _adjoined(self, at: int, size: int) -> bool:
        """Whether no space stands between some tokens."""
        return all(self.spans[n][1] == self.spans[n + 1][0] for n in range(at, at + size - 1))

    def _new_tag(self, at: int) -> Piece | None:
        """A tag in the farm's way of writing that no animal has: "Blue 241", "Y26-48"; one token at least has letters."""
        if self.index.at(self.bare, at):
            return None
        for size in range(min(4, len(self.tokens) - at), 1, -1):
            part = self.tokens[at : at + size]
            if not part[0][0].isalpha() or not part[-1].isdigit() or any(p in _SEPARATORS for p in part):
                continue
            apart = sum(t.isdigit() for t in part) > 1 and "-" not in part and part[-2].isdigit()
            if apart and not any(re.search(r"\d", stem) for stem in self.tags.stems):
                continue  # "blue 4 33" is no 433
            if part[0] in ("a", "n", "w", "x", "i", "u") and not self._adjoined(at, 2):
                continue  # "n 517" is "and 517"
            written = self.tags.new("".join(part))
            if written is not None:
                return Piece("num", written, at, at + size, Decimal(part[-1]), new=True)
        return None

    def _name(self, at: int) -> Piece | None:
        """The longest farm name that begins here; a hyphen or an "and" sign inside it is nothing ("co-op", "cd&t")."""
        if at not in self.flat_at or (self.tokens[at] == "tag" and _TAG_IS.match(self.text, self.spans[at][0])):
            return None
        place = self.flat_at[at]
        found = None
        if self.tokens[at].endswith("'s"):  # "finisher's down" is the finisher, not the finishers
            found = self.index.at([*self.flat[:place], self.tokens[at][:-2], *self.flat[place + 1 :]], place)
        found = found or self.index.at(self.flat, place) or self.index.at(self.counted, place)
        if found is None:
            return None
        size, names = found
        end = self.flat_from[place + size - 1] + 1
        if self.bare[at : end + 1] in (
            ["ram", "lamb"],
            ["ewe", "lamb"],
            ["tup", "lamb"],
            ["ram", "lambs"],
            ["ewe", "lambs"],
            ["tup", "lambs"],
        ):
            return None  # a sex, no group
        return Piece("name", " ".join(self.tokens[at:end]), at, end, names=names)

    def _vague(self, at: int) -> Piece | None:
        for size in (2, 1):
            if self.bare[at] == "loads" and any(p.kind == "num" for p in self.found[-2:]):
                continue  # "2 loads of wheat" are counted
            if tuple(self.bare[at : at + size]) in _VAGUE:
                return Piece("vague", " ".join(self.tokens[at : at + size]), at, at + size)
        return None

    # -- numbers

    def _number(self, at: int) -> Piece | None:
        money = self.tokens[at] in _MONEY
        minus = self.tokens[at] == "-" and self._digit(at + 1) and self.spans[at][1] == self.spans[at + 1][0]
        start = at + 1 if money or (self.tokens[at] == "#" and self._digit(at + 1)) else at
        if minus and (at == 0 or self.spans[at - 1][1] != self.spans[at][0]):
            return Piece("word", "-", at, at + 2)  # a temperature
        found = self._value(start)
        if found is None:
            return None
        value, end, text = found
        stuck = at > 0 and self.tokens[at - 1].isalpha() and self.spans[at - 1][1] == self.spans[at][0]
        if stuck and self.tokens[at - 1] not in _BEFORE_NUMBERS:
            return Piece("word", text, at, end)  # "R11", "b12": no number of anything
        piece = Piece("num", text, at, end, value, money=money)
        piece = self._with_unit(piece)
        rough = self.bare[at - 1] in _ROUGH if at else False
        digits = text.replace(",", "")
        tags: tuple[str, ...] = ()
        if digits.isdigit() and not piece.money and not piece.percent and piece.unit is None:
            tags = self.tags.named(digits)
            if len(digits) < 3 and (digits not in self.tags.exact or self._counted(at, piece.end)):
                tags = ()
        spelled = self.tokens[start].isalpha()
        return replace(piece, rough=rough, tags=tags, full=bool(tags) and self.tags.full(digits), spelled=spelled)

    def _counted(self, at: int, end: int) -> bool:
        """Whether a small number is how many, though an animal has it as its tag: "fox got 2 hens", "11 gone", "two"."""
        if at and self.tokens[at - 1] in TAG_WORDS:
            return False
        after = self.tokens[end] if end < len(self.tokens) else ""
        named = self.index.at(self.bare, end) if after else None
        group = named is not None and "group" in named[1]
        return self.tokens[at].isalpha() or after in _COUNTED_THINGS or group

    def _digit(self, at: int) -> bool:
        return at < len(self.tokens) and self.tokens[at][0].isdigit()

    def _value(self, at: int) -> tuple[Decimal, int, str] | None:
        """A number at a token: (value, token after it, its digits)."""
        if at >= len(self.tokens):
            return None
        token = self.tokens[at]
        if token[0].isdigit() or (token[0] == "." and len(token) > 1):
            return self._digits(at)
        if token in FRACTIONS:
            return Decimal(FRACTIONS[token]), at + 1, token
        if token in ("half", "quarter"):
            return self._part(at, Decimal("0.5") if token == "half" else Decimal("0.25"))
        if token in ("bag", "bale", "bottle") and self.tokens[at + 1 : at + 2] == ["of"] and self._opens(at):
            return Decimal(1), at, "1"
        if token in ("last", "first"):
            unit = self._unit_at(at + 1)
            return (Decimal(1), at + 1, "1") if unit and unit[0] in ("bag", "bale", "bottle") else None
        if token in ("a", "an", "couple", "dozen", "another"):
            return self._article(at)
        if token in WORDS and token not in ("hundred", "thousand"):
            return self._spoken(at)
        return None

    def _opens(self, at: int) -> bool:
        """Whether a token begins a message or a part of it: "bag of milk left"."""
        return at == 0 or self.tokens[at - 1] in _SEPARATORS

    def _digits(self, at: int) -> tuple[Decimal, int, str] | None:
        token = self.tokens[at]
        if token.isdigit() and self.tokens[at + 1 : at + 2] == ["/"] and self._digit(at + 2):
            fraction = f"{token}/{self.tokens[at + 2]}"
            if fraction in FRACTIONS:
                of = 2 if self.tokens[at + 3 : at + 5] in (["of", "a"], ["of", "an"]) else 0
                return Decimal(FRACTIONS[fraction]), at + 3 + of, fraction
        value, end = Decimal(token.replace(",", "")), at + 1
        rest = self._half(end)
        if rest:
            return value + rest[0], rest[1], str(value + rest[0])
        if self.tokens[end : end + 1] == ["k"] and value < 1000:
            return value * 1000, end + 1, str(value * 1000)
        return value, end, token.replace(",", "")

    def _half(self, at: int) -> tuple[Decimal, int] | None:
        """A part that goes with the number before it: "1/2", "½", "and a half"."""
        rest = self.tokens[at : at + 3]
        if rest and rest[0] in ("½", "¼", "¾"):
            return Decimal(FRACTIONS[rest[0]]), at + 1
        if len(rest) == 3 and rest[1] == "/" and f"{rest[0]}/{rest[2]}" in FRACTIONS:
            return Decimal(FRACTIONS[f"{rest[0]}/{rest[2]}"]), at + 3
        if (
            len(rest) == 3
            and rest[0] in ("and", "n", "&")
            and rest[1] in ("a", "one")
            and rest[2] in ("half", "quarter")
        ):
            return Decimal("0.5") if rest[2] == "half" else Decimal("0.25"), at + 3
        if len(rest) >= 2 and rest[0] in ("and", "n", "&") and rest[1] == "half":
            return Decimal("0.5"), at + 2
        return None

    def _part(self, at: int, value: Decimal) -> tuple[Decimal, int, str] | None:
        end = at + 1
        if self.tokens[end : end + 1] in (["a"], ["an"], ["of"]):
            end += 1
            if self.tokens[end : end + 1] in (["a"], ["an"]):
                end += 1
        if self.tokens[end : end + 1] == ["dozen"]:
            return value * 12, end + 1, str(value * 12)
        if end < len(self.tokens) and (self._unit_at(end) or self.index.at(self.bare, end)):
            return value, end, str(value)
        return None

    def _article(self, at: int) -> tuple[Decimal, int, str] | None:
        """ "a bag", "a couple of bags", "a dozen bales", "a hundred"; an "a" before anything else is no number."""
        token = self.tokens[at]
        end = at + 1 if token in ("a", "an", "another") else at
        word = self.tokens[end] if end < len(self.tokens) else ""
        if word == "couple":
            end += 2 if self.tokens[end + 1 : end + 2] == ["of"] else 1
            return Decimal(2), end, "2"
        if word == "dozen":
            half = self._half(end + 1)
            return (Decimal(18), half[1], "18") if half else (Decimal(12), end + 1, "12")
        if word in ("hundred", "thousand"):
            return self._spoken(at)
        if word == "half":
            return self._part(end, Decimal("0.5"))
        if token in ("couple", "dozen") or not word:
            return None
        unit = self._unit_at(end)
        if unit and unit[0] not in ("head", "each"):
            return Decimal(1), end, "1"
        return None

    def _spoken(self, at: int) -> tuple[Decimal, int, str] | None:
        words = list(self.tokens[at:])
        end = run_end(words, 0)
        if end == 0:
            return None
        stem = self.tokens[at - 1] if at and len(self.tokens[at - 1]) > 2 else ""
        known, lengths = self.tags.exact, self.tags.stems.get(stem, ("", ()))[1]
        runs = spoken(words[:end], known.__contains__, [
            lambda digits: bool(lengths) and stem + digits in known, lambda digits: len(digits) in lengths,
        ])  # fmt: skip
        if not runs:
            return None
        _, stop, digits = runs[0]
        value = Decimal(digits)
        if lengths:
            return value, at + stop, digits  # of a tag: no half goes with it
        if (rest := self._half(at + stop)) is not None:
            return value + rest[0], rest[1], str(value + rest[0])
        return value, at + stop, digits

    def _unit_at(self, at: int) -> tuple[str, int] | None:
        """A unit at a token, and how many tokens it takes."""
        if at >= len(self.tokens) or self.tokens[at] == "\n":
            return None
        for size in (2, 1):
            if "\n" in self.tokens[at : at + size] or at + size > len(self.tokens):
                continue  # it ends with the line
            form = " ".join(self.tokens[at : at + size])
            if (
                size == 2
                and form.endswith(" .")
                and self.tokens[at + 2 : at + 3] not in (["of"], ["each"], ["per"], ["a"])
            ):
                continue  # it ends the sentence
            unit = unit_named(form)
            if unit and not (size == 1 and form in ("l", "mil", "bus", "t", "g") and not self._stuck(at)):
                return unit, size
        if self.tokens[at] in ("tonne", "ton") and self.tokens[at + 1 : at + 2] == ["bag"]:
            return "t", 2
        return None

    def _stuck(self, at: int) -> bool:
        """Whether a token follows a number, at once or after a space."""
        return at > 0 and (
            self.tokens[at - 1][0].isdigit() or self.tokens[at - 1] in WORDS or self.tokens[at - 1] == "a"
        )

    def _with_unit(self, piece: Piece) -> Piece:
        """The unit, percent, money and "a pound" that follow a number."""
        at = piece.end
        while (
            at < len(self.tokens) - 1
            and self.tokens[at] in _KINDS
            and self._unit_at(at + 1)
            and not self.index.at(self.bare, at)
        ):
            at += 1  # "200 more bales", "3 big bags"
        word = self.tokens[at] if at < len(self.tokens) else ""
        if word == "%" or word in ("percent", "pct"):
            return replace(piece, end=at + 1, percent=True)
        if (
            word == "#"
            and (at == piece.end and self.spans[at][0] == self.spans[at - 1][1])
            and not (self._digit(at + 1) and self.spans[at][0] > self.spans[at - 1][1])
        ):
            piece, at = replace(piece, end=at + 1, unit="lb"), at + 1
        elif (
            word in _COINS
            and piece.value is not None
            and not (self._digit(at + 1) and self._adjoined(at, 2))
            and (word != "c" or self.spans[at][0] == self.spans[at - 1][1])
        ):
            piece = replace(piece, end=at + 1, value=piece.value * _COINS[word], money=True)
            at += 1
        elif word in ("pound", "pounds") and self.sterling and self._paid(piece):
            piece, at = replace(piece, end=at + 1, money=True), at + 1
        elif word in _PACKS:
            piece, at = replace(piece, end=at + 1, unit=word.rstrip("s")), at + 1
        elif word in _NOTES:
            piece, at = replace(piece, end=at + 1, money=True), at + 1
        elif word in ("tonne", "ton") and self.tokens[at + 1 : at + 2] in (["bag"], ["bags"]):
            piece, at = replace(piece, end=at + 2, unit="t"), at + 2
        elif word and (named := self.index.at(self.bare, at)) and named[0] > 1 and "group" in named[1]:
            return piece  # "2 bottle lambs" are no bottles
        elif (unit := self._unit_at(at)) and not (piece.money and unit[0] == "each"):
            if unit[0] == "dozen" and piece.unit is None and self._counts_dozens(at + unit[1]):
                piece = replace(piece, value=(piece.value or Decimal(0)) * 12, end=at + 1)
                return self._with_unit(piece)
            if unit[0] == "each":
                return replace(piece, end=at + unit[1], per="each", money=True)
            piece, at = replace(piece, end=at + unit[1], unit=unit[0]), at + unit[1]
            if (half := self._half(at)) is not None and self.tokens[at] in ("and", "n", "&"):
                piece = replace(piece, end=half[1], value=(piece.value or Decimal(0)) + half[0])
        return self._per(piece)

    def _paid(self, piece: Piece) -> bool:
        """Whether pounds are money and no weight: "for 600 pounds", "came to 1,092 pounds", "9 pounds a bag"."""
        before = self.bare[piece.start - 1] if piece.start else ""
        after = self.bare[piece.end + 1 : piece.end + 3]
        priced = after[:1] in (["a"], ["per"], ["each"], ["apiece"], ["for"], ["total"]) or piece.number >= 250
        return priced or (
            before in ("for", "paid", "cost", "to", "made", "fetched", "at")
            and self.bare[piece.start - 2 : piece.start - 1] != ["down"]
        )

    def _counts_dozens(self, at: int) -> bool:
        """Whether "dozen" only multiplies: "2 dozen bales"."""
        unit = self._unit_at(at)
        return unit is not None and unit[0] != "dozen"

    def _per(self, piece: Piece) -> Piece:
        """ "a lb", "per head", "/bu", "ea" after a price."""
        at = piece.end
        word = self.tokens[at] if at < len(self.tokens) else ""
        if piece.unit is None and (size := next((len(s) for s in _IN_ALL if self.tokens[at : at + len(s)] == s), 0)):
            return replace(piece, end=at + size, per="total")
        if word in ("a", "an", "per", "/", "the"):
            unit = self._unit_at(at + 1)
            if unit is None and self.tokens[at + 1 : at + 2] in (["hundredweight"], ["hundred"]):
                unit = ("cwt", 1)
            if unit and (piece.unit is None or word in ("per", "/")) and unit[0] not in ("dose",):
                return replace(piece, end=at + 1 + unit[1], per=unit[0])
        elif word in ("ea", "each", "apiece") and piece.unit is None:
            return replace(piece, end=at + 1, per="each")
        elif word in ("total", "all") and piece.unit is None and not self._digit(at + 1):
            return replace(piece, end=at + 1, per="total")
        return piece

    # -- words

    def _verb(self, at: int) -> Piece | None:
        if self.tokens[at] in WILL:
            return Piece("word", self.tokens[at], at, at + 1, classes=frozenset({"wish"}))
        for size in range(min(LONGEST, len(self.bare) - at), 0, -1):
            if any(n in self.days for n in range(at + 1, at + size)):
                continue  # "back to the 28th": the day begins at "to"
            classes = BY_WORDS.get(tuple(self.bare[at : at + size]))
            if classes:
                return Piece("word", " ".join(self.bare[at : at + size]), at, at + size, classes=classes)
        word = self.bare[at]
        for meant in (
            word + "g" * word.endswith("in"),
            word[:-1] + "ed" * word.endswith("d"),
            word[:-1] + "ped" * word.endswith("pt"),
        ):
            if len(word) >= 5 and meant != word[:-1] and (classes := BY_WORDS.get((meant,))) and word not in CLASSES:
                return Piece("word", meant, at, at + 1, classes=classes, mended=True)  # "bringin", "fosterd"
        return None

    def _mended(self, at: int) -> Piece | None:
        """A misspelt name: taken for one only where nothing else is in reach."""
        word = self.bare[at]
        if len(word) == 3 and word.isalpha() and word not in CLASSES and (near := self.index.nearly(self.bare, at)):
            return Piece("name", " ".join(self.bare[at : at + near[0]]), at, at + near[0], names=near[1], mended=True)
        if len(word) < 4 or not word.isalpha() or word in CLASSES:
            return None
        if (name := self.index.mended(word)) is not None:
            tokens = [*self.bare[:at], name, *self.bare[at + 1 :]]
            found = self.index.at(tokens, at)
            if found:
                return Piece("name", word, at, at + found[0], names=found[1], mended=True)
        if (near := self.index.nearly(self.bare, at)) is not None:
            return Piece("name", " ".join(self.bare[at : at + near[0]]), at, at + near[0], names=near[1], mended=True)
        return None

    def _plain(self, at: int) -> Piece:
        token = self.bare[at]
        if token in _SEPARATORS or token in ("and", "n", "then", "also", "plus"):
            return Piece("sep", token, at, at + 1)
        if self.tokens[at].endswith("'s") and token not in _NOT_OWNERS:
            return Piece("word", token, at, at + 1, classes=frozenset({"whose"}))  # "bill's 2641"
        unit = self._unit_at(at)
        if unit:
            return Piece("word", token, at, at + unit[1], unit=unit[0])
        return Piece("word", token, at, at + 1)


_NOT_OWNERS = (
    "its",
    "hes",
    "shes",
    "thats",
    "theres",
    "whats",
    "whos",
    "heres",
    "wheres",
    "lets",
    "hows",
    "whens",
    "todays",
)
