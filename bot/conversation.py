"""One message in, what is recorded and what is said back: the sequence that every way into the program goes through.

    message -> reading -> entries in the book -> farm as it stands -> rules -> findings -> words -> out

`read`, `replay`, `chat` and `serve` differ only in where messages come from and where answers go. All that a message
changes, and the answer it is owed, is one block of the book, on the disk before anything is sent.
"""

import logging
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from bot.alley import DONE, in_run, summed_up
from bot.asking import findings_for, findings_with
from bot.book import BookTrouble, fold
from bot.book import Heard as Message
from bot.desk import Button, Desk, Heard, Out, Page, buttons_of, owed
from bot.fact import Wants
from bot.papers import Paper, paper
from bot.phrases.growing import spoken_of
from bot.phrases.wanted import answered, new_rows, next_wanted
from bot.reading import Answer, Ask, Nothing, Question, Reading, Record, read
from bot.settle import chosen, meant, settled
from bot.when import local
from bot.words import answers, chat, found, kept
from rules import entries as e
from rules.cautions import cautions_with
from rules.days import Moment
from rules.farm import Farm
from rules.findings import Finding
from rules.fold import stands
from rules.plan import Person, Plan
from rules.records import as_data, from_data

log = logging.getLogger(__name__)

_JUST_NOW = timedelta(minutes=10)
_SAME_DAY = timedelta(hours=14)  # a question about the plan may be answered in words so long


def understand(text: str, said: datetime, farm: Farm, it: tuple[str, str] | None = None) -> Reading:
    """What a message says, nothing recorded: its reading, held against the farm as it stands. `it` is the row of the
    plan (table, name) that the sender spoke of just before."""
    return meant(read(text, said, farm, it), farm)


def _spoken_of(desk: Desk, heard: Heard) -> tuple[str, str] | None:
    """The row of the plan in the sender's last message that told something, where that was just now."""
    told = next(iter(desk.book.recorded(heard.who)), ())
    facts = [desk.fold.told[seq] for seq in told if seq in desk.fold.told]
    if not facts or heard.at - desk.book.heard_at(told[0]) > _JUST_NOW:
        return None
    return spoken_of([f.entry for f in facts])


def hear(desk: Desk, heard: Heard) -> list[Out]:
    """Take in one message: record what it tells, answer what it asks, ask back where in doubt; the answers are owed
    in the book when this returns. Strangers get nothing. Raises BookTrouble where the book cannot be written."""
    try:
        with desk.book.block():
            if heard.update is not None and desk.book.seen(heard.update):
                return []
            return owed(desk, _answer(desk, heard))
    except BookTrouble:
        desk.fold = fold(desk.book)
        raise
    except Exception:
        log.exception("A message could not be worked on.")
        desk.fold = fold(desk.book)
        with desk.book.block():
            if heard.update is not None:
                desk.book.seen(heard.update)
            desk.book.hear(heard.who, heard.at, heard.text or heard.press or "", name=heard.message)
            return owed(desk, [Out(heard.at, heard.who, "reply", chat.broken())])


def _answer(desk: Desk, heard: Heard) -> list[Out]:
    person = desk.person(heard.who)
    if person is None:
        return []
    heard = replace(heard, at=local(heard.at, desk.farm.plan.farm.timezone))
    if person.role != "helper":
        desk.book.keep("answered", heard.at.isoformat())
    if heard.press is not None:
        return _pressed(desk, heard, person, heard.press)
    if heard.edit:
        return _edited(desk, heard, person)
    for asked in reversed(desk.book.open_asks(heard.who)):
        if asked.ask.get("matter") is None and (n := chosen(heard.text, asked.ask)) is not None:
            return _pressed(desk, heard, person, f"{asked.id}.{n}")
    if (outs := _filled_in(desk, heard, person)) is not None:
        return outs
    it = _spoken_of(desk, heard)
    message = desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
    if DONE.fullmatch(heard.text.strip().lower()) and (out := summed_up(desk, heard.who, heard.at, "reply")):
        return [out]
    return _told(desk, heard, person, message, heard.at, understand(heard.text, heard.at, desk.farm, it))


