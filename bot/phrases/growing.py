"""The plan grown by chat: new groups, items, suppliers, products, people, bins, fields and crops, and what is said of one.

A sentence is read only where it begins with the strong words for it ("new item", "add a pen", "we call", "rename", "hours
are") and every word of it is accounted for. It is read as it was typed, since new names are in no table; what is left of
the message is read afterwards, with the plan as it then stands. Doses and withdrawal are taken as told, never filled in.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from bot.fact import Ask, Choice, Found
from bot.names import words
from bot.phrases.altered import OF_A_ROW
from bot.phrases.details import DETAILS, NOUN, TABLE_OF, Set, does, first_owner, in_full, known, new_name, set_
from bot.phrases.dose_plans import dose_plan
from bot.phrases.set_once import SET_ONCE
from bot.phrases.standing import STANDING
from rules.advance import apply
from rules.entries import Entry, HeadCount, PlanSet
from rules.farm import Fact, Farm
from rules.fold import BEGINNING
from rules.plan import Plan

# Nouns that only the plan has; of some the name alone will do, others say too many things by themselves.
_PLAIN = {"item", "stock item", "store item", "group", "supplier", "product", "person", "crop"}
_SURE = {"item", "stock item", "store item", "supplier"}
_LOOSE = {"barn", "shed", "lot", "store", "mill", "feed store", "feed mill"}  # "new barn cat"
_ROLES = {"helper", "owner", "family member"}
_LEAD = r"(?:(?:please|pls|ok|okay|right|and|also|so|can you|could you|hey)[, ]+)*"
_NEW = re.compile(
    rf"{_LEAD}(?:(?:add|make|create|set up|start|put in|there'?s|we now have|we have|we'?ve(?: got)?|i'?ve(?: got)?|got|we got)"
    rf" )?(?:an? |another |one more )?(?P<new>new )(?P<noun>{NOUN})\b(?P<rest>.*)", re.I | re.S,
)  # fmt: skip
_ADD = re.compile(
    rf"{_LEAD}(?:add|create|set up|put in) (?:an? |another |one more )?(?P<noun>{NOUN})\b(?P<rest>.*)", re.I | re.S
)
_AS_NEW = re.compile(
    rf"{_LEAD}add (?P<name>[^,]+?) (?:as|to the list as) (?:an? )?(?:new )?(?P<noun>{NOUN})(?P<rest>,.*)?", re.I
)
_LISTED = re.compile(rf"(?P<noun>{NOUN}) (?P<rest>[^:]{{1,40}}: .*)", re.I | re.S)
_LONGEST = 300  # signs that a sentence about the plan may have


def grown(text: str, on: date, farm: Farm, it: tuple[str, str] | None = None) -> tuple[list[Entry] | Ask | None, str]:
    """(what a message tells of the plan, the rest of it). `it` is the row (table, name) spoken of just before. An Ask
    stands for the whole message; None where it tells nothing of the plan."""
    told: list[Entry] = []
    rest: list[str] = []
    ask: Ask | None = None
    for sentence in _sentences(text.replace("’", "'").replace("“", '"').replace("”", '"').replace("‘", "'")):
        got = _sentence(sentence, on, farm.plan, it)
        if isinstance(got, Ask):
            ask = ask or got
        elif got:
            told += got
            it = spoken_of(got) or it
        else:
            rest.append(sentence)
    if ask is not None:  # its choices settle the whole message
        choices = tuple(replace(c, entries=(*told, *c.entries)) if c.entries else c for c in ask.choices)
        return replace(ask, choices=choices), text
    return told or None, "\n".join(rest)


def spoken_of(entries: Sequence[Entry]) -> tuple[str, str] | None:
    """The row of the plan (table, name) that was told of: what "it" is afterwards."""
    for entry in entries:
        if isinstance(entry, PlanSet) and entry.table and entry.name:
            return entry.table, str(entry.set.get("name", entry.name))
        for table in ("item", "product"):
            if name := getattr(entry, table, None):
                return table, name
    return None


def planned(farm: Farm, told: Sequence[Entry]) -> Farm:
    """The farm as it stands once these changes of the plan are made."""
    after = farm.copy()
    for entry in told:
        apply(after, Fact(BEGINNING, 0, "", entry))
    return after


def _sentences(text: str) -> list[str]:
    """At line ends and full stops ("8.30" and "St. John" have none), and before another new row."""
    text = re.sub(rf"(?:,\s*(?:and\s+)?|\s+and\s+)(?=new (?:{NOUN})\b|rename )", "\n", text, flags=re.I)
    found = re.split(r"\n+|(?<=[^\d\W]{3})[.!]\s+|(?<=\d)[.!]\s+|(?<=[)\"'])[.!]\s+", text)
    found = [" ".join(s.split()).strip() for s in found]
    return [s.rstrip(" .!") for s in found if s.strip(" .!")]


def _sentence(text: str, on: date, plan: Plan, it: tuple[str, str] | None) -> Found:
    if (
        text.endswith("?")
        or len(text) > _LONGEST
        or re.match(
            r"(?:should|shall|could|would|if|maybe|might|need|want|how|what|who|when(?! (?:i|we) say))\b", text, re.I
        )
    ):
        return None
    for build in (dose_plan, _new):
        if (told := build(text, on, plan)) is not None:
            return told
    bare = re.sub(rf"^{_LEAD}", "", text, flags=re.I)
    for of_a_row in (*OF_A_ROW, *STANDING, *SET_ONCE):
        if (told := of_a_row(bare, on, plan, it)) is not None:
            return told
    parts = re.split(r",\s+(?:and\s+)?|\s+and\s+", bare)
    if not 2 <= len(parts) <= 4:  # "we sell wednesdays and ship at 105 to 130"
        return None
    several: list[Entry] = []
    for part in parts:
        told = next(
            (t for read in (*OF_A_ROW, *STANDING, *SET_ONCE) if (t := read(part, on, plan, it)) is not None), None
        )
        if not isinstance(told, list):
            return None
        several += told
    return several


# -- a new row


@dataclass(frozen=True, slots=True)
class _Head:
    """The noun that a sentence about a row begins with, and the words after it; `named` where "called" or a colon stands
    before the name, `listed` where it is the plan's own way of saying a row ("item oats: 25 kg bags")."""

    noun: str
    rest: str
    named: bool
    listed: bool

    @property
    def table(self) -> str:
        return TABLE_OF[self.noun]

    def half_told(self) -> Ask:
        return Ask(f'A new {self.noun}? I don\'t follow all of it. Tell me like "{_EXAMPLES[self.table]}".')


