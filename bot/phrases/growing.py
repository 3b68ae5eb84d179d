"""The plan grown by chat: new groups, items, suppliers, products, people, bins, fields and crops, and what is said of one.

A sentence is read only where it begins with the strong words for it ("new item", "add a pen", "we call", "rename", "hours
are") and every word of it is accounted for. It is read as it was typed, since new names are in no table; what is left of
the message is read afterwards, with the plan as it then stands. Doses and withdrawal are taken as told, never filled in.
"""

import re
from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal

from bot.fact import Ask, Choice
from bot.names import words
from bot.opening import hours_said, time_said
from bot.phrases.details import (
    AMOUNT,
    DETAILS,
    EGGS,
    HOLD,
    HOLDER,
    KEEPS,
    LEADS,
    OTHER_KEEPS,
    Set,
    amount_said,
    known,
    lead_said,
    new_name,
    set_,
    supplier_said,
    unit_said,
)  # fmt: skip
from bot.verbs import BY_WORDS
from rules.advance import apply
from rules.days import WEEKDAYS
from rules.entries import Entry, PlanSet
from rules.farm import Fact, Farm
from rules.fold import BEGINNING
from rules.plan import Plan
from rules.units import convert, unit_named

NOUNS = {
    "group": "group|pen|mob|flock|lot|barn|shed",
    "item": "item|stock item|store item|feed|supply|bedding|mineral",
    "supplier": "supplier|feed store|feed mill|mill|merchant|co-?op|store",
    "product": "product|medicine|drug|med|vaccine|drench|wormer|dip|pour-?on",
    "person": "person|helper|owner|family member",
    "bin": "bin|silo|hopper|grain tank",
    "field": "field|paddock|meadow",
    "crop": "crop",
}
_PLAIN = {
    "item",
    "stock item",
    "store item",
    "group",
    "supplier",
    "product",
    "person",
    "crop",
}  # nothing else is so called
_SURE = {"item", "stock item", "store item", "supplier"}  # their name alone will do
_TABLE_OF = {noun: table for table, nouns in NOUNS.items() for noun in nouns.replace("-?", "").split("|")}
_NOUN = "|".join(sorted((n for nouns in NOUNS.values() for n in nouns.split("|")), key=len, reverse=True))
_LEAD = r"(?:(?:please|pls|ok|okay|right|and|also|so|can you|could you|hey)[, ]+)*"
_NEW = re.compile(
    rf"{_LEAD}(?:(?:add|make|create|set up|start|put in|there'?s|we now have|we have|we'?ve(?: got)?|i'?ve(?: got)?|got|we got)"
    rf" )?(?:an? |another |one more )?(?P<new>new )(?P<noun>{_NOUN})s?\b(?P<rest>.*)", re.I | re.S,
)  # fmt: skip
_ADD = re.compile(
    rf"{_LEAD}(?:add|create|set up|put in) (?:an? |another |one more )?(?P<noun>{_NOUN})\b(?P<rest>.*)", re.I | re.S
)
_LISTED = re.compile(rf"(?P<noun>{_NOUN}) (?P<rest>[^:]{{1,40}}: .*)", re.I | re.S)
_ANY = re.compile(
    rf"\bnew\b|\b(?:add|create|set up|put in)\b|\bre-?name|\bcall|\bname|\bhours\b|\baka\b|\bknown as\b|^(?:{_NOUN}) [^:]+:|"
    r"\bopen\b|\b(?:sell|ship|market|sales?|mart) |\bweights? |\bdeliver|\blead\b|\borders\b|\bholds?\b|\bcomes? (?:in|from)\b|\bget\b|"
    r"\bkeeps\b|\bis for\b|\bcapacity\b|\bhelper\b|\bowner\b|\bweigh \w+|\bfamily\b|\btelegram\b|\bmessage\b|\bwithdrawal\b|\bmeans\b|"
    r"\bac(?:res?)?\b|\bha\b|\bof\b.* \d|s (?:hold|weigh|are) \d", re.I | re.M,
)  # fmt: skip


