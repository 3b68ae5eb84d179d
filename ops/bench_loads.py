"""What the load advice earns in simulated years, beside two rules of thumb and a farmer with hindsight.

    .venv/bin/python ops/bench_loads.py [seeds] [--weigh DAYS] [--farm NAME]

Lambs grow by a law that is not the model's (Gompertz, each with its own end weight and pace, good and bad spells), are
weighed with error, gut fill and a shift of the day, and are sold weekly at prices that drift. All policies meet the
same lambs, weights and prices; what is left is price less trips less keep. Hindsight knows every true weight to come,
not the prices.

Farms: `grow`, where a day's growth is worth more than its keep, so lambs should go just below the top weight, above
which the price falls; `keep`, where it is worth less, so only a fuller trailer is worth the wait; `plain`, in between.
"""

import argparse
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import product as choices
from pathlib import Path
from zoneinfo import ZoneInfo

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only wait for each other

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))

from rules import entries as e
from rules.advance import apply
from rules.days import Moment
from rules.farm import Fact, new_farm
from rules.loads import ready

Floats = NDArray[np.float64]

START = date(2030, 1, 2)  # a Wednesday: sale days are start + 7 n
WEEKS = 75
AHEAD = 10  # sales that hindsight plans together
LEAST, TOP, LOAD_MIN, FULL = 110.0, 130.0, 8, 24
KEPT_FROM = 95.0  # lb; keep until then is the same whatever is decided


@dataclass(frozen=True)
class Money:
    trip: float
    keep: float
    steps: tuple[tuple[float, float], ...]

    def per(self, weight: Floats) -> Floats:
        """The price at a weight; nothing below the first step."""
        return np.select([weight >= s for s, _ in reversed(self.steps)], [p for _, p in reversed(self.steps)], 0.0)


FARMS = {
    "grow": Money(130.0, 0.55, ((80.0, 2.30), (110.0, 2.45), (131.0, 1.60))),
    "usual": Money(130.0, 0.55, ((80.0, 2.30), (110.0, 2.45), (131.0, 2.20))),
    "plain": Money(160.0, 1.20, ((100.0, 2.20), (110.0, 2.45), (131.0, 1.95))),
    "keep": Money(130.0, 1.90, ((80.0, 2.10), (110.0, 2.45), (131.0, 2.00))),
}
PLAN = {
    "farm": {"name": "Bench", "country": "US", "timezone": "America/Chicago", "weight": "lb", "currency": "USD"},
    "ship": {
        "min": Decimal(110), "max": Decimal(130), "sales": ["wednesday"], "load_min": LOAD_MIN, "load_full": FULL,
    },
    "group": [{"name": "pen 1", "keeps": "market lambs"}, {"name": "pen 2", "keeps": "market lambs"}],
}  # fmt: skip


@dataclass
class Year:
    """True weights (lambs, days) in lb, days of birth, weighings (day, lamb, lb), price level by week."""

    true: Floats
    born: NDArray[np.int64]
    scale: list[tuple[int, int, float]]
    level: Floats
    ram: NDArray[np.bool_]
    litter: NDArray[np.int64]
    money: Money


