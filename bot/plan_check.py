"""What is wrong with a farm plan: every mistake, in farm words, and the one spelling it is kept in.

Keys and kinds of values are checked in `bot.plan_shape`; what the words and numbers mean, by the small checks below,
each a generator of sentences with table, row, value and what was expected. A farm folder is read in `bot.plan`; a
change of the plan by chat is checked by the same `plan_mistakes`.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, time
from decimal import Decimal
from functools import lru_cache
from importlib.resources import files
from typing import Any
from zoneinfo import available_timezones

import holidays

from bot.hours import hours_problem
from bot.plan_shape import Row, folded, inside, kinds_of, near, nearest, rows_of, shapes, wrong_at
from rules.days import WEEKDAYS
from rules.plan import REFERS, TABLES, Item, Plan
from rules.units import Amount, amount, like, unit_named

STAGES = ("pulled", "housed", "creep", "weaned", "docked", "castrated", "shorn")
KEEPS = ("market lambs", "bottle lambs", "replacements", "ewes", "rams", "hens", "lambs at foot")
_TIMES = {"farm": ("morning", "evening"), "supplier": ("order_before",)}
_DAYS = ("keeps_days", "withdrawal_days", "egg_withdrawal_days", "opened_days", "lead_days", "creep", "weaned", "days")
_MOST_DAYS = 3660
_MOST = 10**12  # of anything; a chat id may be larger


# -- tidying: one spelling of what may be written in several


def tidied(plan: Mapping[str, Any]) -> Row:
    """Plan data in one spelling: times as "06:00", units in the singular, weekdays in small letters, rows named by
    their own name where an also-name was given, "2" of an item in its unit. What is wrong is left as it is."""
    data: Row = _plain(plan)
    for table, keys in _TIMES.items():
        for _, row in rows_of(data, table):
            for key in keys:
                if isinstance(row.get(key), str) and re.fullmatch(r"\d:\d\d", row[key]):
                    row[key] = "0" + row[key]
    for _, row in rows_of(data, "ship"):
        if isinstance(row.get("sales"), list):
            row["sales"] = [day.lower() if isinstance(day, str) else day for day in row["sales"]]
    for _, row in rows_of(data, "item"):
        if isinstance(row.get("unit"), str):
            row["unit"] = unit_named(row["unit"]) or row["unit"]
    for table, inner, key, to in REFERS:
        names = {said: name for t in reversed(to) for said, name in names_of(data, t).items()}
        for _, row in rows_of(data, table, inner):
            if isinstance(row.get(key), str):
                row[key] = names.get(folded(row[key]), row[key])
    units = {str(row.get("name")): row.get("unit", "each") for _, row in rows_of(data, "item")}
    bare = [(row, key, row.get("name")) for _, row in rows_of(data, "item") for key in _OF_ITEM]
    bare += [(row, "amount", row.get("item")) for _, row in rows_of(data, "kit", "needs")]
    for row, key, item in bare:
        unit = units.get(str(item))
        if isinstance(unit, str) and unit and re.fullmatch(r"\d+(?:\.\d+)?", str(row.get(key))):
            row[key] = f"{row[key]} {unit}"
    return data


_OF_ITEM = ("order_min", "order_step", "store_max")  # counted in the item's unit where no other is said


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_plain(v) for v in value]
    if isinstance(value, time):
        return value.isoformat("auto" if value.second or value.microsecond else "minutes")
    return value.isoformat() if isinstance(value, date) else value


def names_of(data: Row, table: str) -> dict[str, str]:
    """The names and also-names of a table's rows, folded, with the name of the row; names go before also-names."""
    names: dict[str, str] = {}
    rows = [row for _, row in rows_of(data, table) if isinstance(row.get("name"), str)]
    for row in rows:
        names.setdefault(folded(row["name"]), row["name"])
    for row in rows:
        for also in _texts(row.get("also")):
            names.setdefault(folded(also), row["name"])
    return names


def _texts(value: Any) -> list[str]:
    return [text for text in value if isinstance(text, str)] if isinstance(value, list) else []


# -- the checks


def plan_mistakes(plan: Row) -> list[str]:
    """What is wrong with plan data, tidied before: each a sentence with table, row, value and what was expected."""
    checks = (shapes, _numbers, _unique, _references, _farm, _shipping, _people, _stores, _suppliers, _land, _doses)
    return [mistake for check in checks for mistake in check(plan)]


def _numbers(plan: Row) -> Iterator[str]:
    """Not negative, and no larger than a farm could mean."""
    for table in plan:
        for place, row in rows_of(plan, table):
            yield from _numbers_of(place, row, inside(Plan, table))


def _numbers_of(place: str, row: Row, cls: Any) -> Iterator[str]:
    for key, held in row.items():
        if isinstance(held, str) and Decimal in kinds_of(cls, key):
            yield wrong_at(place, key, held, "expected a number, without quotes")
        for n, value in enumerate(held if isinstance(held, list) else [held], 1):
            if isinstance(value, dict):
                yield from _numbers_of(f"{place}, {key} {n}", value, inside(cls, key))
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
        rows = list(rows_of(plan, table))
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
    for table, inner, key, to in REFERS:
        names = list(dict.fromkeys(name for t in to for name in names_of(plan, t).values()))
        for place, row in rows_of(plan, table, inner):
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
    for place, row in rows_of(plan, "farm"):
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
        meant = country.upper() if country.upper() in _countries() else codes.get(nearest(country, codes) or "")
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
    for place, row in rows_of(plan, "ship"):
        for day in _texts(row.get("sales")):
            yield from _one_of(place, {"sales": day}, "sales", WEEKDAYS)
        for low, high in (("min", "max"), ("load_min", "load_full")):
            if _number(row.get(low)) and _number(row.get(high)) and row[low] > row[high]:
                yield wrong_at(place, low, row[low], f"expected no more than {high}, which is {row[high]}")
        steps = [step["from"] for _, step in rows_of(plan, "ship", "price") if _number(step.get("from"))]
        if len(set(steps)) < len(steps):
            yield wrong_at(place, "price", steps, "expected each `from` once")


