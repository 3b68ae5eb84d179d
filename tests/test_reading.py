"""Reading: made-up farms' messages against what each must record, and what must hold for any message.

The golds of `readings/` were written by people who had not seen the reader. First tries, before any work on them, exact
and wrong: rimu 73.1 and 5.9 %, brae 60.7 and 9.6, pukehau 72.3 and 7.3, ravenrigg 70.0 and 8.9 (the first 213 of its
messages), poplar 77.0 and 5.0, rathmoyle 75.5 and 5.5, sugar 84.0 and 4.0, kowrigg 76.9 and 2.5, clun 78.9 and 3.3,
elora 83.3 and 1.9, musselshell 72.0 and 3.5, ballyard 76.9 and 5.7, wirra 81.5 and 1.5 (each after the work on those before it).
Since then they are worked on, and guard what works; the faults left are counted here and may only fall.
"""

import json
from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.book import Book
from bot.conversation import understand
from bot.desk import open_desk
from bot.files import load_folder
from bot.reading import Ask, Nothing, Record, read
from bot.shown import reading_data
from bot.when import local
from bot.words.kept import echo
from rules.farm import Farm

HERE = Path(__file__).parent
AT = "2026-08-11T07:10:00-05:00"
COMPARED = {
    "kind",
    "on",
    "tag",
    "tags",
    "group",
    "head",
    "weight",
    "unit",
    "mean",
    "dam",
    "born",
    "product",
    "amount",
    "withdrawal_days",
    "stage",
    "to",
    "price",
    "per",
    "total",
    "mean_weight",
    "what",
    "from",
    "count",
    "synced",
    "rams",
    "in_lamb",
    "empty",
    "singles",
    "twins",
    "triplets",
    "item",
    "supplier",
    "price_each",
    "due",
    "bin",
    "crop",
    "moisture",
    "field",
    "area",
    "time",
    "was",
    "date",
    "held",
}


@cache
def farm_of(folder: str) -> Farm:
    with Book.open(None) as book:
        load_folder(book, HERE / folder, datetime.fromisoformat("1970-01-01T00:00:00+00:00"))
        return open_desk(book).farm


def said(text: str, at: str, folder: str) -> dict[str, Any]:
    farm = farm_of(folder)
    moment = local(datetime.fromisoformat(at), farm.plan.farm.timezone)
    return reading_data(understand(text, moment, farm))


def plain(thing: Any, top: bool = True) -> Any:
    """What is compared of a reading: names, numbers and days; not the free words."""
    if isinstance(thing, dict):
        kept = {k: plain(v, False) for k, v in sorted(thing.items()) if v not in (None, [])}
        free = ("to",) if kept.get("kind") == "ship" else ()
        return {
            k: v
            for k, v in kept.items()
            if ("kind" not in kept or k in COMPARED) and k not in free and (k, v) != ("alive", True)
        }
    if isinstance(thing, list):
        return sorted((plain(x, False) for x in thing), key=repr) if not top else [plain(x, False) for x in thing]
    return float(thing) if isinstance(thing, int | float | Decimal) and not isinstance(thing, bool) else thing


def verdict(got: dict[str, Any], line: dict[str, Any]) -> str:
    golds = [line["gold"], *line.get("or", [])]
    for gold in golds:
        if got["outcome"] == gold["outcome"]:
            same = (
                plain(got.get("entries", [])) == plain(gold.get("entries", [])) if got["outcome"] == "record" else True
            )
            ask, want = dict(got.get("question") or {}), dict(gold.get("question") or {})
            today = line["at"][:10]
            ask, want = ({k: v for k, v in q.items() if (k, v) != ("by", today)} for q in (ask, want))
            if same and ask == want:
                return "exact"
    return "wrong" if got["outcome"] == "record" else "other"


def lines(folder: str) -> Iterator[dict[str, Any]]:
    yield from map(json.loads, (HERE / folder / "gold.jsonl").read_text(encoding="utf-8").splitlines())


@pytest.mark.parametrize(
    ("folder", "exact", "wrong"),
    [
        ("readings/rimu", 0.96, 0),
        ("readings/brae", 0.91, 0),
        ("readings/pukehau", 0.91, 0),
        ("readings/ravenrigg", 0.88, 0),
        ("readings/poplar", 0.90, 1),
        ("readings/rathmoyle", 0.91, 0),
        ("readings/sugar", 0.95, 0),
        ("readings/kowrigg", 0.84, 0),
        ("readings/clun", 0.95, 0),
        ("readings/elora", 0.91, 1),
        ("readings/musselshell", 0.90, 1),
        ("readings/ballyard", 0.89, 0),
        ("readings/wirra", 0.88, 1),
    ],
)
def test_messages_of_farms_it_was_not_built_on(folder: str, exact: float, wrong: int) -> None:
    """So many read exactly, and hardly one that writes what was not said."""
    verdicts = [verdict(said(x["text"], x["at"], folder), x) for x in lines(folder)]
    assert verdicts.count("wrong") <= wrong
    assert verdicts.count("exact") / len(verdicts) >= exact


