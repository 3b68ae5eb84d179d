"""The demo farm's season, replayed in full: word for word as recorded, and right by days and sums worked out by hand.

`--talks-anew` records it anew. A press in season.jsonl carries the label that was pressed, so that its number (which is
the bot's own) is found again when what the bot says has changed.
"""

import io
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
import simplejson

from bot.book import Book
from bot.desk import open_desk
from bot.files import load_folder
from bot.replay import replay
from rules.farm import Farm

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo_farm"
BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)

Said = dict[str, Any]


def rows(text: str) -> list[Said]:
    return [simplejson.loads(line) for line in text.splitlines()]


def text_of(lines: list[Said]) -> str:
    return "".join(simplejson.dumps(line, ensure_ascii=False) + "\n" for line in lines)


@dataclass
class Season:
    """A replayed season: the lines told, what was written out, and the farm at its end."""

    told: list[Said] = field(default_factory=list)
    out: str = ""
    farm: Farm | None = None

    @property
    def said(self) -> list[Said]:
        return [line for line in rows(self.out) if "text" in line]

    def scheduled(self, day: str) -> list[Said]:
        return [s for s in self.said if s["cause"] == "scheduled" and s["at"].startswith(day)]

    def findings(self, rule: str, **keys: Any) -> list[tuple[Said, Said]]:
        """(message, finding) of each finding said of this rule with these keys."""
        found = [(s, x) for s in self.said for x in s.get("findings", ()) if x["rule"] == rule]
        return [(s, x) for s, x in found if keys.items() <= x.items()]

    def answers(self, text: str) -> list[Said]:
        """What was said to the message with this text."""
        numbers = [n for n, line in enumerate(self.told, 1) if line.get("text") == text]
        assert len(numbers) == 1, f"{text!r} is told {len(numbers)} times"
        before = after = 0
        lines = rows(self.out)
        for place, line in enumerate(lines):
            if line.get("done") == numbers[0] - 1:
                before = place + 1
            if line.get("done") == numbers[0]:
                after = place
        return [s for s in lines[before:after] if s["cause"] == "reply"]


@lru_cache(maxsize=1)
def season() -> Season:
    """The season as it runs today; each press is the newest button whose label ends so."""
    found = Season(told=rows((DEMO / "season.jsonl").read_text(encoding="utf-8")))
    out = io.StringIO()
    with Book.open(None) as book:
        load_folder(book, DEMO, BEGINNING)
        desk = open_desk(book)
        replay(desk, _lines(found.told, out), out)
        found.farm = desk.farm
    found.out = out.getvalue()
    return found


def _lines(told: list[Said], out: io.StringIO) -> Iterator[str]:
    for line in told:
        if "press" in line:
            line["press"] = _pressed(line, rows(out.getvalue()))
        yield simplejson.dumps(line, ensure_ascii=False)


def _pressed(line: Said, lines: list[Said]) -> str:
    shown = [b for s in lines if s.get("to") == line["from"] for b in s.get("buttons", ())]
    fits = [b["press"] for b in shown if b["label"].endswith(line["label"])]
    assert fits, f"no button {line['label']!r} was shown to {line['from']} before {line['at']}"
    return str(fits[-1])


# -- word for word


def test_the_season_is_said_as_it_was_recorded(pytestconfig: pytest.Config) -> None:
    if pytestconfig.getoption("--talks-anew"):
        (DEMO / "season.jsonl").write_text(text_of(season().told), encoding="utf-8")
        (DEMO / "expected.jsonl").write_text(season().out, encoding="utf-8")
    told = (DEMO / "season.jsonl").read_text(encoding="utf-8")
    assert rows(told) == season().told, "a press has another number now: record anew"
    assert season().out.splitlines() == (DEMO / "expected.jsonl").read_text(encoding="utf-8").splitlines()


def test_another_process_says_the_same_bytes() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "bot", "replay", "--farm", str(DEMO)],
        input=(DEMO / "season.jsonl").read_bytes(), capture_output=True, cwd=ROOT, check=True,
    )  # fmt: skip
    assert done.stdout == season().out.encode()
    assert done.stderr == b""


