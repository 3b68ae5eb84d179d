"""The book: everything told, asked, owed and said, in one SQLite file. The only module with SQL.

Entries are appended and never changed; what stands is worked out by `rules.fold`. A message, its entries, the reply
owed for it and the number of the update that brought it are written in one `block`, on the disk when the block ends or
not at all. Nothing here reads a message, judges an entry or makes a sentence for a chat.
"""

import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

import simplejson
from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from bot.plan import PlanFolder
from bot.when import happened
from rules.entries import AnimalSet, Entry, PlanSet, Weight, entry_from
from rules.farm import Fact
from rules.fold import BEGINNING, Fold
from rules.records import as_data, from_data

_TROUBLES = {  # sqlite's name for it, or how that begins: (why, what to do)
    "SQLITE_FULL": ("the disk is full", "Make room on it"),
    "SQLITE_READONLY": ("it may only be read", "Let this program write the file and its folder"),
    "SQLITE_BUSY": ("another program holds it", "Stop that one first"),
    "SQLITE_LOCKED": ("another program holds it", "Stop that one first"),
    "SQLITE_NOTADB": ("it is not a farm book", "Give the name of another file"),
    "SQLITE_CORRUPT": ("it is damaged", "Put back the last backup"),
    "SQLITE_CANTOPEN": ("it cannot be opened", "See that its folder is there and may be written"),
    "SQLITE_PERM": ("it may not be opened", "Let this program read and write the file"),
    "SQLITE_IOERR": ("the disk does not answer", "See to the disk"),
}

_NONE_YET = ("there is none yet", "Start once with a farm folder to make it")


class BookTrouble(Exception):
    """The book cannot be opened, read or written. `why` is a clause ("the disk is full"), the text a sentence or two
    with what to do. Nothing was half written."""

    def __init__(self, path: Path | None, why: str, remedy: str) -> None:
        self.why = why
        super().__init__(f"The book {path or 'in memory'} cannot be used: {why}. {remedy}.")


@contextmanager
def _calm(path: Path | None) -> Iterator[None]:
    """What sqlite says of the surroundings, as a BookTrouble; what it says of our own mistakes stays as it is."""
    try:
        yield
    except sqlite3.Error as wrong:
        name = getattr(wrong, "sqlite_errorname", "")
        for start, (why, remedy) in _TROUBLES.items():
            if name.startswith(start):
                raise BookTrouble(path, why, remedy) from wrong
        raise


@dataclass(frozen=True, slots=True)
class Heard:
    """A message as it came: `at` when, `said` the moment its words are dated from (an edited one keeps the first's),
    `name` what the outside calls it."""

    id: int
    at: datetime
    said: datetime
    by: str
    words: str
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """An entry with its number in the book and the message that told it."""

    seq: int
    heard: Heard
    entry: Entry


@dataclass(frozen=True, slots=True)
class Asked:
    """A question the bot asked back. `answer` is what settled it."""

    id: int
    at: datetime
    person: str
    message: int | None
    ask: dict[str, Any]
    open: bool
    answer: str | None = None


@dataclass(frozen=True, slots=True)
class Owed:
    """A message that must still go out."""

    id: int
    at: datetime
    person: str
    cause: str
    payload: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Spoken:
    """What a person was last told of a finding."""

    gist: str
    at: datetime


_steps = Migrations("tethera book")


@_steps()
def first(db: Database) -> None:
    """The book as it began. Later steps are added below, never changed."""
    made: dict[str, dict[str, type]] = {
        "messages": {"id": int, "at": str, "said": str, "by": str, "words": str, "name": str},
        "entries": {"seq": int, "message": int, "entry": str},
        "updates": {"id": int},
        "asks": {"id": int, "at": str, "person": str, "message": int, "ask": str, "open": int, "answer": str},
        "outbox": {"id": int, "at": str, "person": str, "cause": str, "payload": str, "sent": str},
        "said": {"key": str, "person": str, "gist": str, "at": str},
        "kept": {"key": str, "value": str},
    }
    keys = {"entries": "seq", "said": ("key", "person"), "kept": "key"}
    for table, columns in made.items():
        db.table(table).create(columns, pk=keys.get(table, "id"), strict=True)
    db.table("messages").create_index(["by", "name"])
    db.table("entries").create_index(["message"])
    db.execute("create index outbox_owed on outbox (id) where sent is null")


# What travels in an export besides entries, and which columns hold JSON.
_JSON_COLUMNS = {"asks": "ask", "outbox": "payload", "said": "", "kept": "value", "updates": ""}
_ORDER = {"said": "person, key", "kept": "key"}
# The chat's server brings again at most the last hundred updates it was not told we have.
_UPDATES_TRAVEL = 200