def grown(text: str, on: date, farm: Farm, it: tuple[str, str] | None = None) -> tuple[list[Entry] | Ask | None, str]:
    """(what a message tells of the plan, the rest of it). `it` is the row (table, name) spoken of just before. An Ask
    stands for the whole message; None where it tells nothing of the plan."""
    if not _ANY.search(text) or len(text) > 2000:
        return None, text
    told: list[Entry] = []
    rest: list[str] = []
    for sentence in _sentences(text.replace("’", "'").replace("“", '"').replace("”", '"').replace("‘", "'")):
        got = _sentence(sentence, on, farm.plan, it)
        if isinstance(got, Ask):
            return got, text
        if got:
            told += got
            last = got[0]
            it = (last.table or "", last.name or "")
        else:
            rest.append(sentence)
    return told or None, "\n".join(rest)


def planned(farm: Farm, told: Sequence[Entry]) -> Farm:
    """The farm as it stands once these changes of the plan are made."""
    after = farm.copy()
    for entry in told:
        apply(after, Fact(BEGINNING, 0, "", entry))
    return after


def _sentences(text: str) -> list[str]:
    """At line ends and full stops; "8.30", "St. John" and "approx. 50" are none."""
    found = re.split(r"\n+|(?<=[^\d\W]{3})[.!]\s+|(?<=\d)[.!]\s+|(?<=[)\"'])[.!]\s+", text)
    found = [" ".join(s.split()).strip() for s in found]
    return [s.rstrip(" .!") for s in found if s.strip(" .!")]


def _sentence(text: str, on: date, plan: Plan, it: tuple[str, str] | None) -> list[PlanSet] | Ask | None:
    if text.endswith("?") or re.match(
        r"(?:should|shall|could|would|if|maybe|might|need|want|how|what|who|when)\b", text, re.I
    ):
        return None
    if (told := _new(text, on, plan)) is not None:
        return told
    bare = re.sub(rf"^{_LEAD}", "", text, flags=re.I)
    for build in _OF_A_ROW:
        if (told := build(bare, on, plan, it)) is not None:
            return told
    return None


# -- a new row


def _new(text: str, on: date, plan: Plan) -> list[PlanSet] | Ask | None:
    """ "new item beet pulp, 50 lb bags, from Ridge", "add a pen Nursery for bottle lambs", "group Nursery: ewes"."""
    found = _NEW.fullmatch(text) or _ADD.fullmatch(text) or _LISTED.fullmatch(text)
    if not found:
        return None
    noun = " ".join(found["noun"].lower().replace("-", "").split())
    table = _TABLE_OF[noun]
    plain = noun in _PLAIN
    rest = " " + re.sub(r"^:? *(?:is )?(?:called|named|by the name of)?:? *", "", found["rest"].strip()).replace(
        ": ", ", ", 1
    )
    named = bool(re.match(r"\s*(?::|is called|called|named|by the name)", found["rest"])) or found.re is _LISTED
    also = re.search(r",\s*(?:also(?: called| known as)?|aka|we call it|or just) (?P<name>[^,;]+)", rest, re.I)
    if also:
        rest = rest[: also.start()] + rest[also.end() :]
    got = DETAILS[table](rest, on, plan)
    if got is None:
        return _half_told(noun, table) if plain and ("," in rest or named) else None
    name_text, keys, more = got
    if also and (other := new_name(also["name"])):
        keys = {**keys, "also": [other]}
    if noun in ("helper", "owner", "family member"):
        keys = {"role": noun.split()[0], **keys}
    name = _named_after(noun, name_text) or new_name(name_text)
    if name is None:
        return _half_told(noun, table) if plain and (keys or named) else None
    if there := known(plan, name, table):
        if not keys:
            return Ask(f"{there[1]} is on the plan already. What about it?")
        if "also" in keys:
            row = next(r for r in getattr(plan, table) if r.name == there[1])
            keys["also"] = list(dict.fromkeys((*row.also, *keys["also"])))
        change = (set_(on, table, there[1], **keys), *more)
        if found.re is _LISTED:
            return list(change)
        return Ask(f"{there[1]} is on the plan already. Change it?", (Choice("change it", change), Choice("no")))
    told = [set_(on, table, name, **keys), *more, *(_owner(plan, on, name) if table == "person" else ())]
    doing = name == name.lower() and any((w,) in BY_WORDS for w in words(name))
    if named or keys or (noun in _SURE and not doing):
        return told
    if doing or len(words(name)) > 2:
        return None
    return Ask(f"{name}: a new {'group' if table == 'group' else noun}?", (Choice("yes", tuple(told)), Choice("no")))


