"""Growth as a picture: what the scale showed, what is expected with its 80 % band, and the weight to ship at."""

from collections.abc import Sequence
from datetime import date, timedelta
from math import nan
from typing import TYPE_CHECKING

from bot.pictures import frame
from bot.words import say
from rules.farm import Animal, Farm
from rules.findings import GainsBy, Growth
from rules.series import Course

if TYPE_CHECKING:
    from bot.pictures.frame import Axes, Figure

BIRTH_FROM = 100  # days of age up to which a birth weight is on the picture
MANY = 60  # animals from which on single weighings are no dots any more
NEAR = 1.25  # times the heaviest weight drawn: a ship weight further off than that is left out


def one(x: Growth, animal: Animal, course: Course, farm: Farm, today: date) -> "Figure":
    """One animal, and its weight on the day the answer speaks of."""
    said = [f"{say.weight(x.weight, farm)} {say.day(x.on, today)}, {say.span(x.low, x.high)}"]
    if x.gain is not None:
        said.append(say.gain(x.gain, farm))
    figure, (ax,) = frame.picture(x.tag, said)
    points = record(animal, today)
    ax.plot([frame.at(on) for on, _ in points], [w for _, w in points], "o-", color=frame.WHITE, ms=12)
    _ahead(ax, course)
    low, high = float(x.weight - x.low), float(x.high - x.weight)
    ax.errorbar(
        [frame.at(x.on)], [float(x.weight)], [[low], [high]], fmt="o", color=frame.ORANGE, ms=13, capsize=12, lw=4,
        capthick=4, zorder=9,
    )  # fmt: skip
    weights = [*(w for _, w in points), float(x.low), float(x.high)]
    _finish(ax, farm, points[0][0] if points else today, course, weights, sold=x.ready is not None)
    return figure


def several(
    title: str, said: Sequence[str], animals: Sequence[Animal], course: Course, farm: Farm, today: date
) -> "Figure":
    """A group: each animal's weighings, the mean of all ahead, and where eight of ten of them are."""
    figure, (ax,) = frame.picture(title, said)
    points = [record(animal, today) for animal in animals]
    gap = (nan, nan)  # one line with gaps for all: a thousand lambs are no slower to draw than one
    course_of = [pair for line in points for pair in (*((frame.at(on), w) for on, w in line), gap)]
    days, weights = [x for x, _ in course_of], [y for _, y in course_of]
    few = len(animals) <= MANY
    ax.plot(days, weights, "o-" if few else "-", color=frame.GREY, lw=1.5 if few else 0.7, ms=5, alpha=0.6)
    _ahead(ax, course)
    first = min((on for line in points for on, _ in line), default=today)
    _finish(ax, farm, first, course, [w for line in points for _, w in line], sold=True)
    figure.text(0.12, 0.02, "dashes: mean; blue: 8 in 10 of them", size=frame.TICKS, color=frame.SKY)
    return figure


def sides(title: str, x: GainsBy, farm: Farm) -> "Figure":
    """Mean gains side by side, the best on top."""
    rows = [
        frame.Row(r.name + (f", {r.head}" if x.split != "dam" else ""), say.gain(r.gain, farm), max(0.0, float(r.gain)))
        for r in sorted(x.rows, key=lambda r: (-r.gain, r.name))[: frame.ROWS]
    ]
    return frame.bars(title, [], rows)


def record(animal: Animal, today: date) -> list[tuple[date, float]]:
    """The weights the book has, the birth weight too where that is not long ago."""
    points = [(w.on, float(w.weight)) for w in animal.weighings if w.on <= today]
    age = animal.age(points[0][0] if points else today)
    if animal.born and animal.birth_weight is not None and age is not None and age <= BIRTH_FROM:
        points.insert(0, (animal.born, float(animal.birth_weight)))
    return points


def _ahead(ax: "Axes", course: Course) -> None:
    days = [frame.at(day) for day in course.days]
    ax.fill_between(days, course.low.tolist(), course.high.tolist(), color=frame.SKY, alpha=0.35, lw=0)
    ax.plot(days, course.mean.tolist(), color=frame.SKY, ls=(0, (2, 1)))


def _finish(ax: "Axes", farm: Farm, first: date, course: Course, weights: list[float], sold: bool) -> None:
    """The ship weights across, and the axes."""
    ship = farm.plan.ship
    high, low = max([*weights, *course.high.tolist()]), min([*weights, *course.low.tolist()])
    empty = first >= course.days[0]  # on the left; else what was weighed leaves room there
    for target, name, dashes in ((ship.min, "ship", "-"), (ship.max, "top", ":")):
        if sold and target is not None and float(target) < NEAR * high:
            ax.axhline(float(target), color=frame.GREEN, lw=3, ls=dashes)
            ax.text(
                0.99 if empty else 0.01, float(target), f"{name} {say.number(target)}", color=frame.GREEN,
                size=frame.TICKS, va="bottom", ha="right" if empty else "left", weight="bold",
                transform=ax.get_yaxis_transform(), zorder=8,
            )  # fmt: skip
            high = max(high, float(target))
    room = 0.1 * (high - low)
    ax.set_ylim(max(0.0, low - room), high + room)
    frame.day_axis(ax, first - timedelta(1), course.days[-1])
    frame.unit(ax, farm.plan.farm.weight)
