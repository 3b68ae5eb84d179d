"""The tags of a farm, however they are written, and the nearest ones to a tag nobody has.

A number is offered as a tag; whether it is one is decided by the fact it stands in. Nothing near is ever taken for
the tag meant: `nearest` is for choices in a question.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from rapidfuzz import process
from rapidfuzz.distance import DamerauLevenshtein

from rules.farm import Animal, Farm


def squash(text: str) -> str:
    """A tag without what people leave out or add: case, spaces, dashes, '#'."""
    return re.sub(r"[^a-z0-9]", "", text.lower())


@dataclass(slots=True)
class Tags:
    """`exact`: each tag as it may be written in full (its electronic number, too). `ends`: the last three or more
    digits, or digits without leading zeros, with all tags they fit. `lengths`: how many digits numeric tags have. `stems`: what
    stands before the number of a lettered tag, as it is written, with how many digits follow."""

    exact: dict[str, str] = field(default_factory=dict)
    ends: dict[str, tuple[str, ...]] = field(default_factory=dict)
    eids: frozenset[str] = frozenset()
    lengths: frozenset[int] = frozenset()
    longest: int = 1
    stems: dict[str, tuple[str, frozenset[int]]] = field(default_factory=dict)
    letters: frozenset[str] = frozenset()  # what lettered tags begin with

    def named(self, text: str) -> tuple[str, ...]:
        """The tags a number or word may mean: one where it is written in full, else all whose ending it is."""
        plain = squash(text)
        if plain in self.exact:
            return (self.exact[plain],)
        return self.ends.get(plain, ())

    def short(self, part: Sequence[str]) -> str | None:
        """A lettered tag with its zeros or its letters left off ("Y26-7", "26-05" for Y26-07, Y26-05), where one fits."""
        if len(part) < 2 or not part[-1].isdigit():
            return None
        stem = squash("".join(part[:-1]))
        if len(stem) == 1 and stem.isalpha() and stem not in self.stems:  # "B214" where only blue ones begin so
            colours = [s for s in self.stems if s.startswith(stem) and s.isalpha()]
            stem = colours[0] if len(colours) == 1 else stem
        if stem in self.stems and any(c.isalpha() for c in stem):
            found = {t for n in self.stems[stem][1] if (t := self.exact.get(stem + part[-1].zfill(n)))}
            return next(iter(found)) if len(found) == 1 else None
        if len(part) == 3 and part[1] == "-" and part[0].isdigit():
            digits = part[0] + part[2]
            found = {t for plain, t in self.exact.items() if len(digits) >= 3 and re.sub("[a-z]", "", plain) == digits}
            return next(iter(found)) if len(found) == 1 else None
        return None

    def new(self, text: str) -> str | None:
        """A tag in this farm's way of writing that no animal has yet ("b214" where others are "B201"), or None."""
        plain = squash(text)
        if plain[:1].isalpha() and plain[1:].isdigit() and self._single_letters(plain[1:]):
            return self._single_letters(plain[1:]).format(plain[:1].upper()) + plain[1:]
        found = re.fullmatch(r"(.*[a-z])(\d+)", plain) or re.fullmatch(r"(.*?)(\d{2})", plain)
        for cut in range(len(plain) - 1, 0, -1):
            stem, digits = plain[:cut], plain[cut:]
            if found and digits.isdigit() and stem in self.stems and not stem.isdigit() and plain not in self.exact:
                written, lengths = self.stems[stem]
                if min(lengths) <= len(digits) <= max(lengths) + 1:
                    return written + digits
        return None

    def _single_letters(self, digits: str) -> str:
        """How a tag of one letter and so many digits is written here ("{} " for "Y 112"), "" where none is."""
        forms = {w.replace(w[0], "{}", 1) for s, (w, n) in self.stems.items() if len(s) == 1 and len(digits) in n}
        return next(iter(forms)) if len(forms) == 1 else ""

    def full(self, text: str) -> bool:
        return squash(text) in self.exact


_known: list[tuple[dict[str, Animal], tuple[int, int], tuple[tuple[str, str | None], ...], Tags]] = []


def tags_of(farm: Farm) -> Tags:
    """The tags of a farm, made once for each set of animals: the last few are kept."""
    size = (len(farm.animals), len(farm.retagged))
    for animals, known_size, _, tags in _known:
        if animals is farm.animals and known_size == size:
            return tags
    signature = tuple((a.tag, a.eid) for a in farm.animals.values())
    tags = next((t for _, _, s, t in _known if s == signature), None) or _index(signature)
    _known[:] = [(farm.animals, size, signature, tags), *_known[:3]]
    return tags