def test_the_season_is_long_enough_to_mean_something() -> None:
    told = season().told
    assert len(told) >= 120
    assert {line["from"] for line in told if "from" in line} == {"Nuala", "Cathal", "Oisin"}
    first, last = (datetime.fromisoformat(told[n]["at"]) for n in (0, -1))
    assert 40 <= (last - first).days <= 45
    assert {line.get("error") for line in rows(season().out)} == {None}
    assert not [s for s in season().said if s["text"].startswith("Not kept")]


# -- the main job: milk over the bank holiday


def test_the_milk_is_warned_of_on_the_last_morning_it_can_be_ordered() -> None:
    """Thursday 29 April. Two bags were counted the evening before, for 21 lambs of up to seven weeks.

    At 400 g cold (the plan's guess) they eat 8.4 kg, 0.42 bag, a day: five days at most, and at half a kilo under four.
    So it ends on Sunday, Monday or early on Tuesday. The co-op is shut on Saturday (as told), Sunday and Monday (May
    Bank Holiday 2027: Monday 3 May, by the first Monday in May). An order by noon on Thursday comes on Friday; one on
    Friday would count, with one open day's lead, for Tuesday.
    """
    (message,) = season().scheduled("2027-04-29T06:00")
    (milk,) = [x for x in message["findings"] if x["rule"] == "run_out" and x["item"] == "milk powder"]
    assert message["to"] == "Nuala"
    assert milk["level"] == "act"
    assert milk["order_by"] == "2027-04-29T12:00+01:00"
    assert milk["arrives"] == "2027-04-30"
    assert milk["closed"] == ["2027-05-01", "2027-05-02", "2027-05-03"]
    assert "May Bank Holiday" in milk["because"]
    assert "2027-05-02" <= milk["runs_out"] <= "2027-05-04"
    assert 0.38 <= milk["per_day"] <= 0.55  # the plan's guess less a tenth: what the counts show is learned
    assert message["text"].splitlines()[1].startswith("1. Order ")
    assert "by 12:00 today" in message["text"].splitlines()[1]


def test_the_milk_is_ordered_and_lasts_to_the_count_after_the_holiday() -> None:
    """The order is as large as the bot said, comes on Friday, and the count on Tuesday finds milk."""
    ordered = [x for s in season().said for x in s.get("entries", ()) if x["kind"] == "ordered"]
    last = [x for x in ordered if x["item"] == "milk powder"][-1]
    (message,) = season().scheduled("2027-04-29T06:00")
    (milk,) = [x for x in message["findings"] if x["rule"] == "run_out" and x["item"] == "milk powder"]
    assert (last["on"], last["due"], last["amount"]) == ("2027-04-29", "2027-04-30", milk["order_amount"])
    after = [s["at"] for s, x in season().findings("run_out", item="milk powder") if s["at"] > "2027-04-29T07:10"]
    told = [s["cause"] for s, x in season().findings("run_out", item="milk powder", level="act") if s["at"] in after]
    assert told == []
    (counted,) = [x for s in season().answers("3.5 bags of powder left") for x in s["entries"]]
    assert counted["amount"] > 0


def test_it_was_never_too_late_for_milk() -> None:
    milk = season().findings("run_out", item="milk powder")
    assert len(milk) > 10
    assert not [s["at"] for s, x in milk if x.get("missed") or x["on_hand"] == 0]


# -- boosters


def test_the_booster_is_asked_for_while_a_bottle_can_still_come() -> None:
    """Eighteen lambs had their first dose on 5 April; the second is due 21 to 28 days later: 26 April to 3 May.

    The bottle opened then kept ten days, so none of it counts, and the vets want the order by 16:00 on Thursday 22
    April to have it on Friday 23, the last open day before Monday 26.
    """
    plan = {"plan": "bottle lamb clostridial", "step": "second", "from": "2027-04-26"}
    said = [(s, x) for s, x in season().findings("dose_due", **plan) if s["cause"] == "scheduled"]
    message, first = said[0]
    assert message["at"] < "2027-04-22T16:00"
    assert (first["to"], first["doses_needed"], first["doses_on_hand"]) == ("2027-05-03", 18, 0)
    assert (first["supplier"], first["order_by"]) == ("Finnock Vets", "2027-04-22T16:00+01:00")
    given = [x for s in season().said for x in s.get("entries", ()) if x["kind"] == "dose" and x["on"] == "2027-04-26"]
    assert [len(x["tags"]) for x in given] == [18]


