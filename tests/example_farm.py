"""The small made-up farm on which the phrase table's examples, and the reader's tests, are read.

Invented throughout; US, pounds. Weights are told for 4 August 2026, so that a week later each lamb can be judged.
"""

from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from barn import animal, barn

from bot.reading import Answer, Ask, Nothing, Record, read
from rules import entries as e
from rules.farm import Farm
from rules.records import as_data

ZONE = ZoneInfo("America/Chicago")
TUESDAY = datetime(2026, 8, 11, 7, 10, tzinfo=ZONE)

PLAN: dict[str, Any] = {
    "farm": {"name": "Thistle Rise", "country": "US", "subdivision": "WI", "timezone": "America/Chicago",
             "weight": "lb", "currency": "USD"},
    "ship": {"min": 110, "max": 130, "sales": ["wednesday"]},
    "person": [{"name": "owner", "role": "owner"}, {"name": "Bea", "role": "helper"}],
    "group": [
        {"name": "pen 1", "also": ["finishers"], "keeps": "market lambs"},
        {"name": "pen 2", "also": ["growers"], "keeps": "market lambs"},
        {"name": "nursery", "also": ["bottle lambs"], "keeps": "bottle lambs"},
        {"name": "ewes", "keeps": "ewes"},
        {"name": "rams", "keeps": "rams"},
        {"name": "layers", "also": ["hens"], "keeps": "hens", "head": 30},
    ],
    "item": [
        {"name": "milk replacer", "also": ["milk"], "unit": "bag", "holds": "25 lb", "supplier": "Hollow Feed",
         "feeds": [{"group": "nursery", "per_head_day": "0.5 lb"}]},
        {"name": "creep pellets", "also": ["creep"], "unit": "bag", "holds": "50 lb", "supplier": "Hollow Feed"},
        {"name": "layer mash", "also": ["mash"], "unit": "bag", "holds": "50 lb", "supplier": "Hollow Feed"},
        {"name": "finisher", "unit": "lb", "supplier": "Hollow Feed"},
        {"name": "hay", "unit": "bale"},
        {"name": "straw", "unit": "bale"},
        {"name": "diesel", "unit": "gal"},
        {"name": "clostridial vaccine", "also": ["cdt", "cd&t"], "unit": "bottle", "holds": "50 dose"},
    ],
    "supplier": [{"name": "Hollow Feed", "also": ["the mill"], "hours": "Mo-Fr 08:00-17:00; PH off"}],
    "product": [
        {"name": "clostridial vaccine", "also": ["cdt", "cd&t", "booster"], "withdrawal_days": 21},
        {"name": "oxytetracycline", "also": ["oxy"], "withdrawal_days": 28},
        {"name": "drench", "also": ["wormer"], "withdrawal_days": 7},
    ],
    "bin": [{"name": "bin 1", "crop": "corn", "capacity": "4000 bu"},
            {"name": "bin 2", "crop": "corn", "capacity": "4000 bu"}],
    "crop": [{"name": "corn", "test_weight": 56, "dry": Decimal("15.5")}],
    "field": [{"name": "back forty", "area": "40 ac"}, {"name": "orchard field", "area": "9 ac"}],
}  # fmt: skip

WEIGHED = date(2026, 8, 4)


@cache
def thistle_rise() -> Farm:
    """Ewes 101 to 106, rams R7 and Duke, market lambs 2401 to 2424 of 90 to 113 lb, bottle lambs 2431 to 2436."""
    told: list[e.Entry] = [animal(str(n), "ewes", date(2023, 3, 1), sex="ewe") for n in range(101, 107)]
    told += [animal(name, "rams", date(2023, 3, 1), sex="ram") for name in ("R7", "Duke")]
    told += [animal("2400", "pen 1", date(2026, 3, 1), status="dead")]
    for n in range(24):
        pen = "pen 1" if n < 16 else "pen 2"
        eid = f"9990000000{2401 + n}0" if n == 3 else None
        told.append(animal(str(2401 + n), pen, date(2026, 3, 1), sex="wether", eid=eid))
    told += [animal(str(2431 + n), "nursery", date(2026, 7, 10), sex="ewe") for n in range(6)]
    told += [e.Weight(on=WEIGHED, tag=str(2401 + n), weight=Decimal(90 + n), unit="lb") for n in range(24)]
    told += [e.Weight(on=WEIGHED, tag=str(2431 + n), weight=Decimal(20), unit="lb") for n in range(6)]
    return barn(PLAN, *told)


def told(text: str, said: datetime = TUESDAY) -> Any:
    """What a message says here, in short: a list of entries as data (the day left out where it is the day it was
    sent), ("asks", labels) of a question back, ("?", question), or None."""
    reading = read(text, said, thistle_rise())
    match reading:
        case Record(entries):
            today = said.date().isoformat()
            plain = [as_data(entry) for entry in entries]
            return [{k: v for k, v in d.items() if (k, v) != ("on", today)} for d in plain]
        case Answer(question):
            return ("?", as_data(question))
        case Ask(_, choices):
            return ("asks", [c.label for c in choices])
        case Nothing():
            return None
