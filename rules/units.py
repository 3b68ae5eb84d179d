"""Amounts and their units: what a farmer says, exact, and what may be added to what.

Everything that turns one unit into another is here. A bag or a bale is no fixed amount: what one holds belongs to
the item of the plan (see `rules.plan.Item`), so containers convert only to themselves here.
Factors are exact: pound, gallons and acre by law (Canada: Weights and Measures Act, R.S.C. 1985 c. W-6, Sch. II;
US gallon 231 cubic inches, US bushel 2150.42 cubic inches: NIST Handbook 44 App. C).
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

POUND = Decimal("0.45359237")  # kg
_IMPERIAL_GALLON = Decimal("4.54609")  # L
_US_GALLON = Decimal("3.785411784")  # L

# unit: (dimension, factor to the dimension's base: kg, L, ha, one)
_FACTORS: dict[str, tuple[str, Decimal]] = {
    "kg": ("mass", Decimal(1)),
    "g": ("mass", Decimal("0.001")),
    "t": ("mass", Decimal(1000)),
    "lb": ("mass", POUND),
    "L": ("volume", Decimal(1)),
    "mL": ("volume", Decimal("0.001")),
    "ha": ("area", Decimal(1)),
    "ac": ("area", Decimal("0.40468564224")),
    "head": ("count", Decimal(1)),
    "each": ("count", Decimal(1)),
    "dozen": ("count", Decimal(12)),
}
_BY_COUNTRY: dict[str, dict[str, tuple[str, Decimal]]] = {
    "US": {"gal": ("volume", _US_GALLON), "ton": ("mass", 2000 * POUND), "cwt": ("mass", 100 * POUND)},
    "CA": {"gal": ("volume", _IMPERIAL_GALLON), "ton": ("mass", 2000 * POUND), "cwt": ("mass", 100 * POUND)},
    "": {"gal": ("volume", _IMPERIAL_GALLON), "ton": ("mass", 2240 * POUND), "cwt": ("mass", 112 * POUND)},
}

# How each unit is said; the reader and the plan both take these. Plurals in -s are understood without being listed.
SPOKEN: dict[str, tuple[str, ...]] = {
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilogramme", "kgm", "k g"),
    "g": ("g", "gram", "gramme", "gm"),
    "t": ("t", "tonne", "metric ton", "mt"),
    "lb": ("lb", "lbs", "pound", "pund", "#"),
    "ton": ("ton", "short ton", "long ton"),
    "cwt": ("cwt", "hundredweight", "hundred weight"),
    "L": ("l", "litre", "liter", "ltr", "lt"),
    "mL": ("ml", "mls", "cc", "ccs", "millilitre", "milliliter", "mil", "mills"),
    "gal": ("gal", "gallon", "gals"),
    "bu": ("bu", "bushel", "bus", "bsh"),
    "ha": ("ha", "hectare", "hec"),
    "ac": ("ac", "acre", "acs"),
    "bag": ("bag", "sack"),
    "bale": ("bale", "bail"),
    "bottle": ("bottle", "btl", "jug"),
    "dose": ("dose", "shot"),
    "tablet": ("tablet", "pill", "bolus"),
    "head": ("head", "hd"),
    "each": ("each", "ea"),
    "dozen": ("dozen", "doz", "dz"),
}
_UNIT_OF = {form: unit for unit, forms in SPOKEN.items() for form in forms}


@dataclass(frozen=True, slots=True)
class Amount:
    """A number and its unit, always together."""

    value: Decimal
    unit: str


def unit_named(word: str) -> str | None:
    """The unit that a word or short phrase says ("lbs" -> "lb", "tonnes" -> "t"), or None."""
    form = " ".join(word.lower().strip(". ").split())
    return _UNIT_OF.get(form) or (_UNIT_OF.get(form[:-1]) if form.endswith("s") and len(form) > 3 else None)


@lru_cache(maxsize=4096)
def amount(text: str) -> Amount:
    """The amount written as "25 lb" or "0.5 kg". Raises ValueError, saying what was expected.

    Units outside the table ("bucket", "block") are containers of the farm's own and kept as written.
    """
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*([^\d\s].*?)\s*", text)
    if not found:
        raise ValueError(f"{text!r}: expected a number and a unit, like '25 lb'")
    return Amount(Decimal(found[1]), unit_named(found[2]) or found[2].lower())


def factor(unit: str, country: str) -> tuple[str, Decimal] | None:
    """(dimension, how much of its base one unit is) in a country (ISO 3166-1), or None for a container."""
    return _FACTORS.get(unit) or _BY_COUNTRY.get(country, _BY_COUNTRY[""]).get(unit)


def convert(value: Decimal, unit: str, to: str, country: str) -> Decimal:
    """The same amount in another unit, exact. Raises ValueError where the two are not of one kind."""
    if unit == to:
        return value
    have, want = factor(unit, country), factor(to, country)
    if have is None or want is None or have[0] != want[0]:
        raise ValueError(f"{unit} and {to} are not the same kind of thing")
    return value * have[1] / want[1]


def like(unit: str, other: str, country: str) -> bool:
    """Whether one unit can be turned into the other without knowing an item."""
    if unit == other:
        return True
    have, want = factor(unit, country), factor(other, country)
    return have is not None and want is not None and have[0] == want[0]