def _named_after(noun: str, text: str) -> str | None:
    """ "pen 4", "silo 2", "group B": where only a number or a letter follows, the noun is part of the name."""
    bare = text.strip(" ,:'\"")
    return f"{noun} {bare}" if re.fullmatch(r"\d{1,3}[a-z]?|[a-z]", bare, re.I) else None


_EXAMPLES = {
    "group": "new group Spring ewes, ewes, 40 head", "item": "new item beet pulp, 50 lb bags, from the mill",
    "supplier": "new supplier Ridge, mon to fri 8 to 5, sat till noon, closed holidays",
    "product": "new product drench, dose 5 ml, withdrawal 14 days", "person": "new person Sam, helper",
    "bin": "new bin 4, 5000 bu", "field": "new field Long Acre, 12 ac", "crop": "new crop barley, test weight 48",
}  # fmt: skip


def _half_told(noun: str, table: str) -> Ask:
    return Ask(f'A new {noun}? I don\'t follow all of it. Tell me like "{_EXAMPLES[table]}".')


# -- of a row that is there: other names

_ROWS = ("item", "product", "group", "supplier", "bin", "field", "crop")
_THINGS = ("item", "product", "group", "bin", "field", "crop")  # "it"
It = tuple[str, str] | None


def _both(plan: Plan, table: str, name: str) -> list[str]:
    """The tables in which a thing of this name stands: a product and an item share a name, and their stock."""
    other = {"item": "product", "product": "item"}.get(table)
    there = bool(other) and any(row.name == name for row in getattr(plan, other or "item"))
    return [table, other] if other and there else [table]


