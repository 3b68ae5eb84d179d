"""A farm folder out of the book and back into one: nothing is locked in.

`export` writes the plan, animals and weights as they stand (a view, and a folder that loads), and entries.jsonl, which
holds everything: a book made from it answers as the one it came from. A fresh farm folder is read in `bot.plan`.
"""

import csv
import io
import os
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any

import simplejson
import tomli_w

from bot.book import Book, Heard, Told, fold, load_plan
from bot.plan import PlanMistakes, load
from bot.plan_check import plan_mistakes
from bot.plan_shape import said
from rules.entries import Entry, PlanSet, entry_from
from rules.farm import Farm
from rules.plan import TABLES, changed, key_of
from rules.records import as_data

_ENTRIES = "entries.jsonl"
_OF_AN_ANIMAL = ("tag", "eid", "sex", "born", "dam", "group", "birth_weight", "birth_type", "status")


def load_folder(book: Book, folder: Path, at: datetime) -> None:
    """Fill an empty book from a farm folder: from its entries where it was exported, else from the plan as told at
    that moment. Raises PlanMistakes; nothing is written then."""
    if (folder / _ENTRIES).exists():
        import_(book, folder)
    else:
        load_plan(book, load(folder), at)


# -- out


def export(book: Book, folder: Path) -> None:
    """Write the folder, all of one moment, whoever writes the book beside. Raises OSError where it cannot be written;
    each file is then the old one or the new one."""
    with book.block():
        folded = fold(book)
        lines = [*_told_lines(book.entries(), folded.withdrawn), *map(_message, book.silent())]
        lines += [{table: row} for table, row in book.rest()]
    folder.mkdir(parents=True, exist_ok=True)
    _write(folder / "farm.toml", tomli_w.dumps(_plan_as_it_stands(folded.farm)))
    _write(folder / "animals.csv", _table(_OF_AN_ANIMAL, _animals(folded.farm)))
    _write(folder / "weights.csv", _table(("tag", "on", "weight"), _weights(folded.farm)))
    _write(folder / _ENTRIES, "".join(simplejson.dumps(line, ensure_ascii=False) + "\n" for line in lines))


def _told_lines(told: Iterable[Told], withdrawn: Mapping[int, int]) -> Iterator[dict[str, Any]]:
    for t in told:
        line = {**_message(t.heard), "entry": as_data(t.entry)}
        yield {**line, "withdrawn": True} if t.seq in withdrawn else line


def _message(heard: Heard) -> dict[str, Any]:
    line: dict[str, Any] = {"at": heard.at.isoformat(), "from": heard.by, "words": heard.words, "message": heard.id}
    if heard.said != heard.at:
        line["said"] = heard.said.isoformat()
    if heard.name is not None:
        line["id"] = heard.name
    return line


def _plan_as_it_stands(farm: Farm) -> dict[str, Any]:
    """The plan, each group without tags with the heads it has now."""
    plan: dict[str, Any] = said(farm.plan_data)
    for row in plan.get("group", []):
        if "head" in row or farm.heads.get(row["name"]):
            row["head"] = farm.heads.get(row["name"], 0)
    return plan


def _animals(farm: Farm) -> Iterator[list[Any]]:
    """The animals by the names and tags of today, so that the folder loads."""
    for tag in sorted(farm.animals):
        animal = farm.animals[tag]
        dam = farm.now_tagged(animal.dam) if animal.dam else None
        group = animal.group if animal.group and farm.plan.group_named(animal.group) else None
        known = {"dam": dam if dam in farm.animals else None, "group": group}
        yield [known.get(key, getattr(animal, key)) for key in _OF_AN_ANIMAL]


def _weights(farm: Farm) -> Iterator[list[Any]]:
    for tag in sorted(farm.animals):
        yield from ([tag, w.on, w.weight] for w in farm.animals[tag].weighings)


