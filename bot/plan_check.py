"""What is wrong with a farm plan: every mistake, in farm words, and the one spelling it is kept in.

Shapes (keys, kinds of values) are checked by pydantic against the records of `rules.plan`; what the words and numbers
mean, by the small checks below, each a generator of sentences with table, row, value and what was expected. A farm
folder is read in `bot.plan`; a change of the plan by chat is checked by the same `plan_mistakes`.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import date, time
from decimal import Decimal
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise
from typing import Any, TypeAlias, get_args, get_type_hints
from zoneinfo import available_timezones

import holidays
import pydantic
import simplejson
from opening_hours import OpeningHours
from rapidfuzz import process
from rapidfuzz.distance import DamerauLevenshtein

from rules.days import WEEKDAYS
from rules.plan import TABLES, Item, Plan
from rules.units import Amount, amount, like, unit_named

Row: TypeAlias = dict[str, Any]

STAGES = ("pulled", "housed", "creep", "weaned", "docked", "castrated", "shorn")
KEEPS = ("market lambs", "bottle lambs", "replacements", "ewes", "rams", "hens", "lambs at foot")
_TIMES = {"farm": ("morning", "evening"), "supplier": ("order_before",)}
_DAYS = ("keeps_days", "withdrawal_days", "egg_withdrawal_days", "opened_days", "lead_days", "creep", "weaned", "days")
_MOST_DAYS = 3660
_MOST = 10**12  # of anything; a chat id may be larger

# (table, list inside its rows, key, the tables it names a row of)
_REFERS: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    ("item", "", "supplier", ("supplier",)),
    ("item", "feeds", "group", ("group",)),
    ("kit", "needs", "item", ("item", "product")),
    ("dose_plan", "steps", "product", ("product",)),
    ("bin", "", "crop", ("crop",)),
)


# -- tidying: one spelling of what may be written in several


def tidied(plan: Mapping[str, Any]) -> Row:
    """Plan data in one spelling: times as "06:00", units in the singular, weekdays in small letters, rows named by
    their own name where an also-name was given. What is wrong is left as it is."""
    data: Row = _plain(plan)
    for table, keys in _TIMES.items():
        for _, row in _rows(data, table):
            for key in keys:
                if isinstance(row.get(key), str) and re.fullmatch(r"\d:\d\d", row[key]):
                    row[key] = "0" + row[key]
    for _, row in _rows(data, "ship"):
        if isinstance(row.get("sales"), list):
            row["sales"] = [day.lower() if isinstance(day, str) else day for day in row["sales"]]
    for _, row in _rows(data, "item"):
        if isinstance(row.get("unit"), str):
            row["unit"] = unit_named(row["unit"]) or row["unit"]
    for table, inner, key, to in _REFERS:
        names = {said: name for t in reversed(to) for said, name in names_of(data, t).items()}
        for _, row in _rows(data, table, inner):
            if isinstance(row.get(key), str):
                row[key] = names.get(folded(row[key]), row[key])
    return data


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_plain(v) for v in value]
    if isinstance(value, time):
        return value.isoformat("auto" if value.second or value.microsecond else "minutes")
    return value.isoformat() if isinstance(value, date) else value


def folded(name: str) -> str:
    """A name as people compare it: case and spaces aside."""
    return " ".join(name.casefold().split())


def names_of(data: Row, table: str) -> dict[str, str]:
    """The names and also-names of a table's rows, folded, with the name of the row; names go before also-names."""
    names: dict[str, str] = {}
    rows = [row for _, row in _rows(data, table) if isinstance(row.get("name"), str)]
    for row in rows:
        names.setdefault(folded(row["name"]), row["name"])
    for row in rows:
        for also in _texts(row.get("also")):
            names.setdefault(folded(also), row["name"])
    return names


def _texts(value: Any) -> list[str]:
    return [text for text in value if isinstance(text, str)] if isinstance(value, list) else []