def _index(animals: Sequence[tuple[str, str | None]]) -> Tags:
    exact: dict[str, str] = {}
    ends: dict[str, list[str]] = {}
    for tag, eid in animals:
        plain = squash(tag)
        exact[plain] = tag
        digits = re.search(r"\d+$", plain)
        letters = re.match(r"([a-z]+)(\d+)$", plain)
        if letters:  # "201 blue" is "blue 201"
            exact.setdefault(letters[2] + letters[1], tag)
        if digits:
            number = digits[0]
            forms = {number[cut:] for cut in range(len(number)) if len(number) - cut >= 3} | {number.lstrip("0")}
            for form in sorted(forms - {plain, ""}):
                ends.setdefault(form, []).append(tag)
        if eid:
            exact.setdefault(squash(eid), tag)
            for cut in range(1, len(eid) - 2):
                ends.setdefault(eid[cut:], []).append(tag)
    stems: dict[str, tuple[str, set[int]]] = {}
    for tag in exact.values():
        if parts := re.fullmatch(r"(.*[^\d])(\d+)", tag):
            stems.setdefault(squash(parts[1]), (parts[1], set()))[1].add(len(parts[2]))
    kept = {form: tuple(dict.fromkeys(found)) for form, found in ends.items() if form not in exact}
    numeric = [form for plain in exact if plain.isdigit() and len(plain) < 10 for form in (plain, plain.lstrip("0"))]
    words = max((len(re.findall(r"[a-z]+|\d+", tag.lower())) for tag in exact.values()), default=1)
    return Tags(
        exact,
        kept,
        frozenset(squash(e) for _, e in animals if e),
        frozenset(map(len, numeric)),
        words,
        {
            stem: (written, frozenset(lengths))
            for stem, (written, lengths) in stems.items()
            if any(c.isalpha() for c in stem)
        },
        letters=frozenset(word[0] for tag in exact.values() if (word := re.match(r"[a-z]+", tag.lower()))),
    )


# Digits beside each other on a phone's keys, and digits that look alike on a worn tag (common practice, no source).
_MISTAKEN = {"12", "23", "45", "56", "78", "89", "14", "47", "25", "58", "80", "36", "69"}  # keys
_MISTAKEN |= {"17", "38", "68", "60", "49", "35"}  # looks


def _slip(written: str, tag: str) -> int:
    """How easily one is written for the other: 0 for one digit mistaken for a like one, 1 for digits swapped, else 2."""
    if sorted(written) == sorted(tag):
        return 1
    apart = [a + b for a, b in zip(written, tag, strict=False) if a != b]
    alike = len(written) == len(tag) and len(apart) == 1 and bool({apart[0], apart[0][::-1]} & _MISTAKEN)
    return 0 if alike else 2


def nearest(
    text: str, farm: Farm, fits: Callable[[str], bool] | None = None, beside: Iterable[str] = (), limit: int = 3
) -> list[str]:
    """The tags of animals here that are nearest to what was written: a swap counts as one slip. Among equals come
    those which `fits` (the weight said suits them), then those of the groups of the animals `beside` it, then a digit
    easily mistaken, then a swap."""
    plain = squash(text)
    groups = {farm.animals[tag].group for tag in beside if tag in farm.animals}
    written = tags_of(farm).exact
    near = process.extract(plain, list(written), scorer=DamerauLevenshtein.distance, score_cutoff=2, limit=None)
    if plain.isdigit() and plain not in written:  # its zeros left off
        widths = {len(form) for form in written if form.isdigit() and form.startswith("0")}
        for width in sorted(w for w in widths if w > len(plain)):
            close_ = process.extract(
                plain.zfill(width), list(written), scorer=DamerauLevenshtein.distance, score_cutoff=2, limit=None
            )
            near = [*close_, *near]
    ranked = []
    for form, far, _ in near:
        animal = farm.animals.get(written[form])
        if animal is not None and animal.here:
            suits = fits is None or fits(animal.tag)
            company = not groups or animal.group in groups
            ranked.append((far, not suits, not company, _slip(plain, form), animal.tag))
    close = sorted(ranked)
    best = [row for row in close if row[0] == close[0][0]] if close else []
    return list(dict.fromkeys(row[-1] for row in (best if len(best) >= 2 else close)))[:limit]