def _told(desk: Desk, heard: Heard, person: Person, message: int, said: datetime, reading: Reading) -> list[Out]:
    """Act on a reading. `said` is the moment its words are dated from."""
    match reading:
        case Nothing():
            return []
        case Answer(question):
            return [_answered(desk, heard, question)]
        case Ask():
            return _doubted(desk, heard, person, message, reading)
        case Record(entries, question):
            return _grown(
                desk, heard, message, desk.farm.plan, _recorded(desk, heard, person, message, entries, question)
            )
    raise AssertionError(reading)


def _recorded(
    desk: Desk, heard: Heard, person: Person, message: int, entries: Sequence[e.Entry], question: Question | None
) -> list[Out]:
    if person.role == "helper" and any(isinstance(x, e.PlanSet | e.Product) for x in entries):
        return [Out(heard.at, heard.who, "reply", chat.OWNERS_ONLY)]
    ready = settled(desk.fold, desk.book.recorded(heard.who), entries)
    if isinstance(ready, str):
        return [Out(heard.at, heard.who, "reply", ready)]
    undone = [x for x in ready if isinstance(x, e.Undo)]
    words = [kept.echo(desk.fold.told[n].entry, desk.farm, heard.at.date()) for x in undone for n in x.withdraws]
    before = desk.farm.copy()
    told = desk.record(message, ready)
    in_run(desk, heard.who, heard.at, ready)
    out = _kept(desk, heard, [t.entry for t in told], before, words)
    if question is not None:
        more = _answered(desk, heard, question)
        out = replace(
            out, text=f"{out.text}\n{more.text}", question=question, findings=(*out.findings, *more.findings),
            page=more.page,
        )  # fmt: skip
    return [out]


def _kept(desk: Desk, heard: Heard, entries: Sequence[e.Entry], before: Farm, withdrawn: Sequence[str]) -> Out:
    """What was recorded, said back with what it means."""
    m = desk.moment(heard.at)
    shown = [x for x in entries if not isinstance(x, e.Undo | e.Edited | e.Wave)]
    lines = [chat.undone(withdrawn)] if any(isinstance(x, e.Undo) for x in entries) else []
    if shown:
        lines.append(kept.kept(shown, desk.farm, m.today, _ready_so_far(desk, m, shown)))
    if any(isinstance(x, e.Wave) for x in entries):
        lines.append(chat.PUT_OFF)
    findings = findings_with(shown, desk.farm, m)
    lines += kept.meaning(findings, desk.farm, m)
    cautions = [c for c in cautions_with(shown, before, desk.farm, m) if _new_caution(desk, c, shown, m)]
    lines += [" ".join(found.CAUTIONS[c] for c in cautions)] if cautions else []
    buttons = buttons_of(desk, heard.who, findings, m)
    text = "\n".join(lines)
    return Out(
        heard.at, heard.who, "reply", text, tuple(buttons), tuple(entries), None, None, tuple(findings), tuple(cautions)
    )


def _new_caution(desk: Desk, code: str, entries: Sequence[e.Entry], m: Moment) -> bool:
    """Once a day for the same matter: a product, an item, a group, else the kind of thing told."""
    names = {str(getattr(x, k)) for x in entries for k in ("product", "item") if getattr(x, k, None)}
    key = ":".join(["caution", code, *sorted(names or {x.kind for x in entries})])
    if desk.book.kept(key) == m.today.isoformat():
        return False
    desk.book.keep(key, m.today.isoformat())
    return True


def _ready_so_far(desk: Desk, m: Moment, shown: Sequence[e.Entry]) -> int | None:
    """How many weighed today make the weight, once two are weighed; None where nothing was weighed just now."""
    if not any(isinstance(x, e.Weight) and x.on == m.today for x in shown):
        return None
    tags: dict[str, None] = {}
    for f in reversed(desk.fold.facts):
        if f.entry.on < m.today:
            break
        if isinstance(f.entry, e.Weight) and f.entry.on == m.today:
            tags[desk.farm.now_tagged(f.entry.tag)] = None
    animals = [desk.farm.animals[t] for t in tags if t in desk.farm.animals]
    least = desk.farm.plan.ship.min
    if least is None or len(animals) < 2:
        return None
    return sum(kept.is_for_market(a, desk.farm) and a.weighings[-1].weight >= least for a in animals)


