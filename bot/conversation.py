"""One message in, what is recorded and what is said back: the sequence that every way into the program goes through.

    message -> reading -> entries in the book -> farm as it stands -> rules -> findings -> words -> out

`read`, `replay`, `chat` and `serve` differ only in where messages come from and where answers go. All that a message
changes, and the answer it is owed, is one block of the book, on the disk before anything is sent.
"""

import logging
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from bot.alley import DONE, in_run, summed_up
from bot.answered import answered, chosen, says_no, says_yes, wants_another
from bot.asked_with import answered_in_words, asked_with
from bot.asking import findings_for, findings_with
from bot.book import Asked, BookTrouble, fold
from bot.book import Heard as Message
from bot.carry import JUST_NOW, SAME_DAY, carried, leans, says_back
from bot.desk import Button, Desk, Heard, Out, Page, buttons_of, owed, remember
from bot.fact import NO_WORDS, Wants
from bot.papers import Paper, paper
from bot.phrases import wanted
from bot.phrases.growing import spoken_of
from bot.reading import Answer, Ask, Nothing, Question, Reading, Record, read
from bot.settle import meant, of_long_ago, said_by, settled, taken, told_before
from bot.slots import instead_of, pieces
from bot.told import Change, Told
from bot.when import local
from bot.words import answers, chat, found, kept
from bot.words import carried as changes
from rules import entries as e
from rules.cautions import cautions_with
from rules.days import Moment
from rules.farm import Farm
from rules.findings import Finding, Losses, RunOut
from rules.fold import standing, stands
from rules.plan import Person, Plan
from rules.records import as_data, from_data
from rules.travel import hold

log = logging.getLogger(__name__)

_RUN = 60  # messages of a sender that "all of them were yesterday" may reach back


def understand(text: str, said: datetime, farm: Farm, before: Sequence[Told] = ()) -> Reading:
    """What a message says, nothing recorded: its reading, held against the farm as it stands and against what its
    sender told `before`, the last first."""
    leant = carried(text, said, farm, before) if leans(text) else None
    if leant is not None and before:
        return meant(leant, farm)
    it = spoken_of(before[0].entries) if before and said - before[0].at <= JUST_NOW else None
    own = meant(read(text, said, farm, it), farm)
    sure = not isinstance(own, Nothing | Ask) or (isinstance(own, Ask) and own.choices)
    return own if leant is None or sure else leant


def _before(desk: Desk, heard: Heard, message: int | None = None, most: int | None = None) -> list[Told]:
    """What the sender told that still stands, the last first; before a message, where one is given. Most often the
    last one is all that can be meant."""
    told = ((desk.book.told_in(seqs[0]), seqs) for seqs in desk.book.recorded(heard.who))
    earlier = ((h.at, seqs) for h, seqs in told if message is None or h.id < message)
    return told_before(desk.fold, earlier, most or (_RUN if leans(heard.text) else 1))


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
    if (got := answered_in_words(desk, heard)) is not None:
        asked, entries = got
        desk.book.settle(asked.id, heard.text)
        message = desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
        return _recorded(desk, heard, person, message, entries, None)
    if DONE.fullmatch(heard.text.strip().lower()) and (out := summed_up(desk, heard.who, heard.at, "reply")):
        desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
        return [out]
    if (count := says_back(heard.text)) is not None:
        desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
        return [_said_back(desk, heard, count)]
    before = _before(desk, heard)
    since = before[0].at if before else None
    asks = _open(desk, heard)
    newer = [a for a in asks if since is None or a.at >= since]  # asked after what was told last: answered first
    if (outs := _answering(desk, heard, person, newer, last=True)) is not None:
        return outs
    reading = understand(heard.text, heard.at, desk.farm, before)
    if isinstance(reading, Nothing | Ask):
        outs = _answering(desk, heard, person, asks[len(newer) :], last=False) or _answering_found(desk, heard, person)
        if outs is not None:
            return outs
    message = desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
    if isinstance(reading, Nothing) and says_yes(heard.text):
        just = [a for a in newer[:1] if heard.at - a.at <= JUST_NOW and a.ask.get("choices")]
        return [_asked_again(heard, a) for a in just]
    return _told(desk, heard, person, message, heard.at, reading)


