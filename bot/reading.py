"""A message's text becomes entries, a question, a question back, or nothing: the one rule that makes it safe is here.

    text -> pieces -> sentences -> stretches -> each offered to every row of the phrase table -> reading

A stretch is read where a row has accounted for every number and every farm name in it. Whatever is left over is asked
about where the farm is plainly meant, and makes nothing be recorded; what is chatter, wish or plan says nothing.
No clock, no book, no sentence for a chat beyond the question asked back.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import pairwise
from typing import TypeAlias

from bot import phrases, wary
from bot.denied import denied, left_open
from bot.fact import Ask, Choice, Doubt, Fact, Found, Question, Several, Swap, harmless, words_of
from bot.phrases import growing, jobs, questions, stores, talk
from bot.phrases.unknown import numbered_place
from bot.slots import Piece, pieces
from bot.stretches import (
    CONJUNCTIONS,
    OF_ANIMALS,
    WAS_BEFORE,
    begins_fact,
    chunks_of,
    days_held,
    either_of,
    farm_meant,
    foreign,
    heading,
    inside,
    listed,
    only_names,
    only_tags,
    only_weighed,
    reminder_at,
    sentences_of,
    wished,
)
from bot.verbs import STRONG
from rules.entries import About, Dose, Entry, HeadCount, Move, OnHand, Ordered, RamsIn, Said, Stage, Used, Weight
from rules.farm import Farm

__all__ = ["Answer", "Ask", "Choice", "Nothing", "Question", "Reading", "Record", "read"]

STARTS = 6  # places in one chunk at which another fact can begin
MOST = 7  # chunks between commas that can be one fact


@dataclass(frozen=True, slots=True)
class Record:
    """All that a message tells, none of it in doubt; and what it asks as well."""

    entries: tuple[Entry, ...]
    question: Question | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    question: Question


@dataclass(frozen=True, slots=True)
class Nothing:
    """Nothing told and nothing asked."""


Reading: TypeAlias = Record | Answer | Ask | Nothing


def read(text: str, said: datetime, farm: Farm, it: tuple[str, str] | None = None) -> Reading:
    """What a message says. `said` is when it was sent, aware, in the farm's zone. `it` is the row of the plan (table,
    name) spoken of just before, for a question, or another name, that only says "it"."""
    grown, rest = growing.grown(text[:4000], said.date(), farm, it)
    if isinstance(grown, Ask):
        return grown
    if not grown:
        return _plainly(text, said, farm, it[1] if it and it[0] == "item" else None)
    return _after(grown, rest, _plainly(rest, said, growing.planned(farm, grown)))


def _after(grown: list[Entry], words: str, rest: Reading) -> Reading:
    """What a message told of the plan, and what else it says; asked where there are numbers that nobody understood."""
    match rest:
        case Record(entries, question):
            return Record((*grown, *entries), question)
        case Answer(question):
            return Record(tuple(grown), question)
        case Ask():
            choices = [replace(c, entries=(*grown, *c.entries)) if c.entries else c for c in rest.choices]
            return replace(rest, choices=tuple(choices))
    if any(c.isdigit() for c in words):
        return phrases.keep_the_rest(words, grown)
    return Record(tuple(grown))


def _plainly(text: str, said: datetime, farm: Farm, item: str | None = None) -> Reading:
    """What a message says that tells nothing of the plan."""
    cut = pieces(text[:4000], said, farm)
    got = _read(cut, said, farm, item)
    if isinstance(got, Answer):
        return got
    if isinstance(got, Record) and _taken_back(cut, got):
        return Ask("Which of it stands? Tell me the right one alone.")
    if either := _either_amount(cut, not isinstance(got, Record)):
        choices = _reread(either, cut, said, farm, item)
        if all(c.entries for c in choices):
            return Ask(f"{' or '.join(c.label for c in choices)}?", tuple(choices))
    if not isinstance(got, Ask) or not got.swaps:
        return got
    return Ask(got.why, (*_reread(got.swaps, cut, said, farm, item), *got.choices)[:4])


_BACK = ("scratch that", "no wait", "wait no", "no sorry", "oops", "whoops", "cancel that", "i mean")


def _taken_back(cut: Sequence[Piece], got: Record) -> bool:
    """Whether in the middle of what is told something of it is taken back: "2641 112, scratch that, 2642 112"."""
    text = words_of(cut)
    back = any(f" {w} " in text for w in _BACK)
    return back and not any(x.kind in ("correct", "undo", "remind") for x in got.entries)


def _reread(swaps: Sequence[Swap], cut: Sequence[Piece], said: datetime, farm: Farm, item: str | None) -> list[Choice]:
    """What the whole message says with other pieces in it, as choices; without entries where it is still in doubt."""
    choices = []
    for label, swapped in swaps:
        other = {id(old): new for old, new in swapped}
        again = _read([q for p in cut if (q := other.get(id(p), p)) is not None], said, farm, item)
        choices.append(Choice(label, again.entries if isinstance(again, Record) else ()))
    return choices


def _either_amount(cut: Sequence[Piece], spans: bool) -> tuple[Swap, ...]:
    """ "2 bags left, maybe three", "2 or 3 bags": as one or the other; `spans`: "25 to 30 bales", too."""
    joins = ("or", "maybe", "possibly", "poss", *(("to", "-") if spans else ()))
    nums = [n for n, p in enumerate(cut) if p.kind == "num" and not harmless(cut, n)]
    for n, m in pairwise(nums):
        between = [p.text for p in cut[n + 1 : m] if p.kind != "name"]
        a, b = cut[n], cut[m]
        joined = next((k for k in range(n + 1, m) if cut[k].text in joins), None)
        if (
            joined is None
            or m - n > 7
            or a.value is None
            or b.value is None
            or cut[joined + 1 : m] not in ([], [cut[m - 1]])
        ):
            continue
        if a.money or b.money or a.tags or b.tags or "?" in between or (a.unit and b.unit and a.unit != b.unit):
            continue
        start = joined - 1 if cut[joined - 1].kind == "sep" else joined
        ends = m + 2 if m + 1 < len(cut) and cut[m + 1].text == "?" else m + 1
        gone = tuple((p, None) for p in cut[start:ends])
        unit, per = a.unit or b.unit, a.per or b.per
        return tuple(
            (
                f"{p.text} {unit}{'s' if p.value != 1 else ''}" if unit else p.text,
                (*gone, (a, replace(p, unit=unit, per=per))),
            )
            for p in (a, b)
        )
    return ()


def _read(cut: Sequence[Piece], said: datetime, farm: Farm, item: str | None) -> Reading:
    if not cut:
        return Nothing()
    try:
        whole = talk.whole(Fact(cut, said, farm))
    except Several:
        whole = None
    except Doubt as doubt:
        return doubt.ask
    if isinstance(whole, Ask):
        return whole
    if whole is not None:
        return Record(tuple(whole)) if whole else Nothing()
    reader = _Reader(said, farm, item)
    return reader.at_once(cut) or reader.read(cut)


class _Reader:
    """One message, sentence by sentence; what is carried from one stretch to the next lives here."""

    def __init__(self, said: datetime, farm: Farm, item: str | None = None) -> None:
        self.said, self.farm, self.item = said, farm, item
        self.entries: list[Entry] = []
        self.question: Question | None = None
        self.asks: list[Ask] = []
        self.lost: list[Sequence[Piece]] = []  # stretches with numbers or names that nobody understood
        self.carried: frozenset[str] = frozenset()
        self.group: str | None = None
        self.single = True
        self.begun = False  # whether something of this sentence has been read: a group named now is no heading
        self.later: Ask | None = None  # what several chunks together would have me ask
        self.tags: tuple[str, ...] = ()  # of the fact before, for "him" and "them"
        self.heads: int | None = None  # the same where it told a number only
        self.days: Sequence[Piece] = ()
        self.scaled = False  # whether animals and their weights are listed in it
        self.headed: Sequence[Piece] = ()  # the day of a line that only heads what follows

    def at_once(self, cut: Sequence[Piece]) -> Reading | None:
        """A lambing or a scan told over several sentences; None where the message is no such thing."""
        flat = [p for p in cut if p.kind != "sep" or p.text == "and"]
        if (
            len(flat) % 2 == 0 and len(flat) >= 4 and all(listed(p) for p in flat)
        ):  # a tag a line, its weight on the next
            for row in phrases.ROWS:
                if row.name == "weight":
                    fact = Fact(flat, self.said, self.farm)
                    try:
                        got = row.build(fact)
                    except (Several, Doubt):
                        return None
                    return Record(tuple(got)) if isinstance(got, list) and not fact.left() else None
        for row in phrases.AT_ONCE:
            fact = Fact(flat, self.said, self.farm)
            if not any(p.is_(*row.classes) for p in flat) or foreign(row, flat) or wished(flat):
                continue
            try:
                got = row.build(fact)
            except (Several, Doubt):
                continue
            sure = isinstance(got, list) and not wary.turned_over(flat, got, self.farm)
            if (
                isinstance(got, list)
                and sure
                and not fact.left()
                and not denied(flat, got)
                and not left_open(flat, got)
            ):
                return Record(tuple(got))
        return None

    def read(self, cut: Sequence[Piece]) -> Reading:
        tags = sum(bool(p.tags) and p.full for p in cut)
        self.scaled = tags > 1 and sum(p.kind == "num" and not p.full for p in cut) >= tags
        sentences = sentences_of(cut)
        self.single = len(sentences) == 1
        for sentence, asked in sentences:
            told = len(self.entries), len(self.asks), self.question
            self._sentence(sentence, asked)
            if asked and len(self.entries) > told[0] and self.question is told[2] and len(self.asks) == told[1]:
                new = tuple(self.entries[told[0] :])
                del self.entries[told[0] :]
                self.asks.append(Ask("Sure? Shall I write it down?", (Choice("yes", new), Choice("no"))))
        named = {
            t for x in self.entries for t in (*getattr(x, "tags", ()), getattr(x, "tag", None), getattr(x, "dam", None))
        }
        self.lost = [s for s in self.lost if not only_tags(s, named) and not (self.entries and only_names(s))]
        if self.asks:
            return self._with_all(self.asks[0])
        if self.lost and (self.entries or any(farm_meant(s) for s in self.lost)):
            stretch = next((s for s in self.lost if farm_meant(s)), self.lost[0])
            if self.entries or farm_meant(stretch):
                return phrases.not_understood(Fact(stretch, self.said, self.farm))
        if self.entries:
            return phrases.twice(self.entries) or Record(tuple(self.entries), self.question)
        return Answer(self.question) if self.question else Nothing()

    def _with_all(self, ask: Ask) -> Ask:
        """The choices settle the whole message: what else it told goes with each."""
        if not self.entries:
            return ask
        more = tuple(self.entries)
        choices = [Choice(c.label, (*more, *c.entries)) if c.entries and not c.again else c for c in ask.choices]
        return replace(ask, choices=tuple(choices))

    def _told_item(self) -> str | None:
        for x in reversed(self.entries):
            name = getattr(x, "item", None) or getattr(x, "product", None)
            if isinstance(x, Stage) and x.stage == "creep":
                name = "creep"
            if name is not None and self.farm.plan.item_named(name) is not None:
                return str(name)
        return None

    def _told(self, key: str) -> str | None:
        return next((i for x in reversed(self.entries) if (i := getattr(x, key, None))), None)

    def _asking(self, pieces: Sequence[Piece]) -> Fact:
        """What may ask something; "there" is where those told of before went."""
        group = self._told("to") if self.entries and isinstance(self.entries[-1], Move) else self._told("group")
        return Fact(pieces, self.said, self.farm, group=group, before=self.tags, item=self._item())

    def _item(self) -> str | None:
        return self._told_item() or self.item

    def _sentence(self, sentence: Sequence[Piece], asked: bool) -> None:
        if not any(p.text == "\n" for p in sentence[:1]):
            self.carried = frozenset()
        if not asked and (at := reminder_at(sentence)):
            fact = Fact(sentence[at:], self.said, self.farm)
            got = jobs.remind(fact)
            if isinstance(got, list):
                self._sentence(sentence[:at], False)
                self.entries += got
                return
        days = [p for c in chunks_of(sentence) if not wished(c) for p in c if p.day and p.day.names_day]
        self.days = days if len({p.text for p in days}) == 1 and not inside(sentence, days[0]) else ()
        self.days = self.days if days else self.headed
        try:
            whole = None if asked else talk.of_sentence(Fact(sentence, self.said, self.farm))
        except Several:
            whole = None
        except Doubt as doubt:
            whole = doubt.ask
        if isinstance(whole, Ask):
            self.asks.append(whole)
            return
        if whole:
            self.entries += whole
            return
        question = questions.question(self._asking(sentence), asked)
        if isinstance(question, Ask) and self.question is not None:
            return  # "can 2656 go, or is he still held"
        if isinstance(question, Ask):
            self.asks.append(question)
            return
        if question is not None:
            self.question = self.question or question
            return
        chunks = chunks_of(sentence)
        at, before, puzzles = 0, len(self.entries), len(self.lost) + len(self.asks)
        self.later = None
        while at < len(chunks):
            for end in range(min(len(chunks), at + MOST), at, -1):
                stretch = [p for chunk in chunks[at:end] for p in chunk]
                if (asked_ := questions.question(self._asking(stretch), asked and end == len(chunks))) and at:
                    if isinstance(asked_, Question):
                        self.question = self.question or asked_
                    break
                self.begun = len(self.entries) > before
                if self._stretch(stretch, end - at):
                    break
            else:
                end = at + 1
                if not self._run_on(chunks[at]):
                    self._unread(chunks[at])
            at = end
        if len({p.text for p in days}) == 1:
            self._dated_alike(before)
        if self.later is not None and len(self.lost) + len(self.asks) > puzzles:
            self.asks.insert(0, self.later)  # no part of it was read by itself

    def _another_day(self, stretch: Sequence[Piece]) -> Entry | None:
        """The same on another day or to another group, with a number of its own ("fed 5 bales sat, 6 sun"), or None."""
        last = self.entries[-1]
        nums, days = [p for p in stretch if p.kind == "num"], [p for p in stretch if p.day and p.day.names_day]
        groups = [p.named("group") for p in stretch if "group" in p.names]
        if not isinstance(last, Used) or len(nums) != 1 or nums[0].unit or nums[0].tags:
            return None
        if (
            len(groups) == 1
            and groups[0]
            and not days
            and sum(p.kind == "name" for p in stretch) == 1
            and all(p.text in ("to", "for", "the", "into") for p in stretch if p.kind == "word")
        ):
            return replace(last, amount=nums[0].value or last.amount, group=groups[0])  # "and 2 to the fall ewes"
        if len(days) != 1 or len(stretch) != 2:
            return None
        return replace(last, on=Fact(stretch, self.said, self.farm).on(), amount=nums[0].value or last.amount)

    def _due(self, stretch: Sequence[Piece]) -> date | None:
        """The day on which it says that what is ordered comes, where it says nothing else."""
        days = [p for p in stretch if p.day and p.day.names_day]
        comes = re.search(
            r"\b(?:here|come|comes|coming|arrive|arrives|delivered|delivery|due|bringing|drop)\b", words_of(stretch)
        )
        if len(days) != 1 or not comes or any(p.kind in ("num", "tag") or "item" in p.names for p in stretch):
            return None
        on = days[0].day.days(self.said, True, self.farm.plan.farm.country) if days[0].day else ()
        return on[0] if len(on) == 1 and on[0] > self.said.date() else None

    def _dated_alike(self, first: int) -> None:
        """A day said last dates all facts of its kind: "sent 8 from pen 1 and 2 culls away thurs", not what else was
        told before it."""
        today, told = self.said.date(), self.entries[first:]
        if len(told) > 1 and told[-1].on != today:
            alike = [n for n, x in enumerate(told) if x.kind == told[-1].kind != "eggs" and x.on == today]
            for n in alike if alike == list(range(len(told) - 1 - len(alike), len(told) - 1)) else ():
                self.entries[first + n] = replace(told[n], on=told[-1].on)

    def _run_on(self, chunk: Sequence[Piece], before: int = 0) -> bool:
        """Whether a chunk is two facts in one breath ("fed 1 bag nuts to ewes 12 eggs"), each read in full."""
        if wished(chunk):
            return False
        kept = len(self.entries), len(self.asks), self.carried, self.group, self.tags
        ways: list[tuple[list[Entry], frozenset[str], str | None, tuple[str, ...]]] = []
        starts = [n for n in range(2, len(chunk) - 1) if begins_fact(chunk, n)]
        joined = [n for n in starts if chunk[n - 1].kind == "sep"]  # an "and" between is where it breaks
        if len(starts) > STARTS or before > 2:
            return False  # that would be a list, and the time it takes doubles with each
        for n in joined or starts:
            first = self._stretch(chunk[:n], 1) and len(self.entries) > kept[0]
            told = len(self.entries)
            rest = (
                first
                and (self._stretch(chunk[n:], 1) or self._run_on(chunk[n:], before + 1))
                and len(self.entries) > told
            )
            if rest and len(self.asks) == kept[1]:
                ways.append((self.entries[kept[0] :], self.carried, self.group, self.tags))
            del self.entries[kept[0] :], self.asks[kept[1] :]
            self.carried, self.group, self.tags = kept[2:]
        if not ways or any(way[0] != ways[0][0] for way in ways):
            return False  # "shipped 2641 2642 weaned 2643": whose is the one between?
        told_, self.carried, self.group, self.tags = ways[0]
        self.entries += told_
        return True

    def _stretch(self, stretch: Sequence[Piece], chunks: int) -> bool:
        """Whether a row reads this stretch of so many chunks in full; what it reads is taken."""
        if self.entries and isinstance(self.entries[-1], Dose) and all(p.day and p.day.names_day for p in stretch):
            self.asks.append(Ask("On each of those days?"))  # "gave 2641 oxy yesterday and today"
            return True
        instead = any(p.text == "instead" for p in stretch) and any(p.day and p.day.names_day for p in stretch)
        if not instead and not any(p.kind in ("num", "name", "tag", "vague") or p.classes for p in stretch):
            return True
        moved = self._build(stores.order_moved, stretch)
        if moved is not None:
            return moved
        if (
            self.entries
            and isinstance(self.entries[-1], HeadCount | OnHand | Weight)
            and WAS_BEFORE.fullmatch(words_of(stretch))
        ):
            return True  # "counted 13, was 14"
        if self.entries and isinstance(dose := self.entries[-1], Dose) and (held := days_held(stretch)) is not None:
            if dose.withdrawal_days is None:
                self.entries[-1] = replace(dose, withdrawal_days=held)  # "..., vet says 28 days before he can go"
                return True
        if self.entries and isinstance(rams := self.entries[-1], RamsIn) and any(p.is_("synced") for p in stretch):
            if not any(p.kind in ("num", "name", "tag") for p in stretch):
                self.entries[-1] = replace(rams, synced=True)  # "..., they were sponged"
                return True
        if (
            self.entries
            and isinstance(order := self.entries[-1], Ordered)
            and (due := self._due(stretch))
            and not order.due
        ):
            self.entries[-1] = replace(order, due=due)  # "..., they'll be here on the 24th"
            return True
        if self.entries and (again := self._another_day(stretch)) is not None:
            self.entries.append(again)
            return True
        if self.entries and isinstance(self.entries[-1], Stage) and self.entries[-1].stage == "pulled":
            if any(p.is_("pulled") for p in stretch) and not any(p.kind in ("num", "tag", "name") for p in stretch):
                return True  # "pulled 6413. on the bottle now"
        if wished(stretch):
            return chunks == 1  # a wish swallows only its own chunk
        header = None if self.begun else heading(stretch)
        if header is not None or (self.scaled and not self.begun and only_weighed(stretch)):
            self.group = header or self.group
            self.headed = [p for p in stretch if p.day and p.day.names_day]
            self.days = self.headed or self.days
            return True
        if chunks > 1 and any(
            (p.is_("wish") and p.text not in CONJUNCTIONS) or p.text in ("isnt", "wasnt", "but", "cant", "not")
            for p in stretch
        ):
            return False  # what is denied or wished in one chunk says nothing of the others
        for row in phrases.ROWS:
            if foreign(row, stretch):
                continue
            fact = Fact(
                stretch, self.said, self.farm, self.days, self.carried, self.group, self.tags, self._told_item(),
                self.heads, self._told("product"), self._told("field"), self.single,
            )  # fmt: skip
            try:
                got = row.build(fact)
            except Several:
                continue
            except Doubt as doubt:
                got = doubt.ask
            if got is None:
                continue
            if isinstance(got, Ask):
                if chunks > 1:
                    if fact.left():
                        continue
                    self.later = self.later or got
                    return False
                self.asks.append(got)
                return True
            if not fact.left() and either_of(stretch):
                self.asks.append(phrases.which(got))
                return True
            if not fact.left() and wary.overheard(stretch, got, self.farm):
                continue
            if not fact.left() and (other := wary.for_other_stock(stretch, got, self.farm)):
                self.asks.append(other)
                return True
            if not fact.left() and wary.turned_over(stretch, got, self.farm):
                continue
            if not fact.left() and denied(stretch, got):
                return chunks == 1
            if not fact.left() and (puzzle := left_open(stretch, got)):
                if chunks > 1:
                    continue
                self.asks.append(puzzle)
                return True
            if not fact.left() and (place := self._new_place(stretch, got)):
                self.asks.append(place)
                return True
            if not fact.left() and got and got[0].kind == "note" and self._reason(stretch):
                return True
            if not fact.left():
                self.entries += got
                self._carry(stretch, got)
                return True
        return False

    def _build(self, build: Callable[[Fact], Found], stretch: Sequence[Piece]) -> bool | None:
        """Whether one builder reads a stretch in full; None where it is not its own."""
        fact = Fact(stretch, self.said, self.farm, self.days)
        try:
            got = build(fact)
        except (Several, Doubt):
            return None
        if not isinstance(got, list) or fact.left():
            return None
        self.entries += got
        return True

    def _reason(self, stretch: Sequence[Piece]) -> bool:
        """Whether what is seen, of no animal named again, is why the fact before it was done."""
        told = self.entries[-1].kind if self.entries else ""
        return told in ("cull", "dose", "loss", "stage") and not any(p.tags or p.kind == "name" for p in stretch)

    def _new_place(self, stretch: Sequence[Piece], got: Sequence[Said]) -> Ask | None:
        """Asked about a pen by number that the plan has not, where its number was read as a count of animals."""
        about = any(isinstance(x, About | HeadCount) for x in got)
        return numbered_place(Fact(stretch, self.said, self.farm)) if about else None

    def _carry(self, stretch: Sequence[Piece], got: Sequence[Said]) -> None:
        classes = frozenset(c for p in stretch for c in p.classes)
        self.carried = classes or self.carried
        self.group = next((g for e in got if (g := getattr(e, "group", None))), self.group)
        tags = [t for e in got for t in (getattr(e, "tags", ()) or (getattr(e, "tag", None),)) if t]
        heads = [h for e in got if e.kind in ("move", "ship", "stage", "arrived") and (h := getattr(e, "head", None))]
        if tags or heads:
            self.tags = tuple(dict.fromkeys(tags))
            self.heads = heads[0] if heads and not tags else None

    def _unread(self, chunk: Sequence[Piece]) -> None:
        """A chunk no row reads: kept in mind where it has a number or a name."""
        fact = Fact(chunk, self.said, self.farm)
        mentioned = [
            p.tags[0]
            for n, p in enumerate(chunk)
            if not (n and chunk[n - 1].text in ("off", "from"))
            and len(p.tags) == 1
            and (p.kind == "tag" or fact.is_tag(p))
        ]
        self.tags = tuple(mentioned) or self.tags
        strong = any(STRONG.get(p.text) in OF_ANIMALS for p in chunk) and not wished(chunk)
        doing = any(
            p.is_(*OF_ANIMALS, "bin", "average", "inserts", "scanned") and p.text not in ("had", "got", "to", "at")
            for p in chunk
        )
        if doing and not wished(chunk) and (place := numbered_place(fact)):
            self.asks.append(place)
            return
        left = [p for p in fact.left() if p.kind != "vague" or any(q.kind == "name" for q in chunk)]
        instead = any(p.text == "instead" for p in chunk)
        called = (
            bool(left)
            and all(p.kind == "tag" and p.text.isalpha() for p in left)
            and not any(p.is_("sick", "die", "move") for p in chunk)
        )
        if called and self.entries and not strong:
            return  # "..., hector is earning his keep"
        if left or instead or (strong and (self.entries or len(chunk) <= 8)):
            self.lost.append(chunk)
