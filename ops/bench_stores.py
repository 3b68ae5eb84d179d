"""Simulated farm years that obey the bot: hours without, stock held, and how often the bot spoke of it.

    .venv/bin/python ops/bench_stores.py [seeds] [--farmer prompt|last|mixed] [--first SEED]

What the animals truly eat follows none of the rules' laws: intake by weight and appetite, cold and heat, slow drift,
leaks and off days, and it is counted in whole or half bags with slips. The farmer tells animals and deliveries, counts
now and then and when asked, and orders what is said: at once, or at the last moment named. Suppliers keep holidays and
closures of their own and some deliver late. The all-knowing orderer meets the same use, hours and smallest orders,
knows every hour to come, and buys a week at a time at the last moment. An hour without counts as `avoidable` where
nothing that was told was wrong: use had not leapt up, untold, in the ten days before, the last count had not been too
high by a step or more, and no truck was later than promised.
"""

import argparse
import heapq
import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from itertools import count
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))

from bot import checks
from bot.hours import moment
from rules import entries as e
from rules.advance import apply
from rules.farm import Fact, Farm, new_farm
from rules.findings import OrderLate, RunOut
from rules.fold import BEGINNING
from rules.ordering import Terms, arrives, first_hour, order_amount, order_by
from rules.stores import order_late, run_out

Floats = NDArray[np.float64]
START, DAYS = date(2026, 1, 5), 364
WARM = 30 * 24  # hours before stock is compared: what a farm starts with is not the bot's doing
LEAKED = 10  # days for which a leak may be felt: until it is counted, ordered and delivered
WEEK = 7.0  # days the all-knowing orderer buys for
PLACES = (("US", "WI", "America/Chicago"), ("CA", "MB", "America/Winnipeg"), ("GB", "WLS", "Europe/London"),
          ("IE", None, "Europe/Dublin"))  # fmt: skip
HOURS = ("Mo-Fr 08:00-17:00; PH off", "Mo-Fr 07:30-17:00; Sa 08:00-12:00; PH off", "Mo-Sa 09:00-17:30; PH off",
         "Mo-Fr 08:00-12:30,13:30-17:00; PH off", "Tu-Fr 08:00-16:00; Sa 08:00-12:00; PH off")  # fmt: skip


@dataclass
class Year:
    """One farm's year: its plan, what is told of animals and closures when, true use by hour, and how items are
    counted."""

    plan: dict[str, Any]
    told: list[tuple[datetime, e.Entry]]
    use: dict[str, Floats]
    spell: dict[str, NDArray[np.bool_]]  # days on which more goes than usual, all of a sudden
    first: dict[str, float]
    rng: np.random.Generator
    late: dict[str, float]
    zone: ZoneInfo
    lambs: int = 0


@dataclass
class Tally:
    """Of one item in one year: hours without, stock by the hour over days in use, and that of the all-knowing orderer;
    what was used in all; messages, orders and counts."""

    without: float = 0.0
    quiet: float = 0.0  # of these, with no leak, slip or late truck
    missing: list[datetime] = field(default_factory=list)
    held: float = 0.0
    known: float = 0.0
    used: float = 0.0
    said: int = 0
    orders: int = 0
    counts: int = 0


# -- the year nobody knows


