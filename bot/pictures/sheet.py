"""A table as a sheet to print: A4, black on white, boxes to tick, room to write, the heading again on each page."""

import textwrap
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from bot.pictures import frame
from bot.tables import Cell, Table
from bot.words import say

if TYPE_CHECKING:
    from bot.pictures.frame import Figure

WIDTH, HEIGHT = 8.27, 11.69  # inches: A4
SIDE, TOP, FOOT = 0.6, 0.6, 0.5
LETTERS, LINE = 10.0, 0.19  # points, and inches a line
ACROSS = 84  # letters of a line
BLANK = 12  # letters of a column to write in
MOST = 300  # rows that are printed, a tenth of a second a page; a longer record is a file


def sheet(table: Table, foot: str) -> Callable[[], "list[Figure]"]:
    """The pages of a table. `foot` stands at the bottom of each, with the page's number."""
    return lambda: [_page(table, lines, foot, n) for n, lines in enumerate(_pages(table), 1)]


def _said(cell: Cell, job: bool) -> str:
    """A cell in print; days of a list to work by with their weekday, those of a record with their year."""
    if isinstance(cell, Decimal):
        return say.number(cell)
    if isinstance(cell, date):
        return f"{cell:%a} {cell.day} {cell:%b}" if job else f"{cell.day} {cell:%b} {cell.year}"
    return "" if cell is None else frame.plain(str(cell))


def _widths(table: Table) -> list[int]:
    """Letters of each column: what its longest cell takes, the widest cut down until all fit; what is over goes to the
    columns to write in."""
    rows = [row for part in table.parts for row in part.rows]
    blank = [table.columns.index(name) for name in table.write]
    widths = [
        max([len(name), BLANK if n in blank else 0, *(len(_said(row[n], table.ticked)) for row in rows)])
        for n, name in enumerate(table.columns)
    ]
    room = ACROSS - (4 if table.ticked else 0) - 2 * (len(widths) - 1)
    while sum(widths) > room:
        widths[widths.index(max(widths))] -= 1
    for n in blank:
        widths[n] += (room - sum(widths)) // (len(blank) - blank.index(n))
    return widths


def _lines(table: Table) -> "Iterator[tuple[str, list[str]]]":
    """What stands below each other: the kind of it ("part", "head" or "row") and its lines of text."""
    widths = _widths(table)
    for part in table.parts:
        yield "part", [frame.short(part.name, 60)] if part.name else []
        if not part.rows:
            yield "none", ["none"]
            continue
        yield "head", [_across(table.columns, widths)]
        for row in part.rows:
            cells = [textwrap.wrap(_said(c, table.ticked), w) or [""] for c, w in zip(row, widths, strict=True)]
            deep = max(map(len, cells))
            yield "row", [_across([c[n] if n < len(c) else "" for c in cells], widths) for n in range(deep)]


def _across(cells: Sequence[str], widths: Sequence[int]) -> str:
    return "  ".join(cell.ljust(width)[:width] for cell, width in zip(cells, widths, strict=True)).rstrip()


_Lines = list[tuple[str, list[str]]]


def _pages(table: Table) -> Iterator[_Lines]:
    """The lines of each page; a part that goes on has its columns' names again."""
    page: _Lines = []
    head: tuple[str, list[str]] | None = None
    rows = 0
    for kind, lines in _lines(table):
        rows += kind == "row"
        if rows > MOST:
            page.append(("none", ["and more: ask for it as a file"]))
            break
        head = (kind, lines) if kind == "head" else None if kind == "part" else head
        wanted = _high(kind, lines) + (4 * LINE if kind == "part" else 0)
        if page and sum(_high(k, t) for k, t in page) + wanted > HEIGHT - TOP - FOOT - 1.1:
            yield page
            page = [head] if head and kind == "row" else []
        page.append((kind, lines))
    yield page


def _high(kind: str, lines: list[str]) -> float:
    return LINE * max(1, len(lines)) * (1.0 if kind == "row" else 1.4) + (0.07 if kind == "row" else 0.1)


def _page(table: Table, lines: _Lines, foot: str, number: int) -> "Figure":
    figure = frame.page(WIDTH, HEIGHT)
    y = TOP + 0.15
    figure.text(SIDE / WIDTH, 1 - y / HEIGHT, frame.short(table.title, 44), size=17, weight="bold", va="center")
    for line in table.said:
        y += 0.27
        figure.text(SIDE / WIDTH, 1 - y / HEIGHT, frame.short(line, 92), size=LETTERS, va="center")
    y += 0.3
    left = SIDE + (0.35 if table.ticked else 0.0)
    for kind, texts in lines:
        high = _high(kind, texts)
        for n, text in enumerate(texts):
            at = y + (high - LINE * len(texts)) / 2 + LINE * (n + 0.5)
            bold = {"part": (13, "bold"), "head": (LETTERS, "bold")}.get(kind, (LETTERS, "normal"))
            figure.text(
                (SIDE if kind == "part" else left) / WIDTH, 1 - at / HEIGHT, text, size=bold[0], weight=bold[1],
                va="center", family="DejaVu Sans Mono" if kind != "part" else "DejaVu Sans",
            )  # fmt: skip
        if kind == "row":
            frame.rule(figure, SIDE / WIDTH, 1 - SIDE / WIDTH, 1 - (y + high) / HEIGHT)
            if table.ticked:
                frame.box(figure, SIDE / WIDTH, 1 - (y + high / 2 + 0.08) / HEIGHT, 0.16 / WIDTH, 0.16 / HEIGHT)
        y += high
    figure.text(SIDE / WIDTH, 0.3 / HEIGHT, f"{foot}, page {number}", size=8, va="center", color="#555555")
    return figure
