"""A table as a sheet to print: A4, black on white, boxes to tick, room to write, the heading again on each page. The
only module that knows the library that writes PDF; it is imported when the first sheet is asked for."""

import textwrap
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from bot.pictures import frame
from bot.tables import Cell, Table
from bot.words import say

if TYPE_CHECKING:
    from fpdf import FPDF

WIDTH, HEIGHT = 8.27, 11.69  # inches: A4
SIDE, TOP, FOOT = 0.6, 0.75, 0.7
POINTS, LINE = 10.0, 0.19  # of the letters, and inches a line
ACROSS = 84  # letters of a line
TICK = 4  # letters that the box before a row takes
PEN = 14  # letters of a pen's name beside an animal: enough to know it by
BLANK = 12  # letters of a column to write in, at least
MOST = 2000  # rows that are printed; a longer record is a file

Lines = list[tuple[str, list[str]]]  # what stands below each other: its kind, and its lines of text


def sheet(table: Table, foot: str, at: datetime) -> bytes:
    """The table as a PDF. `foot` stands at the bottom of each page, with its number; `at` is when it is of."""
    from fpdf import FPDF

    pdf = FPDF(format="A4", unit="in")
    pdf.set_auto_page_break(False)
    pdf.creation_date = at
    for name, file in (("mono", "DejaVuSansMono"), ("sans", "DejaVuSans")):
        pdf.add_font(name, fname=frame.letters_file(file))
        pdf.add_font(name, "B", fname=frame.letters_file(f"{file}-Bold"))
    found = list(pages(table))
    for number, lines in enumerate(found, 1):
        pdf.add_page()
        _page(pdf, table, lines)
        _text(pdf, SIDE, HEIGHT - 0.35, f"{foot}, page {number} of {len(found)}", 8)
    return bytes(pdf.output())


def _page(pdf: "FPDF", table: Table, lines: Lines) -> None:
    y = TOP
    _text(pdf, SIDE, y, table.title, 17, bold=True)
    for line in table.said:
        y += 0.25
        _text(pdf, SIDE, y, line, POINTS)
    y += 0.15
    left = SIDE + (0.35 if table.ticked else 0.0)
    for kind, texts in lines:
        for n, text in enumerate(texts):
            at = y + _above(kind) + LINE * (n + 0.75)
            if kind == "part":
                _text(pdf, SIDE, at, text, 13, bold=True)
            else:
                pdf.set_font("mono", "B" if kind == "head" else "", POINTS)
                pdf.text(left, at, text)
        y += _high(kind, texts)
        if kind == "row":
            pdf.set_draw_color(150)
            pdf.set_line_width(0.008)
            pdf.line(SIDE, y, WIDTH - SIDE, y)
            if table.ticked:
                pdf.set_draw_color(0)
                pdf.set_line_width(0.014)
                pdf.rect(SIDE, y - 0.21, 0.16, 0.16)


def _text(pdf: "FPDF", x: float, y: float, text: str, points: float, bold: bool = False) -> None:
    """A line in plain letters, made smaller where it is wider than the page."""
    text = frame.plain(text)
    pdf.set_font("sans", "B" if bold else "", points)
    room = WIDTH - 2 * SIDE
    if (wide := pdf.get_string_width(text)) > room:
        pdf.set_font("sans", "B" if bold else "", points * room / wide)
    pdf.text(x, y, text)


def _above(kind: str) -> float:
    """Room over the lines, in inches."""
    return {"row": 0.04, "part": 0.2}.get(kind, 0.08)


def _high(kind: str, lines: list[str]) -> float:
    return _above(kind) + LINE * len(lines) + 0.05 if lines else 0.0


def pages(table: Table) -> Iterator[Lines]:
    """The lines of each page; a part that goes on has its columns' names again."""
    room = HEIGHT - TOP - FOOT - 0.25 * len(table.said) - 0.15
    page: Lines = []
    head: tuple[str, list[str]] | None = None
    rows = 0
    for kind, lines in _lines(table):
        rows += kind == "row"
        if rows > MOST:
            page.append(("none", ["and more: ask for it as a file"]))
            break
        head = (kind, lines) if kind == "head" else None if kind == "part" else head
        wanted = _high(kind, lines) + (4 * LINE if kind == "part" else 0.0)  # no heading alone at the foot
        if page and sum(_high(k, t) for k, t in page) + wanted > room:
            yield page
            page = [head] if head and kind == "row" else []
        page.append((kind, lines))
    yield page


def _lines(table: Table) -> Iterator[tuple[str, list[str]]]:
    widths = _widths(table)
    for part in table.parts:
        yield "part", [part.name] if part.name else []
        if not part.rows:
            yield "none", ["none"]
            continue
        yield "head", [_across(table.columns, widths)]
        for row in part.rows:
            texts = zip(_texts(table, row), widths, strict=True)
            cells = [textwrap.wrap(text, width) or [""] for text, width in texts]
            deep = max(map(len, cells))
            yield "row", [_across([c[n] if n < len(c) else "" for c in cells], widths) for n in range(deep)]


def _texts(table: Table, row: Sequence[Cell]) -> list[str]:
    """A row in print, names of pens cut."""
    texts = [_said(cell, table.ticked) for cell in row]
    return [frame.short(t, PEN) if name == "pen" else t for name, t in zip(table.columns, texts, strict=True)]


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
    rows = [_texts(table, row) for part in table.parts for row in part.rows]
    blank = [table.columns.index(name) for name in table.write]
    widths = [
        max([len(name), BLANK if n in blank else 0, *(len(row[n]) for row in rows)])
        for n, name in enumerate(table.columns)
    ]
    room = ACROSS - (TICK if table.ticked else 0) - 2 * (len(widths) - 1)
    while sum(widths) > room:
        widths[widths.index(max(widths))] -= 1
    for n in blank:
        widths[n] += (room - sum(widths)) // (len(blank) - blank.index(n))
    return widths


def _across(cells: Sequence[str], widths: Sequence[int]) -> str:
    return "  ".join(cell.ljust(width)[:width] for cell, width in zip(cells, widths, strict=True)).rstrip()
