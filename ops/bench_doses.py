"""Simulated farm years of a farmer who gives what the bot names: doses in their windows, holds, and how often it spoke.

    .venv/bin/python ops/bench_doses.py [years] [--first SEED] [--ewes N] [--show]

The bot is driven through `replay`, by what is written in chat alone; windows are judged by `dose_windows`, which shares
no code with the rules. The farmer gives a dose when it is named, at once or some days later, sometimes only a part of
it, and not more than is in the fridge; orders when told to. Lambs die, are pulled, bought in without a birthday, moved,
weaned early; ewes lamb as sheep do; treatments are told by tag, or by head and the tags later. A step counts as missed
by the bot where it was not given in its window although the window was known two days before it closed.
"""

import argparse
import io
import json
import random
import sys
from collections import Counter
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zoneinfo import ZoneInfo

import tomli_w

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from dose_windows import Animal, Key, open_steps

from bot.__main__ import BEFORE_ALL
from bot.book import Book
from bot.desk import open_desk
from bot.files import load_folder
from bot.replay import replay

START, DAYS = date(2026, 9, 1), 365
ZONE = ZoneInfo("Europe/Dublin")
Said = dict[str, Any]
Talk = Generator[str, None, list[Said]]


@dataclass
class Tally:
    """Steps by how they ended; scheduled messages and their longest; how often a matter was said; days without."""

    ended: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    messages: int = 0
    longest: int = 0
    twice: int = 0  # a matter said more than once on a day
    named: int = 0  # findings of doses said on schedule
    differ: int = 0  # of these, with another window than worked out here
    empty: int = 0  # windows that opened with too little in the fridge
    opened: int = 0
    bare: set[str] = field(default_factory=set)
    shipped: int = 0
    held: int = 0  # shipped under withdrawal
    lame: int = 0  # shipped within two weeks of being noted lame
    stayed: int = 0  # loads asked about, as somebody on them had been treated since they were named

    def share(self) -> float:
        """Of the steps whose window was known in time and is over, those given in it."""
        return self.ended["in"] / max(1, sum(self.ended[how] for how in ("in", "early", "late", "missed")))


# -- a farm


def a_plan(rng: random.Random) -> Said:
    """A farm plan; its windows differ from farm to farm, as those of vets do."""
    a, b, c = rng.choice([14, 21, 28]), rng.choice([28, 42, 56]), rng.choice([21, 28])
    bottle_first = rng.choice([{"after": "birth", "days": [a, a + 10]}, {"before": "creep", "days": [7, 0]}])
    ewe = rng.choice([
        [("booster", [28, 14])], [("booster", [42, 28])], [("one", [42, 21]), ("two", [28, 14])],
    ])  # fmt: skip
    vaccine = {"product": "vaccine"}
    plans: list[Said] = [
        {"name": "bottle vaccine", "for": "bottle lambs", "steps": [
            {**vaccine, "step": "first", **bottle_first},
            {**vaccine, "step": "second", "after": "first", "days": [c, c + 7]},
        ]},
        {"name": "lamb vaccine", "for": "lambs at foot", "steps": [
            {**vaccine, "step": "first", "after": "birth", "days": [b, b + 14]},
            {**vaccine, "step": "second", "after": "first", "days": [c, c + 7], "before": "weaned"},
        ]},
        {"name": "ewe vaccine", "for": "ewes", "steps": [
            {**vaccine, "step": name, "before": "lambing", "days": days} for name, days in ewe
        ]},
        {"name": "after lambing", "for": "ewes", "steps": [
            {"product": "ewe drench", "step": "drench", "after": "lambing", "days": [1, 14]},
        ]},
        {"name": "weaned drench", "for": "market lambs", "steps": [
            {"product": "drench", "step": "drench", "after": "weaned", "days": [0, 7]},
        ]},
        {"name": "at housing", "for": "replacements", "steps": [
            {"product": "fluke dose", "step": "fluke", "after": "housed", "days": [14, 28]},
        ]},
    ]  # fmt: skip
    if rng.random() < 0.5:
        plans.append({"name": "pulled lambs", "for": "bottle lambs", "steps": [
            {"product": "antitoxin", "step": "serum", "after": "pulled", "days": [0, 2]},
        ]})  # fmt: skip
    if rng.random() < 0.5:
        plans.append({"name": "gimmers", "for": "ewes", "first_time": True, "steps": [
            {"product": "toxo", "step": "one", "before": "lambing", "days": [42, 35]},
            {"product": "toxo", "step": "two", "before": "lambing", "days": [21, 14]},
        ]})  # fmt: skip
    return {
        "farm": {"name": "Bench", "country": "IE", "timezone": "Europe/Dublin", "weight": "kg"},
        "ship": {"min": 40, "max": 48, "sales": ["wednesday"], "load_min": 3},
        "group": [
            {"name": "hill ewes", "keeps": "ewes"}, {"name": "nursery", "keeps": "bottle lambs"},
            {"name": "pen 1", "keeps": "market lambs"}, {"name": "keepers", "keeps": "replacements"},
        ],
        "item": [{"name": "vaccine", "unit": "bottle", "holds": rng.choice(["20 dose", "50 dose"]), "supplier": "vet"}],
        "supplier": [{
            "name": "vet", "hours": "Mo-Fr 09:00-17:00; PH off", "order_before": rng.choice(["11:00", "15:00"]),
            "lead_days": rng.choice([1, 2, 3]),
        }],
        "product": [
            {"name": "vaccine", "withdrawal_days": rng.choice([0, 21]), "opened_days": rng.choice([1, 7, 28])},
            {"name": "ewe drench", "withdrawal_days": 7}, {"name": "drench", "withdrawal_days": 14},
            {"name": "fluke dose", "withdrawal_days": 56}, {"name": "antitoxin", "withdrawal_days": 0},
            {"name": "toxo", "withdrawal_days": 42}, {"name": "oxytet", "withdrawal_days": 28}, {"name": "pain relief"},
        ],
        "stage_plan": [
            {"for": "bottle lambs", "creep": 21, "weaned": rng.choice([42, 49])},
            {"for": "lambs at foot", "weaned": 100},
        ],
        "dose_plan": plans,
    }  # fmt: skip


