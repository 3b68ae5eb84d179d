"""The arithmetic behind growth.py: a mixed model of live weight, fitted by its own likelihood.

A scale weight is taken as  herd + animal + day:
  herd    a curve in growing time that may bend with age and drift with the calendar; differences of pen, sex, litter
  animal  its own start and gain (correlated), and a gain that wanders about its usual one, for weeks and for months
  day     a shift common to all weighed on one day (gut fill, rain, scale off zero), one of each pen, and the reading's
          own error
The shared terms are coefficients with normal priors, the animals' own terms covariances; so all is linear algebra on
one small matrix for each animal and one for the herd. It knows no tags, no questions and no calendar: arrays in, arrays
out.
Method: mixed models with smoothing, as Verbyla, Cullis, Kenward, Welham 1999, Applied Statistics 48:269-311.
"""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# kg, kg a day: 4 kg and 200 to 400 g/day to 8 weeks (AHDB 2015), 0.29 kg/day from 50 to 100 days (Ontario)
BIRTH, GAIN = 4.0, 0.30
# Days; growing time = SLOWING * (1 - exp(-age / SLOWING)), so that a grown ewe (91 kg here; NRC 1985: 50 to 90) grows
# no more.
SLOWING = 290.0

# Animal and shared standard deviations: middle and spread (of the log) of the prior. Relative to BIRTH, GAIN or weight.
NAMES = ("start", "gain", "wander", "error", "link", "turn", "day", "drift", "bend", "odd")
MIDDLE = np.array([*np.log([0.17, 0.15, 0.25, 0.022]), 0.2, *np.log([0.25, 0.012, 0.35, 0.25, 1.0])])
SPREAD = np.array([1.0, 0.8, 0.5, 0.5, 1.0, 0.8, 0.7, 0.7, 0.7, 1.0])
OWN = 6  # the first six belong to the animal
# No herd lies more than so many spreads from the middle; weights that fit to the gram would make it too sure.
FARTHEST = 4.0
WORST = 1e12  # the most an error variance is blown up; more would drown the rest in rounding
YOUNG = 30.0  # days in which an animal's gain begins to wander: little lambs grow alike
OLDEST = 4000.0  # days; older, an animal of unknown age
# Days after which a change of gain is forgotten: the animal's passing and lasting ones, the herd's by calendar and age.
MEMORY, TURN_MEMORY, DRIFT_MEMORY, BEND_MEMORY = 15.0, 120.0, 28.0, 120.0
TREND = 3.2  # by how many bends the gain may rise or fall in 100 days of growing, on and on


def growing(age: Floats) -> Floats:
    """Days of age as growing time, which runs slower the older the animal is."""
    return np.asarray(SLOWING * -np.expm1(-np.maximum(age, 0.0) / SLOWING))


def drifted(x: Floats, memory: float) -> Floats:
    """Variance of the way gone in x days by a gain of variance 1 that forgets itself after `memory` days."""
    t = np.abs(x) / memory
    return np.asarray(2.0 * memory**2 * (t + np.expm1(-t)))


def wander(a: Floats, b: Floats, memory: float) -> Floats:
    """Covariance, counted from 0, of that way at a and at b."""
    return np.asarray(0.5 * (drifted(a, memory) + drifted(b, memory) - drifted(a - b, memory)))


def hat(x: Floats, knots: Floats) -> Floats:
    """Weights of straight-line interpolation between knots: shape of x, plus one axis for the knots."""
    x = np.clip(x, knots[0], knots[-1])
    at = np.clip(np.searchsorted(knots, x, side="right") - 1, 0, len(knots) - 2)
    part = (x - knots[at]) / (knots[at + 1] - knots[at])
    out = np.zeros((*x.shape, len(knots)))
    np.put_along_axis(out, at[..., None], (1.0 - part)[..., None], -1)
    np.put_along_axis(out, at[..., None] + 1, part[..., None], -1)
    return out


@dataclass(frozen=True, slots=True)
class Readings:
    """Weights of n animals, padded to k each: day, kg (n, k); `real` false on padding, `birth` true on birth weights.

    born: day of birth (n,). levels: for each factor (the first is the pen) the level of each animal, -1 unknown."""

    day: Floats
    kg: Floats
    real: NDArray[np.bool_]
    birth: NDArray[np.bool_]
    born: Floats
    levels: NDArray[np.int64]  # (factors, n); the first is the pen