def _head(text: str) -> _Head | None:
    text = re.sub(r"\b(pour|spot) on\b", r"\1-on", text, flags=re.I)
    if stands := in_full(text, rf"(?P<noun>{NOUN}) (?P<name>.+) is on the plan"):
        text = f"new {stands['noun']} called {stands['name']}"
    if turned := _AS_NEW.fullmatch(text):
        text = f"new {turned['noun']} {turned['name']}{turned['rest'] or ''}"
    text = re.sub(r"\s*\(([^()]*)\)", r", \1", text.replace(" = ", ": "))
    text = re.sub(r"(\S+)\s+-\s+(?=(\S+))", lambda m: m[0] if _span(m[1]) and _span(m[2]) else f"{m[1]}, ", text)
    found = _NEW.fullmatch(text) or _ADD.fullmatch(text) or _LISTED.fullmatch(text)
    if not found:
        return None
    listed = found.re is _LISTED
    named = re.match(r"\s*(?::|(?:is )?called|named|by the name)", found["rest"]) is not None
    rest = re.sub(r"^:? *(?:is )?(?:called|named|by the name of)?:? *", "", found["rest"].strip()).replace(
        ": ", ", ", 1
    )
    rest = re.sub(r"""^(["'])(.+?)\1(?=[^,])""", r"\1\2\1,", rest)
    noun = " ".join(found["noun"].lower().replace("-", "").split())
    return _Head(noun, f" {rest}", named or listed, listed)