def _json(value: Any) -> str:
    """Exact decimals, and no half characters, which neither SQLite nor UTF-8 can hold."""
    return _text(simplejson.dumps(value, ensure_ascii=False, use_decimal=True))


def _text(words: str) -> str:
    return words.encode("utf-8", "replace").decode("utf-8")


def _data(text: str) -> Any:
    return simplejson.loads(text, use_decimal=True)


class Book:
    """One farm's book, open. One thread, one process that writes; others may read beside it."""

    def __init__(self, db: Database, path: Path | None, claim: sqlite3.Connection | None) -> None:
        self.path = path
        self._db = db
        self._claim = claim

    # -- open and close

    @classmethod
    def open(cls, path: Path | None, *, create: bool = True, write: bool = True, patience: float = 5.0) -> "Book":
        """The book in that file (None: in memory), made where it is not there and `create` says so. With `write` it is
        held for this process alone; without, it is read beside whoever holds it. `patience` is how many seconds to wait
        for another program. Raises BookTrouble."""
        if path is not None and not path.exists() and not (create and write):
            raise BookTrouble(path, *_NONE_YET)
        with _calm(path), ExitStack() as opened:
            claim = opened.enter_context(closing(_hold(path, patience))) if path is not None and write else None
            where = ":memory:" if path is None else f"{path.absolute().as_uri()}?mode={'rwc' if write else 'ro'}"
            conn = opened.enter_context(closing(sqlite3.connect(where, uri=True, timeout=patience)))
            db = Database(conn)
            _check(db, path, write)
            if write:
                _ready(db)
            opened.pop_all()  # it stays open
        return cls(db, path, claim)

    def close(self) -> None:
        self._db.close()
        if self._claim:
            self._claim.close()

    def __enter__(self) -> "Book":
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    @contextmanager
    def block(self) -> Iterator[None]:
        """All or nothing: what is written inside is on the disk when the block ends, or never was."""
        with _calm(self.path), self._db.atomic():
            yield

    def _rows(self, sql: str, *values: Any) -> list[dict[str, Any]]:
        with _calm(self.path):
            return list(self._db.query(sql, values))

    def _insert(self, table: str, row: Mapping[str, Any], replace: bool = False) -> int:
        with self.block():
            return int(self._db.table(table).insert(dict(row), replace=replace).last_rowid or 0)

    # -- messages and entries

    def hear(self, by: str, at: datetime, words: str, *, name: str | None = None, said: datetime | None = None) -> int:
        """Write down a message; its number."""
        number = int(self._rows("select coalesce(max(id), 0) as n from messages")[0]["n"]) + 1
        self.write(Heard(number, at, said or at, by, words, name))
        return number

    def write(self, heard: Heard) -> None:
        """Write down a message under the number it has."""
        row = {"id": heard.id, "at": heard.at.isoformat(), "said": heard.said.isoformat(), "by": heard.by}
        self._insert("messages", {**row, "words": _text(heard.words), "name": heard.name})

    def append(self, message: int, entries: Iterable[Entry]) -> list[Told]:
        """Write what a message told, in that order. What comes back is what a later reading of the book gives."""
        rows = list(enumerate((_json(as_data(entry)) for entry in entries), self.count() + 1))
        with self.block():
            self._db.table("entries").insert_all({"seq": seq, "message": message, "entry": row} for seq, row in rows)
        heard = self.heard(message)
        return [Told(seq, heard, entry_from(_data(row))) for seq, row in rows]

    def count(self) -> int:
        """How many entries there are; the last one's number, as they are numbered from one without a gap."""
        return int(self._rows("select coalesce(max(seq), 0) as n from entries")[0]["n"])

    def entries(self) -> Iterator[Told]:
        """Every entry ever told, in the order of telling."""
        heard: dict[int, Heard] = {}
        sql = "select e.seq, e.entry, m.* from entries e join messages m on m.id = e.message order by seq"
        for row in self._rows(sql):
            if row["id"] not in heard:
                heard[row["id"]] = _heard(row)
            yield Told(row["seq"], heard[row["id"]], entry_from(_data(row["entry"])))

    def heard(self, message: int) -> Heard:
        return _heard(self._rows("select * from messages where id = ?", message)[0])

    def named(self, by: str, name: str) -> list[Heard]:
        """The message a sender's outside calls so, and its edits, the first one first."""
        return [_heard(r) for r in self._rows("select * from messages where by = ? and name = ? order by id", by, name)]

    def told_by(self, message: int) -> tuple[int, ...]:
        """The numbers of the entries that a message told."""
        return tuple(r["seq"] for r in self._rows("select seq from entries where message = ? order by seq", message))

    def told_in(self, seq: int) -> Heard:
        """The message that told this entry."""
        return _heard(self._rows("select m.* from entries e join messages m on m.id = e.message where seq = ?", seq)[0])

    def recorded(self, by: str) -> Iterator[tuple[int, ...]]:
        """What each message of a sender told, the latest message first; those that told nothing are left out."""
        last, given = self.count() + 1, set[int]()
        sql = "select seq, message from entries e join messages m on m.id = e.message where by = ? and seq < ?"
        while found := self._rows(f"{sql} order by seq desc limit 1", by, last):
            last = found[0]["seq"]
            if found[0]["message"] not in given:
                given.add(found[0]["message"])
                yield self.told_by(found[0]["message"])

    def silent(self) -> list[Heard]:
        """The messages that told nothing."""
        sql = "select * from messages where id not in (select message from entries) order by id"
        return [_heard(row) for row in self._rows(sql)]

    # -- questions asked back

    def ask(self, person: str, at: datetime, message: int | None, ask: Mapping[str, Any]) -> int:
        """Write down a question put to a person about a message; its number."""
        row = {"at": at.isoformat(), "person": person, "message": message, "ask": _json(ask), "open": 1, "answer": None}
        return self._insert("asks", row)

    def asked(self, ask: int) -> Asked | None:
        return next((_asked(r) for r in self._rows("select * from asks where id = ?", ask)), None)

    def open_asks(self, person: str, since: datetime | None = None) -> list[Asked]:
        """The questions a person has not answered, the oldest first; those of about `since` and later where it is
        given (by the day, which is cheap however many lie open; the caller looks closer)."""
        day = (since - timedelta(1)).date().isoformat() if since else ""
        sql = "select * from asks where person = ? and open = 1 and at >= ? order by id"
        return [_asked(r) for r in self._rows(sql, person, day)]

    def settle(self, ask: int, answer: str) -> bool:
        """Close a question; False where it was closed before, so that an answer counts once."""
        with self.block():
            sql = "update asks set open = 0, answer = ? where id = ? and open = 1"
            return self._db.execute(sql, [_text(answer), ask]).rowcount == 1

    # -- messages going out

    def owe(self, person: str, at: datetime, cause: str, payload: Mapping[str, Any]) -> int:
        """Write down a message that must go out; its number."""
        row = {"at": at.isoformat(), "person": person, "cause": cause, "payload": _json(payload), "sent": None}
        return self._insert("outbox", row)

    def owed(self) -> list[Owed]:
        """What must still go out, the oldest first."""
        return [
            Owed(r["id"], datetime.fromisoformat(r["at"]), r["person"], r["cause"], _data(r["payload"]))
            for r in self._rows("select * from outbox where sent is null order by id")
        ]

    def sent(self, owed: int, at: datetime) -> None:
        with self.block():
            self._db.execute("update outbox set sent = ? where id = ?", [at.isoformat(), owed])

    def say(self, person: str, key: str, gist: str, at: datetime) -> None:
        """A person has been told of the finding `key`; `gist` is what makes it worth saying again when it changes."""
        self._insert("said", {"key": key, "person": person, "gist": gist, "at": at.isoformat()}, replace=True)

    def said(self, person: str, key: str) -> Spoken | None:
        rows = self._rows("select gist, at from said where key = ? and person = ?", key, person)
        return Spoken(rows[0]["gist"], datetime.fromisoformat(rows[0]["at"])) if rows else None

    # -- once only, and what is kept beside

    def seen(self, update: int) -> bool:
        """Whether this update of the chat's server came before; from now on it has."""
        with self.block():
            return self._db.execute("insert or ignore into updates values (?)", [update]).rowcount == 0

    def keep(self, key: str, value: Any) -> None:
        """Keep a small value (plain data) under a name, in place of the one before."""
        self._insert("kept", {"key": key, "value": _json(value)}, replace=True)

    def kept(self, key: str) -> Any:
        """The value kept under a name, or None."""
        rows = self._rows("select value from kept where key = ?", key)
        return _data(rows[0]["value"]) if rows else None

    # -- out and in

    def rest(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """What must travel besides messages and entries: (table, row), in a fixed order."""
        for table, column in _JSON_COLUMNS.items():
            rows = self._rows(f"select * from {table} order by {_ORDER.get(table, 'id')}")
            for row in rows[-_UPDATES_TRAVEL:] if table == "updates" else rows:
                yield table, {k: _data(v) if k == column else v for k, v in row.items() if v is not None}

    def put_back(self, table: str, row: Mapping[str, Any]) -> None:
        """Write a row that `rest` gave in another book. Raises ValueError for what is no such row."""
        column = _JSON_COLUMNS.get(table)
        if column is None or not isinstance(row, dict) or row.keys() - self._db.table(table).columns_dict.keys():
            raise ValueError(f"{table}: no such line in an export")
        try:
            self._insert(table, {k: _json(v) if k == column else v for k, v in row.items()})
        except (sqlite3.IntegrityError, sqlite3.ProgrammingError, sqlite3.InterfaceError) as wrong:
            raise ValueError(f"{table}: not as an export writes it") from wrong

    def backup(self, to: Path) -> None:
        """A copy of the book as it is at this moment, whoever writes beside, checked before it takes its name."""
        part = to.with_name(to.name + ".part")
        part.unlink(missing_ok=True)
        try:
            with _calm(to), closing(sqlite3.connect(part)) as copy:
                self._db.conn.backup(copy)
                copy.execute("pragma journal_mode = delete")  # one file, without companions
                if copy.execute("pragma quick_check").fetchone()[0] != "ok":
                    raise BookTrouble(to, "the copy is damaged", "See to the disk, and keep the older backups")
            os.replace(part, to)
        finally:
            part.unlink(missing_ok=True)


def _hold(path: Path, patience: float) -> sqlite3.Connection:
    """Hold the book for this process alone: two that write would each answer from a farm the other has changed. The
    system frees the hold however the process ends. It lies beside the book, so that readers are not held up."""
    claim = sqlite3.connect(f"{path}-lock", timeout=patience, isolation_level=None)
    try:
        claim.execute("begin exclusive")
    except sqlite3.Error:
        claim.close()
        raise
    return claim


def _check(db: Database, path: Path | None, write: bool) -> None:
    """Whether this is a book, and of a version known here; nothing is written."""
    if not db.table_names():
        if write:
            return
        raise BookTrouble(path, *_NONE_YET)
    applied = {step.name for step in _steps.applied(db)}
    with closing(Database(memory=True)) as empty:
        known = {step.name for step in _steps.pending(empty)}
    if not applied:
        raise BookTrouble(path, *_TROUBLES["SQLITE_NOTADB"])
    if applied - known:
        raise BookTrouble(path, "a newer version of this program made it", "Install that version or a later one")
    if known - applied and not write:
        raise BookTrouble(path, "an older version of this program made it", "Start the bot on it once, then try again")


def _ready(db: Database) -> None:
    """Bring the tables up to date, and see now, not at the first message, whether it can be written."""
    db.enable_wal()
    db.conn.execute("pragma synchronous = full")
    db.conn.execute("begin immediate")
    try:
        _steps.apply(db)
    except BaseException:
        db.conn.rollback()
        raise
    db.conn.commit()


def _heard(row: Mapping[str, Any]) -> Heard:
    at, said = datetime.fromisoformat(row["at"]), datetime.fromisoformat(row["said"])
    return Heard(row["id"], at, said, row["by"], row["words"], row["name"])


def _asked(row: Mapping[str, Any]) -> Asked:
    at, ask = datetime.fromisoformat(row["at"]), _data(row["ask"])
    return Asked(row["id"], at, row["person"], row["message"], ask, bool(row["open"]), row["answer"])


def fact(told: Told) -> Fact:
    """An entry at its place in time. The plan and the animals of a farm folder stand before all that happened."""
    outside = isinstance(told.entry, PlanSet | AnimalSet)
    moment = BEGINNING if outside else happened(told.entry.on, told.heard.said)
    return Fact(moment, told.seq, told.heard.by, told.entry)


def fold(book: Book, entries: int | None = None) -> Fold:
    """The book folded into the farm as it stands, or as it stood after so many entries."""
    folded = Fold()
    folded.tell(fact(told) for told in islice(book.entries(), entries))
    return folded


def load_plan(book: Book, folder: PlanFolder, at: datetime) -> None:
    """Write a farm folder into an empty book, in one block, as told by "plan" at that moment."""
    if book.count():
        raise ValueError("the book is not empty")
    # `replay` tells a plan before anything that it is given; who is a lamb at foot is judged by a day when all are born
    on = max([at.date(), *(row["born"] for row in folder.animals if row.get("born"))])
    entries: list[Entry] = [PlanSet(on=at.date(), set=folder.plan)]
    entries += [from_data(AnimalSet, {"on": on, **row}) for row in folder.animals]
    entries += [from_data(Weight, {"unit": folder.plan["farm"].get("weight", "kg"), **row}) for row in folder.weights]
    with book.block():
        book.append(book.hear("plan", at, ""), entries)