def _rows(data: Row, table: str, inner: str = "") -> Iterator[tuple[str, Row]]:
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


# -- saying what is wrong


def wrong_at(place: str, key: str, value: Any, expected: str) -> str:
    shown = f'"{value}"' if isinstance(value, str) else _shown(value)
    return f"{place}: {key} = {shown if len(shown) < 80 else shown[:77] + '...'}: {expected}"


def _shown(value: Any) -> str:
    return simplejson.dumps(value, use_decimal=True, allow_nan=True, ensure_ascii=False, default=str)


def near(word: str, choices: Iterable[str]) -> str:
    """"; did you mean milk?" where one of the choices is near enough, else nothing."""
    found = process.extractOne(
        word, list(choices), scorer=DamerauLevenshtein.normalized_similarity, processor=folded, score_cutoff=0.6
    )
    return f"; did you mean {found[0]}?" if found else ""


# -- the checks


def plan_mistakes(plan: Row) -> list[str]:
    """What is wrong with plan data, tidied before: each a sentence with table, row, value and what was expected."""
    checks = (_shapes, _numbers, _unique, _references, _farm, _shipping, _people, _stores, _suppliers, _land, _doses)
    return [mistake for check in checks for mistake in check(plan)]


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


def _shapes(plan: Row) -> Iterator[str]:
    try:
        _shape().model_validate_json(simplejson.dumps(plan, use_decimal=True, allow_nan=True))
    except pydantic.ValidationError as wrong:
        for error in wrong.errors(include_url=False):
            if error["type"] != "time_parsing":  # `_clock` says those
                yield _in_farm_words(plan, error["type"], error["loc"])


def _in_farm_words(plan: Row, kind: str, loc: tuple[int | str, ...]) -> str:
    """One of pydantic's errors as a farmer can use it: place, value, expected."""
    place, value, known = "", plan, _keys(Plan)
    cls: Any = Plan
    for part, after in pairwise(loc):
        value = value[part]  # type: ignore[index]
        if isinstance(part, str):
            cls = _inside(cls, part)
            known = _keys(cls)
            if not isinstance(after, int):
                place = place or f"[{part}]"
        elif isinstance(value, dict):
            table = str(loc[0])
            place = f"{place}, {loc[loc.index(part) - 1]} {part + 1}" if place else _place(table, value, part + 1)
    key = str(loc[-1])
    if len(loc) == 1:
        return _of_table(plan, kind, key)
    if isinstance(loc[-1], int):
        key, value = f"{loc[-2]} {loc[-1] + 1}", {f"{loc[-2]} {loc[-1] + 1}": value[loc[-1]]}  # type: ignore[index]
    if kind == "missing":
        return f"{place}: {key} is missing"
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        said = near(key, known) or f"; expected one of {', '.join(known)}"
        return wrong_at(place, key, value[key], f"no such key{said}")
    return wrong_at(place or f"[[{loc[0]}]]", key, value[key], f"expected {_KINDS.get(kind, 'another kind of value')}")


def _of_table(plan: Row, kind: str, table: str) -> str:
    if kind == "missing":
        return "[farm] is missing; it needs name, country and timezone"
    if table in _keys(Plan):
        brackets = f"[[{table}]], in double brackets" if table in TABLES else f"[{table}], in single brackets"
        return f"{table}: expected {brackets}"
    return f"[{table}]: no such table{near(table, _keys(Plan)) or '; expected one of ' + ', '.join(_keys(Plan))}"


def _keys(cls: Any) -> list[str]:
    return [f.name.rstrip("_") for f in fields(cls)]


def _inside(cls: Any, key: str) -> Any:
    """The record that a key of a record holds, or a list of; the record itself where it holds none."""
    hints = {name.rstrip("_"): hint for name, hint in get_type_hints(cls).items()}
    return next((h for h in (hints.get(key), *get_args(hints.get(key))) if is_dataclass(h)), cls)


