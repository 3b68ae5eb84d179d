"""The conversation in a terminal: a line is a message, buttons are numbered choices, a picture or file is put into a
folder for passing things and its place is told. Nothing is worded here."""

import sys
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from tempfile import mkdtemp

from bot.book import BookTrouble
from bot.conversation import hear
from bot.desk import Button, Desk, Heard, Out, file_of
from bot.timetable import knock
from bot.words.chat import NOT_DRAWN, not_kept


def talk(desk: Desk, now: Callable[[], datetime], first: Sequence[Out] = ()) -> None:
    """Talk as the first owner of the plan until the end of input. `first` is shown before the first line."""
    me = next((p.name for p in desk.people() if p.role == "owner"), desk.people()[0].name)
    buttons = _show(desk, first, ())
    for text in _lines():
        at = now()
        press = buttons[int(text) - 1].press if text.isdigit() and 1 <= int(text) <= len(buttons) else None
        try:
            outs = [*knock(desk, at), *hear(desk, Heard(at, me, text, press=press))]
        except BookTrouble as trouble:
            print(not_kept(f"{trouble.why}."))
            continue
        for owed in desk.book.owed():
            if owed.person == me:
                desk.book.sent(owed.id, at)
        buttons = _show(desk, [out for out in outs if out.to == me], buttons)


def _show(desk: Desk, outs: Sequence[Out], shown: Sequence[Button]) -> Sequence[Button]:
    """Print messages; the buttons now on the screen, numbered through, or those before where there is nothing new."""
    buttons: list[Button] = []
    for out in outs:
        print(out.text)
        if out.page:
            print("   " + _file(desk, out))
        row = out.buttons
        if row:
            print("   " + "   ".join(f"[{n}] {b.label}" for n, b in enumerate(row, len(buttons) + 1)))
        buttons += row
    sys.stdout.flush()
    return buttons or ([] if outs else shown)


def _file(desk: Desk, out: Out) -> str:
    """Where the picture or file of a message lies now."""
    file = file_of(desk, out.page, out.at)
    try:
        if file:
            path = Path(mkdtemp(prefix="tethera-")) / file.name
            path.write_bytes(file.content)
            return str(path)
    except OSError:
        pass  # no room for it: said as any other failure
    return NOT_DRAWN


def _lines() -> Iterator[str]:
    """Lines from a person or a pipe, without their ends; empty ones say nothing."""
    live = sys.stdin.isatty()
    if live:
        import readline  # noqa: F401  (arrow keys and history in input())
    while True:
        try:
            text = input("> " if live else "").strip()
        except UnicodeDecodeError:
            continue
        except (EOFError, KeyboardInterrupt):
            return
        if text:
            yield text