def year(seed: int, every: int, money: Money) -> Year:
    """One year: two lambings, in all 40 to 80 lambs."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(20, 41, 2)
    born = np.concatenate([rng.normal(-60, 8, sizes[0]), rng.normal(110, 8, sizes[1])]).astype(int)
    n = len(born)
    ram, litter = rng.random(n) < 0.5, rng.choice([1, 2, 3], n, p=[0.2, 0.6, 0.2])
    end = 195 * np.exp(rng.normal(0, 0.08, n)) * np.where(ram, 1.06, 0.97)
    pace = 0.0098 * np.exp(rng.normal(0, 0.09, n)) * (1.06 - 0.04 * litter)
    birth = rng.normal(10.5, 1.4, n) - 0.6 * litter
    days = np.arange(WEEKS * 7 + 120)
    age = np.maximum(0, days[None, :] - born[:, None])
    spell = np.zeros((n, len(days)))
    shock = rng.normal(0, 1, (n, len(days)))
    for d in range(1, len(days)):
        spell[:, d] = spell[:, d - 1] * 0.94 + shock[:, d] * 0.10
    shape = end[:, None] * np.exp(np.log(birth / end)[:, None] * np.exp(-pace[:, None] * age))
    grown = np.diff(shape, axis=1, prepend=shape[:, :1]) * (1 + spell)
    true = shape[:, :1] + np.cumsum(grown, 1)
    scale = []
    for d in range(5, len(days) - 2, every):  # the day before a sale, in the evening
        shift = rng.normal(0, 0.008)
        for i in np.flatnonzero((days[d] - born > 25) & (rng.random(n) < 0.95)):
            scale.append((d, int(i), round(float(true[i, d] * (1 + shift + rng.normal(0, 0.015))) * 2) / 2))
    level = np.exp(np.cumsum(rng.normal(0, 0.02, WEEKS)) - 0.02)
    return Year(true, born, scale, level, ram, litter, money)


Policy = Callable[[Year, int, list[int], Floats], list[int]]  # year, week, lambs here, scale weights -> who ships


def season(y: Year, policy: Policy) -> tuple[float, int, float]:
    """Money left of a year, trips and mean weight; what is left after the last week goes on one more load."""
    here, left, trips, sold = list(range(len(y.born))), 0.0, 0, []
    for week in range(WEEKS):
        day = 7 * week
        there = [i for i in here if y.born[i] < day - 25]
        last = {i: w for d, i, w in y.scale if d <= day}
        seen = np.array([last.get(i, 0.0) for i in there])
        ship = there if week == WEEKS - 1 else policy(y, week, there, seen)
        here = [i for i in here if i not in ship]
        if ship:
            w = y.true[ship, day]
            kept = sum(int((y.true[i, :day] >= KEPT_FROM).sum()) for i in ship)
            more = -(-len(ship) // FULL)
            left += float((w * y.money.per(w) * y.level[week]).sum()) - y.money.trip * more - y.money.keep * kept
            trips, sold = trips + more, [*sold, *w.tolist()]
    return left, trips, float(np.mean(sold))


def all_over(y: Year, week: int, there: list[int], seen: Floats) -> list[int]:
    return [i for i, w in zip(there, seen, strict=True) if w >= LEAST]


def load_met(y: Year, week: int, there: list[int], seen: Floats) -> list[int]:
    over = all_over(y, week, there, seen)
    return over if len(over) >= LOAD_MIN else []


def hindsight(y: Year, week: int, there: list[int], seen: Floats) -> list[int]:
    """The best trips over the next sales, knowing all true weights, at today's prices."""
    if not there:
        return []
    ahead = np.arange(AHEAD + 6)
    weights = y.true[there][:, np.minimum(7 * (week + ahead), y.true.shape[1] - 1)]
    paid = np.minimum(weights, TOP + 1) * y.money.per(weights) * y.level[week]  # the farmer's own limit binds all
    worth = np.where(weights >= LEAST, paid, -1e9) - 7 * y.money.keep * ahead
    last = np.maximum(worth[:, AHEAD:].max(1) - y.money.trip / 12, -1e8)
    best, rides = -np.inf, np.zeros(len(there), int)
    for made in choices((False, True), repeat=AHEAD):
        table = np.concatenate([np.where(made, worth[:, :AHEAD], -1e9), last[:, None]], 1)
        pick = table.argmax(1)
        heads = np.bincount(pick, minlength=AHEAD + 1)[:AHEAD]
        left = float(table.max(1).sum()) - y.money.trip * float((-(-heads // FULL)).sum())
        if left > best:
            best, rides = left, pick
    return [i for i, r in zip(there, rides, strict=True) if r == 0]


def advised(money: Money) -> Policy:
    """The load advice, told everything the farmer of the simulation knows by the morning of the sale."""
    steps = [{"from": Decimal(str(a)), "per": Decimal(str(p))} for a, p in money.steps]
    costs = {"trip_cost": Decimal(str(money.trip)), "keep_cost": Decimal(str(money.keep)), "price": steps}
    farm, told, seq = new_farm({**PLAN, "ship": {**PLAN["ship"], **costs}}), 0, 0

    def tell(day: int, entry: e.Entry) -> None:
        nonlocal seq
        seq += 1
        apply(farm, Fact(datetime(2030, 1, 2, 8, tzinfo=UTC) + timedelta(day), seq, "owner", entry))

    def policy(y: Year, week: int, there: list[int], seen: Floats) -> list[int]:
        nonlocal told
        day = 7 * week
        on = START + timedelta(day)
        for i in there:
            if f"{1000 + i}" not in farm.animals:
                _born(tell, day, y, i)
        while told < len(y.scale) and y.scale[told][0] <= day:
            d, i, w = y.scale[told]
            told += 1
            if f"{1000 + i}" in farm.animals:
                tell(d, e.Weight(on=START + timedelta(d), tag=f"{1000 + i}", weight=Decimal(str(w)), unit="lb"))
        price = Decimal(str(round(2.45 * float(y.level[week]), 2)))
        tell(day, e.MarketPrice(on=on, price=price, per="lb", from_=Decimal(110), to=Decimal(130)))
        if not there or seen.max(initial=0.0) < LEAST - 15:
            return []
        found = ready(farm, Moment(datetime(on.year, on.month, on.day, 6, tzinfo=ZoneInfo("America/Chicago"))))[0]
        if found.advice != "ship":
            return []
        tell(day, e.Ship(on=on, tags=found.tags))
        return [int(tag) - 1000 for tag in found.tags]

    return policy


def _born(tell: Callable[[int, e.Entry], None], day: int, y: Year, i: int) -> None:
    born = START + timedelta(int(y.born[i]))
    tell(day, e.AnimalSet(
        on=born, tag=f"{1000 + i}", sex="ram" if y.ram[i] else "ewe", born=born,
        group="pen 1" if y.born[i] < 20 else "pen 2", birth_type=int(y.litter[i]),
    ))  # fmt: skip


def main() -> None:
    """Print each policy's money as a share of hindsight's, seed by seed and in all."""
    ask = argparse.ArgumentParser(description="Load advice against rules of thumb and hindsight.")
    ask.add_argument("seeds", type=int, nargs="?", default=50)
    ask.add_argument("--weigh", type=int, default=7, help="days between weighings")
    ask.add_argument("--farm", choices=FARMS, default="grow")
    ask.add_argument("--first", type=int, default=0)
    told = ask.parse_args()
    rows = []
    for seed in range(told.first, told.first + told.seeds):
        y = year(seed, told.weigh, FARMS[told.farm])
        results = [season(y, p) for p in (all_over, load_met, advised(y.money), hindsight)]
        money = [r[0] for r in results]
        rows.append(money)
        shares = "  ".join(
            f"{m / money[-1]:.4f} ({r[1]:2d} trips, {r[2]:.1f})" for m, r in zip(money, results, strict=True)
        )
        print(f"seed {seed:3d}  {len(y.born)} lambs  {shares}", flush=True)
    total = np.array(rows).sum(0)
    thumb = max(total[0], total[1])
    over, met, advice, _ = total / total[3]
    print(f"of hindsight: all over {over:.4f}  load met {met:.4f}  advice {advice:.4f}")
    print(f"way from the better rule of thumb to hindsight: {(total[2] - thumb) / (total[3] - thumb):.3f}")


if __name__ == "__main__":
    main()