def _numbers(plan: Row) -> Iterator[str]:
    """Not negative, and no larger than a farm could mean."""
    for table in plan:
        for place, row in _rows(plan, table):
            yield from _numbers_of(place, row)


def _numbers_of(place: str, row: Row) -> Iterator[str]:
    for key, held in row.items():
        for n, value in enumerate(held if isinstance(held, list) else [held], 1):
            if isinstance(value, dict):
                yield from _numbers_of(f"{place}, {key} {n}", value)
            elif isinstance(value, int | Decimal) and not isinstance(value, bool) and Decimal(value).is_finite():
                if value < 0:
                    yield wrong_at(place, key, value, "expected a number that is not negative")
                elif key in _DAYS and value > _MOST_DAYS:
                    yield wrong_at(place, key, value, f"expected days, at most {_MOST_DAYS}")
                elif value > (_MOST * 10000 if key == "telegram" else _MOST):
                    yield wrong_at(place, key, value, "expected a smaller number")


def _unique(plan: Row) -> Iterator[str]:
    """No name, and no also-name, stands for two rows of a table."""
    for table in TABLES:
        key = "for" if table in ("kit", "stage_plan") else "name"
        taken: dict[str, str] = {}
        rows = list(_rows(plan, table))
        for place, row in rows:
            name = row.get(key)
            if isinstance(name, str) and not name.strip():
                yield wrong_at(place, key, name, "expected a name")
            elif isinstance(name, str) and taken.setdefault(folded(name), place) != place:
                yield wrong_at(place, key, name, f"another row of [[{table}]] has this name")
            elif isinstance(name, str) and [r is row for _, r in rows if r.get(key) == name].index(True):
                yield wrong_at(place, key, name, f"two rows of [[{table}]] have this name")
        for place, row in rows:
            for also in _texts(row.get("also")):
                if taken.setdefault(folded(also), place) != place:
                    yield wrong_at(place, "also", also, f"{taken[folded(also)]} is called so, too")


def _references(plan: Row) -> Iterator[str]:
    for table, inner, key, to in _REFERS:
        names = list(dict.fromkeys(name for t in to for name in names_of(plan, t).values()))
        for place, row in _rows(plan, table, inner):
            if isinstance(row.get(key), str) and row[key] not in names:
                yield wrong_at(place, key, row[key], f"there is no such [[{to[0]}]]{near(row[key], names)}")


def _clock(place: str, row: Row, key: str) -> Iterator[str]:
    if isinstance(row.get(key), str) and not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", row[key]):
        yield wrong_at(place, key, row[key], 'expected a time like "06:00"')


def _one_of(place: str, row: Row, key: str, choices: Iterable[str]) -> Iterator[str]:
    listed = list(choices)
    if isinstance(row.get(key), str) and row[key] not in listed:
        said = near(row[key], listed) or f"; expected one of {', '.join(listed)}"
        yield wrong_at(place, key, row[key], "not known" + said)


def _farm(plan: Row) -> Iterator[str]:
    for place, row in _rows(plan, "farm"):
        if isinstance(row.get("name"), str) and not row["name"].strip():
            yield wrong_at(place, "name", row["name"], "expected the farm's name")
        yield from _region(place, row)
        zone = row.get("timezone")
        if isinstance(zone, str) and zone not in available_timezones():
            said = near(zone, sorted(available_timezones())) or '; expected one like "Europe/Dublin"'
            yield wrong_at(place, "timezone", zone, f"no such timezone{said}")
        yield from _one_of(place, row, "weight", ("kg", "lb"))
        for key in ("morning", "evening"):
            yield from _clock(place, row, key)
            if isinstance(row.get(key), str) and "00:00" <= row[key] < "04:00":
                yield wrong_at(place, key, row[key], "expected a time that is not between 00:00 and 04:00")


@lru_cache(maxsize=1)
def _countries() -> dict[str, str]:
    """ISO 3166-1 codes with the countries' names, as the timezone data lists them."""
    listed = files("tzdata").joinpath("zoneinfo/iso3166.tab").read_text(encoding="utf-8").splitlines()
    return dict(line.split("\t", 1) for line in listed if line and not line.startswith("#"))


