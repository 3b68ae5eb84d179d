"""How single things are said: numbers, amounts, weights, gains, money, tags, days. No sentences here.

Same facts, same words: every reply, reminder, sheet and picture says its figures through these.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal

from rules.days import Moment
from rules.farm import Farm
from rules.findings import RunOut

_MONEY = {"EUR": "€", "GBP": "£", "USD": "$", "CAD": "$", "AUD": "$", "NZD": "$"}
_COUNTED = ("bag", "bale", "bottle", "dose", "tablet", "bucket", "block", "roll", "pallet", "tub", "drum", "can")
_PARTS = ((5, "night"), (11, "morning"), (14, "noon"), (18, "afternoon"), (22, "evening"), (25, "night"))


def number(value: Decimal | int, places: int = 2) -> str:
    """A number with no more digits than it needs: 112, 112.5, 0.74."""
    rounded = Decimal(value).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    text = f"{rounded:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def exact(value: float) -> Decimal:
    """A float of a series as a number that can be said."""
    return Decimal(repr(float(value)))


def amount(value: Decimal, unit: str) -> str:
    """An amount as the trade says it: "1 bag", "2.5 bags", "900 lb"."""
    if unit == "each":
        return number(value)
    if unit == "dozen":
        return f"{number(value)} dozen"
    return f"{number(value)} {unit if value == 1 else plural(unit)}"


def plural(unit: str) -> str:
    """A unit of several: "bags", "boxes", "lb"."""
    if unit in ("t", "kg", "g", "lb", "L", "mL", "gal", "bu", "ac", "ha", "cwt", "head", "each", "dozen"):
        return unit
    return unit + ("es" if unit.endswith(("x", "ch", "sh")) else "s")


def about(value: Decimal, unit: str) -> str:
    """A reckoned amount: containers to the half, the rest to the whole (small ones to a tenth)."""
    if unit in _COUNTED:
        return amount(Decimal(round(value * 2)) / 2, unit)
    return amount(value.quantize(Decimal(1) if value >= 10 else Decimal("0.1"), ROUND_HALF_UP), unit)


def head(count: int, noun: str = "head") -> str:
    return f"{count} {noun}" if noun == "head" or count == 1 else f"{count} {noun}s"


def weight(value: Decimal, farm: Farm, unit: str | None = None) -> str:
    """A live weight to the scale's step."""
    return f"{number(value, 1)} {unit or farm.plan.farm.weight}"


def span(low: Decimal, high: Decimal) -> str:
    """An interval of weights, to the whole: 101 to 113."""
    return f"{number(low, 0)} to {number(high, 0)}"


def gain(value: Decimal, farm: Farm) -> str:
    """A gain: lb a day to two places, or g a day."""
    lost = "lost " if value < 0 else ""
    if farm.plan.farm.weight == "kg":
        return f"{lost}{number(abs(value) * 1000, 0)} g a day"
    return f"{lost}{number(abs(value), 2)} a day"


def money(value: Decimal, farm: Farm, *, price: bool = False) -> str:
    """Money to the whole unit, unless it is a price."""
    sign = _MONEY.get(farm.plan.farm.currency, farm.plan.farm.currency + " ")
    if price:
        return f"{sign}{value.quantize(Decimal('0.01'), ROUND_HALF_UP):f}"
    return f"{sign}{number(value, 0)}"


def tags(names: Sequence[str], most: int = 12) -> str:
    """Tags in a row; of many, the first and how many more."""
    if len(names) > most:
        return f"{', '.join(names[: most - 2])} and {len(names) - most + 2} more"
    return words(names)


def words(names: Sequence[str]) -> str:
    return ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1] if names else ""


def day(on: date, today: date) -> str:
    """How a day is said: "today", "tomorrow", "yesterday", else "Thu 13 Aug"; with the year where it is another."""
    near = {0: "today", 1: "tomorrow", -1: "yesterday"}.get((on - today).days)
    return near or f"{on:%a} {on.day} {on:%b}" + (f" {on.year}" if abs((on - today).days) > 300 else "")


def on(entry_day: date, today: date) -> str:
    """The day of something told, said only where it is not today: ", yesterday"."""
    return "" if entry_day == today else f", {day(entry_day, today)}"


def time(moment: datetime, now: datetime) -> str:
    """A moment to act by: "14:00 today", "12:00 Thu 13 Aug"."""
    return f"{moment:%H:%M} {day(moment.date(), now.date())}"


def part(moment: datetime, today: date) -> str:
    """A reckoned moment, no sharper than it is known: "today noon", "Thu 13 Aug morning"."""
    name = next(name for hour, name in _PARTS if moment.hour < hour)
    return f"{day(moment.date(), today)} {name}"


def ends(x: RunOut, m: Moment) -> str:
    """When an item ends: the part of the day within a week, else about the day; nothing where that is not in sight."""
    if x.stock_out is not None and x.stock_out.date() - m.today <= timedelta(days=6):
        return part(x.stock_out, m.today)
    return f"about {day(x.runs_out, m.today)}" if x.runs_out else ""


def days(found: Sequence[date], today: date) -> str:
    """A run of days by its ends, single days in a row."""
    if len(found) > 1 and (found[-1] - found[0]).days == len(found) - 1:
        return f"{day(found[0], today)} to {day(found[-1], today)}"
    return words([day(d, today) for d in found])
