"""One message in, what is recorded and what is said back: the sequence that every way into the program goes through.

    message -> reading -> entries in the book -> farm as it stands -> rules -> findings -> words -> out

`read`, `replay`, `chat` and `serve` differ only in where messages come from and where answers go. All that a message
changes, and the answer it is owed, is one block of the book, on the disk before anything is sent.
"""

import logging
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from json import dumps
from json import loads as parsed

from bot import checks
from bot.asking import findings_for, findings_with
from bot.book import Book, BookTrouble, Told, fact, fold
from bot.hours import moment as moment_at
from bot.offers import offers
from bot.reading import Answer, Ask, Nothing, Question, Reading, Record, read
from bot.settle import chosen, meant, settled
from bot.when import local
from bot.words import answers, chat, found, kept
from rules import entries as e
from rules import loads
from rules.cautions import cautions_with
from rules.days import Moment
from rules.farm import Farm
from rules.findings import Finding
from rules.fold import stands
from rules.plan import Person
from rules.records import as_data
from rules.weighing import weighed

log = logging.getLogger(__name__)

PAUSE = timedelta(minutes=20)  # so long after the last weight, a run of weights is summed up
RUN = 3  # weights that make a run
LATE = timedelta(minutes=10)  # a check this late is made at the present moment, once, however often it was missed


@dataclass(frozen=True, slots=True)
class Heard:
    """What came in: a text, an edited text, or the press of a button, from a person of the plan. `message` is what
    the outside calls it, `update` the number of the delivery that brought it."""

    at: datetime
    who: str
    text: str = ""
    message: str | None = None
    edit: bool = False
    press: str | None = None
    update: int | None = None


@dataclass(frozen=True, slots=True)
class Button:
    press: str
    label: str


@dataclass(frozen=True, slots=True)
class Out:
    """What goes out, with the data its words were made from."""

    at: datetime
    to: str
    cause: str
    text: str
    buttons: tuple[Button, ...] = ()
    entries: tuple[e.Entry, ...] = ()
    question: Question | None = None
    ask: Ask | None = None
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass
class Desk:
    """The open book and the farm it makes; `open_desk` makes one."""

    book: Book

    def __post_init__(self) -> None:
        self.fold = fold(self.book)

    @property
    def farm(self) -> Farm:
        return self.fold.farm

    def moment(self, at: datetime) -> Moment:
        return moment_at(self.farm, local(at, self.farm.plan.farm.timezone))

    def people(self) -> tuple[Person, ...]:
        return self.farm.plan.person or (Person(name="owner", role="owner"),)

    def person(self, name: str) -> Person | None:
        return next((p for p in self.people() if p.name == name), None)

    def record(self, message: int, entries: Iterable[e.Entry]) -> list[Told]:
        """Write entries of a message into the book, and advance the farm by them."""
        told = self.book.append(message, entries)
        self.fold.tell(map(fact, told))
        return told


def open_desk(book: Book) -> Desk:
    return Desk(book)


def understand(text: str, said: datetime, farm: Farm) -> Reading:
    """What a message says, nothing recorded: its reading, held against the farm as it stands."""
    return meant(read(text, said, farm), farm)


def hear(desk: Desk, heard: Heard) -> list[Out]:
    """Take in one message: record what it tells, answer what it asks, ask back where in doubt; the answers are owed
    in the book when this returns. Strangers get nothing. Raises BookTrouble where the book cannot be written."""
    try:
        with desk.book.block():
            if heard.update is not None and desk.book.seen(heard.update):
                return []
            return _owed(desk, _answer(desk, heard))
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
            return _owed(desk, [Out(heard.at, heard.who, "reply", chat.broken())])


def _owed(desk: Desk, outs: Sequence[Out]) -> list[Out]:
    for out in outs:
        buttons = [{"press": b.press, "label": b.label} for b in out.buttons]
        desk.book.owe(out.to, out.at, out.cause, {"text": out.text, "buttons": buttons})
    return list(outs)


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
    message = desk.book.hear(heard.who, heard.at, heard.text, name=heard.message)
    if _DONE.fullmatch(heard.text.strip().lower()) and (out := _weighed(desk, heard.who, heard.at, "reply")):
        return [out]
    return _told(desk, heard, person, message, heard.at, understand(heard.text, heard.at, desk.farm))


def _told(desk: Desk, heard: Heard, person: Person, message: int, said: datetime, reading: Reading) -> list[Out]:
    """Act on a reading. `said` is the moment its words are dated from."""
    match reading:
        case Nothing():
            return []
        case Answer(question):
            return [_answered(desk, heard, question)]
        case Ask():
            return [_asked(desk, heard, message, reading)]
        case Record(entries, question):
            return _recorded(desk, heard, person, message, entries, question)
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
    _in_run(desk, heard.who, heard.at, ready)
    out = _kept(desk, heard, [t.entry for t in told], before, words)
    if question is not None:
        more = _answered(desk, heard, question)
        out = replace(out, text=f"{out.text}\n{more.text}", question=question, findings=(*out.findings, *more.findings))
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
    lines += [found.CAUTIONS[c] for c in cautions]
    buttons = _buttons(desk, heard.who, findings, m)
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
    buttons = _buttons(desk, heard.who, findings, m)
    return Out(heard.at, heard.who, "reply", text, tuple(buttons), (), question, None, tuple(findings))


