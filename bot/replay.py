"""A season in seconds: messages in time order in, every message the bot would send out, as JSON lines, in lockstep.

The clock is the lines' own: before each line every scheduled check that falls due on the way is made at its own time.
The same input gives the same output, byte for byte. Nothing here reads, judges or words anything.
"""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any, TextIO

import simplejson

from bot.book import BookTrouble
from bot.conversation import hear
from bot.desk import Desk, Heard, Out, file_of
from bot.shown import line, out_data
from bot.timetable import knock
from bot.words.chat import not_kept


def replay(desk: Desk, lines: Iterable[str], out: TextIO) -> None:
    """Answer each line at once; the last line written for input line n is {"done": n}."""
    clock: datetime | None = None
    for number, text in enumerate(lines, 1):
        told = parsed(text, clock)
        if isinstance(told, str):
            print(line({"error": told}), file=out)
        else:
            clock = told.at
            for said in _answers(desk, told):
                print(line(out_data(said, file_of(desk, said.page, said.at))), file=out)
            for owed in desk.book.owed():
                desk.book.sent(owed.id, clock)
        print(line({"done": number}), file=out, flush=True)


def _answers(desk: Desk, told: Heard) -> Iterator[Out]:
    try:
        yield from knock(desk, told.at, late=None)
        if told.who:
            yield from hear(desk, told)
    except BookTrouble as trouble:
        yield Out(told.at, told.who or "owner", "reply", not_kept(f"{trouble.why}."))


def parsed(text: str, clock: datetime | None) -> Heard | str:
    """The message of one line, or what is wrong with it. A line with nothing but a time has nobody in it."""
    try:
        data: Any = simplejson.loads(text)
        at = datetime.fromisoformat(data["at"])
    except (ValueError, TypeError, KeyError, RecursionError):
        return 'no JSON object with a time in "at", like {"at": "2026-08-11T07:10:00-05:00"}'
    if at.tzinfo is None:
        return "the time has no offset from UTC"
    if clock is not None and at < clock:
        return "the time goes back"
    said = {key: data.get(key) for key in ("from", "text", "press", "id", "edit")}
    if any(not isinstance(v, str | int | None) for v in said.values()):
        return "text, from, id, edit and press are text"
    who = str(said["from"] or "owner") if said["text"] is not None or said["press"] is not None else ""
    name = said["edit"] if said["edit"] is not None else said["id"]
    return Heard(
        at,
        who,
        str(said["text"] or ""),
        None if name is None else str(name),
        edit=said["edit"] is not None,
        press=None if said["press"] is None else str(said["press"]),
    )