def _region(place: str, row: Row) -> Iterator[str]:
    """A country there is, and of its parts one whose holidays are known, where those of any part are."""
    country, part = row.get("country"), row.get("subdivision")
    if not isinstance(country, str):
        return
    if country not in _countries():
        codes = {name: code for code, name in _countries().items()}
        meant = country.upper() if country.upper() in _countries() else codes.get(near(country, codes)[15:-1])
        said = f"; did you mean {meant}?" if meant else ""
        yield wrong_at(place, "country", country, f"expected the two letters of ISO 3166-1, like IE, GB or US{said}")
        return
    try:
        parts = list(holidays.country_holidays(country).subdivisions)
    except NotImplementedError:
        parts = []
    if isinstance(part, str) and (part not in parts if parts else not re.fullmatch(r"[A-Z0-9]{1,3}", part)):
        said = near(part.removeprefix(f"{country}-"), parts) or f"; expected one like {', '.join(parts[:60]) or 'WI'}"
        yield wrong_at(place, "subdivision", part, f"not a part of {country} in ISO 3166-2{said}")


def _shipping(plan: Row) -> Iterator[str]:
    for place, row in _rows(plan, "ship"):
        for day in _texts(row.get("sales")):
            yield from _one_of(place, {"sales": day}, "sales", WEEKDAYS)
        for low, high in (("min", "max"), ("load_min", "load_full")):
            if _number(row.get(low)) and _number(row.get(high)) and row[low] > row[high]:
                yield wrong_at(place, low, row[low], f"expected no more than {high}, which is {row[high]}")
        steps = [step["from"] for _, step in _rows(plan, "ship", "price") if _number(step.get("from"))]
        if len(set(steps)) < len(steps):
            yield wrong_at(place, "price", steps, "expected each `from` once")


def _number(value: Any) -> bool:
    return isinstance(value, int | Decimal) and not isinstance(value, bool) and Decimal(value).is_finite()


def _people(plan: Row) -> Iterator[str]:
    chats: dict[Any, str] = {}
    for place, row in _rows(plan, "person"):
        yield from _one_of(place, row, "role", ("owner", "family", "helper"))
        chat = row.get("telegram")
        if chat is not None and _number(chat) and chats.setdefault(chat, place) != place:
            yield wrong_at(place, "telegram", chat, f"this chat is {chats[chat]}'s")


def _amount(place: str, row: Row, key: str, item: Row | None, country: str) -> Iterator[str]:
    """An amount that can be read, more than nothing, and (of an item) in a unit that can be turned into the item's."""
    if not isinstance(row.get(key), str):
        return
    try:
        said = amount(row[key])
    except ValueError:
        yield wrong_at(place, key, row[key], 'expected a number and a unit, like "25 lb"')
        return
    if not 0 < said.value <= _MOST:
        expected = "expected a smaller amount" if said.value else "expected more than nothing"
        yield wrong_at(place, key, row[key], expected)
    elif item is not None and not _fits(said, item, country):
        unit, holds = item.get("unit"), item.get("holds")
        more = f"{holds} each" if holds else "say with `holds` what one holds"
        yield wrong_at(place, key, row[key], f"cannot be turned into {unit}, which this item is counted in ({more})")


def _fits(said: Amount, item: Row, country: str) -> bool:
    unit, holds = item.get("unit", "each"), item.get("holds")
    if not isinstance(unit, str) or not isinstance(holds, str | None):
        return True  # said already
    try:
        if holds is not None and not amount(holds).value:
            return True
        Item(name="", unit=unit, holds=holds).units(said.value, said.unit, country)
    except ValueError:
        return False
    return True


def _country(plan: Row) -> str:
    return next((str(row.get("country")) for _, row in _rows(plan, "farm")), "")


