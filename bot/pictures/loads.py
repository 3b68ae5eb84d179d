"""The load as a picture: how many are ready when, and what a head leaves by going now, by waiting, and by the number
that share a trip. And the loads that went."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING

from bot.pictures import frame
from bot.words import say
from rules.days import Moment
from rules.farm import Farm, Shipment
from rules.findings import Coming, Growth, Ready, Season

if TYPE_CHECKING:
    from bot.pictures.frame import Figure

WEEKS = 10


def by_sale(found: Sequence[Ready], farm: Farm, m: Moment) -> "Figure":
    """How many are ready now and at each sale ahead, if none goes before; the loads they make across."""
    first, ship = found[0], farm.plan.ship
    rows = [frame.Row("now", str(first.now), float(first.now), frame.GREEN)]
    for x in found:
        if x.sale is not None and x.low is not None and x.high is not None and x.sale != m.today:
            said = str(x.low) if x.low == x.high else f"{x.low} to {x.high}"
            likely = None if x.expected is None else float(x.expected)
            rows.append(frame.Row(say.day(x.sale, m.today), said, likely, frame.SKY, None, float(x.low), float(x.high)))
    marks = tuple(float(n) for n in (ship.load_min, ship.load_full) if n is not None)
    title = f"Ready for sale: {first.now} now"
    return frame.bars(title, _loads(farm), [replace(row, marks=marks) for row in rows])


def _loads(farm: Farm) -> list[str]:
    ship = farm.plan.ship
    told = [f"{name} {n}" for name, n in (("least", ship.load_min), ("full", ship.load_full)) if n is not None]
    return [f"load: {', '.join(told)} (orange)"] if told else []


def by_week(title: str, said: Sequence[str], found: Sequence[Growth], today: date) -> "Figure":
    """How many come ready in each week ahead, by the day that is foreseen for each."""
    days = sorted(x.ready for x in found if x.ready)
    monday = today - timedelta(today.weekday())
    ends = [today, *(monday + timedelta(7 * n + 6) for n in range(WEEKS))]
    rows = [frame.Row("now", str(n), float(n), frame.GREEN) for n in [sum(day <= today for day in days)]]
    for a, b in pairwise(ends):
        count = sum(a < day <= b for day in days)
        name = "this week" if a == today else f"from {say.day(a + timedelta(1), today)}"
        if a < b:
            rows.append(frame.Row(name, str(count), float(count)))
    later = sum(day > ends[-1] for day in days) + sum(x.ready is None for x in found)
    while len(rows) > 1 and not rows[-1].value:
        rows.pop()
    if later:
        rows.append(frame.Row("later, or not in sight", str(later), float(later), frame.GREY))
    return frame.bars(title, said, rows)


def economics(x: Ready, freight: Sequence[tuple[int, Decimal]], farm: Farm, m: Moment) -> "Figure":
    """What is left of a head's price now and by waiting, and what freight costs a head by the number on the trip."""
    known = x.per_head_now is not None and x.per_head_wait is not None
    title, said = _advised(x, farm, m)
    figure, axes = frame.picture(title, said, axes_below=2 if known else 1)
    if x.per_head_now is not None and x.per_head_wait is not None:
        wait = f"wait to {say.day(x.next_sale, m.today)}" if x.next_sale else "wait"
        ship = f"go {say.day(x.sale, m.today)}" if x.sale else "go now"
        better = x.per_head_wait > x.per_head_now
        frame.rows(axes[0], [
            frame.Row("left of each head", "", None),
            frame.Row(ship, say.money(x.per_head_now, farm, price=True), float(x.per_head_now),
                      frame.GREY if better else frame.GREEN),
            frame.Row(wait, say.money(x.per_head_wait, farm, price=True), float(x.per_head_wait),
                      frame.GREEN if better else frame.GREY),
        ])  # fmt: skip
        axes[0].set_ylim(2.5, -0.6)
    ax = axes[-1]
    ax.plot([n for n, _ in freight], [float(cost) for _, cost in freight], "o-", color=frame.SKY, ms=7)
    ax.set_title("freight a head, by heads on the trip", size=frame.SAID, loc="left", pad=34)
    now = max(1, min((len(x.tags) or x.now) + len(x.fill), len(freight)))
    for n in dict.fromkeys((now, len(freight))):
        cost = freight[n - 1][1]
        ax.plot([n], [float(cost)], "o", color=frame.ORANGE, ms=18, zorder=9)
        ax.annotate(
            f"{n}: {say.money(cost, farm, price=True)}", (n, float(cost)), (0, 20), textcoords="offset points",
            size=frame.TICKS, color=frame.ORANGE, weight="bold", ha="right" if n == len(freight) > 1 else "left",
        )  # fmt: skip
    ax.set_ylim(0, max(float(freight[max(0, min(now, 3) - 1)][1]), 1.0) * 1.3)
    ax.set_xlim(0, len(freight) + 0.5)
    return figure


