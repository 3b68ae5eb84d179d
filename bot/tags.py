"""The tags of a farm, however they are written, and the nearest ones to a tag nobody has.

A number is offered as a tag; whether it is one is decided by the fact it stands in. Nothing near is ever taken for
the tag meant: `nearest` is for choices in a question.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from rapidfuzz import process
from rapidfuzz.distance import OSA

from rules.farm import Animal, Farm

# The colours that tags come in.
_COLOURS = {
    "red", "blue", "green", "yellow", "orange", "white", "black", "pink", "purple", "brown", "grey", "gray", "lilac",
    "turquoise", "violet",
}  # fmt: skip


def squash(text: str) -> str:
    """A tag without what people leave out or add: case, spaces, dashes, '#'."""
    return re.sub(r"[^a-z0-9]", "", text.lower())


@dataclass(slots=True)
class Tags:
    """`exact`: each tag as it may be written in full (its electronic number, too). `ends`: the last three or more
    digits, or digits without leading zeros, with all tags they fit. `lengths`: how many digits numeric tags have; `padded`:
    those that begin with a zero. `stems`: what stands before the number of a lettered tag, as it is written, with how
    many digits follow. `signs`: the letters and digits that tags are written with."""

    exact: dict[str, str] = field(default_factory=dict)
    ends: dict[str, tuple[str, ...]] = field(default_factory=dict)
    lengths: frozenset[int] = frozenset()
    padded: tuple[int, ...] = ()
    signs: frozenset[str] = frozenset()
    longest: int = 1
    stems: dict[str, tuple[str, frozenset[int]]] = field(default_factory=dict)
    letters: frozenset[str] = frozenset()  # what lettered tags begin with
    colours: tuple[str, ...] = ()  # those that are words, as a slip may mean them

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
        if (other := re.fullmatch(r"([a-z]+)(\d{1,4})", plain)) and other[1] in _COLOURS:
            for stem, (written, _) in self.stems.items():
                if stem in _COLOURS and stem != other[1]:  # "yellow 1" where the others are "Blue 1"
                    colour = other[1].title() if written.istitle() else other[1]
                    return re.sub(stem, colour, written, flags=re.IGNORECASE) + other[2]
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
    begun = frozenset(word[0] for tag in exact.values() if (word := re.match(r"[a-z]+", tag.lower())))
    return Tags(
        exact,
        kept,
        frozenset(map(len, numeric)),
        tuple(sorted({len(plain) for plain in exact if plain.isdigit() and plain.startswith("0")})),
        frozenset("".join(exact)),
        words,
        {
            stem: (written, frozenset(lengths))
            for stem, (written, lengths) in stems.items()
            if any(c.isalpha() for c in stem)
        },
        letters=begun,
        colours=tuple(sorted(begun & _COLOURS)),
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


def _one_slip(written: str, signs: Iterable[str]) -> set[str]:
    """All that is one slip from what was written: a sign lost, swapped with the next, mistaken or gained."""
    cuts = [(written[:n], written[n:]) for n in range(len(written) + 1)]
    lost = {a + b[1:] for a, b in cuts if b}
    swapped = {a + b[1] + b[0] + b[2:] for a, b in cuts if len(b) > 1}
    return lost | swapped | {a + sign + rest for a, b in cuts for sign in signs for rest in (b, b[1:])}


def nearest(
    text: str, farm: Farm, fits: Callable[[str], bool] | None = None, beside: Iterable[str] = (), slips: int = 2
) -> list[str]:
    """The three tags of animals here that are nearest to what was written, at most so many slips away (a swap is one).
    Among equals come those which `fits` (the weight said suits them), then those of the groups of the animals `beside`
    it, then a digit easily mistaken, then a swap. Two slips away is only for where fewer than two are nearer."""
    plain, tags = squash(text), tags_of(farm)
    groups = {farm.animals[tag].group for tag in beside if tag in farm.animals}
    spellings = [plain]
    if plain.isdigit() and plain not in tags.exact:  # its zeros left off
        spellings += [plain.zfill(width) for width in tags.padded if width > len(plain)]

    def ranked(forms: Iterable[str]) -> list[str]:
        rows = []
        for form in forms:
            animal = farm.animals.get(tags.exact[form])
            if animal is not None and animal.here:
                rows.append((bool(groups) and animal.group not in groups, _slip(plain, form), animal.tag))
        order = list(dict.fromkeys(tag for *_, tag in sorted(rows)))
        return order if fits is None else sorted(order, key=lambda tag: not fits(tag))

    def within(reach: int) -> Iterable[str]:
        if reach < 2:  # a few hundred look-ups, however many animals there are
            guesses = (_one_slip(said, tags.signs) if reach else {said} for said in spellings)
            return tags.exact.keys() & set().union(*guesses)
        written = list(tags.exact)
        scans = (process.extract(s, written, scorer=OSA.distance, score_cutoff=2, limit=None) for s in spellings)
        return (form for scan in scans for form, *_ in scan)

    found: list[str] = []
    for reach in range(slips + 1):
        enough = 3 if found else 2
        found = list(dict.fromkeys([*found, *ranked(within(reach))]))
        if len(found) >= enough:
            break
    return found[:3]