def _stores(plan: Row) -> Iterator[str]:
    country = _country(plan)
    items = {}
    for place, row in _rows(plan, "item"):
        items[row.get("name")] = row
        yield from _amount(place, row, "holds", None, country)
        for key in ("order_min", "order_step", "store_max"):
            yield from _amount(place, row, key, row, country)
        if _number(row.get("service")) and not 0 < row["service"] < 1:
            yield wrong_at(place, "service", row["service"], "expected a chance between 0 and 1, like 0.95")
        for inner, feed in _rows({"item": [row]}, "item", "feeds"):
            yield from _amount(inner, feed, "per_head_day", row, country)
    for place, need in _rows(plan, "kit", "needs"):
        yield from _one_of(place, need, "per", ("ewe", "group"))
        yield from _amount(place, need, "amount", items.get(need.get("item")), country)
    for place, kit in _rows(plan, "kit"):
        yield from _one_of(place, kit, "for", ("lambing",))


def hours_problem(text: str) -> str | None:  # until bot.hours has it
    try:
        OpeningHours(re.sub(r"\bPH\b", "2000 Jan 01", text))
    except Exception as wrong:
        return f"not opening hours: {wrong}"
    return None


def _suppliers(plan: Row) -> Iterator[str]:
    for place, row in _rows(plan, "supplier"):
        yield from _clock(place, row, "order_before")
        if isinstance(row.get("hours"), str) and (problem := hours_problem(row["hours"])):
            yield wrong_at(place, "hours", row["hours"], problem)


def _land(plan: Row) -> Iterator[str]:
    for place, row in _rows(plan, "bin"):
        yield from _amount(place, row, "capacity", None, "")
    for place, row in _rows(plan, "field"):
        problems = list(_amount(place, row, "area", None, ""))
        yield from problems
        if isinstance(row.get("area"), str) and not problems and not like(amount(row["area"]).unit, "ha", ""):
            yield wrong_at(place, "area", row["area"], 'expected an area, like "12 ac" or "5 ha"')
    for place, row in _rows(plan, "crop"):
        if _number(row.get("test_weight")) and row["test_weight"] == 0:
            yield wrong_at(place, "test_weight", row["test_weight"], "expected pounds in a bushel, like 56")
        if _number(row.get("dry")) and row["dry"] >= 100:
            yield wrong_at(place, "dry", row["dry"], "expected percent moisture, like 15.5")


def _doses(plan: Row) -> Iterator[str]:
    kept = [row["keeps"] for _, row in _rows(plan, "group") if isinstance(row.get("keeps"), str)]
    for table in ("stage_plan", "dose_plan"):
        for place, row in _rows(plan, table):
            yield from _one_of(place, row, "for", dict.fromkeys((*KEEPS, *kept)))
    for _, row in _rows(plan, "dose_plan"):
        earlier: list[str] = []
        for place, step in _rows({"dose_plan": [row]}, "dose_plan", "steps"):
            yield from _step(place, step, earlier)
            if isinstance(step.get("step"), str):
                if step["step"] in earlier:
                    yield wrong_at(place, "step", step["step"], "an earlier step has this name")
                earlier.append(step["step"])


def _step(place: str, step: Row, earlier: list[str]) -> Iterator[str]:
    for key in ("before", "after"):
        yield from _one_of(place, step, key, ("birth", "lambing", *STAGES, *earlier))
    if "before" not in step and "after" not in step:
        yield f"{place}: before or after is missing; expected the event that days are counted from"
    days = step.get("days", [])
    if not isinstance(days, list) or not all(isinstance(day, int) for day in days):
        return
    if len(days) != 2:
        yield wrong_at(place, "days", days, "expected two numbers of days, like [21, 28]")
    elif "after" in step and days[0] > days[1]:
        yield wrong_at(place, "days", days, "expected the earlier day first: the fewer days after it")
    elif "after" not in step and days[0] < days[1]:
        yield wrong_at(place, "days", days, "expected the earlier day first: the more days before it")