def _answered(desk: Desk, heard: Heard, question: Question) -> Out:
    m = desk.moment(heard.at)
    findings = findings_for(question, desk.farm, m)
    text = answers.answer(question, findings, desk.farm, m)
    carried = _carried(question, findings, desk.farm, m)
    more = carried.said if isinstance(carried, Paper) else carried
    text = f"{text}\n{more}" if more else text
    page = None
    if isinstance(carried, Paper):
        page = Page(question, desk.book.count())
        desk.drawn = page, heard.at, carried
    buttons = buttons_of(desk, heard.who, findings, m)
    return Out(
        heard.at, heard.who, "reply", text, tuple(buttons), (), question, None, tuple(findings), page=page
    )  # fmt: skip


def _carried(question: Question, findings: Sequence[Finding], farm: Farm, m: Moment) -> Paper | str | None:
    """The picture or file asked for, or why there is none; a mistake of ours in it must not cost the words."""
    try:
        return paper(question, findings, farm, m)
    except Exception:
        log.exception("A picture or file could not be planned.")
        return chat.NOT_DRAWN


# -- doubts


def _doubted(desk: Desk, heard: Heard, person: Person, message: int, ask: Ask) -> list[Out]:
    """The question put to the sender. Whether something is new on the plan is asked of the owner where a helper spoke
    of it, with what the helper told; he is asked for what else it may be."""
    owner = next((p.name for p in desk.people() if p.role == "owner"), None)
    if person.role != "helper" or owner is None or not any(c.again for c in ask.choices):
        return [_asked(desk, heard, message, ask)]
    rest = tuple(c for c in ask.choices if not c.again)
    if any(c.entries for c in rest):
        return [_asked(desk, heard, message, replace(ask, choices=rest))]
    question = replace(ask, why=chat.told_by(heard.who, heard.text, ask.why))
    outs = [Out(heard.at, heard.who, "reply", chat.asked_owner(ask.why, owner))]
    return [*outs, _asked(desk, replace(heard, who=owner), message, question)]


def _asked(desk: Desk, heard: Heard, message: int, ask: Ask) -> Out:
    number = desk.book.ask(heard.who, heard.at, message, as_data(ask))
    buttons = tuple(Button(f"{number}.{n}", choice.label) for n, choice in enumerate(ask.choices))
    return Out(heard.at, heard.who, "reply", ask.why, buttons, (), None, ask)


def _pressed(desk: Desk, heard: Heard, person: Person, press: str) -> list[Out]:
    """A choice was made, by button or in words: it counts once, whoever pressed first."""
    number, _, place = press.partition(".")
    asked = desk.book.asked(int(number)) if number.isdigit() else None
    choices = asked.ask.get("choices", []) if asked else []
    if asked is None or not place.isdigit() or int(place) >= len(choices):
        return []
    matter = asked.ask.get("matter")
    if asked.person != heard.who and matter is None:
        return []
    choice = choices[int(place)]
    if not desk.book.settle(asked.id, choice["label"]):
        return [Out(heard.at, heard.who, "reply", chat.SETTLED)]
    if matter is not None:
        _settle_twins(desk, matter, asked.at, choice["label"])
    about = desk.book.heard(asked.message) if asked.message is not None else None
    said = about.said if about else heard.at
    # a press belongs to the message that was in doubt, so that an edit of that one takes it back, too
    name = heard.message or (about.name if about and about.by == heard.who else None)
    message = desk.book.hear(heard.who, heard.at, heard.text or f"[{choice['label']}]", name=name, said=said)
    entries = [e.entry_from(x) for x in choice.get("entries", [])]
    if matter is not None:  # done on the day it is pressed, however old the button
        entries = [replace(x, on=heard.at.date()) for x in entries]
    wants = from_data(Wants, asked.ask["wants"]) if asked.ask.get("wants") else None
    if not entries:
        say = choice.get("say") or (chat.ENOUGH if wants and wants.key else chat.NONE_OF_THESE)
        return _grown(desk, heard, message, desk.farm.plan, [Out(heard.at, heard.who, "reply", say)], wants)
    plan, outs = desk.farm.plan, _recorded(desk, heard, person, message, entries, None)
    if about and choice.get("again") and outs[0].entries:
        outs = _again(desk, heard, person, message, about, plan, outs[0])
    return _grown(desk, heard, message, plan, outs, wants)


# -- the plan grown by chat