@dataclass(frozen=True, slots=True)
class Shape:
    """What the columns of shared coefficients stand for."""

    scale: float  # how much larger than the handbook's lamb
    pace: float  # its usual gain, kg a day
    line: Floats  # rough herd line (kg at birth, kg a day) for errors that grow with weight
    ages: Floats  # knots in growing time
    days: Floats  # knots in days
    visits: Floats  # days on which several were weighed
    pens: NDArray[np.int64]  # (m, 2): visit, pen
    counts: tuple[int, ...]  # levels of each factor

    def rough(self, u: Floats) -> Floats:
        return np.asarray(np.maximum(self.line[0] + self.line[1] * u, 0.7 * BIRTH * self.scale))

    def columns(self, day: Floats, born: Floats, birth: NDArray[np.bool_], levels: NDArray[np.int64]) -> Floats:
        """Design of the shared coefficients; day (n, k), born (n,) -> (n, k, columns)."""
        u = growing(day - born[:, None])
        h = self.rough(u)
        parts = [np.ones_like(u)[..., None], u[..., None], (u**2 / 200.0)[..., None], hat(u, self.ages)]
        parts.append(hat(day, self.days) - hat(born, self.days)[:, None, :])
        for of, count in zip(levels, self.counts, strict=True):
            one = (of[:, None, None] == np.arange(count)) * np.ones((*u.shape, 1))
            parts += [one, one * u[..., None]]
        weighed = np.where(birth, 0.0, h)[..., None]
        visit = (day[..., None] == self.visits) * weighed
        parts.append(visit)
        parts.append(visit[..., self.pens[:, 0]] * (levels[0][:, None, None] == self.pens[:, 1]))
        return np.concatenate(parts, -1)

    def prior(self, theta: Floats) -> Floats:
        """Covariance of the shared coefficients."""
        s, pace, (day, drift, bend, odd) = self.scale, self.pace, np.exp(theta[OWN:])
        blocks = [np.diag([(odd * 0.3 * BIRTH * s) ** 2, (odd * 0.3 * pace) ** 2, (TREND * bend * pace) ** 2])]
        a, d = self.ages, self.days - self.days[0]
        blocks.append((bend * pace) ** 2 * wander(a[:, None], a, BEND_MEMORY))
        blocks.append((drift * pace) ** 2 * wander(d[:, None], d, DRIFT_MEMORY))
        for count in self.counts:
            blocks += [np.eye(count) * (0.08 * BIRTH * s) ** 2, np.eye(count) * (0.08 * pace) ** 2]
        blocks += [np.eye(len(self.visits)) * day**2, np.eye(len(self.pens)) * (0.5 * day) ** 2]
        size = sum(len(b) for b in blocks)
        out, at = np.zeros((size, size)), 0
        for b in blocks:
            out[at : at + len(b), at : at + len(b)] = b
            at += len(b)
        return out + np.eye(size) * 1e-9 * s**2


def rough_line(y: Floats, z: Floats, scale: float, start: Floats) -> Floats:
    """Birth weight and gain of the herd, from weights and their line (n, k, 2), both divided by a lamb's weight of that
    age: animals differ by 15 %, weighings of one by 3 %, herds by 80 % from the handbook's lamb."""
    between, within, count = (0.15 * scale) ** 2, (0.03 * scale) ** 2, (z[..., 0] > 0).sum(1)
    c = between / (within + count * between)
    a = np.einsum("nka,nkb->ab", z, z) - np.einsum("n,na,nb->ab", c, z.sum(1), z.sum(1))
    b = np.einsum("nka,nk->a", z, y) - np.einsum("n,na,n->a", c, z.sum(1), y.sum(1))
    pull = np.diag((0.8 * start) ** -2.0)
    return np.asarray(np.linalg.solve(a / within + pull, b / within + pull @ start))