def _new(text: str, on: date, plan: Plan) -> Found:
    """ "new item beet pulp, 50 lb bags, from Ridge", "add a pen Nursery for bottle lambs", "group Nursery: ewes"."""
    head = _head(text)
    if head is None:
        return None
    noun, table, plain = head.noun, head.table, head.noun in _PLAIN
    rest, also = (
        head.rest,
        re.search(r",\s*(?:also(?: called| known as)?|aka|we call it) (?P<name>[^,;]+)", head.rest, re.I),
    )
    if also:
        rest = rest[: also.start()] + rest[also.end() :]
    got = DETAILS[table](rest, on, plan)
    if got is None:
        return head.half_told() if plain and ("," in rest or head.named) else None
    name_text, keys, more = got
    if also and (other := new_name(also["name"])):
        keys = {**keys, "also": [other]}
    name = _named_after(noun, name_text) or new_name(name_text)
    if name is None:
        said = head.named or keys or noun == "supplier" or (table != "group" and re.search(r"\d|,", head.rest))
        return head.half_told() if said and (plain or keys or table in ("product", "bin", "item")) else None
    if noun in _ROLES:
        keys = {"role": noun.split()[0], **keys}
    if there := known(plan, name, table, mend=False):
        return _changed(head, on, plan, there[1], keys, more)
    told = [set_(on, table, name, **keys), *more, *(first_owner(plan, on, name) if table == "person" else ())]
    sure = _sure(head, name, bool(keys), numbered=name != new_name(name_text))
    if sure or sure is None:
        return told if sure else None
    return Ask(f"{name}: a new {'group' if table == 'group' else noun}?", (Choice("yes", tuple(told)), Choice("no")))


def _sure(head: _Head, name: str, keys: bool, numbered: bool) -> bool | None:
    """Whether a name is surely that of a new row; None: surely not, the words say something else."""
    small = name == name.lower()
    if head.noun in _ROLES:
        return head.named or not small
    both = " and " in name.lower() and head.table not in ("supplier", "person")
    doing = small and does(name)
    if head.named or keys or numbered or (head.noun in _SURE and not doing):
        return not both
    if doing or (len(words(name)) > 2 and not both) or (head.noun in _LOOSE and not name.startswith(head.noun)):
        return None
    return False


def _changed(head: _Head, on: date, plan: Plan, name: str, keys: Set, more: list[Entry]) -> list[Entry] | Ask:
    """What was said of a row that is there: changed where it was said in the plan's own way, else asked first."""
    if not keys:
        return Ask(f"{name} is on the plan already. What about it?")
    if "also" in keys:
        row = next(r for r in getattr(plan, head.table) if r.name == name)
        keys["also"] = list(dict.fromkeys((*row.also, *keys["also"])))
    counted = keys.pop("head", None) if head.table == "group" else None  # of a group that is there it is a count
    change: list[Entry] = [set_(on, head.table, name, **keys)] if keys else []
    change += [*more, *([HeadCount(on=on, group=name, head=counted)] if counted is not None else [])]
    if head.listed:
        return change
    return Ask(f"{name} is on the plan already. Change it?", (Choice("change it", tuple(change)), Choice("no")))


def _span(word: str) -> bool:
    """Whether a word is a day or an hour, so that a dash before or after it is a "to"."""
    return in_full(word.strip(","), r"[\d:.]+(?:[ap]m)?|(?:mon|tue|wed|thu|fri|sat|sun)\w*|noon") is not None


def _named_after(noun: str, text: str) -> str | None:
    """ "pen 4", "silo 2", "group B": where only a number or a letter follows, the noun is part of the name."""
    bare = text.strip(" ,:'\"")
    placed = TABLE_OF[noun] in ("group", "bin", "field") and in_full(bare, r"\d{1,3}[a-z]?|[a-z]")
    return f"{noun} {bare}" if placed else None


_EXAMPLES = {
    "group": "new group Spring ewes, ewes, 40 head", "item": "new item beet pulp, 50 lb bags, from the mill",
    "supplier": "new supplier Ridge, mon to fri 8 to 5, sat till noon, closed holidays",
    "product": "new product drench, dose 5 ml, withdrawal 14 days", "person": "new person Sam, helper",
    "bin": "new bin 4, 5000 bu", "field": "new field Long Acre, 12 ac", "crop": "new crop barley, test weight 48",
}  # fmt: skip
