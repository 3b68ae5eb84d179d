"""The frame of every picture and sheet: size, colours, letters, and the bytes of the finished thing. The only module
that knows the drawing library, which is imported when the first picture is asked for. It knows nothing of farms.

Colours are those of Okabe and Ito (Color Universal Design, 2008), on black, so that they differ for everybody.
"""

import io
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
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


def picture(title: str, said: Sequence[str] = (), rows: int = 1) -> "tuple[Figure, list[Axes]]":
    """A figure with its title and a line or two below it, and one set of axes under another."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, HEIGHT))
    top = 0.97
    for line in wrapped(title, LETTERS, 2):
        figure.text(0.04, top, line, size=TITLE, weight="bold", va="top")
        top -= 0.055
    for line in [x for text in said for x in wrapped(text, 38, 2)]:
        figure.text(0.04, top, line, size=SAID, va="top", color=WHITE)
        top -= 0.042
    axes = figure.subplots(rows, 1, gridspec_kw={"hspace": 0.45}, squeeze=False)
    figure.subplots_adjust(left=0.12, right=0.95, bottom=0.1, top=top - 0.03)
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


@cache
def _letters() -> frozenset[int]:
    from matplotlib import get_data_path
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(f"{get_data_path()}/fonts/ttf/DejaVuSans.ttf").get_charmap())


def day_axis(ax: "Axes", first: date, last: date) -> None:
    """Days along the bottom: a handful, as "Thu 13" within a fortnight, else as "13 Aug"."""
    span = max(1, (last - first).days)
    step = max(1, -(-span // 4)) if span <= 14 else -(-span // 28) * 7
    days = [date.fromordinal(n) for n in range(first.toordinal(), last.toordinal() + 1, step)]
    near = span <= 14
    ax.set_xticks([at(day) for day in days], [f"{d:%a} {d.day}" if near else f"{d.day} {d:%b}" for d in days])
    ax.set_xlim(at(first), max(at(last), at(first) + 1))


def unit(ax: "Axes", name: str) -> None:
    """What the figures up the side are, at their top, where it costs no width."""
    ax.text(0.0, 1.01, name, size=TICKS, color=GREY, va="bottom", transform=ax.transAxes)


def at(moment: date | datetime) -> float:
    """A place on an axis of days: by the wall clock, so that a day is a day when the clocks change."""
    wall = moment if isinstance(moment, datetime) else datetime.combine(moment, time(0))
    return wall.date().toordinal() + (wall.hour * 60 + wall.minute) / 1440
