"""A change of the plan, said back so that reading it gives the same change again."""

from collections.abc import Callable, Mapping
from typing import Any

from bot.opening import hours_in_words
from bot.words import say
from rules import entries as e
from rules.farm import Farm


def plan_set(entry: e.PlanSet, farm: Farm) -> str:
    """What the plan was told, so that it would be read as that again."""
    if entry.table == "product" and set(entry.set) == {"late"}:
        return f"{entry.name}: a late dose means {entry.set['late']}"
    told, name, table = entry.set, entry.name or "", entry.table or "plan"
    if told.get("gone"):
        return f"{table} {name} taken off the plan"
    if "name" in told:
        return f"{name} is now called {told['name']}"
    if table in ("ship", "farm"):
        return _place_set(told, farm)
    if set(told) == {"feeds"} and told["feeds"]:
        return f"{name} is for {told['feeds'][-1]['group']}"
    if table == "stage_plan":
        return ", ".join(f"{'wean' if k == 'weaned' else k} {name} at {v} days" for k, v in told.items())
    if table == "kit":
        return "lambing kit: " + ", ".join(f"{n['amount']} {n['item']} per {n['per']}" for n in told.get("needs", ()))
    if len(told) == 1 and (one := _OF_STOCK.get(next(iter(told)))):
        return one(name, str(next(iter(told.values()))))
    if table == "dose_plan":
        return _dose_plan(name, told)
    parts = [part for key, value in told.items() if (part := _PLAN_WORDS.get(key, _plain_key)(key, value, told))]
    return f"{table} {name}: {', '.join(parts)}" if parts else f"{table} {name} is on the plan"


_OF_STOCK: dict[str, Callable[[str, str], str]] = {
    "order_min": lambda name, value: f"the smallest order of {name} is {value}",
    "order_step": lambda name, value: f"{name} comes in lots of {value}",
    "store_max": lambda name, value: f"we have room for {value} of {name}",
    "keeps_days": lambda name, value: f"{name} keeps {value} days",
    "opened_days": lambda name, value: f"{name} keeps {value} days once opened",
}


def _dose_plan(name: str, told: Mapping[str, Any]) -> str:
    steps = []
    for step in told.get("steps", ()):
        ways = [f"{way} {step[way]}" for way in ("after", "before") if way in step]
        steps.append(f"{step['product']} {step['step']} {step['days'][0]} to {step['days'][-1]} days {' '.join(ways)}")
    return f"dose plan {name} for {told.get('for', 'all')}: {', '.join(steps)}"


def _plain_key(key: str, value: Any, told: Mapping[str, Any]) -> str:
    return f"{key.replace('_', ' ')} {say.words(list(map(str, value))) if isinstance(value, list | tuple) else value}"


def _holds(value: str, unit: str | None) -> str:
    if unit is None:
        return f"holds {value}"
    number, _, of = value.partition(" ")
    return f"{say.plural(unit)} of {number}" if of == "each" else f"{value} {say.plural(unit)}"


_PLAN_WORDS: dict[str, Callable[[str, Any, Mapping[str, Any]], str]] = {
    "unit": lambda key, value, told: "" if "holds" in told else f"counted in {say.plural(value)}",
    "holds": lambda key, value, told: _holds(value, told.get("unit")),
    "supplier": lambda key, value, told: f"from {value}",
    "also": lambda key, value, told: f"also {value[-1]}",
    "keeps": lambda key, value, told: str(value),
    "head": lambda key, value, told: f"{value} head",
    "hours": lambda key, value, told: hours_in_words(value),
    "lead_days": lambda key, value, told: (
        "delivers same day" if value == 0 else "delivers next day" if value == 1 else f"delivers in {value} days"
    ),
    "order_before": lambda key, value, told: f"orders by {value}",
    "dose": lambda key, value, told: f"dose {value}",
    "withdrawal_days": lambda key, value, told: f"withdrawal {value} days",
    "egg_withdrawal_days": lambda key, value, told: f"eggs {value} days",
    "feeds": lambda key, value, told: f"is for {value[-1]['group']}",
    "role": lambda key, value, told: str(value),
    "area": lambda key, value, told: str(value),
    "capacity": lambda key, value, told: f"capacity {value}",
    "crop": lambda key, value, told: f"for {value}",
}


def _place_set(told: Mapping[str, Any], farm: Farm) -> str:
    """Of the farm or of shipping: "we sell wednesday", "ship at 105 to 130 lb", "morning message at 06:30"."""
    parts = []
    if weights := [str(told[k]) for k in ("min", "max") if told.get(k) is not None]:
        parts.append(f"ship weight {' to '.join(weights)} {farm.plan.farm.weight}")
    if "sales" in told:
        parts.append(f"sale days are {say.words(list(told['sales']))}")
    if "weight" in told:
        parts.append(f"we weigh in {told['weight']}")
    said = {"load_full": "a full load is {}", "load_min": "the smallest load is {}",
            "trip_cost": "a trip to market costs {}", "keep_cost": "keep costs {} a head a day",
            "subdivision": "our state is {}",
            "currency": "our currency is {}", "morning": "morning message at {}",
            "evening": "evening message at {}"}  # fmt: skip
    rest = {k: v for k, v in told.items() if k not in ("min", "max", "sales", "weight") and v is not None}
    return ", ".join([*parts, *(said[k].format(v) if k in said else _plain_key(k, v, told) for k, v in rest.items())])
