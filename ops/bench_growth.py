"""How good the growth model's forecasts are, on real weights and on simulated flocks, and how fast.

    .venv/bin/python ops/bench_growth.py FOLDER   tables on open data: weights, how many are ready
    .venv/bin/python ops/bench_growth.py          simulated flocks of five laws that are not the model's; stalls; speed

FOLDER holds growth_sets.json (which files, and how a set is made to look like lambs), the sets, growth_individual.csv
and growth_cells.json (what two published models reach on them: `line`, `spline`). The model is fitted anew at each
weighing from the third on, to the weights so far. score = width + 10 x what lies outside, of an 80 % interval.
"""

import csv
import json
import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only wait for each other

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))

from rules.growth import EIGHTY, Model, Record, count_ready, fit, stalls

START = 738_000
Weights = dict[str, list[tuple[float, float]]]


def rows(path: Path) -> list[dict[str, str]]:
    with path.open() as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@dataclass(frozen=True)
class Herd:
    """A set of real weights, to be shown to the model as lambs in kg."""

    of: dict[str, Any]
    use: list[float]
    weights: Weights

    def day(self, day: float) -> int:
        return START + round(day * self.of["scale_days"])

    def model(self, tags: list[str], until: float) -> Model:
        born = self.day(self.use[0]) - self.of["age_at_start"]
        scale = self.of["scale_weight"]
        return fit([
            Record(t, born=born, weighings=tuple((self.day(d), round(w * scale, 2)) for d, w in self.weights[t]
                                                 if d <= until)) for t in tags
        ])  # fmt: skip


def read(folder: Path, of: dict[str, Any]) -> Herd:
    weights: Weights = {}
    for row in rows(folder / of["file"]):
        if row["weight"] not in ("", "NA"):
            weights.setdefault(row["animal"], []).append((float(row["day"]), float(row["weight"])))
    use = of.get("use_days") or sorted({d for of_one in weights.values() for d, _ in of_one})
    return Herd(of, use, {tag: [w for w in of_one if w[0] in use] for tag, of_one in weights.items()})


def individual(name: str, herd: Herd, known: dict[tuple[str, str, int], dict[str, str]]) -> None:
    """One animal's weight some days ahead, beside the published models and as a share of the better one."""
    scale, found = herd.of["scale_weight"], {h: [] for h in herd.of["horizons"]}
    for at in herd.use[2:-1]:
        model = herd.model(list(herd.weights), at)
        for ahead, told in found.items():
            near = [d for d in herd.use if d > at and abs(d - at - ahead) <= herd.of.get("tolerance", 0)]
            target = min(near, key=lambda d: abs(d - at - ahead), default=None)
            for tag, weights in herd.weights.items():
                actual = dict(weights).get(target)
                if actual is not None and at in dict(weights):
                    f = model.forecast(tag, herd.day(target))
                    told.append((f.mean / scale, f.sd / scale, actual))
    for ahead, told in found.items():
        mean, sd, actual = np.array(told).T
        off, half = np.abs(mean - actual), EIGHTY * sd
        mae, score = off.mean(), (2 * half + 10 * np.maximum(off - half, 0)).mean()
        beside = []
        for key, ours in (("mae", mae), ("interval_score", score)):
            line, spline = (float(known[name, m, ahead][key]) for m in ("line", "spline"))
            beside.append(f"{ours:5.2f} (line {line:.2f}, spline {spline:.2f}: {ours / min(line, spline):.2f})")
        print(f"  {ahead:3} days  n {len(told):3}  MAE {beside[0]}  score {beside[1]}  "
              f"coverage {(off <= half).mean():.3f}  width {2 * half.mean():5.1f}  "
              f"mean error {(mean - actual).mean():+.2f}")  # fmt: skip