# -- a run of weights in the alley


_DONE = re.compile(
    r"(?:all |we're |were |i'm |im |ok |thats |that's )*(?:done|finished|the lot|it|all)(?: weighing| with weights)?[.!]*"
)


def _in_run(desk: Desk, who: str, at: datetime, entries: Sequence[e.Entry]) -> None:
    """Remember who is weighing, and the run of tags so far."""
    tags = [x.tag for x in entries if isinstance(x, e.Weight) and x.on == at.date()]
    if tags:
        run = desk.book.kept(f"weighing:{who}")
        before = run["tags"] if run and at - datetime.fromisoformat(run["at"]) <= PAUSE else []
        desk.book.keep(f"weighing:{who}", {"at": at.isoformat(), "tags": list(dict.fromkeys([*before, *tags]))})


def _weighed(desk: Desk, who: str, at: datetime, cause: str) -> Out | None:
    """The sum of somebody's run of weights, said once; None where there is no run."""
    run = desk.book.kept(f"weighing:{who}")
    if not run or len(run["tags"]) < RUN:
        return None
    m = desk.moment(at)
    desk.book.keep(f"weighing:{who}", None)
    found_ = weighed(desk.farm, m, [desk.farm.now_tagged(t) for t in run["tags"]])
    if found_ is None:
        return None
    findings = list(loads.ready(desk.farm, m))[:1]
    lines = [kept.weighing(found_, desk.farm, m.today), *(found.advice(x, desk.farm, m) for x in findings)]
    return Out(at, who, cause, "\n".join(filter(None, lines)), findings=tuple(findings))


def _run_ends(desk: Desk) -> dict[str, datetime]:
    """When each open run of weights is taken to be over."""
    runs = {p.name: run for p in desk.people() if (run := desk.book.kept(f"weighing:{p.name}"))}
    return {who: datetime.fromisoformat(r["at"]) + PAUSE for who, r in runs.items() if len(r["tags"]) >= RUN}


# -- doubts


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
    said = desk.book.heard(asked.message).said if asked.message is not None else heard.at
    message = desk.book.hear(heard.who, heard.at, heard.text or choice["label"], name=heard.message, said=said)
    entries = [e.entry_from(x) for x in choice.get("entries", [])]
    if not entries:
        return [Out(heard.at, heard.who, "reply", choice.get("say") or chat.NONE_OF_THESE)]
    return _recorded(desk, heard, person, message, entries, None)


def _settle_twins(desk: Desk, matter: str, at: datetime, label: str) -> None:
    """The same finding was put to others too, or twice: one answer settles all."""
    for person in desk.people():
        for other in desk.book.open_asks(person.name):
            if other.ask.get("matter") == matter and other.at <= at:
                desk.book.settle(other.id, label)


def _buttons(desk: Desk, who: str, findings: Sequence[Finding], m: Moment) -> list[Button]:
    """The buttons under a reply: for the one or two things in it that ask for something."""
    shown = found.together([x for x in findings if x.level != "know"])[:2]
    return [b for x, of in shown for b in _offer(desk, who, x, of, m, several=len(shown) > 1)]


def _offer(desk: Desk, who: str, x: Finding, of: Sequence[Finding], m: Moment, *, several: bool) -> Iterator[Button]:
    """The buttons of what is said as one, kept as a question so that a press counts once and survives a restart."""
    offered = offers(x, of, desk.farm, m, several=several)
    if offered:
        number = desk.book.ask(who, m.now, None, {"matter": x.key, "choices": [as_data(o) for o in offered]})
        yield from (Button(f"{number}.{n}", o.label) for n, o in enumerate(offered))


# -- an edited message


def _edited(desk: Desk, heard: Heard, person: Person) -> list[Out]:
    """What the message had recorded is withdrawn, and its new text stands in its place, on the day of the first."""
    told = desk.book.named(heard.who, heard.message) if heard.message else []
    if told and told[-1].words == heard.text:
        return []
    said = told[0].said if told else heard.at
    said = local(said, desk.farm.plan.farm.timezone)
    seqs = stands(desk.fold, [seq for t in told for seq in desk.book.told_by(t.id)])
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


# -- the timetable


def next_knock(desk: Desk, after: datetime) -> datetime:
    """When the next scheduled check falls due, strictly after a moment."""
    due = [at for check in checks.CHECKS if (at := check.next(desk.farm, after)) is not None]
    due += [at for at in (_lies_till(desk), *_run_ends(desk).values()) if at is not None and at > after]
    return min(due)


