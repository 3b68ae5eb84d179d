"""Live weight: what a scale would show on a day, how fast an animal gains, how many are ready, who has stopped gaining.

Works from a birth weight alone to years of weighings, for one animal or thousands: what an animal's own record does not
say comes from its herd, and what the herd does not say from the handbook's lambs (see growth_model). It decides
nothing: whether to ship or wait, which animals are held, how numbers are rounded and said belong elsewhere. All weights
in kg, all days as date ordinals.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from rules import growth_model as gm
from rules.growth_model import Floats
from rules.growth_trials import tried

EIGHTY = NormalDist().inv_cdf(0.9)  # half width of an 80 % interval in standard deviations
# Days over which a present gain is taken; shorter spans are mostly gut fill (Clayton et al., doi 10.1071/an25374: full
# and fasted gains share r2 0.57 over 14 d, 0.85 over 28 d).
RECENT = 28
# A stall lies that many standard deviations below the weight that was due, and gained less than that share.
STALL, STALL_SHARE = 2.6, 0.5
ERROR = gm.NAMES.index("error")
LEAST, MOST = 0.001, 100_000.0  # kg; no animal weighs less or more, and such a weight tells nothing
VAGUE = 0.5  # relative sd of the weight of an animal of unknown age that was never weighed


@dataclass(frozen=True, slots=True)
class Record:
    """One animal's weights. sex: ewe, ram, wether or ''. born: day ordinal; weighings: (day ordinal, kg), any order."""

    tag: str
    pen: str = ""
    sex: str = ""
    born: int | None = None
    birth_weight: float | None = None
    birth_type: int | None = None
    weighings: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Forecast:
    """Weight (kg) a scale would show: low to high holds it in 80 of 100 cases."""

    mean: float
    sd: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Stall:
    """An animal that gained `gain` kg a day from `since` on where `due` was to be expected, -z sd of weight short."""

    tag: str
    since: int
    gain: float
    due: float
    z: float


@dataclass(frozen=True)
class Model:
    """A herd's growth as fitted by `fit`. Unknown tags raise KeyError."""

    rows: dict[str, int]
    fitted: gm.Fitted
    ageless: Floats  # 1 for an animal of unknown age never weighed
    _days: dict[int, tuple[Floats, Floats]] = field(default_factory=dict)  # by day, since one answer asks for all

    def herd_on(self, day: int) -> tuple[Floats, Floats]:
        """Mean and sd of every animal's scale weight on one day, in the order of the records."""
        if day not in self._days:
            if len(self._days) > 60:
                self._days.clear()
            mean, alone, load, new = self.outlook(np.arange(len(self.ageless)), day)
            self._days[day] = mean, np.sqrt(alone + ((load @ self.fitted.cov) * load).sum(1) + 1.25 * new**2)
        return self._days[day]

    def outlook(self, rows: NDArray[np.int64], day: float) -> tuple[Floats, Floats, Floats, Floats]:
        """As growth_model.outlook, with the doubt about animals of which nothing at all is known."""
        mean, alone, load, new = gm.outlook(self.fitted, rows, np.full(len(rows), float(day)))
        return mean, alone + (VAGUE * self.ageless[rows] * mean) ** 2, load, new

    def animals(self, rows: NDArray[np.int64], day: float) -> tuple[Floats, Floats]:
        """Mean and sd of what these animals themselves weigh, without what only that day's scale sees."""
        # a moment of the day on which no herd was weighed: no day's shift is in it
        mean, alone, load, _ = self.outlook(rows, day + 0.01)
        age = day - self.fitted.herd.r.born[rows]
        error = np.exp(self.fitted.theta[ERROR]) * self.fitted.herd.shape.rough(gm.growing(age))
        return mean, np.sqrt(
            np.maximum(alone - self.fitted.own * error**2 + ((load @ self.fitted.cov) * load).sum(1), 0.0)
        )

    def forecast(self, tag: str, day: int) -> Forecast:
        """Weight a scale would show that day, weighing error, gut fill and the day's common shift included."""
        means, sds = self.herd_on(day)
        mean, sd = float(means[self.rows[tag]]), float(sds[self.rows[tag]])
        return Forecast(mean, sd, max(0.0, mean - EIGHTY * sd), mean + EIGHTY * sd)

    def gain(self, tag: str, day: int) -> tuple[float, float]:
        """Gain in kg a day up to its last weighing by `day`, over RECENT days or to the weighing before, and its sd.

        Of an animal weighed but once, or never, what it is likely to have gained in the RECENT days up to `day`."""
        row = self.rows[tag]
        r = self.fitted.herd.r
        on = r.day[row][r.real[row] & (r.day[row] <= day)]
        end, start = float(day), day - min(float(RECENT), max(7.0, day - float(r.born[row])))
        if len(on) > 1 and on[-1] > on[0]:
            end = float(on[-1])
            before = on[on <= end - RECENT]
            start = float(before[-1] if len(before) else on[0])
        mean, variance = gm.change(self.fitted, row, end, end - start)
        return mean / (end - start), float(np.sqrt(max(variance, 0.0))) / (end - start)