def ready(herd: Herd, cells: dict[str, Any]) -> None:
    """How many of a herd are ready, beside the published models."""
    models: dict[tuple[int, float], Model] = {}
    told: dict[str, list[tuple[float, float, float]]] = {"model": [], "line": [], "spline": []}
    for cell in cells["cells"]:
        tags = next(h["animals"] for h in cells["herds"] if h["farm"] == cell["farm"])
        key = cell["farm"], cell["origin"]
        if key not in models:
            models[key] = herd.model(tags, cell["origin"])
        said = count_ready(models[key], tags, herd.day(cell["target"]), cell["min"])
        ours = dict(zip(("expected", "low", "high"), said, strict=True))
        for model, said in (("model", ours), ("line", cell["line"]), ("spline", cell["spline"])):
            miss = max(0, said["low"] - cell["actual"], cell["actual"] - said["high"])
            told[model].append(
                (abs(said["expected"] - cell["actual"]), miss == 0, said["high"] - said["low"] + 10 * miss)
            )
    for model, values in told.items():
        error, held, score = np.mean(values, 0)
        print(f"  ready, {len(values)} cells, {model:7} MAE {error:.2f}  coverage {held:.2f}  score {score:.2f}")


def law(
    name: str, g: np.random.Generator, birth: NDArray[np.float64], ages: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Weights (animals, ages) by a law of growth with each animal's own numbers."""
    n, b = len(birth), birth[:, None]
    end = g.normal(78, 8, n)[:, None]
    if name == "gompertz":
        return end * np.exp(-np.log(end / b) * np.exp(-g.normal(0.0155, 0.0012, n)[:, None] * ages))
    if name == "brody":
        return end - (end - b) * np.exp(-g.normal(0.0055, 0.0005, n)[:, None] * ages)
    if name == "doubling":  # gains that double by 95 days
        return b + 0.17 * end / 78 * (ages + ages**2 / 190)
    if name == "logistic":
        return 0.8 * end / (1 + (0.8 * end / b - 1) * np.exp(-g.normal(0.028, 0.002, n)[:, None] * ages))
    gain = g.normal(0.27, 0.035, n)[:, None] + 0.6 * g.normal(0, 0.012, (n, len(ages))).cumsum(1)
    return b + (gain * np.clip(1.15 - ages / 400, 0.3, None)).cumsum(1)


@dataclass(frozen=True)
class Flock:
    """Simulated lambs: what a scale would show each day (n, days from START + 28), and the days they are weighed."""

    scale: NDArray[np.float64]
    visits: list[int]
    records: Callable[[int], list[Record]]

    def shown(self, day: int) -> NDArray[np.float64]:
        return self.scale[:, day - START - 28]


def forgetful(g: np.random.Generator, shape: tuple[int, ...], memory: float) -> NDArray[np.float64]:
    """Standard noise along the last axis that forgets itself after `memory` days."""
    keep, out = np.exp(-1 / memory), g.normal(size=shape)
    for t in range(1, shape[-1]):
        out[..., t] = keep * out[..., t - 1] + np.sqrt(1 - keep**2) * out[..., t]
    return out


def flock(name: str, seed: int, n: int, births: bool = True) -> Flock:
    """Lambs of two pens born over four weeks, weighed fortnightly: gut fill and the day's shift of all and of a pen,
    condition that comes and goes, grass that makes all grow faster or slower, 8 in 100 weighings missed."""
    g = np.random.default_rng([sum(map(ord, name)), seed, n])
    ages, born, pen = np.arange(320.0), g.integers(0, 28, n), g.integers(0, 2, n)
    birth = np.clip(g.normal(4.3, 0.6, n), 2, None)
    weight = law(name, g, birth, ages) * (1 + 0.025 * forgetful(g, (n, 320), 25) * np.minimum(1, ages / 30))
    grass = 1 + 0.15 * forgetful(g, (360,), 25)
    gains = np.diff(weight, prepend=weight[:, :1])
    true = np.empty((n, 260))
    for i, b in enumerate(born):
        true[i] = (weight[i, 0] + np.cumsum(gains[i] * grass[b : b + 320]))[28 - b : 288 - b]
    day, of_pen = g.normal(0, 0.015, 260), g.normal(0, 0.0075, (2, 260))
    scale = true * (1 + day + of_pen[pen] + g.normal(0, 0.018, true.shape))
    visits = [START + 45 + 14 * j for j in range(9)]
    came = g.random((n, 9)) >= 0.08

    def records(until: int) -> list[Record]:
        found = []
        for i in range(n):
            at = [v for j, v in enumerate(visits) if v <= until and came[i, j]]
            weighings = tuple((v, round(float(scale[i, v - START - 28]), 1)) for v in at)
            known = round(float(birth[i]), 1) if births else None
            found.append(Record(str(i), f"pen {pen[i]}", "", START + int(born[i]), known, None, weighings))
        return found

    return Flock(scale, visits, records)


def simulated(name: str, n: int, seeds: int, births: bool) -> None:
    held: dict[int, list[float]] = {7: [], 14: [], 28: []}
    counts = []
    for seed in range(seeds):
        lambs = flock(name, seed, n, births)
        for at in lambs.visits[2:8:2]:
            model = fit(lambs.records(at))
            for ahead, shares in held.items():
                shown, (mean, sd) = lambs.shown(at + ahead), model.herd_on(at + ahead)
                shares.append(float((np.abs(shown - mean) <= EIGHTY * sd).mean()))
                least = round(float(np.quantile(shown, 0.6)))
                _, low, high = count_ready(model, list(model.rows), at + ahead, least)
                counts.append(low <= (shown >= least).sum() <= high)
    shares_said = "  ".join(f"{ahead} days {np.mean(shares):.3f}" for ahead, shares in held.items())
    print(f"  {name:8} {n:3} lambs, birth weights {'yes' if births else 'no ':3}  held: {shares_said}  "
          f"counts {np.mean(counts):.2f}")  # fmt: skip


def stalling(name: str, n: int, seeds: int) -> None:
    """False alarms a lamb and weighing; and of lambs that stop gaining, how many are named after two and four weeks."""
    false = asked = 0
    named: dict[int, list[bool]] = {1: [], 2: []}
    for seed in range(seeds):
        lambs = flock(name, seed, n)
        for at in lambs.visits[3::2]:
            false += len(stalls(fit(lambs.records(at)), at))
            asked += n
        stop, sick = lambs.visits[4], {str(i) for i in range(0, n, 15)}
        for later, hits in named.items():
            at, changed = lambs.visits[4 + later], []
            for record in lambs.records(at):
                if record.tag in sick:
                    row = lambs.scale[int(record.tag)]
                    middle = {d: float(np.median(row[max(0, d - START - 31) : d - START - 24])) for d in lambs.visits}
                    stayed = [
                        (d, round(w * middle[stop] / middle[d], 1) if d > stop else w) for d, w in record.weighings
                    ]
                    record = replace(record, weighings=tuple(stayed))
                changed.append(record)
            found = {s.tag for s in stalls(fit(changed), at)}
            hits += [r.tag in found for r in changed if r.tag in sick and r.weighings[-1][0] == at]
    print(f"  {name:8} {n} lambs: false alarms {false / asked:.4f} a lamb and weighing; "
          f"named after 2 weeks {np.mean(named[1]):.2f}, after 4 {np.mean(named[2]):.2f}")  # fmt: skip


def speed() -> None:
    lambs = flock("brody", 0, 1000)
    records = lambs.records(lambs.visits[-1])
    began = time.perf_counter()
    model = fit(records)
    fitted = time.perf_counter()
    tags, sale = list(model.rows), lambs.visits[-1] + 5
    _ = [model.forecast(tag, sale) for tag in tags]
    told = time.perf_counter()
    count_ready(model, tags, sale, 45.0)
    counted = time.perf_counter()
    print(f"  1,000 lambs: fit {fitted - began:.2f} s, all forecasts of a day {1e3 * (told - fitted):.0f} ms, "
          f"how many ready {1e3 * (counted - told):.0f} ms")  # fmt: skip


def main() -> None:
    if len(sys.argv) > 1:
        folder = Path(sys.argv[1])
        known = {(r["set"], r["model"], int(r["days_ahead"])): r for r in rows(folder / "growth_individual.csv")}
        cells = json.loads((folder / "growth_cells.json").read_text())
        for name, of in json.loads((folder / "growth_sets.json").read_text()).items():
            herd = read(folder, of)
            print(name)
            individual(name, herd, known)
            ready(herd, cells[name])
        return
    print("80 % intervals on simulated flocks")
    for name in ("gompertz", "brody", "logistic", "doubling", "walk"):
        simulated(name, 40, 8, True)
        simulated(name, 40, 8, False)
    print("stalls")
    stalling("gompertz", 60, 6)
    stalling("walk", 60, 6)
    print("speed")
    speed()


if __name__ == "__main__":
    main()