def _said_back(desk: Desk, heard: Heard, count: int) -> Out:
    """What the sender told last, as it stands in the book, and what of theirs is still asked."""
    told = [t for t in _before(desk, heard, most=count) if heard.at - t.at <= 2 * SAME_DAY]
    asks = [a for a in _open(desk, heard) if not told or a.at > told[0].at][:1]
    text = changes.last_told(told, asks[0].ask["why"] if asks else None, desk.farm, heard.at)
    return replace(_asked_again(heard, asks[0]), text=text) if asks else Out(heard.at, heard.who, "reply", text)


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
    if person.role == "helper" and any(isinstance(standing(x), e.PlanSet | e.Product) for x in entries):
        return [Out(heard.at, heard.who, "reply", chat.OWNERS_ONLY)]
    if (doubt := of_long_ago(desk.fold, entries, heard.at.date())) is not None:
        return [_asked(desk, heard, message, doubt)]
    ready = settled(desk.fold, desk.book.recorded(heard.who), entries)
    if isinstance(ready, str):
        return [Out(heard.at, heard.who, "reply", ready)]
    words = [w for x in ready if isinstance(x, e.Undo) for w in _undone(desk, x, heard.at)]
    before = desk.farm.copy()
    told = desk.record(message, ready)
    in_run(desk, heard.who, heard.at, [standing(x) for x in ready])
    out = _kept(desk, heard, [t.entry for t in told], before, words)
    if question is not None:
        more = _answered(desk, heard, question)
        out = replace(
            out, text=f"{out.text}\n{more.text}", question=question, findings=(*out.findings, *more.findings),
            page=more.page,
        )  # fmt: skip
    return [out]


def _undone(desk: Desk, undo: e.Undo, at: datetime) -> list[str]:
    """What is taken back, in words; of a correction alone, what stands again."""
    said, today = [], at.date()
    for seq in stands(desk.fold, undo.withdraws):
        entry = desk.fold.told[seq].entry
        if isinstance(entry, e.Correct) and not set(entry.withdraws) <= set(undo.withdraws):
            old = standing(desk.fold.told[entry.withdraws[0]].entry)
            said.append(changes.back(old, standing(entry), desk.farm, today))
        else:
            said.append(kept.echo(standing(entry), desk.farm, today))
    return said


def _kept(desk: Desk, heard: Heard, entries: Sequence[e.Entry], before: Farm, withdrawn: Sequence[str]) -> Out:
    """What was recorded, said back with what it means."""
    m = desk.moment(heard.at)
    lines = [chat.undone(withdrawn)] if any(isinstance(x, e.Undo) for x in entries) else []
    corrected = [x for x in entries if isinstance(x, e.Correct)]
    if corrected:
        put = [Change(x.withdraws, standing(desk.fold.told[x.withdraws[0]].entry), standing(x)) for x in corrected]
        lines.append(changes.put_right(put, desk.farm, m.today))
    shown = [x for x in entries if not isinstance(x, e.Undo | e.Edited | e.Wave | e.Correct)]
    if shown:
        lines.append(kept.kept(shown, desk.farm, m.today, _ready_so_far(desk, m, shown)))
    if any(isinstance(x, e.Wave) for x in entries):
        lines.append(chat.PUT_OFF)
    shown += map(standing, corrected)
    findings = findings_with(shown, desk.farm, m)
    lines += kept.meaning(findings, desk.farm, m, shown)
    more, asked = asked_with(desk, heard, shown)
    lines += more
    cautions = [c for c in cautions_with(shown, before, desk.farm, m) if _new_caution(desk, c, shown, m)]
    told_so = {"losses" for x in findings if isinstance(x, Losses)}  # its own words tell to call the vet
    unsaid = [c for c in cautions if c not in told_so]
    lines += [" ".join(found.CAUTIONS[c] for c in unsaid)] if unsaid else []
    buttons = [*asked, *buttons_of(desk, heard.who, findings, m)]
    for x in findings:
        if isinstance(x, RunOut | Losses) and x.level != "know":
            remember(desk, heard.who, x, m)
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
        if isinstance(x := standing(f.entry), e.Weight) and x.on == m.today:
            tags[desk.farm.now_tagged(x.tag)] = None
    animals = [desk.farm.animals[t] for t in tags if t in desk.farm.animals]
    least = desk.farm.plan.ship.min
    if least is None or len(animals) < 2:
        return None
    there = [a for a in animals if kept.is_for_market(a, desk.farm) and a.weighings[-1].weight >= least]
    return sum(hold(desk.farm, a, m.today) is None for a in there)


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
        heard.at, heard.who, "reply", text, tuple(buttons), (), question, None, tuple(findings),
        tuple(dict.fromkeys(c for x in findings for c in found.cautions_in(x))), page=page,
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
    rest = tuple(c for c in ask.choices if not any(isinstance(x, e.PlanSet) for x in c.entries))
    if person.role != "helper" or owner is None or len(rest) == len(ask.choices):
        return [_asked(desk, heard, message, ask)]
    if any(c.entries for c in rest):
        return [_asked(desk, heard, message, replace(ask, choices=rest))]
    question = replace(ask, why=chat.told_by(heard.who, heard.text, ask.why))
    outs = [Out(heard.at, heard.who, "reply", chat.asked_owner(ask.why, owner))]
    return [*outs, _asked(desk, replace(heard, who=owner), message, question)]


