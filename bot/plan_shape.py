"""The rows and keys of farm plan data: walking them, naming them to a farmer, and what is of the wrong shape.

Keys and kinds of values are checked by pydantic against the records of `rules.plan`; its errors are said in farm words.
What values mean is checked in `bot.plan_check`.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any, TypeAlias, get_args, get_type_hints

import pydantic
import simplejson
from rapidfuzz import process
from rapidfuzz.distance import DamerauLevenshtein

from rules.plan import TABLES, Plan

Row: TypeAlias = dict[str, Any]


def folded(name: str) -> str:
    """A name as people compare it: case and spaces aside."""
    return " ".join(name.casefold().split())


def said(value: Any) -> Any:
    """Plan data without what was set to nothing, which a file cannot say."""
    if isinstance(value, Mapping):
        return {k: said(v) for k, v in value.items() if v is not None}
    return [said(v) for v in value] if isinstance(value, list | tuple) else value


def rows_of(data: Row, table: str, inner: str = "") -> Iterator[tuple[str, Row]]:
    """(how a mistake names it, row) of each row of a table, or of a list inside its rows; what is no row is left."""
    found = data.get(table, [])
    if isinstance(found, dict):
        outer = [(f"[{table}]", found)]
    else:
        listed = enumerate(found if isinstance(found, list) else [], 1)
        outer = [(_place(table, row, n), row) for n, row in listed if isinstance(row, dict)]
    for place, row in outer:
        if not inner:
            yield place, row
        elif isinstance(row.get(inner), list):
            yield from ((f"{place}, {inner} {n}", r) for n, r in enumerate(row[inner], 1) if isinstance(r, dict))


def _place(table: str, row: Row, number: int) -> str:
    name = row.get("for" if table in ("kit", "stage_plan") else "name")
    return f"[[{table}]] {name}" if isinstance(name, str) and name else f"[[{table}]] row {number}"


def wrong_at(place: str, key: str, value: Any, expected: str) -> str:
    """A mistake as a sentence; a long value is cut."""
    shown = f'"{value}"' if isinstance(value, str) else _shown(value)
    return f"{place}: {key} = {shown if len(shown) < 80 else shown[:77] + '...'}: {expected}"


def _shown(value: Any) -> str:
    return simplejson.dumps(value, use_decimal=True, allow_nan=True, ensure_ascii=False, default=str)


def nearest(word: str, choices: Iterable[str]) -> str | None:
    """The choice that a word is a likely misspelling of, or None."""
    alike = DamerauLevenshtein.normalized_similarity
    found = process.extractOne(word, list(choices), scorer=alike, processor=folded, score_cutoff=0.6)
    return found[0] if found else None


def near(word: str, choices: Iterable[str]) -> str:
    """ "; did you mean milk?", or nothing."""
    found = nearest(word, choices)
    return f"; did you mean {found}?" if found else ""


@lru_cache(maxsize=1)
def _shape() -> type[pydantic.BaseModel]:
    """The records of `rules.plan` as pydantic sees them: their keys, no others, and no value of another kind."""
    config = pydantic.ConfigDict(extra="forbid", strict=True, alias_generator=lambda field: field.rstrip("_"))
    hints = get_type_hints(Plan)
    keys = {f.name: (hints[f.name], ... if f.default is MISSING else f.default) for f in fields(Plan)}
    return pydantic.create_model("FarmPlan", __config__=config, **keys)  # type: ignore[call-overload,no-any-return]


_KINDS = {
    "string_type": "text in quotes", "int_type": "a whole number", "int_from_float": "a whole number",
    "decimal_type": "a number", "decimal_parsing": "a number", "finite_number": "a finite number",
    "bool_type": "true or false", "tuple_type": "a list in [ ]", "time_type": 'a time like "06:00"',
    "dataclass_type": "keys and values in { }",
}  # fmt: skip


def shapes(plan: Row) -> Iterator[str]:
    try:
        _shape().model_validate_json(simplejson.dumps(plan, use_decimal=True, allow_nan=True))
    except pydantic.ValidationError as wrong:
        for error in wrong.errors(include_url=False):
            if not error["loc"]:
                yield f"cannot be read as a plan: {error['msg']}"
            elif error["type"] != "time_parsing":  # said in `bot.plan_check`
                yield _in_farm_words(plan, error["type"], error["loc"])


def _in_farm_words(plan: Row, kind: str, loc: tuple[int | str, ...]) -> str:
    """One of pydantic's errors, at a path of keys and places in lists, as a farmer can use it."""
    table, key = str(loc[0]), loc[-1]
    if len(loc) == 1:
        return _of_table(kind, table)
    place, value, cls = f"[{table}]", plan[table], inside(Plan, table)
    for before, part in pairwise(loc[:-1]):
        value = value[part]
        if isinstance(part, str):
            cls = inside(cls, part)
        elif isinstance(value, dict):
            place = _place(table, value, part + 1) if before == table else f"{place}, {before} {part + 1}"
    if kind == "missing":
        return f"{place}: {key} is missing"
    if isinstance(key, int):
        place = f"[{place}]" if place == f"[{table}]" and table in TABLES else place
        return wrong_at(place, f"{loc[-2]} {key + 1}", value[key], f"expected {_KINDS.get(kind, 'something else')}")
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        said = near(key, keys_of(cls)) or f"; expected one of {', '.join(keys_of(cls))}"
        return wrong_at(place, key, value[key], f"no such key{said}")
    return wrong_at(place, key, value[key], f"expected {_KINDS.get(kind, 'something else')}")


def _of_table(kind: str, table: str) -> str:
    if kind == "missing":
        return "[farm] is missing; it needs name, country and timezone"
    if table in keys_of(Plan):
        brackets = f"[[{table}]], in double brackets" if table in TABLES else f"[{table}], in single brackets"
        return f"{table}: expected {brackets}"
    return f"[{table}]: no such table{near(table, keys_of(Plan)) or '; expected one of ' + ', '.join(keys_of(Plan))}"


def keys_of(cls: Any) -> list[str]:
    return [f.name.rstrip("_") for f in fields(cls)]


@lru_cache(maxsize=500)
def kinds_of(cls: Any, key: str) -> tuple[Any, ...]:
    """The types that a key of a record may hold, or hold a list of."""
    hint = {name.rstrip("_"): hint for name, hint in get_type_hints(cls).items()}.get(key)
    return (hint, *get_args(hint))


def inside(cls: Any, key: str) -> Any:
    """The record that a key of a record holds, or a list of; the record itself where it holds none."""
    return next((kind for kind in kinds_of(cls, key) if is_dataclass(kind)), cls)