def fit(records: Sequence[Record]) -> Model:
    """The herd's model from all its records, with any finite weights; the same records always give the same model."""
    records = [weighable(r) for r in records] or [Record("")]
    lists = [sorted(r.weighings) for r in records]
    born = births(records)
    size = max(1, max(len(w) for w in lists) + 1)
    day = np.repeat(born[:, None], size, 1)
    kg, real, birth = np.zeros_like(day), np.zeros(day.shape, bool), np.zeros(day.shape, bool)
    for i, (record, weighings) in enumerate(zip(records, lists, strict=True)):
        start = record.birth_weight is not None and all(d != born[i] for d, _ in weighings)
        if start:
            kg[i, 0], real[i, 0], birth[i, 0] = record.birth_weight, True, True
        for j, (d, w) in enumerate(weighings, int(start)):
            day[i, j], kg[i, j], real[i, j] = d, w, True
    classes = zip(*((r.pen, r.sex, str(r.birth_type or "")) for r in records), strict=True)
    levels = np.array([ranks(names) for names in classes])
    readings = gm.Readings(day, kg, real, birth, born, levels)
    ageless = np.array([float(r.born is None and not r.weighings) for r in records])
    return Model({r.tag: i for i, r in enumerate(records)}, tried(gm.fitted(readings)), ageless)


def weighable(record: Record) -> Record:
    """The record without weights that no animal can have."""
    birth = record.birth_weight
    return replace(
        record,
        birth_weight=birth if birth is not None and LEAST < birth < MOST else None,
        weighings=tuple((d, w) for d, w in record.weighings if LEAST < w < MOST),
    )


def ranks(names: Sequence[str]) -> list[int]:
    """Number of each name among those given, -1 for none."""
    known = sorted({n for n in names if n})
    return [known.index(n) if n else -1 for n in names]


def births(records: Sequence[Record]) -> Floats:
    """Day of birth of each; where not written down, that of the rest, or that of a lamb with such a first weight."""
    known = [r.born for r in records if r.born is not None]
    first = [min(r.weighings) if r.weighings else None for r in records]
    of_unknown = [f for r, f in zip(records, first, strict=True) if r.born is None and f is not None]
    if len(known) * 2 >= len(records) or not of_unknown:
        usual = float(np.median(known)) if known else 0.0
    else:
        usual = float(np.median([d for d, _ in of_unknown])) - lamb_age(float(np.median([w for _, w in of_unknown])))
    out = np.full(len(records), usual)
    for i, (r, f) in enumerate(zip(records, first, strict=True)):
        if r.born is not None:
            out[i] = r.born
        elif f is not None:
            ratio = f[1] / (gm.BIRTH + gm.GAIN * float(gm.growing(np.array(f[0] - usual))))
            # Far from the rest: another age altogether (an old ewe among lambs).
            if f[0] < usual or (known and not 0.5 < ratio < 2.0):
                out[i] = f[0] - lamb_age(f[1])
    return out


def lamb_age(weight: float) -> float:
    """Age in days at which the handbook's lamb has this weight."""
    return float(np.round(-gm.SLOWING * np.log1p(-np.clip((weight - gm.BIRTH) / gm.GAIN / gm.SLOWING, 0.0, 0.97))))


def ready_day(model: Model, tag: str, minimum: float, from_day: int, horizon: int) -> int | None:
    """First day from `from_day`, at most `horizon` days on, whose mean forecast reaches `minimum`, or None."""
    row = model.rows[tag]
    for week in range(from_day, from_day + horizon + 1, 7):
        last = min(week + 6, from_day + horizon)
        if max(model.herd_on(d)[0][row] for d in (week, last)) < minimum:
            continue
        days = np.arange(week, last + 1, dtype=float)
        means = gm.outlook(model.fitted, np.full(len(days), row), days)[0]
        return week + int(np.argmax(means >= minimum))
    return None


def normal(z: Floats) -> Floats:
    """Standard normal distribution function (Abramowitz and Stegun 7.1.26, error below 2e-7)."""
    x = np.abs(z) / np.sqrt(2.0)
    t = 1.0 / (1.0 + 0.3275911 * x)
    poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    tail = 0.5 * poly * np.exp(-x * x)
    return np.asarray(np.where(z > 0, 1.0 - tail, tail))