def a_year(seed: int) -> Year:
    rng = np.random.default_rng(seed)
    country, part, zone_name = PLACES[seed % len(PLACES)]
    zone = ZoneInfo(zone_name)
    start = datetime.combine(START, time(), zone)
    cold = weather(rng)
    heads, told, nursery = animals(rng, start)
    suppliers, closures, late = sellers(rng, start)
    guess = {k: math.exp(rng.normal(0, 0.25)) for k in ("milk", "finisher", "nuts", "layers")}
    items = [
        {"name": "milk", "unit": "bag", "holds": "20 kg", "supplier": "co-op", "keeps_days": 180,
         "feeds": [{"group": "nursery", "per_head_day": f"{0.38 * guess['milk']:.2f} kg"}]},
        {"name": "finisher", "unit": "kg", "supplier": "mill", "order_min": "500 kg", "order_step": "250 kg",
         "feeds": [{"group": "finishers", "per_head_day": f"{1.2 * guess['finisher']:.2f} kg"}]},
        {"name": "nuts", "unit": "bag", "holds": "25 kg", "supplier": "mill", "order_min": "10 bag",
         "feeds": [{"group": "ewes", "per_head_day": f"{0.45 * guess['nuts']:.2f} kg"}]},
        {"name": "layers", "unit": "bag", "holds": "20 kg", "supplier": "co-op",
         "feeds": [{"group": "hens", "per_head_day": f"{0.12 * guess['layers']:.3f} kg"}]},
        {"name": "salt", "unit": "bag", "holds": "25 kg", "supplier": "co-op"},
        {"name": "straw", "unit": "bale", "supplier": "mill", "order_min": "10 bale", "store_max": "150 bale"},
    ]  # fmt: skip
    plan = {
        "farm": {"name": "Bench", "country": country, "subdivision": part, "timezone": zone_name},
        "group": [
            {"name": "nursery", "keeps": "bottle lambs"},
            {"name": "finishers", "keeps": "market lambs", "head": heads["finishers"]},
            {"name": "ewes", "keeps": "ewes", "head": heads["ewes"]}, {"name": "hens", "keeps": "hens", "head": 60},
        ],
        "stage_plan": [{"for": "bottle lambs", "weaned": 38}],
        "item": items, "supplier": suppliers,
    }  # fmt: skip
    both = {str(i["name"]): true_use(str(i["name"]), rng, cold, heads, nursery) for i in items}
    use, spell = {k: x[0] for k, x in both.items()}, {k: x[1] for k, x in both.items()}
    first = {name: math.ceil(float(x[: 24 * 14].sum())) + 1.0 for name, x in use.items()}
    first["milk"] = 2.0
    return Year(plan, [*told, *closures], use, spell, first, rng, late, zone)


def weather(rng: np.random.Generator) -> Floats:
    """Degrees away from the season, by day."""
    spell = np.zeros(DAYS)
    for n in range(1, DAYS):
        spell[n] = 0.85 * spell[n - 1] + rng.normal(0, 2.2)
    return spell


def animals(
    rng: np.random.Generator, start: datetime
) -> tuple[dict[str, int], list[tuple[datetime, e.Entry]], list[tuple[int, int]]]:
    """Heads at the start, what is told of them, and the bottle lambs as (day they come, day they are weaned)."""
    heads = {"ewes": int(rng.integers(60, 240)), "finishers": int(rng.integers(30, 120))}
    told: list[tuple[datetime, e.Entry]] = []
    nursery = []
    number = count(1)
    for wave in (int(rng.integers(15, 60)), int(rng.integers(100, 200))):
        for _ in range(int(rng.integers(8, 40))):
            day = max(1, int(rng.normal(wave, 9)))
            leaves = day + int(rng.normal(38, 3))
            tag = f"B{next(number)}"
            at = start + timedelta(days=day, hours=8)
            told.append((at, e.Arrived(on=at.date(), tags=(tag,), group="nursery", born=at.date())))
            gone = start + timedelta(days=leaves, hours=9)
            if rng.random() < 0.06:  # dies young
                leaves = day + int(rng.integers(1, 15))
                gone = start + timedelta(days=leaves, hours=9)
                told.append((gone, e.Loss(on=gone.date(), tags=(tag,))))
            else:
                told.append((gone, e.Stage(on=gone.date(), stage="weaned", tags=(tag,))))
            nursery.append((day, leaves))
    there = heads["finishers"]
    for n in range(15, DAYS, 10):  # loads leave; when few are left, others come
        there += int(rng.integers(15, 30)) if there < 45 else -int(rng.integers(5, 15))
        at = start + timedelta(days=n, hours=10)
        heads[f"at {n}"] = there
        told.append((at, e.HeadCount(on=at.date(), group="finishers", head=there)))
    return heads, told, nursery