def _advised(x: Ready, farm: Farm, m: Moment) -> tuple[str, list[str]]:
    """The advice in three words, and what it is worth."""
    title = {"ship": f"Ship {len(x.tags)}", "wait": "Wait", "too_few": "Too few for a trip"}.get(x.advice or "", "Load")
    said = [f"{x.now} ready now"]
    if x.per_head_now is not None and x.per_head_wait is not None:
        differ = x.per_head_wait - x.per_head_now
        less = "loses" if x.advice == "ship" else "costs"
        said.append(f"waiting {'saves' if differ >= 0 else less} {say.money(abs(differ), farm, price=True)} a head")
    return title, said


def shipped(x: Season | None, loads: Sequence[Shipment], farm: Farm, m: Moment) -> "Figure":
    """The year: what a head left and what freight took by the size of the load; and the loads, the last on top."""
    said, rows = [], []
    if x is not None:
        mean = [f"mean {say.weight(x.weight, farm)}"] if x.weight is not None else []
        said.append(", ".join([*mean, *([f"{x.days} days to market"] if x.days is not None else [])]))
        said.append(f"{say.money(x.net, farm)} a head after freight" if x.net is not None else "")
        for lot in x.freight:
            heads = str(lot.low) if lot.low == lot.high else f"{lot.low} to {lot.high}"
            each = say.money(lot.each, farm, price=True)
            rows.append(frame.Row(f"freight a head, with {heads}", each, None, frame.ORANGE))
    for load in list(reversed(loads))[: frame.ROWS - len(rows)]:
        price = ""
        if load.sale and load.sale.price is not None:
            price = f", {say.money(load.sale.price, farm, price=True)} a {load.sale.per}"
        rows.append(frame.Row(say.day(load.on, m.today), f"{load.head}{price}", float(load.head)))
    heads_gone = x.head if x is not None else sum(load.head for load in loads)
    return frame.bars(f"Shipped this year: {heads_gone}", [line for line in said if line], rows)


def coming(x: Coming, today: date) -> "Figure":
    """How many come ready week by week, those not born yet among them."""
    weeks = [w for w in x.weeks if w.heads > 0]
    said = [f"{x.head} in all" + (f", {x.unborn} not born yet" if x.unborn else "")]
    if x.loads is not None and x.heads is not None:
        said.append(f"{x.loads} load{'' if x.loads == 1 else 's'} of about {say.number(x.heads, 0)}")
    rows = [
        frame.Row(
            "this week" if w.start <= today else f"from {say.day(w.start, today)}", say.number(w.heads, 0),
            float(w.heads), frame.GREEN if w.start <= today else frame.SKY,
        )
        for w in weeks[: frame.ROWS]
    ]  # fmt: skip
    if len(weeks) > frame.ROWS:
        said.append(f"and {len(weeks) - frame.ROWS} weeks more")
    return frame.bars("Ready by week", said, rows)