def _again(desk: Desk, heard: Heard, person: Person, message: int, about: Message, plan: Plan, out: Out) -> list[Out]:
    """The plan has now what the message in doubt spoke of: it is read anew, and what it tells is recorded, too."""
    reading = understand(about.words, about.said, desk.farm)
    if isinstance(reading, Ask):
        reading = replace(reading, wants=Wants(tuple(new_rows(out.entries, plan))))
    more = _told(desk, heard, person, message, about.said, reading)
    return [_joined(out, x) for x in more] or [out]


def _joined(one: Out, two: Out) -> Out:
    """Two replies as one."""
    return replace(
        two, text=f"{one.text}\n{two.text}", buttons=(*one.buttons, *two.buttons), entries=(*one.entries, *two.entries),
        findings=(*one.findings, *two.findings), cautions=(*one.cautions, *two.cautions),
    )  # fmt: skip


def _grown(
    desk: Desk, heard: Heard, message: int, before: Plan, outs: list[Out], wants: Wants | None = None
) -> list[Out]:
    """With the next thing to ask of rows that are new on the plan, or that were asked about before."""
    out = outs[-1]
    if out.ask is not None or out.question is not None:
        return outs
    rows = (*(wants.rows if wants else ()), *new_rows(out.entries, before))
    ask = next_wanted(rows, wants.key if wants else "", desk.farm.plan_data, desk.farm.plan, heard.at.date())
    if ask is None or (not wants and not out.entries):
        return outs
    asked = _asked(desk, heard, message, ask)
    said = asked if out.text == chat.ENOUGH else _joined(out, asked)
    return [*outs[:-1], replace(said, question=out.question)]


def _filled_in(desk: Desk, heard: Heard, person: Person) -> list[Out] | None:
    """Words that answer the last question about the plan; None where they are no answer to it."""
    asked = next((a for a in reversed(desk.book.open_asks(heard.who)) if a.ask.get("matter") is None), None)
    if asked is None or not asked.ask.get("wants") or heard.at - asked.at > _SAME_DAY:
        return None
    wants = from_data(Wants, asked.ask["wants"])
    got = answered(heard.text, wants, desk.farm.plan_data, desk.farm.plan, heard.at.date())
    if got is None:
        return None
    if isinstance(got, Ask):  # a name that is in no table may be anything
        just = heard.at - asked.at <= _JUST_NOW
        if not just or not isinstance(understand(heard.text, heard.at, desk.farm), Nothing):
            return None
    message = desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
    desk.book.settle(asked.id, heard.text)
    if isinstance(got, Ask):
        return [_asked(desk, heard, message, got)]
    plan = desk.farm.plan
    return _grown(desk, heard, message, plan, _recorded(desk, heard, person, message, got, None), wants)


def _settle_twins(desk: Desk, matter: str, at: datetime, label: str) -> None:
    """The same finding was put to others too, or twice: one answer settles all."""
    for person in desk.people():
        for other in desk.book.open_asks(person.name):
            if other.ask.get("matter") == matter and other.at <= at:
                desk.book.settle(other.id, label)


# -- an edited message


def _put_on_plan(desk: Desk, pressed: Message, seq: int) -> bool:
    """Whether an entry is a row that a press put on the plan: it is there, whatever the message is changed to."""
    return pressed.words.startswith("[") and isinstance(desk.fold.told[seq].entry, e.PlanSet)


def _edited(desk: Desk, heard: Heard, person: Person) -> list[Out]:
    """What the message had recorded is withdrawn, and its new text stands in its place, on the day of the first."""
    told = desk.book.named(heard.who, heard.message) if heard.message else []
    texts = [t.words for t in told if not t.words.startswith("[")]
    if texts and texts[-1] == heard.text:
        return []
    said = told[0].said if told else heard.at
    said = local(said, desk.farm.plan.farm.timezone)
    seqs = stands(desk.fold, [seq for t in told for seq in desk.book.told_by(t.id) if not _put_on_plan(desk, t, seq)])
    for asked in desk.book.open_asks(heard.who):
        if asked.message in {t.id for t in told}:
            desk.book.settle(asked.id, "edited")
    message = desk.book.hear(heard.who, heard.at, heard.text, name=heard.message, said=said)
    if seqs:
        desk.record(message, [e.Edited(on=heard.at.date(), withdraws=seqs)])
    outs = _told(desk, heard, person, message, said, understand(heard.text, said, desk.farm))
    if seqs and not outs:
        return [Out(heard.at, heard.who, "reply", chat.edited_away())]
    return [replace(out, text=chat.changed(out.text)) if seqs else out for out in outs]