@cache
def nodes(count: int, factors: int) -> Floats:
    """Evenly spread standard normal points (count, factors), the first factor spread best."""
    ratio = 1.0
    for _ in range(40):  # the root of x^factors = x + 1: steps that fill the cube evenly
        ratio = (1.0 + ratio) ** (1.0 / factors)
    i = np.arange(count)
    cube = [(i + 0.5) / count] + [(0.5 + i * ratio ** -float(j)) % 1.0 for j in range(1, factors)]
    inverse = NormalDist().inv_cdf
    return np.array([[inverse(float(x)) for x in row] for row in cube]).T


def number_of(chances: Floats) -> Floats:
    """Chances of 0, 1, ... n successes among independent ones, for each row of chances (m, n) -> (m, n + 1)."""
    out = np.zeros((len(chances), chances.shape[1] + 1))
    out[:, 0] = 1.0
    for j in range(chances.shape[1]):
        p = chances[:, j : j + 1]
        out[:, 1 : j + 2] = out[:, 1 : j + 2] * (1.0 - p) + out[:, : j + 1] * p
        out[:, 0] *= 1.0 - p[:, 0]
    return out


def count_ready(model: Model, tags: Sequence[str], day: int, minimum: float) -> tuple[float, int, int]:
    """How many of these the scale would show at `minimum` or more that day: expected, low and high (80 % interval).

    What all share (the herd's gain, a day on which a whole pen is light) does not average out over the animals: the
    number is worked out for each of many such days, and mixed."""
    if not tags:
        return 0.0, 0, 0
    rows = np.array([model.rows[t] for t in tags])
    mean, alone, load, new = model.outlook(rows, day)
    root = gm.root_of(model.fitted.cov, 0.0)
    pens = model.fitted.herd.r.levels[0][rows]
    parts = np.concatenate([load @ root, new[:, None], (pens[:, None] == np.unique(pens)) * 0.5 * new[:, None]], 1)
    _, axes = np.linalg.eigh(parts.T @ parts)
    main = parts @ axes[:, -4:][:, ::-1]
    spare = alone + (parts**2).sum(1) - (main**2).sum(1)
    z = nodes(160, main.shape[1])
    chances = normal((mean + z @ main.T - minimum) / np.sqrt(spare))
    expected = float(chances.mean(0).sum())
    open_ = (chances.max(0) > 1e-4) & (chances.min(0) < 1.0 - 1e-4)
    sure = int((chances.min(0) >= 1.0 - 1e-4).sum())
    p = chances[:, open_]
    if p.shape[1] <= 200:
        spread = number_of(p).mean(0).cumsum()
    else:
        middle, wide = p.sum(1), np.sqrt((p * (1.0 - p)).sum(1) + 1e-9)
        spread = normal((np.arange(p.shape[1] + 1) + 0.5 - middle[:, None]) / wide[:, None]).mean(0)
    low, high = (int(np.searchsorted(spread, q)) + sure for q in (0.1, 0.9))
    return expected, low, min(high, len(rows))


def stalls(model: Model, day: int) -> list[Stall]:
    """Animals whose gain up to their last weighing (within RECENT days of `day`) fell far below what their own record
    and their pen gave to expect, over the last stretch or two, the day's own shift taken off. Worst first."""
    f, found = model.fitted, []
    r = f.herd.r
    for tag, row in model.rows.items():
        at = np.flatnonzero(r.real[row])
        if len(at) < 3 or not day - RECENT <= r.day[row, at[-1]] <= day:
            continue
        worst: Stall | None = None
        for span in (1, 2) if len(at) > 3 else (1,):
            out, before = at[-span:], at[-span - 1]
            cov = np.linalg.inv(f.w[row][np.ix_(out, out)])
            short = float((cov @ f.left[row, out])[-1])
            # The reading that is judged counts in full, even where the fit has learnt to doubt it.
            error = (np.exp(f.theta[ERROR]) * f.herd.h[row, at[-1]]) ** 2
            doubted = (f.herd.doubt[row, at[-1]] - 1.0) * error
            z = short / float(np.sqrt(max(cov[-1, -1] - doubted, error)))
            days = float(r.day[row, at[-1]] - r.day[row, before])
            if days < 5:
                continue
            gain = float(r.kg[row, at[-1]] - r.kg[row, before]) / days
            due = gain - short / days
            if z < -STALL and gain < STALL_SHARE * due and (worst is None or z < worst.z):
                worst = Stall(tag, int(r.day[row, before]), gain, due, z)
        if worst:
            found.append(worst)
    return sorted(found, key=lambda s: (s.z, s.tag))


def adjusted_weight(weight: float, birth_weight: float, age: float, standard_age: float) -> float:
    """Weight corrected to a standard age in days: (weight - birth weight) / age * standard age + birth weight.

    The breed registries' rule, in any one unit of weight; good within 7 days of 30 or 60 and 28 of 90 (Boggess et al.
    1991, J. Anim. Sci. 69:3190)."""
    if age <= 0:
        raise ValueError("age must be more than 0 days")
    return (weight - birth_weight) / age * standard_age + birth_weight