def shape_of(r: Readings) -> Shape:
    """The herd's size, its rough line, and the knots for its ages and days with room for what is to come."""
    u, on = growing(r.day - r.born[:, None]), r.real
    lamb = BIRTH + GAIN * u
    ratio = r.kg[on] / lamb[on]
    mid = float(np.median(ratio)) if ratio.size else 1.0
    # One weight says little of the whole herd: shrink to the handbook's lamb (an animal differs by about 20 %).
    scale = float(np.exp(np.log(mid) * ratio.size / (ratio.size + 0.5)))
    kg, z = np.clip(r.kg / lamb, mid / 2.5, mid * 2.5), np.stack([1.0 / lamb, u / lamb], -1)
    line = rough_line(kg * on, z * on[..., None], scale, scale * np.array([BIRTH, GAIN]))
    grown = on & ~r.birth  # growth is no line: where it stands now counts, birth weights only where there is no more
    line = rough_line(kg * grown, z * grown[..., None], scale, line)
    first, last = (r.day[on].min(), r.day[on].max()) if ratio.size else (r.born.min(), r.born.max())
    first = min(first, r.born.min())
    top = min(float((last - r.born).max()), OLDEST) + 240.0
    ages = growing(
        np.concatenate([np.arange(0.0, min(top, 400.0), 12.0), np.arange(400.0, max(top, 401.0) + 90.0, 90.0)])
    )
    near = max(first, last - 500.0)
    days = np.unique(np.concatenate([[first], np.arange(near, last + 240.0, 12.0)]))
    seen = on & ~r.birth
    visits, heads = np.unique(r.day[seen], return_counts=True)
    visits = visits[heads > 1][-90:]
    pairs = []
    if (r.levels[0].max(initial=-1)) > 0:
        pen = np.broadcast_to(r.levels[0][:, None], r.day.shape)
        for i, v in enumerate(visits):
            pairs += [(i, int(p)) for p in np.unique(pen[seen & (r.day == v) & (pen >= 0)])]
    pens = np.array(pairs[-120:], np.int64).reshape(-1, 2)
    pace = float(np.clip(line[1], 0.1 * GAIN * scale, 3.0 * GAIN * scale))
    return Shape(scale, pace, line, ages, days, visits, pens, tuple(int(x.max(initial=-1)) + 1 for x in r.levels))


@dataclass(frozen=True, slots=True)
class Herd:
    """Readings with everything about them that no standard deviation changes."""

    r: Readings
    shape: Shape
    u: Floats
    x: Floats  # design, (n, k, columns), zero on padding
    rest: Floats  # kg less the handbook's curve at this scale
    h: Floats
    doubt: Floats  # how many times a reading's error variance is blown up: 1 where it fits


def herd_of(r: Readings, shape: Shape | None = None) -> Herd:
    """Readings made ready to fit; `shape` where they are part of a larger herd."""
    shape = shape or shape_of(r)
    u = growing(r.day - r.born[:, None])
    x = shape.columns(r.day, r.born, r.birth, r.levels) * r.real[..., None]
    rest = np.where(r.real, r.kg - shape.line[0] - shape.line[1] * u, 0.0)
    return Herd(r, shape, u, x, rest, shape.rough(u), np.ones_like(u))


def own(theta: Floats, shape: Shape, ua: Floats, ub: Floats, da: Floats, db: Floats) -> Floats:
    """Covariance of an animal's own part between two moments (growing time u, days since birth d)."""
    s, pace = shape.scale, shape.pace
    start, (gain, slip, turn) = np.exp(theta[0]) * BIRTH * s, np.exp(theta[[1, 2, 5]]) * pace
    link = np.tanh(theta[4]) * start * gain
    da, db = (d + YOUNG * np.expm1(-d / YOUNG) for d in (np.clip(da, 0.0, OLDEST), np.clip(db, 0.0, OLDEST)))
    wandered = slip**2 * wander(da, db, MEMORY) + turn**2 * wander(ua, ub, TURN_MEMORY)
    return np.asarray(start**2 + link * (ua + ub) + gain**2 * ua * ub + wandered)


def covariance(herd: Herd, theta: Floats) -> Floats:
    """Covariances of the animals' readings given the herd, (n, k, k); ones on the diagonal of padding."""
    real, age, u = herd.r.real, herd.r.day - herd.r.born[:, None], herd.u
    v = own(theta, herd.shape, u[:, :, None], u[:, None, :], age[:, :, None], age[:, None, :])
    error = np.where(real, (np.exp(theta[3]) * herd.h) ** 2 * herd.doubt, 1.0)
    return np.where(real[:, :, None] & real[:, None, :], v, 0.0) + error[:, :, None] * np.eye(u.shape[1])


@dataclass(frozen=True, slots=True)
class Sums:
    """What the herd's readings say of the shared coefficients: w (n, k, k), X'WX, X'Wy, y'Wy - log det W."""

    w: Floats
    wx: Floats
    a: Floats
    c: Floats
    rest: float


def sums(herd: Herd, theta: Floats) -> Sums:
    v, p = covariance(herd, theta), herd.x.shape[-1]
    w = np.asarray(np.linalg.inv(v), dtype=np.float64)
    wx, wy = w @ herd.x, (w @ herd.rest[..., None])[..., 0]
    x = herd.x.reshape(-1, p).T
    rest = float((herd.rest * wy).sum() + np.linalg.slogdet(v)[1].sum())
    return Sums(w, wx, x @ wx.reshape(-1, p), x @ wy.ravel(), rest)