# -- loads, and a lamb held back


def test_one_load_waits_and_one_goes() -> None:
    """8 ready on 7 April, when 6 are barely worth the drive; a week later most of them are near the top weight."""
    wait, go = (
        next(x for s, x in season().findings("ready", sale=f"2027-04-{day}") if s["at"][8:10] == day)
        for day in ("07", "14")
    )
    assert (wait["advice"], wait["per_head_wait"] > wait["per_head_now"]) == ("wait", True)
    assert (go["advice"], go["now"] > wait["now"]) == ("ship", True)
    assert "6105" not in go["tags"]


def test_a_lamb_under_withdrawal_does_not_go() -> None:
    """6105 had oxytetracycline on 2 April, 28 days by the label: 2 April + 28 + 1 is the 1st of May."""
    (dosed,) = season().answers("gave 6105 oxytet 4 ml for a sore foot, 28 days withdrawal")
    assert [x["until"] for x in dosed["findings"] if x["rule"] == "withdrawal"] == ["2027-05-01"]
    (asked,) = season().answers("shipped 6103 6105 6107 6109 6110 6115 6118 6119 to the mart")
    assert "entries" not in asked
    assert asked["ask"]["choices"] == ["it went", "without it", "none of these"]
    shipped = [x for s in season().said for x in s.get("entries", ()) if x["kind"] == "ship"]
    assert [len(x["tags"]) for x in shipped] == [7, 7]
    assert not [x for x in shipped if "6105" in x["tags"]]
    (no,), (yes,) = season().answers("can 6105 go wednesday"), season().answers("can 6105 go now")
    assert no["text"].startswith("6105 no")
    assert yes["text"].startswith("6105 yes")


# -- the farm at the end


def test_the_farm_at_the_end_is_what_was_told() -> None:
    """Nursery: 19 at first, 6 pulled (7135 7141 7142 7145 7147 7148), 8836 dead, 3 weaned out: 21. Hens: 40 less 2.

    Pens: 22 at first, 14 shipped, 3 weaned in: 11. Ten ewes lambed since the season began.
    """
    farm = season().farm
    assert farm is not None
    assert {g: farm.head(g) for g in ("nursery", "hens")} == {"nursery": 19 + 6 - 1 - 3, "hens": 40 - 2}
    assert farm.head("pen 1") + farm.head("pen 2") == 22 - 14 + 3
    assert len(farm.lambings) == 10
    assert [str(w.weight) for w in farm.animals["6104"].weighings][-4:][0] == "37.5", "the edited weight stands"
    assert str(farm.animals["6122"].weighings[-1].weight) == "33.5", "the corrected weight stands"
    assert str(farm.animals["6112"].weighings[-3].weight) == "35", "the doubted weight is the one pressed"
    hay = [f.amount for f in farm.stock["hay"] if f.what == "used"]
    assert [*map(str, hay)] == ["4", "5"], "what was undone is gone"


# -- where the demo opens


def test_the_demo_opens_where_the_milk_is_warned_of() -> None:
    (opens,) = [line["at"] for line in season().told if line.get("opens")]
    assert opens == "2027-04-29T06:00:00+01:00"


def test_the_demo_says_that_morning_and_takes_a_message() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "bot", "demo"], input="2 bags of milk left\n", capture_output=True, text=True, cwd=ROOT,
        check=True,
    )  # fmt: skip
    (morning,) = season().scheduled("2027-04-29T06:00")
    assert done.stdout.startswith("Ballyfinnock, Thursday 29 April 2027")
    assert morning["text"] in done.stdout
    answer = done.stdout.split(morning["text"])[1]
    assert "milk powder 2 bags left." in answer
    assert "by 12:00 today" in answer
    assert done.stderr == ""
