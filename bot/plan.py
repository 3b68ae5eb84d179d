"""A farm folder, read: farm.toml, animals.csv, weights.csv. Every mistake in any of them is told at once.

What is handed on is plain data (see `rules.records`) with the farm's own names. What is right in a plan is known by
`bot.plan_check`; here are the files, their lines and their columns. Nothing is written and nothing is guessed.
"""

import csv
import io
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeAlias

from bot.plan_check import names_of, plan_mistakes, tidied
from bot.plan_shape import Row, folded, near, wrong_at


@dataclass(frozen=True, slots=True)
class PlanFolder:
    """What a farm folder says: the plan as plain data, the rows of animals.csv by the keys of `AnimalSet`, those of
    weights.csv (tag, on, weight)."""

    plan: Row
    animals: tuple[Row, ...] = ()
    weights: tuple[Row, ...] = ()


class PlanMistakes(Exception):
    """What is wrong in a farm folder, a sentence each; nothing was loaded."""

    def __init__(self, mistakes: Iterable[str]) -> None:
        self.mistakes = list(mistakes)
        super().__init__("\n".join(self.mistakes))


def load(folder: Path) -> PlanFolder:
    """Read a farm folder. Raises PlanMistakes."""
    try:
        plan = tidied(tomllib.loads(_text(folder / "farm.toml"), parse_float=Decimal))
    except tomllib.TOMLDecodeError as wrong:
        raise PlanMistakes([f"farm.toml: not TOML as it should be: {wrong}"]) from wrong
    except (ValueError, RecursionError) as wrong:
        raise PlanMistakes([str(wrong) if str(wrong).startswith("farm.toml") else f"farm.toml: {wrong}"]) from wrong
    mistakes = [f"farm.toml, {mistake}" for mistake in plan_mistakes(plan)]
    animals, weights = [], []
    groups = names_of(plan, "group")
    try:
        animals = read_animals(_text(folder / "animals.csv", needed=False), groups, mistakes)
    except ValueError as wrong:
        mistakes.append(str(wrong))
    try:
        weights = read_weights(_text(folder / "weights.csv", needed=False), animals, mistakes)
    except ValueError as wrong:
        mistakes.append(str(wrong))
    if mistakes:
        raise PlanMistakes(mistakes)
    return PlanFolder(plan, tuple(animals), tuple(weights))


def _text(path: Path, needed: bool = True) -> str:
    """What a file says; empty where it is not there and need not be. Raises ValueError with one sentence."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as wrong:
        if needed:
            raise ValueError(f"{path.name}: there is none in {path.parent}") from wrong
        return ""
    except OSError as wrong:
        raise ValueError(f"{path.name}: cannot be read ({wrong.strerror or wrong})") from wrong
    except UnicodeDecodeError as wrong:
        raise ValueError(f"{path.name}: is not UTF-8 text (byte {wrong.start + 1}); save it again as UTF-8") from wrong


# -- the csv files

_ANIMALS = ("tag", "eid", "sex", "born", "dam", "group", "birth_weight", "birth_type", "status")
_WEIGHTS = ("tag", "on", "weight")
_SEXES = ("ewe", "ram", "wether", "female", "male", "doe", "buck", "cow", "heifer", "bull", "steer", "sow", "boar",
          "gilt", "barrow", "hen", "cock")  # fmt: skip


def _day(text: str) -> date:
    if not re.fullmatch(r"\d{4}-\d\d-\d\d", text) or not 1970 <= int(text[:4]) <= 2200:
        raise ValueError
    return date.fromisoformat(text)


def _more_than_none(text: str) -> Decimal:
    if not re.fullmatch(r"\d{1,9}(\.\d{1,30})?", text) or not Decimal(text):
        raise ValueError
    whole = Decimal(text)
    return whole if len(text.partition(".")[2]) <= 9 else round(whole, 6).normalize()  # 3.8000000000000003 of a sheet


_LITTERS = {"single": 1, "twin": 2, "triplet": 3, "quad": 4}


def _litter(text: str) -> int:
    word = text.lower().removesuffix("s")
    if word not in _LITTERS and not re.fullmatch(r"[1-9]\d?", text):
        raise ValueError
    return _LITTERS.get(word) or int(text)


def _eid(text: str) -> str:
    if not re.fullmatch(r"\d{15}", text):
        raise ValueError
    return text


def _word(*words: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text.lower() not in words:
            raise ValueError
        return text.lower()

    return read


# column: (how its text is read, what is expected)
_READ: dict[str, tuple[Callable[[str], Any], str]] = {
    "eid": (_eid, "the 15 digits of an electronic tag"),
    "sex": (_word(*_SEXES), "ewe, ram or wether"),
    "born": (_day, "a date like 2026-04-19"),
    "birth_weight": (_more_than_none, "a weight, like 4.5"),
    "birth_type": (_litter, "how many were born together, like 2 or twin"),
    "status": (_word("here", "sold", "dead"), "here, sold or dead"),
    "on": (_day, "a date like 2026-04-19"),
    "weight": (_more_than_none, "a weight, like 42.5"),
}


Lines: TypeAlias = Iterator[tuple[str, dict[str, str]]]


def _lines(file: str, text: str, columns: tuple[str, ...], needed: tuple[str, ...], mistakes: list[str]) -> Lines:
    """(place, row as text, blanks left out) of each line of a csv file; nothing where its header cannot be used."""
    reader = csv.reader(io.StringIO(text), strict=True)
    header: list[str] = []
    try:
        for cells in reader:
            cells = [cell.strip() for cell in cells]
            place = f"{file}, line {reader.line_num}"
            if not any(cells):
                continue
            if not header:
                header = [cell.lower() for cell in cells]
                problems = [f'{place}: "{cell}": no such column' for cell in header if cell not in columns]
                problems += [f"{place}: column {name} is missing" for name in needed if name not in header]
                problems += [f"{place}: column {name} is there twice" for name in columns if header.count(name) > 1]
                mistakes += [f"{p}; expected {','.join(columns)}" for p in problems]
                if problems:
                    return
            elif len(cells) != len(header):
                mistakes.append(f"{place}: {len(cells)} values, expected {len(header)} as in the first line")
            else:
                yield place, {k: v for k, v in zip(header, cells, strict=True) if v}
    except csv.Error as wrong:
        mistakes.append(f"{file}, line {reader.line_num}: cannot be read as CSV ({wrong})")


def _values(place: str, row: dict[str, str], mistakes: list[str]) -> dict[str, Any]:
    """A row's texts as values; what cannot be read is said and left out."""
    values: dict[str, Any] = {}
    for key, text in row.items():
        read, expected = _READ.get(key, (str, ""))
        try:
            values[key] = read(text)
        except ValueError:
            mistakes.append(wrong_at(place, key, text, f"expected {expected}"))
    return values


