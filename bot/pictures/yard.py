"""Eggs, bins, grain and lambing as pictures."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from bot.pictures import frame
from bot.words import say
from rules.findings import LambingDue
from rules.grain import BinContents, Loads

if TYPE_CHECKING:
    from bot.pictures.frame import Figure


def eggs(said: Sequence[str], lay: Sequence[tuple[date, Decimal]], week: Sequence[tuple[date, Decimal]]) -> "Figure":
    """Eggs a hundred hens: each counted day, and the seven days up to it together."""
    figure, (ax,) = frame.picture("Eggs", said)
    ax.plot([frame.at(on) for on, _ in lay], [_hundred(rate) for _, rate in lay], "o", color=frame.GREY, ms=8)
    ax.plot([frame.at(on) for on, _ in week], [_hundred(rate) for _, rate in week], color=frame.YELLOW, lw=6)
    ax.set_ylim(0, max([110.0, *(1.05 * _hundred(rate) for _, rate in lay)]))
    frame.day_axis(ax, lay[0][0] - timedelta(1), max(lay[-1][0], lay[0][0] + timedelta(6)))
    frame.unit(ax, "a 100 hens a day")
    figure.text(0.12, 0.02, "dots: days; line: 7 days together", size=frame.TICKS, color=frame.YELLOW)
    return figure


def _hundred(rate: Decimal) -> float:
    return float(rate) * 100


def bins(found: Sequence[BinContents]) -> "Figure":
    """What is in each bin, of what it holds."""
    rows = []
    for b in found[: frame.ROWS]:
        name = b.bin if not b.crop or b.crop in b.bin else f"{b.bin}, {b.crop}"
        if b.amount is None:
            rows.append(frame.Row(name, "not told", None, frame.GREY))
            continue
        full = b.amount + b.room if b.room is not None else Decimal(0)
        said = say.amount(b.amount, b.unit) + (f" of {say.number(full)}" if full else "")
        share = float(b.amount / full) if full else None
        rows.append(frame.Row(name, said, share, frame.ORANGE, 1.0 if full else None))
    return frame.bars("Bins", ["grey: room left"], rows)


def harvest(found: Sequence[Loads]) -> "Figure":
    """What came in of each crop, dry where its moisture was told."""
    rows = []
    for x in found[: frame.ROWS]:
        much = x.amount if x.dry is None else x.dry
        said = say.amount(much, x.unit) + ("" if x.dry is None else " dry")
        rows.append(
            frame.Row(f"{x.crop}, {x.loads} load{'s' if x.loads != 1 else ''}", said, float(much), frame.ORANGE)
        )
    return frame.bars("In this year", [], rows)


def lambing(found: Sequence[LambingDue]) -> "Figure":
    """When each group lambs: from, most about, to."""
    figure, (ax,) = frame.picture("Lambing", ["dot: most about that day"], height=5.4 + 0.5 * len(found))
    for y, x in enumerate(found[: frame.ROWS]):
        who = f"{x.group}, {x.head}" if x.head else x.group
        ax.text(0.0, y - 0.12, frame.short(who, 34), size=frame.SAID, va="bottom", transform=ax.get_yaxis_transform())
        ax.barh(y + 0.08, (x.to - x.from_).days + 1, 0.34, left=frame.at(x.from_), color=frame.SKY)
        ax.plot([frame.at(x.peak)], [y + 0.08], "o", color=frame.ORANGE, ms=16)
        peak = f"{x.peak.day} {x.peak:%b}"
        ax.text(frame.at(x.peak), y + 0.28, peak, size=frame.TICKS, va="top", ha="center", color=frame.ORANGE)
    frame.day_axis(ax, found[0].from_ - timedelta(7), max(x.to for x in found) + timedelta(7))
    ax.set_ylim(max(len(found), 3) - 0.3, -0.6)
    ax.set_yticks([])
    ax.grid(visible=False)
    return figure
