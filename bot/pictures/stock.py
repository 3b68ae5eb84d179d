"""The stock of an item as a picture: what was counted, what is expected with its band, when the supplier is shut, and
the last moment to order; and all items by how long they last."""

from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING

from bot.pictures import frame
from bot.words import say
from rules.days import Moment, runs
from rules.findings import RunOut
from rules.series import Level

if TYPE_CHECKING:
    from bot.pictures.frame import Axes, Figure

LONGEST = 60  # days: a bar on the picture of all items is no longer


def stock(x: RunOut, level: Level, m: Moment) -> "Figure":
    """Its level before now and ahead."""
    said = [f"gone {say.ends(x, m)}" if x.runs_out else "lasts for months"] if x.on_hand > 0 else ["out of it"]
    if x.order_by is not None:
        closed = f"; shut {say.days(x.closed, m.today)}" if x.closed else ""
        said.append(f"order by {say.time(x.order_by, m.now)}{closed}")
    elif x.missed:
        said.append("too late to order in time")
    figure, (ax,) = frame.picture(f"{frame.short(x.item, 36)}: {say.about(x.on_hand, x.unit)}", said)
    first, last = min(level.past[0][0], m.now - timedelta(2)), level.ahead[-1]
    for run in runs(level.shut):
        ax.axvspan(frame.at(run[0]), frame.at(run[-1] + timedelta(1)), color=frame.DIM, lw=0)
    days = [frame.at(t) for t in level.ahead]
    ax.fill_between(days, level.low.tolist(), level.high.tolist(), color=frame.SKY, alpha=0.35, lw=0)
    ax.plot(days, level.expected.tolist(), color=frame.SKY, ls=(0, (2, 1)))
    ax.plot([frame.at(t) for t, _ in level.past], [much for _, much in level.past], color=frame.WHITE)
    ax.plot([frame.at(t) for t, _ in level.counted], [n for _, n in level.counted], "o", color=frame.WHITE, ms=11)
    top = max([much for _, much in level.past] + level.high.tolist() + [1.0])
    ax.set_ylim(0, 1.25 * top)
    _mark(ax, frame.at(m.now), 0.99, "now", frame.GREY, 2, before=True)
    if x.order_by is not None and x.order_by <= last:
        _mark(ax, frame.at(x.order_by), 0.93, "order", frame.ORANGE, 5)
    if x.stock_out is not None and x.stock_out <= last:
        ax.plot([frame.at(x.stock_out)], [0], "X", color=frame.VERMILION, ms=22, clip_on=False, zorder=9)
    for t, much in level.arrives:
        _mark(ax, frame.at(t), 0.87, f"+{say.number(say.exact(much), 1)}", frame.GREEN, 3)
    frame.day_axis(ax, first.date(), last.date())
    ax.set_xlim(frame.at(first) - 0.3, frame.at(last))
    frame.unit(ax, say.amount(say.exact(2), x.unit).removeprefix("2").strip() or "head")
    if level.shut:
        shut = f"grey: {frame.short(x.supplier or 'supplier', 26)} shut"
        figure.text(0.12, 0.02, shut, size=frame.TICKS, color=frame.GREY)
    return figure


def items(found: Sequence[RunOut], m: Moment) -> "Figure":
    """All items, by how long they last: what ends first on top."""
    far = m.now + timedelta(LONGEST)
    ordered = sorted(found, key=lambda x: (x.stock_out is None, x.stock_out or far, x.item))
    rows = []
    for x in ordered[: frame.ROWS]:
        left = max(0.0, (min(x.stock_out, far) - m.now).total_seconds() / 86400) if x.stock_out else None
        colour = frame.SKY if x.level == "know" else frame.ORANGE
        ends = say.ends(x, m) or ("lasts" if x.per_day > 0 else "")
        rows.append(frame.Row(f"{x.item} {say.about(x.on_hand, x.unit)}", ends, left, colour))
    said = ["orange: order"] if any(x.level != "know" for x in ordered) else []
    return frame.bars("Stores", said, rows)


def _mark(ax: "Axes", x: float, height: float, text: str, colour: str, width: int, before: bool = False) -> None:
    """A moment, as a line across with its name at the top."""
    ax.axvline(x, color=colour, lw=width)
    ax.text(
        x, height, f" {text} ", color=colour, size=frame.TICKS, va="top", weight="bold",
        ha="right" if before else "left",        transform=ax.get_xaxis_transform(), zorder=8,
    )  # fmt: skip
