"""Dose windows worked out a second time, from a farm plan's tables and a plain log, for `bench_doses` and the tests.

Nothing of `rules/` is used: what a window is comes from the outside interface's table of the plan alone. An `Animal` is
what has been told of one so far; `open_steps` gives the steps it has not had, with the days between which each may be
given. A step that counts from one not given is left out: nobody can be late for it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

GESTATION = 147  # days, as the interface fixes it
FIRST_TIME = 900  # days of age above which these simulated ewes have lambed before

Key = tuple[str, str, str, date | None]  # tag, plan, step, and the season's due day where it hangs on lambing


@dataclass
class Animal:
    tag: str
    group: str
    born: date | None = None
    sex: str | None = None
    dam: str | None = None
    came: date | None = None  # into its group, where it was not born there
    stages: dict[str, date] = field(default_factory=dict)
    lambed: list[date] = field(default_factory=list)
    doses: list[tuple[date, str]] = field(default_factory=list)
    here: bool = True


@dataclass(frozen=True)
class Step:
    key: Key
    product: str
    first: date
    last: date


def open_steps(
    plan: Mapping[str, Any], animal: Animal, rams: Mapping[str, date], today: date
) -> Iterator[tuple[Step, date | None]]:
    """Each step in the animal's plans whose window is known, and the day it was given (None: it was not)."""
    keeps = {g["name"]: g["keeps"] for g in plan["group"]}[animal.group]
    at_foot = keeps == "ewes" and animal.dam is not None and not {"weaned", "pulled"} & animal.stages.keys()
    due = rams[animal.group] + timedelta(GESTATION) if animal.group in rams else None
    for row in plan["dose_plan"]:
        if row["for"] != ("lambs at foot" if at_foot else keeps) or (keeps == "ewes" and not at_foot and animal.dam):
            continue
        if row.get("first_time") and (not animal.born or (today - animal.born).days > FIRST_TIME or animal.lambed):
            continue
        given: dict[str, date | None] = {}
        taken: set[date] = set()
        for step in row["steps"]:
            window = _window(plan, animal, step, keeps, at_foot, due, given)
            if window is None:
                given.setdefault(step["step"], None)
                continue
            first, last = window
            season = due if "lambing" in (step.get("after"), step.get("before")) else None
            since = due - timedelta(GESTATION) if season and due else date.min
            had = sorted(d for d, what in animal.doses if what == step["product"] and d not in taken and d >= since)
            had = [d for d in had if d >= first or season is not None]  # before lambing the day foreseen may move
            given[step["step"]] = had[0] if had else None
            taken.update(had[:1])
            yield (
                Step((animal.tag, row["name"], step["step"], season), step["product"], first, last),
                given[step["step"]],
            )


def _window(
    plan: Mapping[str, Any], animal: Animal, step: Mapping[str, Any], keeps: str, at_foot: bool, due: date | None,
    given: Mapping[str, date | None],
) -> tuple[date, date] | None:  # fmt: skip
    def day(event: str) -> date | None:
        if event in given:
            return given[event]
        if event == "birth":
            return animal.born
        if event == "lambing":
            season = due - timedelta(21) if due else None
            return next((on for on in animal.lambed if season and on >= season), due)
        if event in animal.stages:
            return animal.stages[event]
        if event == "pulled" and keeps == "bottle lambs":
            return animal.came or animal.born
        rows = {row["for"]: row for row in plan["stage_plan"]}
        ages = (rows.get("lambs at foot") if at_foot else None) or rows.get(keeps, {})
        return animal.born + timedelta(ages[event]) if animal.born and event in ages else None

    low, high = sorted(step["days"])
    before = day(step["before"]) if "before" in step else None
    if "after" in step:
        after = day(step["after"])
        if after is None or (step["after"] == "lambing" and not any(on >= after for on in animal.lambed)):
            return None
        last = after + timedelta(high)
        return after + timedelta(low), min(last, before) if before else last
    return (before - timedelta(high), before - timedelta(low)) if before else None