def _asked(desk: Desk, heard: Heard, message: int, ask: Ask) -> Out:
    number = desk.book.ask(heard.who, heard.at, message, as_data(ask))
    buttons = tuple(Button(f"{number}.{n}", choice.label) for n, choice in enumerate(ask.choices))
    cautions = tuple(c for c, text in found.CAUTIONS.items() if text in ask.why)
    return Out(heard.at, heard.who, "reply", ask.why, buttons, (), None, ask, cautions=cautions)


def _open(desk: Desk, heard: Heard) -> list[Asked]:
    """The questions about messages of this sender that words may still answer, the last one first."""
    asks = (a for a in reversed(desk.book.open_asks(heard.who, heard.at - SAME_DAY)) if a.message is not None)
    return [a for a in asks if heard.at - a.at <= SAME_DAY]


def _answering(desk: Desk, heard: Heard, person: Person, asks: Sequence[Asked], *, last: bool) -> list[Out] | None:
    """Act on a message that answers one of these questions, the last one first: by naming a choice of it, or by the
    thing that was doubtful or missing. None where it answers none: a fact of its own is not one. A mere yes, no or
    "the second" answers only what was said `last`."""
    for place, asked in enumerate(asks):
        if (n := chosen(heard.text, asked.ask, newest=last and place == 0)) is not None:
            return _pressed(desk, heard, person, f"{asked.id}.{n}")
        if place == 0 and asked.ask.get("wants"):
            if (outs := _filled_in(desk, heard, person, asked)) is not None:
                return outs
            continue
        if last and place == 0 and says_no(heard.text):
            desk.book.settle(asked.id, heard.text)
            desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
            return [Out(heard.at, heard.who, "reply", chat.NONE_OF_THESE)]
        if heard.at - asked.at > JUST_NOW:
            continue
        if wants_another(heard.text):
            desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
            return [Out(heard.at, heard.who, "reply", chat.WHICH_THEN)]
        if not isinstance(understand(heard.text, heard.at, desk.farm), Nothing | Ask):
            return None
        if (outs := _put_right(desk, heard, person, asked, heard.text)) is not None:
            return outs
    return None


def _answering_found(desk: Desk, heard: Heard, person: Person) -> list[Out] | None:
    """Act on a message that names a button under something the bot found, where only one thing is so open."""
    asks = desk.book.open_asks(heard.who, heard.at - 2 * SAME_DAY)
    offered = [a for a in asks if a.message is None and heard.at - a.at <= 2 * SAME_DAY]
    found_ = [(a, n) for a in offered if (n := chosen(heard.text, a.ask, newest=False)) is not None]
    if len({a.ask["matter"] for a, _ in found_}) != 1:
        return None
    return _pressed(desk, heard, person, f"{found_[-1][0].id}.{found_[-1][1]}")


def _asked_again(heard: Heard, asked: Asked) -> Out:
    """A bare yes to a question of several choices: which of them?"""
    labels = [c["label"] for c in asked.ask.get("choices", [])]
    buttons = tuple(Button(f"{asked.id}.{n}", label) for n, label in enumerate(labels))
    return Out(heard.at, heard.who, "reply", chat.which_of(labels) if labels else asked.ask["why"], buttons)


def _put_right(desk: Desk, heard: Heard, person: Person, asked: Asked, words: str) -> list[Out] | None:
    """Read a message that was asked about anew with the answer in its place, and act on that; None where it is none."""
    if asked.message is None or asked.ask.get("wants") or asked.ask.get("text") == NO_WORDS:
        return None
    about = desk.book.heard(asked.message)
    said = local(about.said, desk.farm.plan.farm.timezone)
    found_ = answered(
        words,
        asked.ask.get("text") or about.words,
        asked.ask,
        lambda text: pieces(text, said, desk.farm),
        lambda text, piece, other: instead_of(text, piece, other, desk.farm),
        lambda text: understand(text, said, desk.farm),
    )
    if found_ is None:
        return None
    reading, text = found_
    desk.book.settle(asked.id, words)
    message = _hear_answer(desk, heard, about, words)
    if isinstance(reading, Ask):
        reading = replace(reading, text=reading.text or text)
    return _told(desk, heard, person, message, said, reading)