class Farmer:
    """The year as its lines are sent, one after another, each after what the last was answered."""

    def __init__(self, seed: int, ewes: int, show: bool, weighs: bool) -> None:
        self.rng, self.show, self.weighs = random.Random(seed), show, weighs
        self.plan = a_plan(self.rng)
        self.out = io.StringIO()
        self.read = 0
        self.clock = datetime.combine(START, time(), ZONE)
        self.t = Tally()
        self.flock: dict[str, Animal] = {}
        self.rams: dict[str, date] = {}
        for n in range(ewes):
            young = n < ewes // 4
            born = START - timedelta(self.rng.randrange(520, 560) if young else self.rng.randrange(1300, 2400))
            self.add(Animal(str(101 + n), "hill ewes", born, "ewe"))
        for n in range(6):
            self.add(Animal(str(401 + n), "keepers", START - timedelta(170), "ewe"))
        self.lambs = 700
        self.bottles: float = 0.0
        self.full, self.opened, self.opened_on = 0, 0.0, date.min  # in truth: bottles, share of the opened one
        self.on_day: dict[date, list[tuple[time, str, Any]]] = {}
        self.known: dict[Key, tuple[date, date]] = {}  # last day of a window, and since when it was known so
        self.closed: dict[Key, str] = {}
        self.unnamed: list[tuple[date, list[str]]] = []
        self.withdrawal = {p["name"]: p.get("withdrawal_days") for p in self.plan["product"]}
        self.said_on: dict[tuple[date, str], int] = {}
        self.waits: dict[tuple[str, str, str], int] = {}
        self.ordered: set[str] = set()  # messages whose order was placed
        self.weights: dict[str, float] = {}
        self.lame: dict[str, date] = {}

    def add(self, animal: Animal) -> None:
        self.flock[animal.tag] = animal

    def write(self, folder: Path) -> None:
        (folder / "farm.toml").write_text(tomli_w.dumps(self.plan))
        rows = [f"{a.tag},,{a.sex},{a.born},,{a.group},,,here" for a in self.flock.values()]
        head = "tag,eid,sex,born,dam,group,birth_weight,birth_type,status"
        (folder / "animals.csv").write_text("\n".join([head, *rows, ""]))

    # talking

    def send(self, at: datetime, **more: str) -> Talk:
        self.clock = max(at, self.clock)
        yield json.dumps({"at": self.clock.isoformat(), **more})
        text = self.out.getvalue()[self.read :]
        self.read += len(text)
        outs = [d for d in map(json.loads, text.splitlines()) if "done" not in d]
        for d in outs:
            assert "error" not in d, d
            if d["cause"] == "scheduled":
                self.scheduled(d)
            if self.show:
                print(f"{d['at'][:16]} {d['cause'][:1]} < {more.get('text', more.get('press', ''))}\n    {d['text']}")
            rows = sorted(d.get("findings", ()), key=lambda x: -x.get("order_amount", 0))
            for x in [{**x, "at": d["at"]} for x in rows]:  # of several that want one product ordered, the most
                self.found(d, x, datetime.fromisoformat(d["at"]).astimezone(ZONE))
        return [d for d in outs if d["cause"] == "reply"]

    def say(self, at: datetime, text: str, sure: bool = True) -> Talk:
        """Tell it; a question about what is sure is answered by its button, or counted."""
        replies = yield from self.send(at, **{"from": "owner", "text": text})
        for d in replies:
            if "ask" in d and sure:
                labels = {b["label"]: b["press"] for b in d["buttons"]}
                press = next((labels[x] for x in labels if x.startswith(("really", "it went", "they went"))), None)
                self.t.wrong.append(f"{at.date()} asked of {text[:60]!r}: {d['text'][:90]!r} {list(labels)}")
                if press:
                    yield from self.send(at, **{"from": "owner", "press": press})
        return replies

    def scheduled(self, d: Said) -> None:
        self.t.messages += 1
        self.t.longest = max(self.t.longest, len(d["text"]))
        on = datetime.fromisoformat(d["at"]).astimezone(ZONE).date()
        for name in {self.matter(x) for x in d.get("findings", ())}:
            self.said_on[on, name] = self.said_on.get((on, name), 0) + 1
            self.t.twice += self.said_on[on, name] > 1

    @staticmethod
    def matter(x: Said) -> str:
        return ":".join(str(x.get(k)) for k in ("rule", "plan", "step", "item", "sale", "text", "tag", "group"))

    # what is done about it

    def later(self, on: date, at: time, what: str, about: Any) -> None:
        self.on_day.setdefault(on, []).append((at, what, about))

    def found(self, d: Said, x: Said, at: datetime) -> None:
        if d["cause"] != "scheduled" or x["level"] == "know":
            return
        if x["rule"] == "dose_due":
            self.named(x, at)
        elif x["rule"] == "job_due" and x["text"] == "wean":
            self.later(at.date() + timedelta(self.rng.choice([0, 1, 3])), time(15), "wean", x["tags"])
        elif (
            x["rule"] == "ready"
            and x.get("advice") == "ship"
            and date.fromisoformat(x["sale"]) <= at.date() + timedelta(1)
        ):
            self.later(date.fromisoformat(x["sale"]), time(9), "ship", x["tags"])

    def named(self, x: Said, at: datetime) -> None:
        self.t.named += 1
        today, first = at.date(), date.fromisoformat(x["from"])
        self.agrees(x, today)
        if "doses_on_hand" not in x and x["product"] == "vaccine":
            self.later(today, time(20, 40) if at.hour > 18 else time(8), "count", None)
        if x.get("order_amount") and x.get("supplier") and x["at"] not in self.ordered:
            self.ordered.add(x["at"])
            self.later(today, time(20, 45) if at.hour > 18 else time(8, 5), "order", x)
        if first > today:
            return
        going = x["at"], x["plan"], x["step"]  # what is said as one is done in one go
        wait = 0 if x["level"] == "act" else self.waits.setdefault(going, self.rng.choice([0, 0, 0, 0, 1, 1, 2, 3]))
        when = time(20, 50) if at.hour > 18 and not wait else time(16)
        self.later(today + timedelta(wait), when, "dose", (x["product"], list(x.get("tags", ())), x["plan"], x["step"]))

    def agrees(self, x: Said, today: date) -> None:
        for tag in x.get("tags", ()):
            for step, given in open_steps(self.plan, self.flock[tag], self.rams, today):
                if step.key[1:3] == (x["plan"], x["step"]) and given is None:
                    said, here = (x["from"], x["to"]), (step.first.isoformat(), step.last.isoformat())
                    if said != here:
                        self.t.differ += 1
                        self.t.wrong.append(f"{today} {tag} {x['plan']} {x['step']}: said {said}, here {here}")

    # days

    def lines(self) -> Iterator[str]:
        """The year: each day is begun after the morning message, and ended after the evening's was acted on."""
        self.seasons()
        for n in range(DAYS):
            today = START + timedelta(n)
            self.each_day(today, n)
            for at in (time(6, 5), time(19, 35)):
                self.later(today, at, "hear", None)
            while rows := self.on_day.get(today):
                at, what, about = row = min(rows, key=lambda r: r[0])
                rows.remove(row)
                yield from getattr(self, f"do_{what}")(datetime.combine(today, at, ZONE), about)
            self.judge(today)

    def do_hear(self, at: datetime, _: None) -> Iterator[str]:
        yield from self.send(at)

    def seasons(self) -> None:
        rng, mated = self.rng, date(2026, 10, 5) + timedelta(self.rng.randrange(20))
        self.later(mated, time(12), "rams", "in with")
        self.later(mated + timedelta(40), time(12), "rams", "out of")
        for ewe in [a for a in self.flock.values() if a.group == "hill ewes"]:
            if rng.random() < 0.06:
                continue
            held = mated + timedelta(rng.randrange(17) + (17 if rng.random() < 0.2 else 0))
            lambs = held + timedelta(round(rng.gauss(147, 2)))
            self.later(lambs, time(rng.choice([7, 10, 14]), rng.randrange(60)), "lamb", (ewe.tag, lambs))
        self.later(date(2026, 11, 10), time(11), "house", None)
        self.later(date(2027, 3, 20), time(11), "buy", None)
        for n in range(40):
            self.later(START + timedelta(rng.randrange(DAYS)), time(13, n), "treat", None)

    def each_day(self, today: date, n: int) -> None:
        if self.weighs and n % 14 == 7:
            self.later(today, time(10, 30), "weigh", None)
        for a in [a for a in self.flock.values() if a.here and a.born and (today - a.born).days < 40 and a.dam]:
            if self.rng.random() < 0.0015:
                self.later(today, time(7, 30), "die", a.tag)

    def do_rams(self, at: datetime, how: str) -> Iterator[str]:
        if how == "in with":
            self.rams["hill ewes"] = at.date()
        yield from self.say(at, f"rams {how} the hill ewes")

    def do_lamb(self, at: datetime, about: tuple[str, date]) -> Iterator[str]:
        ewe, on = about
        sexes = [self.rng.choice(["ewe", "ram"]) for _ in range(self.rng.choice([1, 2, 2, 2, 3]))]
        new = [(str(self.lambs + k), sex) for k, sex in enumerate(sexes)]
        self.lambs += len(new)
        self.flock[ewe].lambed.append(on)
        yield from self.say(at, f"{ewe} lambed, " + " and ".join(f"{sex} tag {tag}" for tag, sex in new))
        for tag, sex in new:
            self.add(Animal(tag, "hill ewes", on, sex, ewe))
            self.weights[tag] = self.rng.gauss(1.0, 0.12)
            if self.rng.random() < (0.6 if len(new) == 3 else 0.08):
                self.later(on + timedelta(self.rng.randrange(4)), time(18), "pull", tag)
            elif self.rng.random() < 0.05:
                self.later(on + timedelta(self.rng.randrange(50, 80)), time(18), "wean", [tag])

    def do_pull(self, at: datetime, tag: str) -> Iterator[str]:
        a = self.flock[tag]
        if a.here:
            a.stages["pulled"], a.group, a.came = at.date(), "nursery", at.date()
            yield from self.say(at, f"pulled {tag}")

    def do_die(self, at: datetime, tag: str) -> Iterator[str]:
        if self.flock[tag].here:
            self.flock[tag].here = False
            yield from self.say(at, f"{tag} died")

    def do_wean(self, at: datetime, tags: list[str]) -> Iterator[str]:
        there = [self.flock[t] for t in tags if self.flock[t].here and "weaned" not in self.flock[t].stages]
        if there:
            names = " ".join(a.tag for a in there)
            for a in there:
                a.stages["weaned"], a.group, a.came = at.date(), "pen 1", at.date()
            yield from self.say(at, f"weaned {names} and moved them to pen 1")

    def do_house(self, at: datetime, _: None) -> Iterator[str]:
        for a in self.flock.values():
            if a.group == "keepers":
                a.stages["housed"] = at.date()
        yield from self.say(at, "housed the keepers")

    def do_buy(self, at: datetime, _: None) -> Iterator[str]:
        tags = [str(901 + n) for n in range(4)]
        for tag in tags:
            self.add(Animal(tag, "nursery", None, "ewe", None, at.date()))
            self.weights[tag] = 1.0
        replies = yield from self.say(at, f"bought {' '.join(tags)} into the nursery")
        if any("old" in d["text"] for d in replies):
            self.later(at.date() + timedelta(self.rng.choice([0, 2])), time(19), "age", tags)

    def do_age(self, at: datetime, tags: list[str]) -> Iterator[str]:
        days = self.rng.choice([5, 7, 10])
        for tag in tags:
            self.flock[tag].born = at.date() - timedelta(days)
        yield from self.say(at, f"about {days} days old")

    def true_weight(self, tag: str, on: date) -> float:
        born = self.flock[tag].born or on
        return 4.5 + 0.26 * self.weights[tag] * (on - born).days

    def do_weigh(self, at: datetime, _: None) -> Iterator[str]:
        pen = [a for a in self.flock.values() if a.here and a.group == "pen 1" and a.born]
        rows = [f"{a.tag} {self.true_weight(a.tag, at.date()) + self.rng.gauss(0, 0.4):.1f}" for a in pen]
        for n in range(0, len(rows), 12):
            yield from self.say(at + timedelta(minutes=n), "weighed\n" + "\n".join(rows[n : n + 12]))

    def do_treat(self, at: datetime, _: None) -> Iterator[str]:
        pen = [a for a in self.flock.values() if a.here and a.group == "pen 1"]
        if len(pen) < 6:
            return
        some = self.rng.sample(pen, 3)
        match self.rng.randrange(4):
            case 0:
                some[0].doses.append((at.date(), "oxytet"))
                yield from self.say(at, f"gave {some[0].tag} oxytet for a sore foot")
            case 1:
                some[0].doses.append((at.date(), "pain relief"))
                replies = yield from self.say(at, f"gave {some[0].tag} pain relief")
                if any("How many days" in d["text"] for d in replies):
                    self.later(at.date() + timedelta(12), time(12), "days", None)
            case 2:
                for a in some:
                    a.doses.append((at.date(), "oxytet"))
                yield from self.say(at, "gave 3 of pen 1 oxytet")
                if self.rng.random() < 0.7:
                    self.later(at.date() + timedelta(self.rng.randrange(5)), time(17), "which", (at, some))
            case _:
                self.lame[some[0].tag] = at.date()
                yield from self.say(at, f"{some[0].tag} lame on the near fore")

    def do_days(self, at: datetime, _: None) -> Iterator[str]:
        self.withdrawal["pain relief"] = 7
        yield from self.say(at, "7 days")

    def do_which(self, at: datetime, about: tuple[datetime, list[Animal]]) -> Iterator[str]:
        yield from self.say(at, " ".join(a.tag for a in about[1]), sure=False)

    # stores and doses

    def per_bottle(self) -> int:
        return int(self.plan["item"][0]["holds"].split()[0])

    def doses_there(self, today: date) -> int:
        keeps = self.plan["product"][0]["opened_days"]
        if self.opened and (today - self.opened_on).days > keeps:
            self.opened = 0
        return round(self.full * self.per_bottle() + self.opened)

    def take(self, count: int, today: date) -> None:
        self.doses_there(today)
        while count > 0:
            if not self.opened:
                self.full, self.opened, self.opened_on = self.full - 1, self.per_bottle(), today
            now = min(count, int(self.opened))
            self.opened -= now
            count -= now

    def do_count(self, at: datetime, _: None) -> Iterator[str]:
        left = self.doses_there(at.date()) / self.per_bottle()
        yield from self.say(at, f"{left:.2f}".rstrip("0").rstrip(".") + " bottles of vaccine left")

    def do_order(self, at: datetime, x: Said) -> Iterator[str]:
        bottles, comes = int(x["order_amount"]), date.fromisoformat(x["arrives"]) if "arrives" in x else None
        comes = comes or at.date() + timedelta(4)
        yield from self.say(at, f"ordered {bottles} bottles of vaccine for {comes.day} {comes:%b}")
        late = self.rng.choice([0] * 9 + [1])
        self.later(comes + timedelta(late), time(16, 30), "came", bottles)

    def do_came(self, at: datetime, bottles: int) -> Iterator[str]:
        self.full += bottles
        yield from self.say(at, f"got {bottles} bottles of vaccine")

    def do_dose(self, at: datetime, about: tuple[str, list[str], str, str]) -> Iterator[str]:
        product, tags, plan, step = about
        due = []
        for tag in tags:
            if self.flock[tag].here:
                steps = open_steps(self.plan, self.flock[tag], self.rams, at.date())
                due += [tag for s, given in steps if s.key[1:3] == (plan, step) and given is None]
        due = [t for t in dict.fromkeys(due) if (at.date(), product) not in self.flock[t].doses]
        if product == "vaccine":
            due = due[: self.doses_there(at.date())]
        if len(due) > 3 and self.rng.random() < 0.15:
            due = self.rng.sample(due, len(due) // 2)
        if not due:
            return
        if product == "vaccine":
            self.take(len(due), at.date())
        for tag in due:
            self.flock[tag].doses.append((at.date(), product))
        yield from self.say(at, f"gave {' '.join(due)} {product}")

    def do_ship(self, at: datetime, tags: list[str]) -> Iterator[str]:
        """Ships those named for the load; one that is asked about stays at home."""
        going = [t for t in tags if self.flock[t].here]
        if not going:
            return
        replies = yield from self.send(at, **{"from": "owner", "text": f"shipped {' '.join(going)}"})
        if ask := next((d for d in replies if "ask" in d), None):
            self.t.stayed += 1
            press = {b["label"]: b["press"] for b in ask["buttons"]}["none of these"]
            yield from self.send(at, **{"from": "owner", "press": press})
            return
        for tag in going:
            self.t.shipped += 1
            for on, product in self.flock[tag].doses:
                days = self.withdrawal[product]
                if days is None or at.date() < on + timedelta(days + 1):
                    self.t.held += 1
                    self.t.wrong.append(f"{at.date()} {tag} shipped, {product} {on}")
            if at.date() < self.lame.get(tag, date.min) + timedelta(14):
                self.t.lame += 1
            self.flock[tag].here = False

    # judged at the end of each day

    def judge(self, today: date) -> None:
        for a in self.flock.values():
            if not a.here:
                continue
            for step, given in open_steps(self.plan, a, self.rams, today):
                if step.key in self.closed:
                    continue
                old = self.known.get(step.key)
                since = (
                    min(today, old[1]) if old and old[0] >= step.last and old[0] - step.last <= timedelta(0) else today
                )
                self.known[step.key] = (step.last, since)
                if given is None and today == step.first and step.product == "vaccine":
                    self.t.opened += 1
                    if not self.doses_there(today):
                        self.t.empty += 1
                        self.t.bare.add(f"{today} {step.key[1]} {step.key[2]}")
                if given is not None:
                    ok = step.first <= given <= step.last or (
                        old is not None and given <= old[0] and given >= step.first - timedelta(40)
                    )
                    self.close(step.key, "in" if ok else "early" if given < step.first else "late", today)
                elif today > step.last:
                    fair = (step.last - since).days >= 2
                    self.close(step.key, "missed" if fair else "not known in time", today)

    def close(self, key: Key, how: str, today: date) -> None:
        self.closed[key] = how
        self.t.ended[how] += 1
        if how in ("missed", "late", "early"):
            self.t.wrong.append(f"{today} {how}: {key[0]} {key[1]} {key[2]}, last day {self.known[key][0]}")


def a_year(seed: int, ewes: int = 40, show: bool = False, weighs: bool = True) -> Tally:
    farmer = Farmer(seed, ewes, show, weighs)
    with TemporaryDirectory() as folder, Book.open(None) as book:
        farmer.write(Path(folder))
        load_folder(book, Path(folder), BEFORE_ALL)
        replay(open_desk(book), farmer.lines(), farmer.out)
    return farmer.t


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("years", nargs="?", type=int, default=10)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--ewes", type=int, default=40)
    parser.add_argument("--show", action="store_true")
    args = parser.parse_args()
    for seed in range(args.first, args.first + args.years):
        t = a_year(seed, args.ewes, args.show)
        print(
            f"{seed:3}  in window {t.share():.1%} {dict(t.ended)}  windows differ {t.differ}/{t.named}"
            f"  none in the fridge {t.empty}/{t.opened}  shipped {t.shipped}, held {t.held}, lame {t.lame},"
            f" asked {t.stayed}  messages {t.messages / DAYS:.2f} a day, longest {t.longest}, twice {t.twice}",
            flush=True,
        )  # fmt: skip
        for line in [*sorted(t.bare), *t.wrong[:40]]:
            print("     ", line)


if __name__ == "__main__":
    main()
