"""Numbers as people write and dictate them: "1 1/2", "ninety eight point five", "twenty six forty one one oh eight".

Number words run together when dictated: a run is cut where the farm's tags say so, and else where a number ends. No
tag is chosen here (see `bot.tags`); what a number means is for the fact it stands in.
"""

from collections.abc import Callable, Sequence
from decimal import Decimal

ONES = {
    "zero": 0, "nought": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80,
    "ninety": 90,
}  # fmt: skip
OH = ("oh", "o")
WORDS = {*ONES, *TENS, "hundred", "thousand"}
FRACTIONS = {
    "1/2": "0.5",
    "1/4": "0.25",
    "3/4": "0.75",
    "1/3": "0.3333",
    "2/3": "0.6667",
    "½": "0.5",
    "¼": "0.25",
    "¾": "0.75",
}


def run_end(words: Sequence[str], start: int) -> int:
    """Where a run of number words that starts here ends (hyphens inside belong to it); `start` itself if none does."""
    at = start
    if words[at] == "a" and words[at + 1 : at + 2] == ["hundred"]:
        at += 1
    while at < len(words):
        word = words[at]
        after = words[at + 1] if at + 1 < len(words) else ""
        if word in WORDS:
            at += 1
        elif at == start:
            return start
        elif (
            (word in OH and (after in ONES or after in OH))
            or (word == "-" and (after in WORDS or after in OH))
            or (word == "and" and words[at - 1] in ("hundred", "thousand") and after in WORDS)
            or (word == "point" and (after in ONES or after in OH))
        ):
            at += 1
        else:
            break
    return at


def spoken(
    words: Sequence[str], is_tag: Callable[[str], bool], first: Sequence[Callable[[str], bool]] = ()
) -> list[tuple[int, int, str]]:
    """A run of number words as numbers: (first word, word after the last, digits). A join that is a tag comes first.
    `first`: what the first number must be, best of all, since the letters of a tag stand before it."""
    atoms = _atoms(words)
    found: list[tuple[int, int, str]] = []
    at = 0
    while at < len(atoms):
        begins = next((got for suits in first if not at and (got := _lettered(atoms, suits))), None)
        end, digits = begins or _tag(atoms, at, is_tag) or _number(atoms, at)
        found.append((atoms[at][0], atoms[end - 1][1], digits))
        at = end
    return found


Atom = tuple[int, int, str]


def _atoms(words: Sequence[str]) -> list[Atom]:
    """Words below a hundred as digits ("twenty six" is 26), with the others ("oh", "hundred", "point") between."""
    atoms: list[Atom] = []
    at = 0
    while at < len(words):
        word, start = words[at], at
        at += 1
        if word in TENS:
            unit = at + 1 if words[at : at + 1] == ["-"] else at
            if unit < len(words) and 0 < ONES.get(words[unit], 0) < 10:
                atoms.append((start, unit + 1, str(TENS[word] + ONES[words[unit]])))
                at = unit + 1
            else:
                atoms.append((start, at, str(TENS[word])))
        elif word in ONES:
            atoms.append((start, at, str(ONES[word])))
        elif word in OH:
            atoms.append((start, at, "0"))
        elif word == "a":
            atoms.append((start, at, "1"))
        elif word not in ("-", "and"):
            atoms.append((start, at, word))
    return atoms


def _tag(atoms: list[Atom], at: int, is_tag: Callable[[str], bool]) -> tuple[int, str] | None:
    """The longest join of two to five atoms that is a tag of the farm, or the whole number said, where that is one."""
    for end in range(min(len(atoms), at + 5), at + 1, -1):
        if end < len(atoms) and atoms[end][2] == "point":
            continue  # "one twelve point five" is a weight, whoever's tag 112 is
        joined = "".join(text for _, _, text in atoms[at:end])
        if joined.isdigit() and len(joined) >= 3 and is_tag(joined):
            return end, joined
    return None


def _lettered(atoms: list[Atom], suits: Callable[[str], bool]) -> tuple[int, str] | None:
    """The longest join at the start that suits: "seventeen" of "blue seventeen thirty one", where no blue is 1731."""
    for end in range(min(len(atoms), 4), 0, -1):
        joined = "".join(text for _, _, text in atoms[:end])
        if joined.isdigit() and suits(joined) and (end == len(atoms) or atoms[end][2] != "point"):
            return end, joined
    return None


def _number(atoms: list[Atom], at: int) -> tuple[int, str]:
    """One number as it is said: "a hundred and eight", "one thirteen", "one oh eight", "two forty eight"."""

    def digits(index: int) -> str:
        return atoms[index][2] if index < len(atoms) and atoms[index][2].isdigit() else ""

    def word(index: int) -> str:
        return atoms[index][2] if index < len(atoms) else ""

    value, end = digits(at) or "1", at + 1
    if word(at) == "hundred":
        value = str(100 + int(digits(end) or 0))
        end += bool(digits(end))
    elif word(end) in ("hundred", "thousand"):
        total = 0
        for scale in ("thousand", "hundred"):
            if word(end) == scale:
                total += int(value) * (1000 if scale == "thousand" else 100)
                end += 1
                value = "0"
                if digits(end):
                    value, end = digits(end), end + 1
        value = str(total + int(value))
    elif len(value) == 1 and value != "0" and len(digits(end)) == 2:
        value, end = value + digits(end), end + 1
    elif digits(end) == "0" and len(digits(end + 1)) == 1 and len(value) <= 2:
        value, end = value + "0" + digits(end + 1), end + 2
    elif len(value) == 2 and len(digits(end)) == 2:  # a tag nobody has: "twenty six ninety nine"
        value, end = value + digits(end), end + 1
    elif len(value) == 1:
        while len(digits(end)) == 1 and end - at < 6:
            value, end = value + digits(end), end + 1
    if word(end) == "point":
        end += 1
        value += "."
        while len(digits(end)) == 1:
            value, end = value + digits(end), end + 1
    return end, value


def fraction(text: str) -> Decimal | None:
    """What "1/2" or "¾" is, or None."""
    return Decimal(FRACTIONS[text]) if text in FRACTIONS else None