def _number(value: Any) -> bool:
    return isinstance(value, int | Decimal) and not isinstance(value, bool) and Decimal(value).is_finite()


def _people(plan: Row) -> Iterator[str]:
    chats: dict[Any, str] = {}
    for place, row in rows_of(plan, "person"):
        yield from _one_of(place, row, "role", ("owner", "family", "helper"))
        chat = row.get("telegram")
        if chat is not None and _number(chat) and chats.setdefault(chat, place) != place:
            yield wrong_at(place, "telegram", chat, f"this chat is {chats[chat]}'s")


def _amount(place: str, row: Row, key: str, item: Row | None, country: str) -> Iterator[str]:
    """An amount that can be read, more than nothing, and (of an item) in a unit that can be turned into the item's."""
    if not isinstance(row.get(key), str):
        return
    said = _read(row[key])
    if said is None:
        yield wrong_at(place, key, row[key], 'expected a number and a unit, like "25 lb"')
    elif not 0 < said.value <= _MOST:
        expected = "expected a smaller amount" if said.value else "expected more than nothing"
        yield wrong_at(place, key, row[key], expected)
    elif item is not None and not _fits(said, item, country):
        unit, holds = item.get("unit", "each"), item.get("holds")
        more = f"{holds} each" if holds else "say with `holds` what one holds"
        yield wrong_at(place, key, row[key], f"cannot be turned into {unit}, which this item is counted in ({more})")


def _fits(said: Amount, item: Row, country: str) -> bool:
    unit, holds = item.get("unit", "each"), item.get("holds")
    if not isinstance(unit, str) or not isinstance(holds, str | None):
        return True  # said already
    if holds is not None and (not _read(holds) or not amount(holds).value):
        return True
    try:
        Item(name="", unit=unit, holds=holds).units(said.value, said.unit, country)
    except ValueError:
        return False
    return True


def _read(text: str) -> Amount | None:
    try:
        return amount(text)
    except ValueError:
        return None


def _country(plan: Row) -> str:
    return next((str(row.get("country")) for _, row in rows_of(plan, "farm")), "")


def _stores(plan: Row) -> Iterator[str]:
    country = _country(plan)
    items = [row for _, row in rows_of(plan, "item")]
    for place, row in rows_of(plan, "item"):
        yield from _amount(place, row, "holds", None, country)
        for key in _OF_ITEM:
            yield from _amount(place, row, key, row, country)
        if _number(row.get("service")) and not 0 < row["service"] < 1:
            yield wrong_at(place, "service", row["service"], "expected a chance between 0 and 1, like 0.95")
        for inner, feed in rows_of({"item": [row]}, "item", "feeds"):
            yield from _amount(inner, feed, "per_head_day", row, country)
    for place, need in rows_of(plan, "kit", "needs"):
        yield from _one_of(place, need, "per", ("ewe", "group"))
        item = next((row for row in items if row.get("name") == need.get("item")), None)
        yield from _amount(place, need, "amount", item, country)
    for place, kit in rows_of(plan, "kit"):
        yield from _one_of(place, kit, "for", ("lambing",))


def _suppliers(plan: Row) -> Iterator[str]:
    for place, row in rows_of(plan, "supplier"):
        yield from _clock(place, row, "order_before")
        if isinstance(row.get("hours"), str) and (problem := hours_problem(row["hours"])):
            yield wrong_at(place, "hours", row["hours"], problem)


def _land(plan: Row) -> Iterator[str]:
    for place, row in rows_of(plan, "bin"):
        yield from _amount(place, row, "capacity", None, "")
    for place, row in rows_of(plan, "field"):
        yield from _amount(place, row, "area", None, "")
        said = _read(row["area"]) if isinstance(row.get("area"), str) else None
        if said and not like(said.unit, "ha", ""):
            yield wrong_at(place, "area", row["area"], 'expected an area, like "12 ac" or "5 ha"')
    for place, row in rows_of(plan, "crop"):
        if _number(row.get("test_weight")) and row["test_weight"] == 0:
            yield wrong_at(place, "test_weight", row["test_weight"], "expected pounds in a bushel, like 56")
        if _number(row.get("dry")) and row["dry"] >= 100:
            yield wrong_at(place, "dry", row["dry"], "expected percent moisture, like 15.5")


def _doses(plan: Row) -> Iterator[str]:
    kept = [row["keeps"] for _, row in rows_of(plan, "group") if isinstance(row.get("keeps"), str)]
    for table in ("stage_plan", "dose_plan"):
        for place, row in rows_of(plan, table):
            yield from _one_of(place, row, "for", dict.fromkeys((*KEEPS, *kept)))
    for place, row in rows_of(plan, "product"):
        yield from _one_of(place, row, "late", ("carry on", "start again"))
    for at, row in rows_of(plan, "dose_plan"):
        yield from _one_of(at, row, "dam", ("dosed", "not dosed"))
        earlier: list[str] = []
        for place, step in rows_of({"dose_plan": [row]}, "dose_plan", "steps"):
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
