"""Copies of the book and back: what ops/backup and ops/restore run. Copying itself, with its check, is the book's.

A copy is made with the database's own online backup, so the bot may run meanwhile; a plain `cp` of an open book loses
what is still in its companion files. Nothing is ever deleted but old copies this made; a book that is replaced is moved
aside.
"""

import argparse
import os
import sys
from datetime import UTC, datetime
from pathlib import Path

from bot.book import Book, BookTrouble, fold


def backup(book: Path, to: Path, keep: int) -> str:
    """Make a dated copy, read it back in full, and keep the newest `keep`. What was done, in a sentence."""
    to.mkdir(parents=True, exist_ok=True)
    copy = to / f"{book.stem}-{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}.book"
    with Book.open(book, create=False, write=False) as source:
        source.backup(copy)
    entries = _read_in_full(copy)
    for old in sorted(to.glob(f"{book.stem}-????????T??????.??????Z.book"))[: -max(1, keep)]:
        old.unlink()
    return f"Copied {entries} entries to {copy}."


def restore(copy: Path, book: Path, force: bool) -> str:
    """Put a copy in the book's place. Refuses while the bot runs on it, and, without `force`, where the book holds
    more than the copy. What was done, in a sentence; raises SystemExit with the reason."""
    entries = _read_in_full(copy)
    aside = ""
    if book.exists():
        more = _entries_beyond(book, entries)
        if more and not force:
            raise SystemExit(
                f"Nothing changed: {book} holds {more} entries more than that copy. Add --force to go back."
            )
        aside = f"{book}.before-{datetime.now(UTC):%Y%m%dT%H%M%SZ}"
    part = book.with_name(book.name + ".restoring")
    with Book.open(copy, create=False, write=False) as source:
        source.backup(part)
    if aside:
        for end in ("", "-wal", "-shm"):
            if Path(f"{book}{end}").exists():
                os.replace(f"{book}{end}", f"{aside}{end}")
    os.replace(part, book)
    return f"{book} holds the {entries} entries of {copy}." + (f" The one before is {aside}." if aside else "")


def _read_in_full(copy: Path) -> int:
    """The number of entries in a copy, each of them read and understood."""
    with Book.open(copy, create=False, write=False) as opened:
        fold(opened)
        return opened.count()


def _entries_beyond(book: Path, entries: int) -> int:
    """How many entries more than that the book holds; 0 where it cannot be read, which is what copies are for."""
    try:
        with Book.open(book, create=False, patience=0.0) as opened:
            return max(0, opened.count() - entries)
    except BookTrouble as trouble:
        if "another program" in trouble.why:
            raise SystemExit(f"Nothing changed: the bot is running on {book}. Stop it first.") from None
        return 0


def main() -> None:
    parser = argparse.ArgumentParser(prog="ops/backup, ops/restore")
    jobs = parser.add_subparsers(dest="job", required=True)
    out = jobs.add_parser("backup", help="copy a book, whether the bot runs or not")
    out.add_argument("--book", type=Path, required=True)
    out.add_argument("--to", type=Path, required=True, help="the folder of copies, best on another disk")
    out.add_argument("--keep", type=int, default=30, help="how many copies to keep (30)")
    back = jobs.add_parser("restore", help="put a copy in a book's place")
    back.add_argument("copy", type=Path)
    back.add_argument("--book", type=Path, required=True)
    back.add_argument("--force", action="store_true", help="even where the book holds more than the copy")
    said = parser.parse_args()
    try:
        if said.job == "backup":
            print(backup(said.book, said.to, said.keep))
        else:
            print(restore(said.copy, said.book, said.force))
    except (BookTrouble, OSError) as trouble:
        sys.exit(f"Nothing changed: {trouble}")


if __name__ == "__main__":
    main()