def root_of(m: Floats, least: float) -> Floats:
    """A square root of a covariance whose smallest eigenvalue is `least` but for rounding."""
    try:
        return np.asarray(np.linalg.cholesky(m))
    except np.linalg.LinAlgError:
        values, axes = np.linalg.eigh(m)
        return np.asarray(axes * np.sqrt(np.maximum(values, least)))


def shared(s: Sums, prior: Floats) -> tuple[Floats, Floats, float]:
    """Mean and covariance of the shared coefficients, and the log likelihood."""
    root = root_of(prior, 0.0)
    low = root_of(np.eye(len(prior)) + root.T @ s.a @ root, 1.0)
    half = np.linalg.solve(low, root.T)
    cov = half.T @ half
    mean = cov @ s.c
    return mean, cov, -0.5 * (s.rest + 2.0 * float(np.linalg.slogdet(low)[1]) - float(s.c @ mean))


def belief(theta: Floats) -> float:
    """Log of the prior of the standard deviations."""
    return -0.5 * float((((theta - MIDDLE) / SPREAD) ** 2).sum())


def slope(herd: Herd, theta: Floats) -> tuple[float, Floats]:
    """Log of likelihood times prior, and its gradient: half the trace of (a a' - inverse) times each derivative."""
    s, prior = sums(herd, theta), herd.shape.prior(theta)
    mean, cov, like = shared(s, prior)
    left = (s.w @ (herd.rest - herd.x @ mean)[..., None])[..., 0]
    of_own = left[:, :, None] * left[:, None, :] - s.w + s.wx @ cov @ s.wx.swapaxes(1, 2)
    pull = s.c - s.a @ mean
    of_shared = np.outer(pull, pull) - s.a + s.a @ cov @ s.a
    v, step = covariance(herd, theta), 1e-5
    gradient = (MIDDLE - theta) / SPREAD**2
    for i in range(len(theta)):
        t = theta.copy()
        t[i] += step
        if i < OWN:
            gradient[i] += 0.5 * float((of_own * (covariance(herd, t) - v)).sum()) / step
        else:
            gradient[i] += 0.5 * float((of_shared * (herd.shape.prior(t) - prior)).sum()) / step
    return like + belief(theta), gradient


def climb(herd: Herd, theta: Floats, turns: int = 25) -> Floats:
    """The most likely standard deviations given readings and priors (BFGS on the logs)."""
    f, g = slope(herd, theta)
    h = np.diag(SPREAD**2) * 0.3
    for _ in range(turns):
        step = h @ g
        step *= min(1.0, 1.5 / float(np.abs(step).max() + 1e-12))
        for _ in range(6):
            new = np.clip(theta + step, MIDDLE - FARTHEST * SPREAD, MIDDLE + FARTHEST * SPREAD)
            fn, gn = slope(herd, new)
            if fn > f:
                break
            step *= 0.3
        else:
            break
        step, y, gained = new - theta, g - gn, fn - f
        sy = float(step @ y)
        if sy > 1e-10:
            eye = np.eye(len(theta)) - np.outer(step, y) / sy
            h = eye @ h @ eye.T + np.outer(step, step) / sy
        theta, f, g = new, fn, gn
        if gained < 0.01:
            break
    return theta


@dataclass(frozen=True, slots=True)
class Fitted:
    herd: Herd
    theta: Floats
    w: Floats
    mean: Floats
    cov: Floats
    left: Floats  # W (y - X mean)
    day: float  # sd of a day not seen yet, relative
    own: float = 1.0  # by how much the animals' own errors exceed their forecast variance


def solve(herd: Herd, theta: Floats, grid: tuple[float, ...] = (-1.2, 0.0, 1.2)) -> Fitted:
    """Everything a forecast needs; three shared deviations of which few weighings tell are averaged over."""
    s, parts = sums(herd, theta), []
    for steps in product(grid, repeat=3):
        t = theta.copy()
        t[OWN : OWN + 3] += np.array(steps) * SPREAD[OWN : OWN + 3]
        mean, cov, like = shared(s, herd.shape.prior(t))
        parts.append((like + belief(t), mean, cov, np.exp(2.0 * t[OWN])))
    likely, means, covs, days = (np.array(x) for x in zip(*parts, strict=True))
    weight = np.exp(likely - likely.max())
    weight /= weight.sum()
    mean = weight @ means
    cov = np.tensordot(weight, covs, 1) + (weight[:, None] * (means - mean)).T @ (means - mean)
    left = (s.w @ (herd.rest - herd.x @ mean)[..., None])[..., 0]
    return Fitted(herd, theta, s.w, mean, cov, left, float(np.sqrt(weight @ days)))


