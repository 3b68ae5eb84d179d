"""The demo farm, opened on its own morning: its season is replayed up to there in memory, then the terminal talks.

The clock goes on from that morning as fast as the real one. The line of the season with "opens" is where it opens.
"""

from datetime import datetime
from pathlib import Path

import simplejson

from bot.book import Book
from bot.conversation import hear
from bot.desk import Heard, Out, open_desk
from bot.files import load_folder
from bot.replay import parsed
from bot.terminal import talk
from bot.timetable import knock
from bot.when import local, now


def demo(folder: Path) -> None:
    """Talk to a fresh copy of the demo farm."""
    with Book.open(None) as book:
        said: list[Out] = []
        at: datetime | None = None
        for text in (folder / "season.jsonl").read_text(encoding="utf-8").splitlines():
            told = parsed(text, at)
            assert isinstance(told, Heard), told
            at = told.at
            if book.count() == 0:
                load_folder(book, folder, at)
                desk = open_desk(book)
            said = knock(desk, at, late=None)
            if simplejson.loads(text).get("opens"):
                break
            if told.who:
                hear(desk, told)
        assert at is not None
        start, zone = now("UTC"), desk.farm.plan.farm.timezone
        opened = local(at, zone)
        print(f'{desk.farm.plan.farm.name}, {opened:%A %d %B %Y, %H:%M}. Type as you would text; "help" shows how.\n')
        talk(desk, lambda: opened + (now("UTC") - start), said)
