"""What a message means after the one before it: "same for 2644", "make that 3 bags", "no, that was yesterday".

Such a message says nothing of itself; it is held against what the same person told last, never against what another
told. Just now it is taken; later the same day it is asked, with what it would change said in full; without anything to
go by it is asked too. Nothing is written here: a change is a correction, of which an undo leaves what was.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

from bot.fact import NO_WORDS, Ask, Choice, Fact
from bot.reading import Answer, Reading, Record, read
from bot.slots import Piece, pieces
from bot.spelling import plain
from bot.tags import nearest
from bot.told import (
    COPIED,
    STORED,
    Change,
    Told,
    due_on,
    on_day,
    subject,
    tags_in,
    told_of,
    with_name,
    with_number,
    with_tag,
)
from bot.words import carried as words
from bot.words.kept import echo
from rules import doubt
from rules import entries as e
from rules.farm import Farm

JUST_NOW = timedelta(minutes=30)  # so long after it was told, what was told last is what a "make that 3" means
GROWN = 250  # days of age from which on a ewe may have lambed
SAME_DAY = timedelta(hours=14)  # so long after it is asked whether it is meant

_LEAD = (
    r"(?:(?:no|nope|nah|naw|sorry|sry|oops|ope|whoops|wait|hang on|hold on|actually|correction|typo|my bad|i meant|"
    r"meant|i mean|mean|should be|shd be|should have been|should of been|shoulda been|supposed to be|make that|make it|"
    r"change (?:that|it) to|change|that was wrong|thats wrong|was wrong|it should|that should|ah|oh|ah no|oh no|damn|"
    r"shoot|\*|its|that is|thats|it was|that was|was|is|rather|instead|that|it|"
    r"wrong (?:tag|lamb|one|animal|number|ewe|ram|pen|group|item|thing|day|feed))[ ,.:!-]*)+"
)
# Without one of these words it is no such message: most are not, and need not be cut for it.
_HINT = re.compile(
    r"\b(?:same|too|as ?well|also|likewise|ditto|not|instead|rather|no|nope|nah|naw|sorry|sry|oo?ps|ope|whoops|hang|"
    r"hold|actually|correction|typo|bad|meant?|should|shd|shoulda|supposed|make|change|wrong|wait|ah|oh|damn|shoot|that|thats|"
    r"those|these|they|them|others?|rest|remaining)\b|that's|\*|^\s*(?:and|plus)\b"
)
_PLAIN_LEADS = {"that", "it", "was", "is", "its", "it was", "thats", "that is", "oh", "ah", "instead", "rather", "wait"}
_AND = r"(?:(?:and|also|then|ok|plus)[ ,]*)"
_ONE = r"(?:the |all the |all of the |tag |number |lamb |ewe )?X"
_LIST = rf"{_ONE}(?:[ ,]+(?:and |n |& )*{_ONE})*"
_SAME = r"(?:the )?same(?: again| thing| dose| deal| story)?"
_ALIKE = re.compile(
    rf"{_AND}*{_SAME}(?: as well)?(?: for| with| to| on| goes for)? (?P<a>{_LIST})(?: too| as well| also| please| pls)*"
    rf"|(?:ditto|likewise)(?: for| with| on)? (?P<b>{_LIST})"
    rf"|{_AND}*(?:for |to |with )?(?P<c>{_LIST})[ ,]*"
    rf"(?:too|as well|aswell|also|likewise|ditto|(?:got |had |gets )?{_SAME}(?: too)?)"
    rf"|(?:(?:and|also|plus)[ ,]+)+(?:also |for |to |with )?(?P<d>{_LIST})(?: too| as well)?"
)
_REST = re.compile(
    r"(?:(?:and|also|then|plus|same|for|to|with|ditto|the)[ ,]*)+(?:other|others|rest|remaining)"
    r"(?: ones?| N| X| two| three| few)?(?: lambs?| ewes?| pens?| groups?| of them)?(?: too| as well)?"
)
_INSTEAD = re.compile(
    rf"(?:{_LEAD})?not (?P<old>{_ONE})[ ,.:-]*(?:but |its |it was |it is |is |was )*(?P<new>{_ONE})"
    rf"|(?:{_LEAD})?(?P<new2>{_ONE})[ ,]*(?:and )?(?:not|instead of|rather than) (?P<old2>{_ONE})"
    rf"|(?P<lead>{_LEAD})(?:for |in |to |on |of |into |from )?(?P<new3>{_ONE})"
    r"(?: it was| it is| it should be| that was| then| please| sorry)*"
    rf"|\* ?(?P<new4>X)|(?P<new5>X) ?\*"
)
_LEADS = re.compile(_LEAD)
_OF_IT = re.compile(rf"{_LEAD}X (?:of |for )?(?:the )?X")
_DAY = re.compile(
    rf"(?:{_LEAD}|(?:(?:and|all|both) )*(?:those|these|they|them|all of (?:them|it|those))(?: all)?(?: were| was|s)? )"
    r"(?:all |for |on |were |was |from |done )*D(?: not today| sorry)?"
    r"|D (?:it was|that was|was that|those were|they were)"
)
_WAS = re.compile(r"\b(?:was|were)\b")
_MANY = re.compile(r"\b(?:those|these|they|them|all)\b")


_TOLD_IT = (
    r"(?:say|said|tell|told|send|sent|text|texted|write|wrote|written|put|got|get|record|recorded|log|logged|enter|entered|"
    r"have|note|noted|keep|kept)"
)
_BACK = re.compile(
    r"(?:so|ok|wait|hey|and|um|sorry|bot)?[ ,]*(?:"
    rf"what(?:'?d| did|'?ve| have| had| was it)? ?(?:i|you|ya|u|we)(?: just| last| actually)? {_TOLD_IT}(?: you| ya)?"
    r"(?: down| in)?"
    r"|what(?:'?s| was| is| were| are)? (?:the|my) last (?:thing|one|entry|message|text|bit|few|two|three|couple)"
    rf"(?: things| ones| of things)?(?: (?:i|you|u)(?: just)? {_TOLD_IT}(?: you)?(?: down)?)?"
    r"|read (?:that|it|the last one|me that|them)? ?back(?: to me)?|say (?:that|it) again|(?:can you )?repeat that"
    r"|did (?:you|u|ya) get (?:that|it|all that|them)"
    r")(?: last| just now| so far| today| there| then| again| please| pls)*[ ?.!]*"
)


def says_back(text: str) -> int | None:
    """How many of the last messages are asked back by "what did I just say"; None where it asks nothing of the kind."""
    said = plain(text)
    if len(said) > 80 or not _BACK.fullmatch(said):
        return None
    if re.search(r"\btoday\b|\bso far\b", said):
        return 12
    return 3 if re.search(r"\b(?:few|three|couple|them)\b", said) else 2 if "two" in said else 1


def leans(text: str) -> bool:
    """Whether a message may lean on the one before it, at a glance."""
    return len(text) <= 120 and _HINT.search(text.lower()) is not None


def carried(text: str, said: datetime, farm: Farm, before: Sequence[Told]) -> Reading | None:
    """The message read after what its sender told `before` (the last first), or None where it is none of these."""
    cut = [p for p in pieces(text, said, farm) if p.text not in ("#", '"')]
    shape = _shape(cut, farm)
    if shape is None:
        return None
    carry = _Carry(text, cut, said, farm, [t for t in before if said - t.at <= SAME_DAY])
    return carry.alike(shape) or carry.another_day(shape) or carry.put_right(shape)


def _shape(cut: Sequence[Piece], farm: Farm) -> str | None:
    """The words of a message, each number, animal or farm name an X and each day a D; None where it has neither."""
    found = []
    for p in cut:
        if p.kind == "day":
            found.append("D")
        elif p.kind in ("num", "tag", "name"):
            found.append("N" if p.spelled and p.value == 2 else "X")
        elif p.text not in (".", "!", "\n", "?"):
            found.append(p.text)
        elif p.text == "?":
            return None
    shape = re.sub(r" +([,:])", r"\1", " ".join(found)).strip(" ,")
    return shape if re.search(r"\b[XD]\b|\b(?:other|others|rest|remaining)\b", shape) else None


class _Carry:
    """One such message, with what it may be about."""

    def __init__(self, text: str, cut: Sequence[Piece], said: datetime, farm: Farm, before: Sequence[Told]) -> None:
        self.said, self.today, self.farm, self.before = said, said.date(), farm, before
        self.things = [p for p in cut if p.kind in ("num", "tag", "name")]
        self.day = next((p for p in cut if p.kind == "day"), None)
        self.text = text.strip()
        self.fact = Fact(cut, said, farm)

    def _tag(self, p: Piece | None) -> str | None:
        sure = p is not None and (p.kind == "tag" or self.fact.is_tag(p))
        return p.tags[0] if p is not None and sure and len(p.tags) == 1 else None

    # -- the same for another

    def alike(self, shape: str) -> Reading | None:
        """ "same for 2644", "2644 too", "and the nursery"."""
        last = self.before[0] if self.before else None
        if _REST.fullmatch(shape):
            return self._of_the_rest(last)
        found = _ALIKE.fullmatch(shape)
        if not found or (last is None and found["d"]):  # "and 2404" alone: no more than a name
            return None
        if (found["c"] or found["d"]) and isinstance(read(self.text, self.said, self.farm), Record):
            return None  # "and 2402 103": an animal and its weight
        who = self._who()
        if not isinstance(who, list):
            return who
        return self._same(last, who) if last else Ask(words.same_what(who), text=words.names(who))

    def _who(self) -> list[e.About] | Ask | None:
        """The animals and groups it names; None where it names other things."""
        tags, groups = [], []
        for p in self.things:
            if (group := p.named("group")) is not None:
                groups.append(group)
            elif (tag := self._tag(p)) is not None:
                tags.append(tag)
            elif self.fact.looks_like_tag(p):
                near = nearest(p.text, self.farm, beside=tags)
                return Ask(words.no_such(p.text), (*(Choice(t) for t in near), Choice("none of these")))
            else:
                return None
        gone = next((self.farm.animals[t] for t in tags if not self.farm.animals[t].here), None)
        if gone is not None:
            return Ask(words.gone(gone))
        named = [e.About(on=self.today, tags=tuple(sorted(set(tags))))] if tags else []
        return [*named, *(e.About(on=self.today, group=g) for g in groups)]

    def _same(self, last: Told, who: Sequence[e.About]) -> Reading:
        """What the last message told of its animals, told of these; a weight is asked."""
        told = [x for x in last.entries if subject(x) == subject(last.entries[-1])]
        weights = [x for x in told if isinstance(x, e.Weight)]
        entries = tuple(y for about in who for x in told for y in told_of(x, about))
        if len(entries) < (len(told) - len(weights)) * len(who) or (weights and any(x.group for x in who)):
            return Ask(words.in_full(told[-1], who, self.farm), text=words.names(who))
        if not weights:
            return self._sure(last, entries, words.same(entries, self.farm, self.today))
        also = tuple(replace(weights[-1], tag=t) for x in who for t in x.tags)
        if not all(self._fits(x, self.farm) for x in also):
            return Ask(words.what_weight(also[0].tag), text=also[0].tag)
        without = [Choice("not weighed", entries)] if entries else []
        choices = (Choice("yes", (*entries, *also)), *without, Choice("no"))
        return Ask(words.that_weight(also, self.farm), choices, text=also[0].tag)

    def _of_the_rest(self, last: Told | None) -> Reading | None:
        """ "and the other two pens": which they are is asked, the groups that keep the same as choices."""
        entry = last.entries[-1] if last else None
        if last is None or not isinstance(entry, COPIED):
            return Ask(words.IN_FULL) if re.search(r"pens?|groups?|lambs?|ewes?", self.text.lower()) else None
        home = getattr(entry, "group", None) or self._home(tags_in(entry))
        row = self.farm.plan.group_named(home) if home else None
        others = [g for g in self.farm.keeping(row.keeps) if g != home] if row and row.keeps else []
        choices = [Choice(g, tuple(told_of(entry, e.About(on=self.today, group=g)))) for g in others]
        if len(choices) > 1:
            every = tuple(x for c in choices for x in c.entries)
            choices = [Choice("all of them" if len(choices) > 2 else "both", every), *choices[:2]]
        return Ask(words.which_others(entry, self.farm), (*choices, Choice("none of these")) if choices else ())

    def _home(self, tags: Iterable[str]) -> str | None:
        found = {a.group for t in tags if (a := self.farm.animals.get(t))}
        return next(iter(found)) if len(found) == 1 else None

    # -- another day

    def another_day(self, shape: str) -> Reading | None:
        """ "no, that was yesterday"; "make that friday" of an order or a reminder."""
        phrase = self.day.day if self.day is not None else None
        if self.day is None or phrase is None or not phrase.names_day or not self.before or not _DAY.fullmatch(shape):
            return None
        last = self.before[0]
        # "ordered 4 bags, comes friday": "that was yesterday" is of the order, "make that saturday" of what comes
        coming = due_on(last, self.today) if not _WAS.search(self.text.lower()) else []
        days = phrase.days(self.said, bool(coming), self.farm.plan.farm.country)
        if len(days) != 1:
            return Ask(words.which_day(self.day.text))
        if coming:
            return self._changed(last, due_on(last, days[0])) if days[0] >= self.today else None
        if days[0] > self.today:
            return Ask(words.to_come(days[0], self.today))
        run = self._run() if _MANY.search(self.text.lower()) else []
        one = on_day(last, days[0])
        if len(run) < 2 or len(last.facts) > 1:
            return self._changed(last, one)
        every = self._corrects(c for told in run for c in on_day(told, days[0]))
        choices = (Choice("all of them", every), Choice("last one", self._corrects(one)), Choice("none of these"))
        return Ask(words.all_of_them(len(every), days[0], self.today), choices)

    def _run(self) -> list[Told]:
        """The last messages that told of one kind of thing, one soon after the other."""
        run = list(self.before[:1])
        for earlier in self.before[1:]:
            kinds = {type(x) for told in (*run, earlier) for x in told.entries}
            if run[-1].at - earlier.at > JUST_NOW or len(kinds) > 1:
                break
            run.append(earlier)
        return run

    # -- put right

    def put_right(self, shape: str) -> Reading | None:
        """ "make that 3 bags", "not 2614, 2641", "no, the nursery", "no, 2641 112"."""
        found = _INSTEAD.fullmatch(shape)
        if not found:
            return self._anew() or (self._of_it() if _OF_IT.fullmatch(shape) else None)
        if isinstance(read(self.text, self.said, self.farm), Record | Answer):
            return None  # "no hay": a fact of its own
        new = self.things[-1] if found["old"] else self.things[0]
        old = self.things[0] if found["old"] else self.things[1] if found["old2"] else None
        led = [w for w in re.split(r"[ ,.:!-]+", found["lead"] or "") if w]
        if led and all(w in _PLAIN_LEADS for w in led):
            return None  # "it was 112", "that was the mill": told, of something else
        for told in self.before if old is not None else self.before[:1]:
            if ways := self._ways(told, new, old):
                return self._one_of(told, ways)
        strong = old is not None or bool(set(led) & {"make", "meant", "should", "change"})
        if not (strong or (new.unit and not self.before)):
            return None
        if not self.before:
            return Ask(words.make_what(self.text))
        return Ask(words.not_of(self.before[0].entries[-1], self.farm))

    def _anew(self) -> Reading | None:
        """ "no, 2404 121", "sorry 28 eggs": the same told over of the same animal or thing, in full."""
        lead = _LEADS.match(self.text.lower())
        if lead is None or not self.before or all(w in _PLAIN_LEADS for w in re.findall(r"[a-z]+", lead[0])):
            return None
        told = read(self.text[lead.end() :], self.said, self.farm)
        if not isinstance(told, Record) or len(told.entries) != 1:
            return None
        (new,) = told.entries
        facts = self.before[0].facts
        same = [Change(s, x, new) for s, x in facts if _alike(x, new)]
        return self._changed(self.before[0], same) if len(same) == 1 else None

    def _of_it(self) -> Reading | None:
        """ "no, 14 bales of hay": another number of what was told, with its name."""
        number, name = self.things
        if not self.before or name.kind != "name" or number.kind != "num":
            return None
        last, rows = self.before[0], {row for table in name.names if (row := name.named(table))}
        facts = [
            (s, x) for s, x in last.facts if rows & {getattr(x, k, None) for k in ("item", "product", "group", "bin")}
        ]
        changes = list(with_number(replace(last, facts=tuple(facts)), number, None))
        return self._changed(last, changes) if len(changes) == 1 else None

    def _ways(self, told: Told, new: Piece, old: Piece | None) -> list[list[Change]]:
        """Each thing in what was told that the new one can stand for; the plausible ones where there are any."""
        ways = [[c] for c in with_number(told, new, old)]
        tag, wrong = self._tag(new), self._tag(old)
        tags = list(dict.fromkeys(t for x in told.entries for t in tags_in(x)))
        if tag is not None and tag not in tags and (old is None or wrong in tags):
            was = [wrong] if wrong else [t for t in tags[-3:] if not ways or len(new.text) >= len(t)]
            ways += [with_tag(told, t, tag) for t in was]
        ways += with_name(told, new, old, self.farm)
        likely = [way for way in ways if all(map(self._plausible, way))]
        return likely or (ways if len(ways) == 1 else [])

    def _plausible(self, c: Change) -> bool:
        """Whether that can be meant: this animal can weigh it or lamb, a number is of such a size."""
        new, today = c.new, self.today
        if isinstance(new, e.Weight):
            return self._fits(new, self._without(c.seqs))
        if isinstance(new, e.GroupWeight) and new.group:
            return doubt.mean_fits(self.farm.in_group(new.group), new.mean, new.unit, today, self.farm)
        if isinstance(new, e.About) and new.head and new.group and new.head > max(self.farm.head(new.group), 1):
            return False
        for key, most in (("amount", 20), ("count", 10), ("head", 10), ("withdrawal_days", 10)):
            a, b = getattr(c.old, key, None), getattr(new, key, None)
            if a and b and not 1 / Decimal(most) <= Decimal(b) / Decimal(a) <= most:
                return False
        animals = [self.farm.animals[t] for t in {*tags_in(new)} - {*tags_in(c.old)} if t in self.farm.animals]
        dam = self.farm.animals.get(getattr(new, "dam", None) or "")
        grown = dam is None or (dam.sex in ("ewe", None) and (dam.age(today) or GROWN) >= GROWN)
        return grown and all(a.here for a in animals)

    def _fits(self, x: e.Weight, farm: Farm) -> bool:
        animal = farm.animals[x.tag]
        return animal.here and doubt.fits(animal, x.weight, x.unit, x.on, farm)

    def _without(self, seqs: tuple[int, ...]) -> Farm:
        """The farm without a weight that was wrong, by which the right one must not be judged."""
        farm = self.farm.copy()
        for tag, animal in self.farm.animals.items():
            if any(w.seq in seqs for w in animal.weighings):
                farm.animals[tag] = replace(animal, weighings=tuple(w for w in animal.weighings if w.seq not in seqs))
        return farm

    def _one_of(self, told: Told, ways: Sequence[list[Change]]) -> Reading | None:
        if len(ways) == 1:
            return self._changed(told, ways[0])
        shown = ways[-3:]
        choices = [Choice(words.name_of(way[0]), self._corrects(way)) for way in shown]
        return Ask(words.which_change([way[0] for way in shown], self.farm), (*choices, Choice("none of these")))

    # -- what comes of it

    def _changed(self, told: Told, changes: Sequence[Change]) -> Reading | None:
        """The corrections; asked where the new value is doubtful, or it was told some time ago."""
        for c in changes:
            if isinstance(c.new, (e.Weight, e.Eggs, e.Dose, e.BinLevel, *STORED)):
                again = read(echo(c.new, self.farm, self.today), self.said, self._without(c.seqs))
                if isinstance(again, Ask):
                    return self._doubted(c, again)
        if not changes:
            return None
        what = words.change(changes, self.farm, self.today)
        if not all(map(self._plausible, changes)):
            return Ask(words.really(what), (Choice("yes", self._corrects(changes)), Choice("no")), text=NO_WORDS)
        return self._sure(told, self._corrects(changes), what)

    def _doubted(self, c: Change, ask: Ask) -> Ask:
        """A doubt about the new value: each choice puts right what was told; other words would tell it twice."""
        alike = [(x.label, next((y for y in x.entries if type(y) is type(c.old)), None)) for x in ask.choices]
        made = [Choice(label, self._corrects([replace(c, new=y)]) if y else ()) for label, y in alike]
        return Ask(ask.why, tuple(made), text=NO_WORDS)

    def _corrects(self, changes: Iterable[Change]) -> tuple[e.Entry, ...]:
        return tuple(c.correction(self.today) for c in changes)

    def _sure(self, told: Told, entries: tuple[e.Entry, ...], what: str) -> Reading:
        if self.said - told.at <= JUST_NOW:
            return Record(entries)
        return Ask(words.meant_that(what, told.at, self.said), (Choice("yes", entries), Choice("no")))


def _alike(old: e.Entry, new: e.Entry) -> bool:
    """Whether one tells over what the other told: the same of the same, or what else became of the same amount."""
    if isinstance(old, STORED) and isinstance(new, STORED) and type(old) is not type(new):
        return (old.item, old.amount) == (new.item, new.amount)
    return type(old) is type(new) and subject(old) == subject(new) and old != new
