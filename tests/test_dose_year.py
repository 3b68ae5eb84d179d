"""A year of a farmer who doses what the bot names, when it names it or some days later: every dose in its window.

Windows are worked out a second time, from the plan's tables alone (ops/dose_windows.py); more and larger years are
`ops/bench_doses.py`.
"""

import importlib.util
import sys
from datetime import date
from pathlib import Path
from types import ModuleType

OPS = Path(__file__).resolve().parent.parent / "ops"


def from_ops(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, OPS / f"{name}.py")
    assert spec
    assert spec.loader
    module = sys.modules[name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


windows, bench = from_ops("dose_windows"), from_ops("bench_doses")


def test_a_year_of_doses_in_their_windows() -> None:
    year = bench.a_year(1, ewes=7, weighs=False)
    assert year.ended["in"] > 40
    assert year.share() >= 0.99, year.wrong
    assert (year.differ, year.twice) == (0, 0), year.wrong
    assert year.empty <= 0.1 * year.opened, year.bare
    assert year.messages <= 1.2 * bench.DAYS
    assert year.longest <= 900


PLAN = {
    "group": [{"name": "ewes", "keeps": "ewes"}, {"name": "nursery", "keeps": "bottle lambs"}],
    "stage_plan": [{"for": "lambs at foot", "weaned": 60}],
    "dose_plan": [
        {"name": "lambs", "for": "lambs at foot", "steps": [
            {"product": "cdt", "step": "first", "after": "birth", "days": [42, 56]},
            {"product": "cdt", "step": "second", "after": "first", "days": [21, 28], "before": "weaned"},
        ]},
        {"name": "ewes", "for": "ewes", "steps": [
            {"product": "cdt", "step": "booster", "before": "lambing", "days": [28, 14]},
        ]},
    ],
}  # fmt: skip


def spans(animal, today, rams=()):
    """(step, first day, last day, given) of what the second reckoning finds."""
    return [(s.key[2], s.first, s.last, on) for s, on in windows.open_steps(PLAN, animal, dict(rams), today)]


def test_the_second_reckoning_itself() -> None:
    """By hand, with a calendar: 42 to 56 days after 1 March 2027 is 12 to 26 April; 21 to 28 days after 14 April 5 to
    12 May, but by weaning, foreseen 60 days after birth on 30 April; once weaned it is no lamb at foot. Rams in on 10
    October 2026 lamb from 6 March 2027 (147 days; Teagasc Athenry): 28 to 14 days before is 6 to 20 February."""
    lamb = windows.Animal("7", "ewes", date(2027, 3, 1), "ewe", dam="1")
    assert spans(lamb, date(2027, 4, 1)) == [("first", date(2027, 4, 12), date(2027, 4, 26), None)]
    lamb.doses.append((date(2027, 4, 14), "cdt"))
    lamb.stages["weaned"] = date(2027, 5, 8)
    assert spans(lamb, date(2027, 5, 8)) == []
    del lamb.stages["weaned"]
    first, second = spans(lamb, date(2027, 4, 20))
    assert first[3] == date(2027, 4, 14)
    assert second[1:] == (date(2027, 5, 5), date(2027, 4, 30), None)
    ewe = windows.Animal("1", "ewes", date(2022, 3, 1), "ewe")
    rams = {"ewes": date(2026, 10, 10)}
    assert spans(ewe, date(2027, 2, 1), rams) == [("booster", date(2027, 2, 6), date(2027, 2, 20), None)]
    assert spans(ewe, date(2027, 2, 1)) == []