def _table(header: tuple[str, ...], rows: Iterable[list[Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def _cell(value: Any) -> str:
    if isinstance(value, Decimal):  # a weight turned into another unit may have no end
        exact = f"{value:f}"
        return exact if len(exact) <= 9 else f"{round(value, 3):f}"
    return "" if value is None else str(value)


def _write(path: Path, text: str) -> None:
    """The whole file or, where that fails, the one that was there before."""
    part = path.with_name(path.name + ".part")
    try:
        with part.open("wb") as out:
            out.write(text.encode("utf-8"))
            out.flush()
            os.fsync(out.fileno())
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


# -- in


def take_plan(book: Book, folder: Path, at: datetime) -> list[str]:
    """Take what is new or different in a folder's farm.toml into a book that is in use: the names of the rows taken.
    What the file leaves out stays, and so do the heads of known groups, which are counted in the chat. Raises
    PlanMistakes; nothing is written then."""
    stands: dict[str, Any] = said(fold(book).farm.plan_data)
    told, after = [], stands
    for table, rows in load(folder).plan.items():
        key = key_of(table)
        for row in rows if table in TABLES else [rows]:
            name = row.get(key) if table in TABLES else None
            known = stands.get(table, {}) if name is None else _row(stands.get(table, []), key, name)
            new = {
                k: v for k, v in row.items() if known.get(k) != v and not (known and (table, k) == ("group", "head"))
            }
            if new:
                told.append(PlanSet(on=at.date(), table=table, name=name, set=new))
                after = changed(after, table, name, new)
    if mistakes := plan_mistakes(after):
        raise PlanMistakes([f"farm.toml with what the book has: {mistake}" for mistake in mistakes])
    if told:
        with book.block():
            book.append(book.hear("plan", at, ""), told)
    return [f"{entry.table} {entry.name or ''}".rstrip() for entry in told]


def _row(rows: Iterable[dict[str, Any]], key: str, name: str) -> dict[str, Any]:
    return next((row for row in rows if row.get(key) == name), {})


def import_(book: Book, folder: Path) -> None:
    """Fill an empty book from the entries.jsonl of an export: the same numbers, the same farm, the same open questions.
    Raises PlanMistakes with every line that cannot be used; nothing is written then."""
    if book.count():
        raise ValueError("the book is not empty")
    mistakes: list[str] = []
    messages: dict[int, Heard] = {}
    told: list[tuple[int, Entry, bool]] = []
    rest: list[tuple[str, str, Any]] = []
    for place, line in _read(folder / _ENTRIES, mistakes):
        try:
            if "from" in line:
                heard = _heard(line, len(messages) + 1)
                messages.setdefault(heard.id, heard)
                if "entry" in line:
                    told.append((heard.id, entry_from(line["entry"]), line.get("withdrawn") is True))
            else:
                rest += [(place, table, row) for table, row in line.items()]
        except (ValueError, TypeError, KeyError, AttributeError, ArithmeticError) as wrong:
            mistakes.append(f"{place}: not as an export writes it ({wrong})")
    if mistakes:
        raise PlanMistakes(mistakes)
    with book.block():
        for heard in sorted(messages.values(), key=lambda heard: heard.id):
            book.write(heard)
        for message, of_it in groupby(told, itemgetter(0)):
            book.append(message, [entry for _, entry, _ in of_it])
        for place, table, row in rest:
            try:
                book.put_back(table, row)
            except ValueError as wrong:
                mistakes.append(f"{place}: {wrong}")
        mistakes += _not_as_marked(book, [marked for _, _, marked in told])
        if mistakes:
            raise PlanMistakes(mistakes)


def _read(path: Path, mistakes: list[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as wrong:
        raise PlanMistakes([f"{path.name}: cannot be read ({wrong})"]) from wrong
    for number, line in enumerate(text.split("\n"), 1):
        place = f"{path.name}, line {number}"
        try:
            data = simplejson.loads(line, use_decimal=True) if line.strip() else None
        except (ValueError, RecursionError):
            data = line
        if isinstance(data, dict):
            yield place, data
        elif data is not None:
            mistakes.append(f"{place}: is no JSON object; a line of an export was expected")


def _heard(line: Mapping[str, Any], number: int) -> Heard:
    at, said = datetime.fromisoformat(line["at"]), datetime.fromisoformat(line.get("said", line["at"]))
    if at.tzinfo is None or said.tzinfo is None:
        raise ValueError("a time without its zone")
    return Heard(int(line.get("message", number)), at, said, str(line["from"]), str(line["words"]), line.get("id"))


def _not_as_marked(book: Book, marked: list[bool]) -> Iterator[str]:
    """An entry that is marked as withdrawn although nothing takes it back, or the other way round, tells of a file that
    has lost lines."""
    try:
        withdrawn = fold(book).withdrawn
    except (ValueError, ArithmeticError) as wrong:
        yield f"{_ENTRIES}: what it tells cannot stand ({wrong})"
        return
    for seq, mark in enumerate(marked, 1):
        if mark != (seq in withdrawn):
            says = "is marked as withdrawn, but nothing takes it back" if mark else "is taken back, but not marked so"
            yield f"{_ENTRIES}, entry {seq}: {says}"