FARM = "talks/farm"
RECORDS = (
    "2404 112", "2 bags of milk left", "got 10 bags milk from the mill", "gave 2404 oxy 5 ml", "28 eggs", "weaned 2431 2432",
    "shipped 2404 2408", "lost 2431, bloat", "101 had twins ewe 8.5 ram 9.1",
    "bin 1 2200 bu", "sprayed the back forty", "2404 limping left hind", "ordered 4 bags milk, comes friday", "undo",
    "mill closed 24th thru 27th", "remind me friday to call the vet", "2431 up to pen 1", "sold 4 at 2.44 a lb avg 119",
)  # fmt: skip


@pytest.mark.parametrize("text", RECORDS)
def test_case_spaces_and_pictures_change_nothing(text: str) -> None:
    """Capitals, double spaces, a trailing picture or line break make no other message of it."""
    once = said(text, AT, FARM)
    assert once["outcome"] == "record"
    for other in (text.upper(), text.replace(" ", "  "), f"{text} 🐑", f"{text}\n", f"  {text}!"):
        assert plain(said(other, AT, FARM)["entries"]) == plain(once["entries"]), other


@pytest.mark.parametrize("text", [t for t in RECORDS if t not in ("undo",) and not t.startswith(("remind", "mill"))])
def test_what_the_bot_says_of_an_entry_gives_that_entry_back(text: str) -> None:
    """Reading the words in which something is said back records the same again."""
    farm = farm_of(FARM)
    moment = local(datetime.fromisoformat(AT), "America/Chicago")
    once = read(text, moment, farm)
    assert isinstance(once, Record)
    again = read(". ".join(echo(x, farm, moment.date()) for x in once.entries), moment, farm)
    assert plain(reading_data(again)) == plain(reading_data(once))


def test_a_tag_with_one_digit_changed_is_asked_with_the_right_one_among_the_choices() -> None:
    """A mistyped tag is never taken for its neighbour."""
    farm = farm_of(FARM)
    for wrong in ("2494", "2804", "9404", "24044"):
        got = read(f"{wrong} 112", local(datetime.fromisoformat(AT), "America/Chicago"), farm)
        assert isinstance(got, Ask | Nothing), wrong
    asked = read("2494 112", local(datetime.fromisoformat(AT), "America/Chicago"), farm)
    assert isinstance(asked, Ask)
    assert "2404" in [c.label for c in asked.choices]


@pytest.mark.parametrize(
    ("one", "two"),
    [("2404 112", "2405 113"), ("2 bags of milk left", "28 eggs"), ("2404 112", "2 bags of milk left")],
)
def test_two_facts_may_come_in_either_order(one: str, two: str) -> None:
    """Swapping two facts swaps their two entries."""
    first, second = said(f"{one}, {two}", AT, FARM), said(f"{two}, {one}", AT, FARM)
    assert [plain(x) for x in first["entries"]] == [plain(x) for x in reversed(second["entries"])]
    assert len(first["entries"]) == 2


@given(st.text(max_size=200))
@settings(max_examples=150, deadline=None)
def test_no_text_raises(text: str) -> None:
    """Whatever comes in, there is a reading."""
    read(text, local(datetime.fromisoformat(AT), "America/Chicago"), farm_of(FARM))


WORDS = ["2404", "112", "milk", "bags", "left", "gave", "oxy", "to", "from", "pen 1", "hens", "the", "and", ",", "sold", "at",
         "2.44", "lb", "on", "friday", "yesterday", "not", "?", "2 bags", "how", "twins", "101", "out", "in", "\n", "#", "-", "1/2", "half", "lost"]  # fmt: skip


@given(st.lists(st.sampled_from(WORDS), max_size=14))
@settings(max_examples=300, deadline=None)
def test_no_heap_of_barn_words_raises(words: list[str]) -> None:
    """Barn words in any order give a reading too."""
    read(" ".join(words), local(datetime.fromisoformat(AT), "America/Chicago"), farm_of(FARM))


CHATTER = (
    "be there in 20", "thx", "👍", "dreamt i shipped 50 head at 3 bucks a lb lol", "might ship 12 on wed", "it's 2 below out here",
    "should have given 2404 the booster", "need to weigh pen 1", "kids won 24-17", "if the mill has milk get 4 bags",
    "gonna order 10 bags of milk tmrw", "aim for 30 eggs a day", "we'd make more if we held em to 128", "vet wants 85 just to show up",
)  # fmt: skip


@pytest.mark.parametrize("text", CHATTER)
def test_chatter_wishes_and_plans_record_nothing(text: str) -> None:
    """A number in chatter, a wish, a plan, a supposition: nothing is written."""
    assert said(text, AT, FARM)["outcome"] in ("none", "ask")


@pytest.mark.parametrize("text", ["moved 5 to the shed lambs", "sold 2 at 140 each", "lost 11", "2 lame"])
def test_a_small_number_may_be_an_animal_or_how_many(text: str) -> None:
    """Where tags are as short as counts are, it is asked which."""
    got = said(text, "2026-08-11T07:10:00+01:00", "readings/ballyard")
    assert got["outcome"] == "ask"
    assert any("of them" in choice for choice in got["ask"]["choices"])


@pytest.mark.parametrize(
    "text",
    [
        "fox got 2 hens last night",
        "sold 11 lambs, 1639 for the lot",
        "brought 5 of the field lambs in to the shed lambs",
    ],
)
def test_a_number_of_a_kind_is_how_many(text: str) -> None:
    (entry,) = said(text, "2026-08-11T07:10:00+01:00", "readings/ballyard")["entries"]
    assert "tags" not in entry
    assert entry["head"] in (2, 5, 11)
