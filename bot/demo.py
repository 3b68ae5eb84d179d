"""The demo farm, opened on its own morning: its season is replayed up to there, then the terminal talks.

The clock goes on from that morning as fast as the real one. The line of the season with "opens" is where it opens.
What the season makes is kept beside the checkout's other hidden files, so that a later start takes no time; each start
talks to a copy of it.
"""

import shutil
import tempfile
from collections.abc import Iterator
from datetime import datetime
from hashlib import sha256
from pathlib import Path

import simplejson

from bot.book import Book
from bot.conversation import hear
from bot.desk import Desk, Heard, open_desk
from bot.files import load_folder
from bot.replay import parsed
from bot.terminal import talk
from bot.timetable import knock
from bot.when import local, now


def demo(folder: Path) -> None:
    """Talk to a fresh copy of the demo farm."""
    season = [*_until_opened(folder)]
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place) / "demo.book"
        if not _from_cache(folder, copy):
            _played(folder, season, copy)
            _into_cache(folder, copy)
        with Book.open(copy) as book:
            desk = open_desk(book)
            opened = local(season[-1].at, desk.farm.plan.farm.timezone)
            start = now("UTC")
            said = knock(desk, opened, late=None)
            name = desk.farm.plan.farm.name
            print(f'{name}, {opened:%A %d %B %Y, %H:%M}. Type as you would text; "help" shows how.\n')
            talk(desk, lambda: opened + (now("UTC") - start), said)


def _until_opened(folder: Path) -> Iterator[Heard]:
    """The season's lines up to the one on which the demo opens."""
    at: datetime | None = None
    for text in (folder / "season.jsonl").read_text(encoding="utf-8").splitlines():
        told = parsed(text, at)
        assert isinstance(told, Heard), told
        at = told.at
        yield told
        if simplejson.loads(text).get("opens"):
            return


def _played(folder: Path, season: list[Heard], to: Path) -> None:
    """The season told, all but the opening morning, into a book of its own."""
    with Book.open(None) as book:
        load_folder(book, folder, season[0].at)
        desk: Desk = open_desk(book)
        for told in season[:-1]:
            knock(desk, told.at, late=None)
            if told.who:
                hear(desk, told)
        book.backup(to)


def _cache(folder: Path) -> Path:
    """Where the played season is kept: named by all that it was made from."""
    made = sha256()
    code = [p for top in ("bot", "rules") for p in (folder.parent / top).rglob("*.py")]
    for path in sorted([*code, *folder.iterdir()]):
        made.update(path.read_bytes())
    return folder.parent / f".demo-{made.hexdigest()[:16]}.book"


def _from_cache(folder: Path, to: Path) -> bool:
    try:
        shutil.copyfile(_cache(folder), to)
    except OSError:
        return False
    return True


def _into_cache(folder: Path, made: Path) -> None:
    """Keep it; where the checkout may not be written, the next start plays the season again."""
    try:
        for old in folder.parent.glob(".demo-*.book"):
            old.unlink()
        shutil.copyfile(made, _cache(folder))
    except OSError:
        return