def read_animals(text: str, groups: dict[str, str], mistakes: list[str]) -> list[dict[str, Any]]:
    """The rows of animals.csv. `groups` are the folded names a group goes by, with its own name."""
    animals: list[tuple[str, dict[str, Any]]] = []
    tags: dict[str, str] = {}
    chips: dict[str, str] = {}
    for place, row in _lines("animals.csv", text, _ANIMALS, ("tag",), mistakes):
        animal = _values(place, row, mistakes)
        tag = animal.get("tag")
        if tag is None:
            mistakes.append(f"{place}: tag is missing")
            continue
        if folded(tag) in tags:
            mistakes.append(wrong_at(place, "tag", tag, "another line has this tag"))
        tags.setdefault(folded(tag), tag)
        if animal.get("eid") in chips:
            mistakes.append(wrong_at(place, "eid", animal["eid"], f"{chips[animal['eid']]} has this number"))
        elif "eid" in animal:
            chips[animal["eid"]] = tag
        if "group" in animal:
            name = groups.get(folded(animal["group"]))
            if name is None:
                said = f"there is no such [[group]]{near(animal['group'], groups.values())}"
                mistakes.append(wrong_at(place, "group", animal["group"], said))
            animal["group"] = name
        animals.append((place, animal))
    for place, animal in animals:
        if "dam" in animal:
            dam = tags.get(folded(animal["dam"]))
            if dam is None:
                mistakes.append(wrong_at(place, "dam", animal["dam"], "no line has this tag"))
            elif dam == animal["tag"]:
                mistakes.append(wrong_at(place, "dam", dam, "expected another animal"))
            animal["dam"] = dam
    return [animal for _, animal in animals]


def read_weights(text: str, animals: list[dict[str, Any]], mistakes: list[str]) -> list[dict[str, Any]]:
    """The rows of weights.csv, of animals that animals.csv lists."""
    known = {folded(animal["tag"]): animal for animal in animals}
    weights = []
    for place, row in _lines("weights.csv", text, _WEIGHTS, _WEIGHTS, mistakes):
        weight = _values(place, row, mistakes)
        mistakes += [f"{place}: {key} is missing" for key in _WEIGHTS if key not in row]
        animal = known.get(folded(weight.get("tag", "")))
        if animal is None:
            if "tag" in weight:
                mistakes.append(wrong_at(place, "tag", weight["tag"], "animals.csv has no such animal"))
            continue
        weight["tag"] = animal["tag"]
        if "on" in weight and "born" in animal and weight["on"] < animal["born"]:
            said = f"expected a day after {animal['tag']} was born ({animal['born']})"
            mistakes.append(wrong_at(place, "on", row["on"], said))
        weights.append(weight)
    return weights