def sellers(
    rng: np.random.Generator, start: datetime
) -> tuple[list[dict[str, Any]], list[tuple[datetime, e.Entry]], dict[str, float]]:
    suppliers, closures, late = [], [], {}
    for name in ("co-op", "mill"):
        row: dict[str, Any] = {"name": name, "hours": str(rng.choice(HOURS))}
        row["lead_days"] = int(rng.choice([0, 1, 1, 2, 3]))
        if rng.random() < 0.6:
            row["order_before"] = str(rng.choice(["10:00", "12:00", "14:00", "16:00"]))
        suppliers.append(row)
        late[name] = 0.25 if rng.random() < 0.2 else 0.0
        for _ in range(int(rng.integers(0, 4))):
            day = start + timedelta(days=int(rng.integers(20, DAYS)))
            length = int(rng.integers(0, 5))
            said = day - timedelta(days=int(rng.integers(10, 21))) + timedelta(hours=12)
            last = (day + timedelta(days=length)).date()
            closures.append((said, e.Closed(on=said.date(), supplier=name, from_=day.date(), to=last)))
    return suppliers, closures, late


def true_use(
    name: str, rng: np.random.Generator, cold: Floats, heads: dict[str, int], nursery: list[tuple[int, int]]
) -> tuple[Floats, NDArray[np.bool_]]:
    """What is truly used in each hour, in the item's unit, and the days on which far more goes than the day before."""
    day = np.arange(DAYS)
    if name == "milk":
        each = np.zeros(DAYS)
        for came, leaves in nursery:
            age = day - came
            size = math.exp(rng.normal(0, 0.15))
            drinks = 0.52 * size * (1 - np.exp(-(age + 2.0) / 11.0)) * (1 - 0.004 * np.maximum(0, age - 25) ** 1.3)
            each += np.where((age >= 0) & (day < leaves), np.maximum(0.0, drinks), 0.0)
        daily, noise = each / 20, 0.10
    elif name == "finisher":
        there, each = heads["finishers"], np.zeros(DAYS)
        for n in range(DAYS):
            there = heads.get(f"at {n}", there)
            each[n] = there
        growing = 1.05 + 0.25 * np.sin(day / 47.0 + rng.uniform(0, 6))
        daily, noise = each * growing, 0.10
    elif name == "nuts":
        season = 0.15 + 0.5 * np.exp(-(((day - 70) / 35.0) ** 2)) + 0.4 * np.exp(-(((day - 340) / 40.0) ** 2))
        daily, noise = heads["ewes"] * season / 25, 0.08
    elif name == "layers":
        daily, noise = np.full(DAYS, 60 * 0.118 / 20), 0.06
    elif name == "salt":
        daily, noise = 0.08 + 0.05 * np.sin(day / 58.0), 0.5
    else:
        daily, noise = np.maximum(0.4, 2.8 + 1.6 * np.cos(day / 58.0)), 0.4
    taste = np.cumsum(rng.normal(0, 0.012, DAYS))
    chill = 1 - 0.012 * cold * (1.0 if name != "salt" else 0.0)
    daily = daily * math.exp(rng.normal(0, 0.15)) * np.exp(taste - 0.02 * np.abs(taste)) * np.maximum(0.6, chill)
    daily = daily * rng.gamma(1 / noise**2, noise**2, DAYS)
    odd = np.ones(DAYS)  # a leak, a gate left open, sick pens that leave it
    for _ in range(rng.poisson(2)):
        begin, days = int(rng.integers(0, DAYS - 10)), int(rng.integers(2, 9))
        odd[begin : begin + days] = rng.choice([0.6, 1.4, 1.9])
    daily = daily * odd
    clock = np.zeros(24)
    clock[[6, 7, 8, 12, 13, 17, 18, 19]] = (2, 3, 2, 1, 1, 2, 3, 2)
    if name in ("finisher", "straw"):
        clock += 0.7
    return np.repeat(daily, 24) * np.tile(clock / clock.sum(), DAYS), odd > 1


# -- the year as it goes


def play(year: Year, farmer: str) -> "Barn":
    """The year under the bot."""
    barn = Barn(year, farmer)
    barn.run()
    return barn


