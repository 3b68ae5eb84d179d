"""What goes out as JSON lines: readings for `read`, messages for `replay`. Numbers keep their exact decimal value."""

from typing import Any

import simplejson

from bot.desk import File, Out
from bot.reading import Answer, Ask, Question, Reading, Record
from rules.entries import Entry
from rules.records import as_data

_OUR_OWN = ("withdraws", "instead", "job")  # numbers in the book, which mean nothing outside it


def line(data: Any) -> str:
    """One JSON line, no newline."""
    return str(simplejson.dumps(data, ensure_ascii=False, use_decimal=True))


def entry_data(entry: Entry) -> dict[str, Any]:
    return {k: v for k, v in as_data(entry).items() if k not in _OUR_OWN}


def question_data(question: Question) -> dict[str, Any]:
    return as_data(question)


def ask_data(ask: Ask) -> dict[str, Any]:
    return {"why": ask.why, "choices": [c.label for c in ask.choices]}


def reading_data(reading: Reading) -> dict[str, Any]:
    """A reading as the outside interface has it."""
    match reading:
        case Record(entries, question):
            data: dict[str, Any] = {"outcome": "record", "entries": list(map(entry_data, entries))}
            return {**data, "question": question_data(question)} if question else data
        case Answer(question):
            return {"outcome": "answer", "entries": [], "question": question_data(question)}
        case Ask():
            return {"outcome": "ask", "entries": [], "ask": ask_data(reading)}
    return {"outcome": "none", "entries": []}


def out_data(out: Out, file: File | None = None) -> dict[str, Any]:
    """A message going out, with the data its words were made from and what it carries; each key only where there is
    something."""
    data = {
        "at": out.at.isoformat(),
        "to": out.to,
        "cause": out.cause,
        "text": out.text,
        "buttons": [{"press": b.press, "label": b.label} for b in out.buttons],
        "entries": list(map(entry_data, out.entries)),
        "question": question_data(out.question) if out.question else None,
        "ask": ask_data(out.ask) if out.ask else None,
        "findings": list(map(as_data, out.findings)),
        "cautions": list(out.cautions),
        "file": {"name": file.name, "type": file.kind, "bytes": len(file.content)} if file else None,
    }
    return {k: v for k, v in data.items() if v not in (None, [])}
