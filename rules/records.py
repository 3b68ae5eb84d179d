"""Frozen records to plain data and back: entries, findings and the plan all travel in this form.

Plain data is what JSON and TOML hold: dicts, lists, text, int, Decimal, bool. A key is the field's name without a
trailing underscore (`from_` is "from"); keys whose value is None, or an empty tuple, are left out. Dates are ISO 8601.
"""

import re
import types
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, ClassVar, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")


def spelt(cls: type) -> str:
    """A class's name as the outside interface writes it: RunOut is "run_out"."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", "_", cls.__name__).lower()


_SHAPES: dict[type, tuple[tuple[str, str, Any, bool], ...]] = {}


def _shape(cls: type) -> tuple[tuple[str, str, Any, bool], ...]:
    """(field, key, type, needed) of each field."""
    if cls not in _SHAPES:
        hints = get_type_hints(cls)
        _SHAPES[cls] = tuple(
            (f.name, f.name.rstrip("_"), hints[f.name], f.default is MISSING and f.default_factory is MISSING)
            for f in fields(cls)
        )
    return _SHAPES[cls]


def as_data(record: Any) -> dict[str, Any]:
    """A record as plain data; where its class has a `kind` (or `rule`), that comes first."""
    cls = type(record)
    data: dict[str, Any] = {k: getattr(cls, k) for k in ("kind", "rule") if isinstance(getattr(cls, k, None), str)}
    for name, key, _, _ in _shape(cls):
        value = getattr(record, name)
        if value is not None and value != ():
            data[key] = _plain(value)
    return data


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return as_data(value)
    if isinstance(value, datetime):
        return value.isoformat(timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.strftime("%H:%M")
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    if isinstance(value, Mapping):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, float):  # findings are rounded already; no float noise may travel
        return int(value) if value.is_integer() else Decimal(repr(value))
    return value


def from_data(cls: type[T], data: Mapping[str, Any]) -> T:
    """The record that plain data describes. Unknown keys are left aside. Raises ValueError for what does not fit."""
    values: dict[str, Any] = {}
    for name, key, hint, needed in _shape(cls):
        if data.get(key) is not None:
            values[name] = _typed(hint, data[key], key)
        elif needed:
            raise ValueError(f"{cls.__name__}: {key} is missing")
    return cls(**values)


def _typed(hint: Any, value: Any, key: str) -> Any:
    origin, args = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return _typed(next(a for a in args if a is not type(None)), value, key)
    if origin is tuple:
        return tuple(_typed(args[0], v, key) for v in value)
    if origin in (dict, Mapping) or hint is Any or origin is ClassVar:
        return value
    try:
        if is_dataclass(hint) and isinstance(hint, type):
            return from_data(hint, value)
        if hint is Decimal:
            return Decimal(str(value))
        if hint is datetime:
            return value if isinstance(value, datetime) else datetime.fromisoformat(value)
        if hint is date:
            return value if isinstance(value, date) else date.fromisoformat(value)
        if hint is time:
            return value if isinstance(value, time) else time.fromisoformat(value)
        if hint is float:
            return float(value)
    except (TypeError, ValueError, ArithmeticError) as wrong:
        raise ValueError(f"{key}: {value!r} does not fit") from wrong
    if hint is int and isinstance(value, Decimal) and value == int(value):
        return int(value)
    return value