class Barn:
    """A farm, its true stock, and the farmer who does what the bot says."""

    def __init__(self, year: Year, farmer: str) -> None:
        self.year, self.farmer, self.rng = year, farmer, year.rng
        self.farm: Farm = new_farm()
        self.seq = count(1)
        self.tally = {name: Tally() for name in year.use}
        self.level = dict(year.first)
        self.said: dict[str, tuple[dict[str, Any], datetime]] = {}
        self.plans: dict[str, datetime] = {}  # the farmer is about to order
        self.wants: dict[str, Decimal] = {}
        self.slipped: dict[str, bool] = {}  # the last count said more than there was
        self.late: dict[str, int] = dict.fromkeys(year.use, 0)  # trucks on their way that will come later than promised
        self.days_said: set[datetime] = set()  # scheduled messages, however many items each spoke of
        self.events: list[tuple[datetime, int, str, Any]] = []
        self.start = datetime.combine(START, time(), year.zone)
        self.tell(BEGINNING, e.PlanSet(on=START, set=year.plan))

    def tell(self, at: datetime, entry: e.Entry) -> None:
        apply(self.farm, Fact(at.astimezone(UTC), next(self.seq), "owner", entry))

    def later(self, at: datetime, what: str, about: Any) -> None:
        heapq.heappush(self.events, (at.astimezone(UTC), next(self.seq), what, about))

    def run(self) -> None:
        end = self.start + timedelta(days=DAYS - 1)
        for at, entry in self.year.told:
            if at < end:
                self.later(at, "tell", entry)
        for name in self.year.use:
            self.count(self.start + timedelta(hours=1), name)
            self.later(self.start + timedelta(days=3, hours=7), "count", name)
        for check in checks.CHECKS:
            if (at := check.next(self.farm, self.start)) is not None:
                self.later(at, "check", check)
        hour, begin = 0, self.start.astimezone(UTC)
        while self.events:
            at, _, what, about = heapq.heappop(self.events)
            if at >= end.astimezone(UTC):
                break
            until = int((at - begin).total_seconds() // 3600)
            self.eat(hour, until, begin)
            hour = until
            getattr(self, f"on_{what}")(at.astimezone(self.year.zone), about)

    def eat(self, since: int, until: int, begin: datetime) -> None:
        for name, use in self.year.use.items():
            t = self.tally[name]
            for h in range(since, until):
                if use[h] > self.level[name] + 1e-9:
                    t.without += 1.0
                    leak = self.year.spell[name][max(0, h // 24 - LEAKED) : h // 24 + 1].any()
                    t.quiet += not (leak or self.slipped[name] or self.late[name])
                    t.missing.append(begin + timedelta(hours=h))
                self.level[name] = max(0.0, self.level[name] - float(use[h]))
                if h >= WARM and use[h - h % 24 : h - h % 24 + 24].any():
                    t.held += self.level[name]
                    t.used += float(use[h])

    # what happens

    def on_tell(self, at: datetime, entry: e.Entry) -> None:
        self.tell(at, entry)

    def next_count(self, at: datetime, name: str) -> datetime:
        every = {"milk": 3.0, "finisher": 6.0, "nuts": 5.0, "layers": 6.0, "salt": 14.0, "straw": 8.0}[name]
        days = float(self.rng.uniform(0.5, 1.5)) * every
        day = (at + timedelta(days=max(1, round(days)))).date()
        return datetime.combine(day, time(int(self.rng.choice([7, 12, 18])), 30), self.year.zone)

    def count(self, at: datetime, name: str) -> None:
        true = self.level[name]
        step = 25.0 if name == "finisher" else 0.5 if true < 6 else 1.0
        seen = true * math.exp(self.rng.normal(0, 0.06)) if name == "finisher" else true
        slip = step * self.rng.choice([-2, -1, 1, 2]) if self.rng.random() < 0.05 else 0.0
        value = Decimal(str(float(max(0.0, round(seen / step) * step + slip))))
        self.slipped[name] = float(value) - true >= 0.9 * step
        unit = next(i["unit"] for i in self.year.plan["item"] if i["name"] == name)
        rough = True if name == "finisher" else None
        self.tally[name].counts += 1
        self.tell(at, e.OnHand(on=at.date(), item=name, amount=value, unit=unit, rough=rough))

    def on_count(self, at: datetime, name: str) -> None:
        self.on_asked(at, name)
        self.later(self.next_count(at, name), "count", name)

    def on_asked(self, at: datetime, name: str) -> None:
        """A count, and what the bot replies to it."""
        self.count(at, name)
        for x in run_out(self.farm, moment(self.farm, at)):
            if x.item == name and x.level != "know":
                self.remember(at, x)
                self.hear(at, replace(x, ask_count=None))

    def on_check(self, at: datetime, check: checks.Check) -> None:
        if (then := check.next(self.farm, at)) is not None:
            self.later(then, "check", check)
        if check.name == "reminder":
            return
        m = moment(self.farm, at)
        found: list[RunOut | OrderLate] = [*run_out(self.farm, m), *order_late(self.farm, m)]
        for x in found:
            if x.level == "know" or (check.name != "morning" and x.level != "act"):
                continue
            gist, when = self.said.get(x.key, (None, None))
            if not checks.worth(x, gist, when, at):
                continue
            self.remember(at, x)
            if isinstance(x, RunOut):
                self.tally[x.item].said += 1
                self.days_said.add(at)
                self.hear(at, x)

    def remember(self, at: datetime, x: RunOut | OrderLate) -> None:
        gist, _ = self.said.get(x.key, (None, None))
        self.said[x.key] = (checks.gist(x, (gist or {"times": 0})["times"] + 1, at, gist), at)

    def hear(self, at: datetime, x: RunOut) -> None:
        if x.ask_count:
            self.later(at + timedelta(hours=1), "asked", x.item)
        if x.order_amount is None:
            return
        last = self.farmer == "last" or (self.farmer == "mixed" and self.rng.random() < 0.4)
        supplier = self.farm.plan.supplier_named(x.supplier or "")
        assert supplier is not None
        terms = Terms(moment(self.farm, at).openings[supplier.name], supplier.order_before, supplier.lead_days or 0)
        when = first_hour(terms, at + timedelta(minutes=int(self.rng.integers(10, 100))))
        if x.order_by is not None and when is not None:
            when = x.order_by if last else min(when, x.order_by)
        if when is None:
            return
        self.wants[x.item] = x.order_amount
        self.plans[x.item] = when
        self.later(when, "order", (x.item, when))

    def on_order(self, at: datetime, about: tuple[str, datetime]) -> None:
        name, when = about
        if self.plans.get(name) != when:
            return
        del self.plans[name]
        item = self.farm.plan.item_named(name)
        assert item is not None
        supplier = self.farm.plan.supplier_named(item.supplier or "")
        assert supplier is not None
        openings = moment(self.farm, at).openings[supplier.name]
        lead = supplier.lead_days if supplier.lead_days is not None else 1
        due = arrives(Terms(openings, supplier.order_before, lead), at)
        if due is None:
            return
        late = int(self.rng.random() < self.year.late[supplier.name])
        comes = arrives(Terms(openings, supplier.order_before, lead, late), at) or due
        amount = self.wants.pop(name)
        self.tally[name].orders += 1
        told = e.Ordered(on=at.date(), item=name, amount=amount, unit=item.unit, supplier=supplier.name, due=due.date())
        self.tell(at, told)
        opens = min(o.start for o in openings if o.start.date() == comes.date())
        earliest = max(opens, at)
        truck = earliest + (comes - earliest) * float(self.rng.uniform(0.2, 1.0))
        self.late[name] += late
        self.later(truck, "came", (name, amount, late))

    def on_came(self, at: datetime, about: tuple[str, Decimal, int]) -> None:
        name, amount, late = about
        self.late[name] -= late
        self.level[name] += float(amount)
        unit = next(i["unit"] for i in self.year.plan["item"] if i["name"] == name)
        self.tell(at, e.Received(on=at.date(), item=name, amount=amount, unit=unit))


# -- the one who knows


def all_knowing(year: Year) -> dict[str, float]:
    """The stock of an orderer who knows every hour to come, by item."""
    farm = new_farm()
    apply(farm, Fact(BEGINNING, 1, "owner", e.PlanSet(on=START, set=year.plan)))
    for n, (at, entry) in enumerate(year.told, 2):
        if isinstance(entry, e.Closed):
            apply(farm, Fact(at.astimezone(UTC), n, "owner", entry))
    start = datetime.combine(START, time(), year.zone)
    return {name: held_knowing(year, farm, name, start) for name in year.use}


def held_knowing(year: Year, farm: Farm, name: str, start: datetime) -> float:
    item = farm.plan.item_named(name)
    assert item is not None
    supplier = farm.plan.supplier_named(item.supplier or "")
    assert supplier is not None
    use, hours = year.use[name], (DAYS - 1) * 24
    eaten = np.concatenate([[0.0], np.cumsum(use)])
    level, held, came = year.first[name], 0.0, []
    stock, hour = level, 0
    begin = start.astimezone(UTC)
    while hour < hours:
        empty = int(np.searchsorted(eaten, eaten[hour] + stock, side="right")) - 1
        if empty >= hours:
            break
        when = begin + timedelta(hours=empty)
        m = moment(farm, max(start, (when - timedelta(days=14)).astimezone(year.zone)))
        terms = Terms(m.openings[supplier.name], supplier.order_before, supplier.lead_days or 0)
        by = order_by(terms, when.astimezone(year.zone))
        at = arrives(terms, by) if by else None
        assert at is not None
        then = max(hour, int((at.astimezone(UTC) - begin).total_seconds() // 3600))
        stock -= float(eaten[then] - eaten[hour])
        # a week's use, and on to the next delivery that can be had after it
        week = then + int(WEEK * 24)
        until = next_delivery(terms, (begin + timedelta(hours=week)).astimezone(year.zone)) or at
        last = min(len(eaten) - 1, max(week, int((until.astimezone(UTC) - begin).total_seconds() // 3600)))
        step = farm.plan.amount_of(item, item.order_step) if item.order_step else Decimal(1)
        least = farm.plan.amount_of(item, item.order_min) if item.order_min else Decimal(0)
        came.append((then, float(order_amount(float(eaten[last] - eaten[then]) - stock, step, least))))
        stock += came[-1][1]
        hour = then
    level = np.full(hours, year.first[name]) - eaten[1 : hours + 1]
    for then, much in came:
        level[then:] += much
    inuse = np.repeat(use[:hours].reshape(-1, 24).any(axis=1), 24)
    held = float(level[WARM:][inuse[WARM:]].sum())
    assert level.min() > -1e-6, (name, level.min())
    return held


def next_delivery(terms: Terms, at: datetime) -> datetime | None:
    """The first closing time from then on."""
    return next((o.end for o in terms.openings if o.end >= at), None)


# -- the table


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("seeds", type=int, nargs="?", default=50)
    ask.add_argument("--first", type=int, default=0)
    ask.add_argument("--farmer", choices=["prompt", "last", "mixed"], default="mixed")
    args = ask.parse_args()
    rows: dict[str, list[Tally]] = {}
    messages = 0
    for seed in range(args.first, args.first + args.seeds):
        known = all_knowing(a_year(seed))
        barn = play(a_year(seed), args.farmer)
        messages += len(barn.days_said)
        for name, tally in barn.tally.items():
            tally.known = known[name]
            rows.setdefault(name, []).append(tally)
            if tally.without:
                since = f"{tally.missing[0]:%d %b %H:%M}"
                print(f"seed {seed}: {name} {tally.without:.0f} h ({tally.quiet:.0f}) from {since}", file=sys.stderr)
    for line in table(rows):
        print(line)
    print(f"scheduled messages a day, of run-outs: {messages / DAYS / args.seeds:.2f}")


def table(rows: dict[str, list[Tally]]) -> Iterator[str]:
    heads = ("hours without", "avoidable", "years with", "days held", "ratio", "orders", "said/order", "counts")
    yield f"{'item':10}" + "".join(f"{h:>14}" for h in heads)
    for name, ts in [*rows.items(), ("all", [t for one in rows.values() for t in one])]:
        orders, n = sum(t.orders for t in ts), len(ts)
        held, known = (float(np.mean([getattr(t, of) / t.used / 24 for t in ts])) for of in ("held", "known"))
        figures = (
            sum(t.without for t in ts), sum(t.quiet for t in ts), sum(t.without > 0 for t in ts),
            held, held / known, orders / n, sum(t.said for t in ts) / max(1, orders), sum(t.counts for t in ts) / n,
        )  # fmt: skip
        yield f"{name:10}" + "".join(f"{x:14.0f}" if k < 3 else f"{x:14.2f}" for k, x in enumerate(figures))


if __name__ == "__main__":
    main()