def _renamed(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "rename pen 2 to nursery", "pen 2 is now called nursery"."""
    kind = rf"(?:(?:the )?(?P<noun>{_NOUN}) )?"
    found = (
        re.fullmatch(rf"(?:re-?name|change the name of) {kind}(?P<old>.+?) (?:to|as|into) (?P<new>.+)", text, re.I)
        or re.fullmatch(r"(?P<old>.+?) (?:is|are) (?:now|from now on) (?:called|named) (?P<new>.+)", text, re.I)
    )  # fmt: skip
    if not found:
        return None
    noun = found.groupdict().get("noun")
    old = known(plan, found["old"], *_ROWS) or (known(plan, f"{noun} {found['old']}", *_ROWS) if noun else None)
    if old is None and found["old"].lower() in ("it", "that") and it:
        old = it
    new = new_name(found["new"])
    if old is None or new is None:
        return Ask("Which one should have another name?") if text.lower().startswith("rename") else None
    return _if_free(plan, old, new, [set_(on, t, old[1], name=new) for t in _both(plan, old[0], old[1])])


def _if_free(plan: Plan, of: tuple[str, str], new: str, told: list[PlanSet]) -> list[PlanSet] | Ask:
    """The change, where no other row of the table has the name."""
    other = known(plan, new, of[0])
    if other is not None and other != of:
        return Ask(f"{new} is the name of another {of[0]}. Take another one.")
    return told


_QUOTED = r"""["'](?P<quoted>[^"']+)["']"""


def _called(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "we call it starter", "call the milk powder 'formula'", "formula means milk powder"."""
    found = re.fullmatch(
        r"(?P<of>.+?) (?:is |are )?(?:also (?:called|known as|named)|aka|a\.k\.a\.|also goes by) (?P<new>.+?)(?: too| as well)?",
        text,
        re.I,
    )
    found = found or re.fullmatch(
        r"(?P<new>.+?) (?:means|is (?:the same as|short for|another name for|what we call|our name for)) (?P<of>.+)",
        text,
        re.I,
    )
    found = found or re.fullmatch(r"when (?:i|we) say (?P<new>.+?),? (?:i|we) mean (?P<of>.+)", text, re.I)
    if found:
        of, new = known(plan, found["of"], *_ROWS), new_name(found["new"])
        return _also(plan, on, of, new) if of and new else None
    found = re.fullmatch(
        r"(?P<we>we|i) (?:also |mostly |usually |just )*call (?P<rest>.+)|(?:you can )?call (?P<rest2>.+)", text, re.I
    )
    if not found:
        return None
    rest = re.sub(r"^(?:the|our|my) ", "", found["rest"] or found["rest2"], flags=re.I)
    said = rest.split(" ")
    if said[0].lower() in ("it", "that", "them", "this") and it and it[0] in _THINGS and len(said) > 1:
        new = new_name(" ".join(said[1:]))
        return _also(plan, on, it, new) if new and found["we"] else None
    for size in range(min(5, len(said) - 1), 0, -1):
        of = known(plan, " ".join(said[:size]), *_ROWS)
        if of is None:
            continue
        after = " ".join(said[size:])
        new = new_name(after)
        sure = bool(found["we"]) or re.fullmatch(_QUOTED, after) is not None
        if new and (sure or (of[0] in ("item", "product", "group") and len(words(new)) <= 2 and not _does(new))):
            return _also(plan, on, of, new)
    return None


def _does(name: str) -> bool:
    return any((w,) in BY_WORDS for w in words(name))


def _also(plan: Plan, on: date, of: tuple[str, str], new: str) -> list[PlanSet] | Ask:
    told = []
    for table in _both(plan, *of):
        row = next((r for r in getattr(plan, table) if r.name == of[1]), None)
        told.append(set_(on, table, of[1], also=[*(row.also if row else ()), new]))
    return Ask(f"{new} is a name of it already.") if known(plan, new, of[0]) == of else _if_free(plan, of, new, told)


# -- suppliers

_WHO = r"(?:the )?(?P<who>[\w&.'\- ]{1,40}?)"


def _supplier_of(text: str, plan: Plan, it: It) -> str | None:
    if text.lower() in ("it", "they", "there", "them") and it and it[0] == "supplier":
        return it[1]
    found = known(plan, text, "supplier")
    return found[1] if found else None


def _hours(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "Ridge hours are mon to fri 8 to 5", "the mill is always open weekdays 8 to 5"."""
    found = re.fullmatch(
        rf"{_WHO}(?:'s)? (?:new |opening |open |usual )?(?:hours|times)(?: are| is|:)?(?: now)? (?P<hours>.+)",
        text,
        re.I,
    )
    found = found or re.fullmatch(
        rf"(?:opening |open |new )?hours (?:at|of|for) {_WHO}(?: are| is|:) (?P<hours>.+)", text, re.I
    )
    found = found or re.fullmatch(
        rf"{_WHO} (?:is |are )?(?:usually|always|normally|now)? ?open (?:from )?(?P<hours>.+)", text, re.I
    )
    if not found:
        return None
    strong = re.search(r"\b(?:hours|usually|always|normally)\b", text, re.I)
    hours = hours_said(found["hours"])
    weekly = re.search(
        r"\bweekdays\b|\bevery ?day\b|\b(?:sun|mon|tues|wednes|thurs|fri|satur)days\b|\bmon\w* ?(?:-|to|thru|through|till) ?(?:fri|sat|sun)",
        text,
        re.I,
    )
    who = _supplier_of(found["who"], plan, it)
    if hours is None:
        asked = who is not None and re.search(r"\bhours\b", text) and re.search(r"\d", found["hours"])
        return (
            Ask(
                f'{who}: I don\'t follow these hours. Tell me like "mon to fri 8 to 5, sat till noon, closed holidays".'
            )
            if asked
            else None
        )
    if who is not None and (strong or weekly):
        return [set_(on, "supplier", who, hours=hours)]
    name = new_name(found["who"]) if who is None and strong else None
    if name is None:
        return None
    return Ask(
        f"{name} is new to me. A new supplier?",
        (Choice("new supplier", (set_(on, "supplier", name, hours=hours),)), Choice("none of these")),
    )


def _ordering(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "Ridge delivers next day", "orders to Ridge must be in by 2pm"."""
    keys: Set = {}
    found = re.fullmatch(rf"{_WHO} (?P<lead>{LEADS})", text, re.I) or re.fullmatch(
        rf"(?:lead time|delivery) (?:at|from|for|of) {_WHO} (?P<lead>(?:is |takes )?.+)", text, re.I
    )
    if found and (days := lead_said(found["lead"])) is not None:
        keys["lead_days"] = days
    if not found:
        found = re.fullmatch(rf"(?:orders? (?:to|at|for|from|with) )?{_WHO}(?: (?:wants?|needs?|takes?|has))?(?: (?:the )?orders?)?"
                             r"(?: must be| have to be| need to be| has to be| needs to be)? (?:in )?(?:by|before) "
                             r"(?P<t>noon|midday|\d{1,2}(?:[:.]\d\d)? ?(?:[ap]\.?m\.?)?)(?: (?:for|to count)[^,]*)?", text, re.I)  # fmt: skip
        if found and "order" in text.lower() and (by := time_said(found["t"])):
            keys["order_before"] = f"{by:%H:%M}"
    who = _supplier_of(found["who"], plan, it) if found else None
    strong = "orders" in text.lower() or "must be" in text.lower() or "lead_days" in keys
    return [set_(on, "supplier", who, **keys)] if who and keys and strong else None


# -- sales, weights, units, messages


def _sales(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "we sell wednesdays", "sale days are tue and fri"."""
    day = r"\b(?:mon|tues?|weds|wed(?:nes)?|thurs?|thu|fri|sat(?:ur)?|sun)(?:days?|s)?\b"
    listed = rf"(?P<days>(?:every |on |the )*{day}(?:(?:,| and|,? &|,? or)+ (?:on |every )?{day})*)"
    found = re.fullmatch(
        rf"(?P<we>we|i) (?P<also>also )?(?:sell|ship|market)(?: (?:the )?(?:lambs|stock|sheep))?(?: on)? {listed}",
        text,
        re.I,
    )
    found = found or re.fullmatch(
        rf"(?:our |the )?(?:sale|market|mart|auction|shipping|ship) days? (?:is|are|:) {listed}", text, re.I
    )
    found = found or re.fullmatch(
        rf"(?:our |the )?(?:sales?|mart|market|auction) (?:is|are) (?:always |on )*{listed}", text, re.I
    )
    if not found:
        return None
    said = re.findall(day, found["days"], re.I)
    sure = re.search(r"\bdays?\b(?= (?:is|are|:))|\bevery\b|\balways\b", text, re.I) or all(
        re.search(r"s$", d) and not re.fullmatch(r"tues|weds|thurs", d, re.I) for d in said
    )
    if not sure:
        return None
    days = [next(w for w in WEEKDAYS if w.startswith(d.lower()[:3])) for d in said]
    kept = list(plan.ship.sales) if found.groupdict().get("also") else []
    return [set_(on, "ship", None, sales=[d for d in WEEKDAYS if d in {*kept, *days}])]


def _weights(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "ship at 105 to 130", "ship weight is 42 kg"."""
    span = r"(?P<a>\d{2,3}(?:\.\d)?)(?: ?(?:to|-|and|up to) ?(?P<b>\d{2,3}(?:\.\d)?))? ?(?P<u>lbs?|pounds?|kgs?|kilos?)?(?: live(?:weight)?)?"
    found = re.fullmatch(
        rf"(?:(?:we|i) )?(?P<verb>ship|sell|market)(?: them| lambs| the lambs)? (?:at|from|between) {span}", text, re.I
    )
    named = re.fullmatch(
        rf"(?:our |the )?(?:ship|shipping|market|sale|finish|finishing|target|slaughter)(?:ing)? weights?(?: is| are|:)?(?: from| between| at)? {span}",
        text,
        re.I,
    )
    if found and found["b"] is None and not re.match(r"we|i\b", text, re.I):
        return None
    if found and found["verb"].lower() != "ship" and not found["u"]:
        return None  # "sell at 105" may be a price
    found = named or found
    if not found:
        return None
    unit, farm = unit_named(found["u"]) if found["u"] else None, plan.farm
    low, high = (
        convert(Decimal(x), unit or farm.weight, farm.weight, farm.country).quantize(Decimal("0.1")).normalize()
        if x
        else None
        for x in (found["a"], found["b"])
    )
    if high is not None and low is not None and high < low:
        return Ask("From which weight, and up to which?")
    weights = {k: _whole(v) for k, v in (("min", low), ("max", high)) if v is not None}
    return [set_(on, "ship", None, **weights)]


def _whole(value: Decimal) -> Decimal | int:
    return int(value) if value == int(value) else value


def _of_the_farm(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "we weigh in pounds", "morning message at 6:30"."""
    found = re.fullmatch(
        r"(?:we )?weigh (?:them |everything |lambs |the lambs )?in (?P<u>lbs?|pounds|kgs?|kilos)", text, re.I
    )
    if found:
        return [set_(on, "farm", None, weight=unit_named(found["u"]))]
    found = re.fullmatch(
        r"(?:the |my )?(?P<which>morning|evening) (?:message|list|report)s? (?:at|is at|comes at|to) (?P<t>[\d:.]+ ?(?:[ap]m)?)",
        text,
        re.I,
    )
    if found and (
        at := time_said(
            found["t"]
            + ("pm" if found["which"].lower() == "evening" and re.fullmatch(r"\d(?:[:.]\d\d)?", found["t"]) else "")
        )
    ):
        return [set_(on, "farm", None, **{found["which"].lower(): f"{at:%H:%M}"})]
    return None


# -- items, groups, land, people


def _of_item(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "a bag of beet pulp is 50 lb", "beet pulp comes in 50 lb bags", "we get beet pulp from Ridge"."""
    sized = rf"(?P<n>{AMOUNT})"
    found = re.fullmatch(
        rf"(?:a |one |each |every )?(?P<c>{HOLDER})s? of (?P<of>.+?) (?:is|are|holds?|weighs?|=) {sized}(?: each)?",
        text,
        re.I,
    )
    found = found or re.fullmatch(
        rf"(?:the |our )?(?P<of>.+?) (?P<c>{HOLDER})s (?:are|hold|weigh) {sized}(?: each)?", text, re.I
    )
    found = found or re.fullmatch(rf"(?P<of>.+?) (?:comes?|is|are) in {sized}[ -](?P<c>{HOLDER})s", text, re.I)
    if found:
        item = _item_of(found["of"], plan, it)
        row = plan.item_named(item) if item else None
        said = re.match(r"([\d.,]+)[ -]?(.*)", found["n"])
        if row is None or said is None:
            return None
        unit = unit_said(found["c"])
        more = {"unit": unit} if row.unit == "each" else {}
        if row.unit not in ("each", unit):
            return Ask(f"I count {row.name} in {row.unit}s. What does a {row.unit} hold?")
        return [set_(on, "item", row.name, holds=amount_said(said[1], said[2]), **more)]
    found = re.fullmatch(
        r"(?:we (?:get|buy|order) (?:the |our )?(?P<a>.+?)|(?:the |our )?(?P<b>.+?) comes) from (?P<who>.+)", text, re.I
    )
    item = _item_of(found["a"] or found["b"], plan, it) if found else None
    if not found or item is None:
        return None
    who = supplier_said(plan, on, found["who"])
    if who is None or who[0] is None:
        return None
    told = (set_(on, "item", item, supplier=who[0]), *who[1])
    if who[1]:
        return Ask(f"{who[0]} is new to me. A new supplier?", (Choice("new supplier", told), Choice("none of these")))
    return list(told)


def _item_of(text: str, plan: Plan, it: It) -> str | None:
    if text.lower() in ("it", "them") and it and it[0] == "item":
        return it[1]
    found = known(plan, text, "item")
    return found[1] if found else None


def _of_group(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "pen 3 keeps ewes"."""
    kinds = "|".join([*KEEPS.values(), OTHER_KEEPS])
    found = re.fullmatch(rf"(?P<of>.+?) (?:keeps|is for|holds|is for keeping) (?:the |our )?(?P<k>{kinds})", text, re.I)
    group = known(plan, found["of"], "group") if found else None
    if not found or group is None:
        return None
    keeps = next((k for k, p in KEEPS.items() if re.fullmatch(p, found["k"], re.I)), found["k"].lower())
    return [set_(on, "group", group[1], keeps=keeps)]


def _of_land(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "bin 3 capacity is 5000 bu", "the home field is 40 acres"."""
    found = re.fullmatch(rf"(?P<of>.+?)(?:'s)? capacity(?: is|:)? (?P<n>{AMOUNT})", text, re.I)
    bin_ = known(plan, found["of"], "bin") if found else None
    said = re.match(r"([\d.,]+)[ -]?(.*)", found["n"]) if found else None
    if bin_ and said:
        return [set_(on, "bin", bin_[1], capacity=amount_said(said[1], said[2]))]
    found = re.fullmatch(
        r"(?P<of>.+?) is (?P<n>[\d.]+) ?(?P<u>ac|acres?|ha|hectares?)(?: in all| total| altogether)?", text, re.I
    )
    field = known(plan, found["of"], "field") if found else None
    return [set_(on, "field", field[1], area=amount_said(found["n"], found["u"]))] if found and field else None


def _of_product(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "withdrawal 28 days" of the product spoken of; with its name it is read as any product told of."""
    if not it or it[0] != "product":
        return None
    found = re.fullmatch(rf"(?:its |the |meat )*{HOLD}(?: is| of|:)? (?P<d>\d{{1,3}}) ?(?:days?|d)?", text, re.I)
    if found:
        return [set_(on, "product", it[1], withdrawal_days=int(found["d"]))]
    found = re.fullmatch(rf"(?:its |the )*{EGGS}", text, re.I)
    return [set_(on, "product", it[1], egg_withdrawal_days=int(found["d"]))] if found else None


def _owner(plan: Plan, on: date, name: str) -> list[PlanSet]:
    """A plan that names nobody has one owner, called so; who is named first must not lock him out."""
    return [] if plan.person or name == "owner" else [set_(on, "person", "owner", role="owner")]


def _of_person(text: str, on: date, plan: Plan, it: It) -> list[PlanSet] | Ask | None:
    """ "Bea is a helper", "Bea's telegram is 12345678", "add Sam as a helper"."""
    role = r"(?P<r>owner|family(?: member)?|helper)"
    found = re.fullmatch(
        rf"(?:add )?(?P<of>[^\d\W][\w'\- ]{{0,30}}?) (?:is|as) (?:an?|the|our) (?:new )?{role}(?: now)?(?:,? (?:telegram|chat)(?: number| id)? (?P<n>\d{{4,15}}))?",
        text,
        re.I,
    )
    if found:
        name = next((p.name for p in plan.person if p.name.lower() == found["of"].lower()), None)
        keys: Set = {"role": found["r"].lower().split()[0]}
        if found["n"]:
            keys["telegram"] = int(found["n"])
        if name:
            return [set_(on, "person", name, **keys)]
        new = new_name(found["of"])
        if new is None or len(words(new)) > 2:
            return None
        told = [set_(on, "person", new, **keys), *_owner(plan, on, new)]
        if re.match(r"add\b", text, re.I):
            return told
        return Ask(f"{new}: a new person of the farm?", (Choice("yes", tuple(told)), Choice("no")))
    found = re.fullmatch(
        r"(?P<of>[\w ]{1,30}?)(?:'s)? (?:telegram|chat)(?: number| id)?(?: is|:)? (?P<n>\d{4,15})", text, re.I
    )
    name = next((p.name for p in plan.person if found and p.name.lower() == found["of"].lower()), None)
    return [set_(on, "person", name, telegram=int(found["n"]))] if found and name else None


_OF_A_ROW: tuple[Callable[[str, date, Plan, It], list[PlanSet] | Ask | None], ...] = (
    _renamed, _called, _hours, _ordering, _sales, _weights, _of_the_farm, _of_item, _of_group, _of_land, _of_product,
    _of_person,
)  # fmt: skip
