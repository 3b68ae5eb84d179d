"""The frame of every picture: size, colours, letters, and the bytes of the finished thing. The only module that knows
the drawing library, which is imported when the first picture is asked for. It knows nothing of farms.

Colours are those of Okabe and Ito (Color Universal Design, 2008), on black, so that they differ for everybody.
"""

import io
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import cache
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from matplotlib.axes import Axes as Axes  # other pictures take it from here
    from matplotlib.figure import Figure as Figure

ORANGE, SKY, GREEN, YELLOW, VERMILION = "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#D55E00"
BLACK, WHITE, GREY, DIM = "#000000", "#FFFFFF", "#B8B8B8", "#3A3A3A"
WIDTH, HEIGHT, DPI = 7.2, 9.0, 150  # inches: 1080 by 1350 dots
TITLE, SAID, TICKS = 27, 20, 18  # points
LETTERS = 27  # of a title's line

_STYLE: dict[str, Any] = {
    "font.family": ["DejaVu Sans"], "font.size": TICKS, "text.parse_math": False, "axes.unicode_minus": False,
    "figure.facecolor": BLACK, "axes.facecolor": BLACK, "savefig.facecolor": BLACK, "text.color": WHITE,
    "axes.edgecolor": GREY, "axes.labelcolor": WHITE, "xtick.color": WHITE, "ytick.color": WHITE, "lines.linewidth": 4,
    "axes.spines.top": False, "axes.spines.right": False, "axes.linewidth": 2, "xtick.major.size": 8,
    "xtick.major.width": 2, "ytick.major.size": 0, "grid.color": DIM, "grid.linewidth": 1.5, "figure.dpi": DPI,
}  # fmt: skip


@contextmanager
def style() -> Iterator[None]:
    """The drawing library as we want it, whatever the machine's own settings are; as it was afterwards."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(cast(Any, _STYLE))
        yield


def png(draw: Callable[[], "Figure"]) -> bytes:
    """The picture that `draw` makes; the same figure gives the same bytes."""
    out = io.BytesIO()
    with style():
        draw().savefig(out, format="png", metadata={"Software": None})
    return out.getvalue()


def picture(
    title: str, said: Sequence[str] = (), axes_below: int = 1, height: float = HEIGHT
) -> "tuple[Figure, list[Axes]]":
    """A figure with its title and a line or two below it, and one set of axes under another."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height))
    top = height - 0.27
    for line in wrapped(title, LETTERS, 2):
        figure.text(0.04, top / height, line, size=TITLE, weight="bold", va="top")
        top -= 0.5
    for line in [x for text in said for x in wrapped(text, 38, 2)]:
        figure.text(0.04, top / height, line, size=SAID, va="top", color=WHITE)
        top -= 0.38
    axes = figure.subplots(axes_below, 1, gridspec_kw={"hspace": 0.45}, squeeze=False)
    figure.subplots_adjust(left=0.12, right=0.95, bottom=0.9 / height, top=(top - 0.27) / height)
    for ax in axes[:, 0]:
        ax.grid(axis="y")
        ax.set_axisbelow(True)
    return figure, list(axes[:, 0])


def wrapped(text: str, letters: int, most: int) -> list[str]:
    """A text in lines of so many letters, at most so many lines."""
    return textwrap.wrap(plain(text), letters, max_lines=most, placeholder=" ...") or [""]


def short(text: str, letters: int) -> str:
    """A name cut to so many letters, with dots where something is left out."""
    text = plain(text)
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"


def plain(text: str) -> str:
    """The text without signs that the letters at hand do not have (small pictures, some alphabets)."""
    has = _letters()
    return " ".join("".join(c if c.isspace() or ord(c) in has else "" for c in text).split())


def letters_file(name: str) -> str:
    """Where the letters lie that come with the drawing library; free to use, and the same on every machine."""
    from matplotlib import get_data_path

    return f"{get_data_path()}/fonts/ttf/{name}.ttf"


@cache
def _letters() -> frozenset[int]:
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(letters_file("DejaVuSans")).get_charmap())


@dataclass(frozen=True, slots=True)
class Row:
    """One bar with its name and its figure above it. `value` None: no bar; `whole` is what it could fill; `low` to
    `high` its interval."""

    name: str
    said: str
    value: float | None
    colour: str = SKY
    whole: float | None = None
    low: float | None = None
    high: float | None = None
    marks: tuple[float, ...] = ()  # ticks on it, in orange


ROWS = 12  # on one picture, at most


def bars(title: str, said: Sequence[str], found: Sequence[Row]) -> "Figure":
    """A picture of bars alone, no higher than it must be."""
    figure, (ax,) = picture(title, said, height=min(HEIGHT, max(5.4, 2.4 + 1.0 * len(found))))
    rows(ax, found)
    return figure


def rows(ax: "Axes", found: Sequence[Row]) -> None:
    """Bars below each other, each under its words: names may be long, and the eye goes down."""
    size = 23 if len(found) <= 6 else SAID if len(found) <= 9 else 17
    letters = {23: 32, SAID: 38, 17: 44}[size]
    longest = max([0.0, *(x for row in found for x in (row.value, row.whole, row.high) if x is not None)]) or 1.0
    for y, row in enumerate(found):
        room = max(8, letters - len(row.said))
        ax.text(0.0, y - 0.08, short(row.name, room), size=size, va="bottom")
        ax.text(1.0, y - 0.08, plain(row.said), size=size, va="bottom", ha="right", weight="bold", color=row.colour)
        for width, colour in ((row.whole, DIM), (row.value, row.colour)):
            if width is not None:
                ax.barh(y + 0.14, width / longest, 0.34, color=colour)
        for mark in row.marks:
            if mark <= longest:
                ax.plot([mark / longest] * 2, [y - 0.06, y + 0.34], color=ORANGE, lw=6, solid_capstyle="butt")
        if row.low is not None and row.high is not None:
            ax.plot([row.low / longest, row.high / longest], [y + 0.14] * 2, "|-", color=WHITE, ms=22, mew=4)
    ax.set_xlim(0, 1)
    ax.set_ylim(max(len(found), 3) - 0.5, -0.5)
    ax.axis("off")
    place = ax.get_position()
    ax.set_position((0.05, place.y0, 0.9, place.height))


def day_axis(ax: "Axes", first: date, last: date) -> None:
    """Days along the bottom: a handful, as "Thu 13" within a fortnight, else as "13 Aug"."""
    span = max(1, (last - first).days)
    step = max(1, -(-span // 4)) if span <= 14 else -(-span // 28) * 7
    days = [date.fromordinal(n) for n in range(first.toordinal(), last.toordinal() + 1, step)]
    near = span <= 14
    ax.set_xticks([at(day) for day in days], [f"{d:%a} {d.day}" if near else f"{d.day} {d:%b}" for d in days])
    ax.set_xlim(at(first), max(at(last), at(first) + 1) + span / 60)


def unit(ax: "Axes", name: str) -> None:
    """What the figures up the side are, at their top, where it costs no width."""
    ax.text(0.0, 1.01, name, size=TICKS, color=GREY, va="bottom", transform=ax.transAxes)


def at(moment: date | datetime) -> float:
    """A place on an axis of days: by the wall clock, so that a day is a day when the clocks change."""
    wall = moment if isinstance(moment, datetime) else datetime.combine(moment, time(0))
    return wall.date().toordinal() + (wall.hour * 60 + wall.minute) / 1440