def _hear_answer(desk: Desk, heard: Heard, about: Message, words: str) -> int:
    """Write down an answer. It belongs to the message that was in doubt, so that an edit of that one takes it back."""
    name = (about.name if about.by == heard.who else None) or heard.message
    return desk.book.hear(heard.who, heard.at, heard.text or f"[{words}]", name=name, said=about.said)


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
    entries = [e.entry_from(x) for x in choice.get("entries", [])]
    if asked.open and not (entries or choice.get("say") or asked.ask.get("wants")):
        if wants_another(choice["label"]):
            return [Out(heard.at, heard.who, "reply", chat.WHICH_THEN)]
        if (outs := _put_right(desk, heard, person, asked, choice["label"])) is not None:
            return outs
    if not desk.book.settle(asked.id, choice["label"]):
        return [Out(heard.at, heard.who, "reply", chat.SETTLED)]
    if matter is not None:
        _settle_twins(desk, matter, asked.at, choice["label"])
        if not choice.get("as_told"):
            entries = [replace(x, on=heard.at.date()) for x in entries]  # done on the day it is pressed
    about = desk.book.heard(asked.message) if asked.message is not None else None
    if about is not None:
        message = _hear_answer(desk, heard, about, choice["label"])
    else:
        message = desk.book.hear(heard.who, heard.at, heard.text or f"[{choice['label']}]", name=heard.message)
    wants = from_data(Wants, asked.ask["wants"]) if asked.ask.get("wants") else None
    if not entries:
        none = chat.WEIGH_AGAIN if choice["label"] == "weigh again" else chat.NONE_OF_THESE
        say = choice.get("say") or (chat.ENOUGH if wants and wants.key else none)
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
        reading = replace(reading, wants=Wants(tuple(wanted.new_rows(out.entries, plan))))
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
    rows = (*(wants.rows if wants else ()), *wanted.new_rows(out.entries, before))
    ask = wanted.next_wanted(rows, wants.key if wants else "", desk.farm.plan_data, desk.farm.plan, heard.at.date())
    if ask is None or (not wants and not out.entries):
        return outs
    asked = _asked(desk, heard, message, ask)
    said = asked if out.text == chat.ENOUGH else _joined(out, asked)
    return [*outs[:-1], replace(said, question=out.question)]


def _filled_in(desk: Desk, heard: Heard, person: Person, asked: Asked) -> list[Out] | None:
    """Words that answer a question about the plan; None where they are no answer to it."""
    wants = from_data(Wants, asked.ask["wants"])
    got = wanted.answered(heard.text, wants, desk.farm.plan_data, desk.farm.plan, heard.at.date())
    if got is None:
        return None
    if isinstance(got, Ask):  # a name that is in no table may be anything
        just = heard.at - asked.at <= JUST_NOW
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
    told_here = [seq for t in told for seq in desk.book.told_by(t.id) if not _put_on_plan(desk, t, seq)]
    seqs = said_by(desk.fold, told_here)
    old = [standing(desk.fold.told[s].entry) for s in seqs]
    for asked in desk.book.open_asks(heard.who):
        if asked.message in {t.id for t in told}:
            desk.book.settle(asked.id, "edited")
    message = desk.book.hear(heard.who, heard.at, heard.text, name=heard.message, said=said)
    if seqs:
        desk.record(
            message, [e.Edited(on=heard.at.date(), withdraws=tuple(n for s in seqs for n in taken(desk.fold, s)))]
        )
    before = _before(desk, heard, told[0].id if told else None)
    outs = _told(desk, heard, person, message, said, understand(heard.text, said, desk.farm, before))
    if seqs and not outs:
        return [Out(heard.at, heard.who, "reply", chat.edited_away())]
    if not seqs:
        return outs
    new = [standing(x) for x in outs[0].entries]
    was = changes.edited(old, new, desk.farm, heard.at.date())
    text = chat.changed(outs[0].text, was, same=old == new, asked=outs[0].ask is not None)
    return [replace(outs[0], text=text), *outs[1:]]