def misfit(f: Fitted) -> Floats:
    """Each reading against what all the others say of it, in standard deviations; 0 on padding."""
    wx = f.w @ f.herd.x
    spread = np.diagonal(f.w, axis1=1, axis2=2) - ((wx @ f.cov) * wx).sum(-1)
    return np.where(f.herd.r.real, f.left / np.sqrt(np.maximum(spread, 1e-12)), 0.0)


def doubted(herd: Herd, theta: Floats, limit: float) -> Herd:
    """The herd with the errors of readings that do not fit blown up; the worst of each animal first, since one bad
    weight makes its neighbours look bad."""
    for _ in range(3):
        z = np.abs(misfit(solve(herd, theta, (0.0,))))
        z = np.where((z >= z.max(1, keepdims=True)) & (z > limit), z, limit)
        if (z <= limit).all():
            break
        herd = replace(herd, doubt=np.minimum(herd.doubt * (z / limit) ** 6, WORST))
    return herd


def take(r: Readings, rows: NDArray[np.int64]) -> Readings:
    return Readings(r.day[rows], r.kg[rows], r.real[rows], r.birth[rows], r.born[rows], r.levels[:, rows])


def fitted(r: Readings, most: int = 100) -> Fitted:
    """Fit to all readings; the standard deviations from at most `most` animals, those weighed most often."""
    herd = herd_of(r)
    herd = doubted(herd, MIDDLE, 6.0)
    counts = r.real.sum(1)
    rows = np.sort(np.argsort(-counts, kind="stable")[:most])
    some = replace(herd_of(take(r, rows), herd.shape), doubt=herd.doubt[rows])
    theta = climb(some, MIDDLE)
    herd = doubted(herd, theta, 3.5)
    return solve(herd, theta)


def outlook(f: Fitted, rows: NDArray[np.int64], day: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Scale weight of these animals, each on its day: mean (n,), the animal's own variance with the weighing's, and the
    loadings on the shared coefficients (n, columns) and on a day not seen yet (n,)."""
    herd, s = f.herd, f.herd.shape
    r = take(herd.r, rows)
    age = day[:, None] - r.born[:, None]
    u = growing(age)
    h = s.rough(u)[:, 0]
    k = np.where(r.real, own(f.theta, s, herd.u[rows], u, r.day - r.born[:, None], age), 0.0)
    xs = s.columns(day[:, None], r.born, np.zeros(u.shape, bool), r.levels)[:, 0]
    wk = (f.w[rows] @ k[..., None])[..., 0]
    mean = s.line[0] + s.line[1] * u[:, 0] + xs @ f.mean + (k * f.left[rows]).sum(1)
    alone = own(f.theta, s, u, u, age, age)[:, 0] - (k * wk).sum(1) + (np.exp(f.theta[3]) * h) ** 2
    load = xs - (wk[:, None, :] @ herd.x[rows])[:, 0]
    return mean, alone * f.own, load, np.where(np.isin(day, s.visits), 0.0, h * f.day)


def change(f: Fitted, row: int, day: float, back: float) -> tuple[float, float]:
    """Weight gained in the last `back` days up to `day`, without what only the scale saw: mean and variance."""
    herd, s = f.herd, f.herd.shape
    r = take(herd.r, np.array([row, row]))
    at = np.array([[day - back], [day]])
    age = at - r.born[:, None]
    u = growing(age)
    k = np.where(r.real, own(f.theta, s, herd.u[row], u, herd.r.day[row] - r.born[0], age), 0.0)
    step = k[1] - k[0]
    xs = s.columns(at, r.born, np.ones((2, 1), bool), r.levels)[:, 0]
    wk = f.w[row] @ step
    mean = s.line[1] * (u[1, 0] - u[0, 0]) + (xs[1] - xs[0]) @ f.mean + step @ f.left[row]
    v = own(f.theta, s, u, u.T, age, age.T)
    load = xs[1] - xs[0] - wk @ herd.x[row]
    return float(mean), float((v[0, 0] + v[1, 1] - 2.0 * v[0, 1] - step @ wk) * f.own + load @ f.cov @ load)