def knock(desk: Desk, now: datetime, *, late: timedelta | None = LATE) -> list[Out]:
    """Make every scheduled check that fell due up to now, each at its own time. One that is later than `late` is made
    at the present moment instead, once, however often it was missed. What it says is owed in the book when this
    returns. Raises BookTrouble."""
    kept_last = desk.book.kept("knocked")
    if kept_last is None:
        desk.book.keep("knocked", now.isoformat())
        return []
    at = datetime.fromisoformat(kept_last)
    outs: list[Out] = []
    missed: dict[str, checks.Check] = {}
    while (due := next_knock(desk, at)) <= now:
        at, before = due, at
        rows = [check for check in checks.CHECKS if check.next(desk.farm, before) == at]
        if late is not None and now - at > late:
            missed |= {check.name: check for check in rows}
        else:
            outs += _made(desk, at, at, rows)
    if missed:
        outs += _made(desk, now, at, missed.values())
    return outs


def _made(desk: Desk, now: datetime, due: datetime, rows: Iterable[checks.Check]) -> list[Out]:
    """Make these checks as of `now`, and remember that all up to `due` are made."""
    m = desk.moment(now)
    try:
        with desk.book.block():
            outs = _to_family(desk, m) if (lies := _lies_till(desk)) is not None and lies <= now else []
            for who, ends in _run_ends(desk).items():
                outs += [out] if ends <= now and (out := _weighed(desk, who, now, "scheduled")) else []
            for check in rows:
                outs += _looked(desk, check, m)
            desk.book.keep("knocked", due.isoformat())
            return _owed(desk, outs)
    except BookTrouble:
        desk.fold = fold(desk.book)
        raise


def _looked(desk: Desk, check: checks.Check, m: Moment) -> list[Out]:
    """What one check says to each owner; nothing where nothing is worth saying."""
    looked = [x for x in check.look(desk.farm, m) if not checks.waved(x, desk.farm, m.now)]
    outs = []
    for person in desk.people():
        if person.role == "owner" and (fresh := _fresh(desk, person, check, looked, m)):
            outs.append(_scheduled(desk, person, fresh, m, morning=check.name == "morning"))
    if outs and (urgent := [x.key for x in outs[0].findings if x.level == "act"]):
        desk.book.keep("urgent", {"at": m.now.isoformat(), "keys": urgent})
    return outs


def _fresh(desk: Desk, person: Person, check: checks.Check, looked: Sequence[Finding], m: Moment) -> list[Finding]:
    """Those of the findings that this person has not been told, or that have changed, or whose moment came."""
    fresh = []
    for x in looked:
        spoken = desk.book.said(person.name, x.key)
        old = parsed(spoken.gist) if spoken else None
        pressing = check.name == "cut-off"
        if checks.worth(x, old, spoken.at if spoken else None, m.now, pressing) and not _soon_again(desk, person, x, m):
            fresh.append((x, old))
    batches = {name for x, _ in fresh if (name := checks.batch(x))}
    fresh += [(x, None) for x in looked if checks.batch(x) in batches and x.key not in {y.key for y, _ in fresh}]
    for x, old in fresh:
        times = int(old["times"]) + 1 if old else 1
        desk.book.say(person.name, x.key, dumps(checks.gist(x, times, check.name == "cut-off")), m.now)
    for name in sorted(batches):
        desk.book.say(person.name, name, "{}", m.now)
    return [x for x, _ in fresh]


def _soon_again(desk: Desk, person: Person, x: Finding, m: Moment) -> bool:
    """Whether others of its batch were said lately, and this one can wait for them to be said again."""
    last = desk.book.said(person.name, checks.batch(x)) if checks.batch(x) and x.level == "soon" else None
    return last is not None and m.now - last.at < checks.BATCH_DAYS


def _scheduled(desk: Desk, person: Person, findings: Sequence[Finding], m: Moment, *, morning: bool) -> Out:
    findings = sorted(findings, key=lambda x: checks.RANK[x.level])
    text = found.message(findings, desk.farm, m, morning=morning)
    shown = found.together(findings)[: found.MOST]
    buttons = [b for x, of in shown for b in _offer(desk, person.name, x, of, m, several=len(shown) > 1)]
    cautions = tuple(dict.fromkeys(c for x in findings for c in found.cautions_in(x)))
    return Out(m.now, person.name, "scheduled", text, tuple(buttons), (), None, None, tuple(findings), cautions)


def _lies_till(desk: Desk) -> datetime | None:
    """When an urgent message has lain unanswered for so long that the family should hear of it."""
    urgent, answered = desk.book.kept("urgent"), desk.book.kept("answered")
    if urgent is None:
        return None
    at = datetime.fromisoformat(urgent["at"])
    if answered is not None and datetime.fromisoformat(answered) >= at:
        return None
    return checks.waking(local(at, desk.farm.plan.farm.timezone), checks.UNANSWERED, desk.farm)


def _to_family(desk: Desk, m: Moment) -> list[Out]:
    """An urgent message that nobody answered, to the family, as far as it still holds."""
    keys = desk.book.kept("urgent")["keys"]
    desk.book.keep("urgent", None)
    still = [x for x in checks.found_by(checks.RULES, desk.farm, m) if x.level == "act" and x.key in keys]
    still = [x for x in still if not checks.waved(x, desk.farm, m.now)]
    family = [p for p in desk.people() if p.role == "family"] if still else []
    return [_scheduled(desk, person, still, m, morning=False) for person in family]
