"""What is said of a row of the plan in one breath ("beet pulp, 50 lb bags, from Ridge"): its keys, out of the words.

Each table has a function that takes the words it understands out of a text; what is left is the name. Amounts, doses and
days are taken as told; nothing is filled in. Which messages are about the plan at all is for `bot.phrases.growing`.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, TypeAlias

from bot.fact import Ask, Choice, Found, Wants
from bot.names import index_of, words
from bot.opening import hours_said, time_said
from bot.verbs import BY_WORDS
from rules.entries import Entry, PlanSet
from rules.plan import Item, Plan
from rules.units import unit_named

Set: TypeAlias = dict[str, Any]
It: TypeAlias = "tuple[str, str] | None"  # the row (table, name) spoken of just before
Reader: TypeAlias = "Callable[[str, date, Plan, It], Found]"  # of one sentence about the plan
# the words left, which are the name; the keys said; other rows that come with it
Details: TypeAlias = tuple[str, Set, list[Entry]]

NOUNS = {
    "group": "group|pen|mob|flock|lot|barn|shed",
    "item": "item|stock item|store item|feed|supply|bedding|mineral",
    "supplier": "supplier|vet|feed store|feed mill|mill|merchant|co-?op|store",
    "product": "product|medicine|drug|med|vaccine|drench|wormer|dip|pour-?on",
    "person": "person|helper|owner|family member",
    "bin": "bin|silo|hopper|grain tank",
    "field": "field|paddock|meadow",
    "crop": "crop",
}
TABLE_OF = {noun: table for table, nouns in NOUNS.items() for noun in nouns.replace("-?", "").split("|")}
NOUN = "|".join(sorted((n for nouns in NOUNS.values() for n in nouns.split("|")), key=len, reverse=True))
_NUMBER = r"\d+(?:,\d{3})*(?:\.\d+)?"
MEASURE = (r"lbs?|#|pounds?|kgs?|kilos?|g|grams?|t|tonnes?|tons?|cwt|l|lt|ltr|litres?|liters?|mls?|gal(?:lon)?s?|doses?|"
            r"bu(?:shel)?s?|tablets?|pills?")  # fmt: skip
HOLDER = (r"bag|sack|bale|bottle|jug|bucket|tub|drum|block|roll|pallet|tote|can|pail|tin|sachet|cube|brick|box|carton|"
           r"keg|tray|barrel|pack|packet|vial|tube|lick")  # fmt: skip
AMOUNT = rf"{_NUMBER}[ -]?(?:{MEASURE})"
HOLD = r"(?:meat )?(?:withdrawal|withhold(?:ing)?|whp|wdl|hold)(?: (?:period|time))?"
_DAYS = r"(?P<d>\d{1,3}) ?-?(?:days?|d)"
EGGS = rf"eggs? (?:{HOLD} )?(?:is |of )?{_DAYS}"
_END = r"(?=\s*(?:,|;|$)|\s+(?:and|from|in|at|with)\b)"
KEEPS = {
    "market lambs": r"market lambs|fat lambs|finishing lambs|slaughter lambs|feeder lambs|lambs to finish|finishers",
    "bottle lambs": r"bottle lambs|pet lambs|orphan lambs|orphans|bummer lambs|bummers|cade lambs|cades|poddy lambs|poddies",
    "replacements": r"replacements|replacement ewes|replacement ewe lambs|replacement lambs",
    "ewes": r"ewes|breeding ewes|yows|yowes",
    "rams": r"rams|tups|bucks",
    "hens": r"hens|laying hens|layers|chickens|pullets",
}  # fmt: skip
OTHER_KEEPS = (
    r"goats|does|kids|calves|cows|cattle|heifers|steers|pigs|sows|weaners|ducks|geese|turkeys|broilers|horses|dogs"
)

# Words that no name of a thing is made of, unless it is in quotes.
_GRAMMAR = """
to for in on at from with is are was were be been it its them they he she him his her you your me my we us i if so that
this these those there here nobody someone everyone everybody anyone somebody today tomorrow yesterday tonight morning evening week month year now then soon later not no
please thanks thx day days time lol ok yes out again too very really just still will would could should can need needs
want wants have has had got get gets going go went came come did do does who what when where why how which monday tuesday
wednesday thursday friday saturday sunday mon tue wed thu fri sat sun mondays tuesdays wednesdays thursdays fridays
saturdays sundays owner helper family
"""
_NO_NAME = frozenset(_GRAMMAR.split())


def in_full(text: str, *forms: str) -> re.Match[str] | None:
    """How a text is one of these forms, in full and whatever its capitals: the first that it is."""
    return next((found for form in forms if (found := re.fullmatch(form, text, re.I))), None)


def set_(on: date, table: str, name: str | None, /, **keys: Any) -> PlanSet:
    """A change of the plan as an entry."""
    return PlanSet(on=on, table=table, name=name, set=keys)


def known(plan: Plan, text: str, *tables: str, mend: bool = True) -> tuple[str, str] | None:
    """The row (table, its name) that these words name in full, in the first of these tables that has it; misspelt,
    too, unless `mend` says not."""
    said = words(re.sub(r"^(?:the|our|my) ", "", text.strip(" '\"").lower()))
    index = index_of(plan)
    for spelt in (said, *([tuple(index.mended(w) or w for w in said)] if mend else [])):
        names = index.spans.get(spelt, {})
        for table in tables:
            rows = names.get(table, ())
            if len(rows) == 1:
                return table, rows[0]
    return None


def new_name(text: str) -> str | None:
    """Words as a name, as they were typed; None where no thing is called so."""
    bare = text.strip(" ,:-")
    quoted = re.fullmatch(r"""(["'])(.+)\1""", bare)
    name = " ".join((quoted[2] if quoted else re.sub(r"^(?:the|our|my|a|an) ", "", bare, flags=re.I)).split())
    said = words(name)
    if not said or said[0] == "of" or len(said) > 5 or len(name) > 40 or re.search(r"[,;:?!\"]", name):
        return None
    if not quoted and re.search(r"[#()]| - |\d ?(?:lbs?|kgs?|ml|g)\b", name):
        return None
    if not quoted and (set(name.lower().split()) & _NO_NAME or not re.search(r"[^\W\d_]", name)):
        return None
    return name.lower() if name.isupper() and len(name) > 4 else name


def supplier_said(plan: Plan, on: date, text: str) -> tuple[str | None, list[Entry]] | None:
    """The supplier that a name means, and its row where it is a new one; (None, []) for people who are no supplier;
    None where it is no name."""
    if in_full(text.strip(), r"(?:the |our |my )?(?:neighbou?rs?|home|own|farm|here|next door|a friend|a mate)"):
        return None, []
    if found := known(plan, text, "supplier"):
        return found[1], []
    name = new_name(text)
    return (name, [set_(on, "supplier", name)]) if name else None


def _take(pattern: str, text: str) -> tuple[re.Match[str] | None, str]:
    """The first place of a pattern, and the text without it."""
    found = re.search(pattern, text, re.I)
    return found, text[: found.start()] + text[found.end() :] if found else text


def unit_said(word: str) -> str:
    """The unit a word says; a container that is in no table by its singular."""
    return unit_named(word) or re.sub(r"(?<=x|h)es$|s$", "", word.lower())


def amount_said(number: str, unit: str) -> str:
    return f"{number.replace(',', '')} {unit_said(unit)}"


def measured(text: str) -> str | None:
    """The amount that a text is: "25lb" is "25 lb"."""
    found = re.match(r"([\d.,]+)[ -]?(.*)", text)
    return amount_said(found[1], found[2]) if found else None


def keeps_said(text: str) -> str | None:
    """What a group keeps, by a word for it."""
    return next((keeps for keeps, words_ in KEEPS.items() if in_full(text, words_)), None)


def new_to_me(name: str, what: str, told: Iterable[Entry], wants: Wants | None = None) -> Ask:
    """Whether a name nobody knows is a new row; then all this is recorded."""
    choices = (Choice(f"new {what}", tuple(told)), Choice("none of these"))
    return Ask(f"{name} is new to me. A new {what}?", choices, wants=wants)


def _item(rest: str, on: date, plan: Plan) -> Details | None:
    keys: Set = {}
    more: list[Entry] = []
    found, rest = _take(
        r"(?:,\s*|\s+)(?:and )?(?:(?:we |i )?(?:get|buy|comes?|supplied|order(?:ed)?)(?: it| them)? )?"
        r"(?:from|by(?! the (?:bag|lb|kg|bale))|supplier(?: is|:)?) (?P<who>[^,;]+?)(?=\s*(?:,|;|$)|\s+in \d|\s+in bags)", rest,
    )  # fmt: skip
    if found:
        who = supplier_said(plan, on, found["who"])
        if who is None:
            return None
        more = who[1]
        keys = {"supplier": who[0]} if who[0] else {}
    sized = rf"(?P<n>{_NUMBER})[ -]?(?P<u>{MEASURE})"
    of = r"(?:of|holds?|holding|that holds?|at|weigh(?:s|ing)?|with|are|is|=)"
    for pattern in (
        rf"(?:,\s*|\s+)(?:(?:it )?comes? )?(?:in )?{sized}[ -](?P<c>{HOLDER})(?:e?s)?{_END}",
        rf"(?:,\s*|\s+)(?:comes? )?(?:in )?(?P<c>{HOLDER})(?:e?s)?,? (?:{of} )?{sized}(?: each| a \w+| per \w+)?{_END}",
        rf"(?:,\s*|\s+)(?:holds? |each )?{sized}(?: each)?(?: (?:a|per|to the|to a) (?P<c>{HOLDER})(?:e?s)?)?{_END}",
    ):
        found, rest = _take(pattern, rest)
        if found:
            keys["holds"] = amount_said(found["n"], found["u"])
            if found["c"]:
                keys["unit"] = unit_said(found["c"])
            break
    found, rest = _take(rf"(?:,\s*|\s+)(?:in )?(?P<c>{HOLDER})(?:e?s)? of (?P<n>\d+)(?=\s*(?:,|;|$))", rest)
    if found:
        keys |= {"unit": unit_said(found["c"]), "holds": f"{found['n']} each"}
    found, rest = _take(
        rf"(?:,\s*(?:unit:? )?(?:counted |sold |comes? )?(?:in |by the )?|\s+(?:counted |sold |comes? )?(?:in|by the) )"
        rf"(?P<c>{HOLDER}|{MEASURE}|each)(?:e?s)?{_END}", rest,
    )  # fmt: skip
    if found:
        keys.setdefault("unit", unit_said(found["c"]))
    found, rest = _take(r"\s+(?:big |small |large |round |square )*(?P<c>bag|sack|bale)s(?=\s*(?:,|;|$))", rest)
    if found:
        keys.setdefault("unit", unit_said(found["c"]))
    return rest, keys, more


def _group(rest: str, on: date, plan: Plan) -> Details | None:
    keys: Set = {}
    for keeps, pattern in KEEPS.items():
        if found := in_full(rest, rf"\s*(?P<name>\d{{1,2}}[a-z]?),?\s+(?:for )?(?:{pattern})"):
            return found["name"], {"keeps": keeps}, []  # "new pen 7 market lambs": which pen, not how many
    for keeps, pattern in (*KEEPS.items(), ("", OTHER_KEEPS)):
        found, rest_ = _take(
            rf"(?:,\s*|\s+)(?:(?:it )?(?:for|keeps?|holds?)(?: the| our)? |(?P<n>\d+) |(?<=, ))(?P<k>{pattern}){_END}",
            rest,
        )
        if found:
            rest, keys["keeps"] = rest_, keeps or found["k"].lower()
            if found["n"]:
                keys["head"] = int(found["n"])
            break
    found, rest = _take(
        r"(?:,\s*|\s+)(?:with )?(?P<n>\d{1,5}) ?(?:head|hd|of them|animals|birds)(?: of them)?(?=\s*(?:,|;|$))", rest
    )
    if found:
        keys["head"] = int(found["n"])
    return rest, keys, []


def lead_said(text: str) -> int | None:
    """Open days from the order to the delivery: "delivers next day", "lead time 2 days", "in 2 days"; None for no such."""
    if in_full(text, r".*\bsame day\b.*"):
        return 0
    if in_full(text, r".*\b(?:next|following)(?: open| working| business)? day\b.*"):
        return 1
    found = re.search(r"\b(\d{1,2}|a|one|two|three|four|five) (?:open |working |business |clear )?days?\b", text, re.I)
    number = {"a": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5}
    return (number.get(found[1].lower()) or int(found[1])) if found else None


LEADS = (r"(?:(?:it |they )?(?:deliver(?:s|y|ies)?|lead(?: time| days)?|takes?|comes?)(?: is| are|:|,| on| the| in| within| it)* "
          r"(?:same day|(?:the )?(?:next|following)(?: open| working| business)? day|"
          r"(?:\d{1,2}|one|two|three|four|five) (?:open |working |business |clear )?days?)(?: to deliver| to come| later| lead| after)?)")  # fmt: skip
BEFORE = (r"(?:orders? (?:must be |have to be |need to be |has to be |needs to be )?(?:in )?(?:by|before) "
           r"(?P<t>noon|midday|\d{1,2}(?:[:.]\d\d)? ?(?:[ap]\.?m\.?)?)(?: (?:for|to count|that|the)[^,]*)?)")  # fmt: skip


def _supplier(rest: str, on: date, plan: Plan) -> Details | None:
    keys: Set = {}
    found, rest = _take(rf",?\s*(?:and )?{LEADS}(?=\s*(?:,|;|$))", rest)
    if found:
        keys["lead_days"] = lead_said(found[0])
    found, rest = _take(rf",?\s*(?:and )?{BEFORE}(?=\s*(?:,|;|$))", rest)
    if found and (by := time_said(found["t"])):
        keys["order_before"] = f"{by:%H:%M}"
    found = re.match(r"(?P<name>[^,]+?)(?:,\s*|\s+(?=open\b|hours\b))(?P<hours>.+)$", rest.strip(" ,"), re.I)
    if found:
        hours = hours_said(found["hours"])
        if hours is None:
            return None
        return found["name"], {"hours": hours, **keys}, []
    return rest, keys, []


DOSE = r"(?P<n>\d+(?:\.\d+)?) ?(?P<u>mls?|cc|g|tablets?|doses?|bolus(?:es)?|pumps?)(?P<per>(?: (?:per|a|for every|each|/|by|sq|im|under)[^,;]*)?)"


def _product(rest: str, on: date, plan: Plan) -> Details | None:
    keys: Set = {}
    eggs, rest = _take(rf",?\s*(?:and )?{EGGS}", rest)
    if eggs:
        keys["egg_withdrawal_days"] = int(eggs["d"])
    for pattern in (
        rf"(?:,\s*|\s+)(?:and )?{HOLD}(?: is|:| of)? {_DAYS}",
        rf"(?:,\s*|\s+)(?:and )?{_DAYS} (?:{HOLD}|(?:on |for )?meat)",
        rf"(?:,\s*|\s+)(?:and )?(?P<d>no|nil|zero) {HOLD}",
        rf"(?:,\s*|\s+)(?:and )?{HOLD}(?: is|:)? (?P<d>nil|none|zero)",
    ):
        found, rest = _take(pattern, rest)
        if found:
            keys["withdrawal_days"] = int(found["d"]) if found["d"].isdigit() else 0
            break
    found, rest = _take(rf"(?:,\s*|\s+)(?:and )?(?:dose(?: is| rate)?:? |give |at )?{DOSE}(?=\s*(?:,|;|$))", rest)
    if found:
        keys["dose"] = f"{found['n']} {unit_said(found['u'])}{found['per']}"
    found, rest = _take(
        r",?\s*(?:and )?(?:keeps|good for|lasts)(?: for)? (?P<d>\d{1,3}) days? (?:once |after |when )?open(?:ed|ing)?",
        rest,
    )
    if found:
        keys["opened_days"] = int(found["d"])
    return rest, keys, []


_ROLES = {
    "owner": "owner", "family": "family", "family member": "family", "helper": "helper", "help": "helper",
    "farmhand": "helper", "worker": "helper",
}  # fmt: skip


def _person(rest: str, on: date, plan: Plan) -> Details | None:
    keys: Set = {}
    found, rest = _take(
        r"(?:,\s*|\s+)(?:as )?(?:an? |the )?(?P<r>owner|family(?: member)?|helper|help|farmhand|worker)(?=\s*(?:,|;|$))",
        rest,
    )
    if found:
        keys["role"] = _ROLES[found["r"].lower()]
    found, rest = _take(
        r"(?:,\s*|\s+)(?:telegram|chat|number|id)?(?: (?:number|id|is))*:? ?(?P<n>\d{4,15})(?=\s*(?:,|;|$))", rest
    )
    if found:
        keys["telegram"] = int(found["n"])
    return rest, keys, []


def _bin(rest: str, on: date, plan: Plan) -> Details | None:
    keys: Set = {}
    found, rest = _take(
        rf"(?:,\s*|\s+)(?:holds? |capacity(?: is)? |of )?(?P<n>{_NUMBER}) ?(?P<u>{MEASURE})(?: capacity)?(?=\s*(?:,|;|$)|\s+(?:of|for)\b)",
        rest,
    )
    if found:
        keys["capacity"] = amount_said(found["n"], found["u"])
    found, rest = _take(r"(?:,\s*|\s+)(?:for|of|has|with|holds|crop) (?P<c>[^,;]+)|,\s*(?P<d>[^,;]+)$", rest)
    if found:
        crop = known(plan, found["c"] or found["d"], "crop")
        name = crop[1] if crop else new_name(found["c"] or found["d"])
        if name is None:
            return None
        return rest, {**keys, "crop": name}, [] if crop else [set_(on, "crop", name)]
    return rest, keys, []


def _field(rest: str, on: date, plan: Plan) -> Details | None:
    found, rest = _take(rf"(?:,\s*|\s+)(?:of )?(?P<n>{_NUMBER}) ?-?(?P<u>ac|acres?|ha|hectares?)(?=\s*(?:,|;|$))", rest)
    return rest, {"area": amount_said(found["n"], found["u"])} if found else {}, []


def _crop(rest: str, on: date, plan: Plan) -> Details | None:
    keys: Set = {}
    found, rest = _take(r",?\s*test weight(?: is)? (?P<n>\d+(?:\.\d+)?)(?: ?lbs?(?: (?:a|per) bu\w*)?)?", rest)
    if found:
        keys["test_weight"] = Decimal(found["n"])
    found, rest = _take(
        r",?\s*(?:(?:dry|sold|sell)(?: it)?(?: at)?(?: is)? )(?P<n>\d+(?:\.\d+)?) ?(?:%|percent)?(?: moisture)?", rest
    )
    if found:
        keys["dry"] = Decimal(found["n"])
    return rest, keys, []


def first_owner(plan: Plan, on: date, name: str) -> list[Entry]:
    """A plan that names nobody has one owner, called so; who is named first must not lock him out."""
    return [] if plan.person or name == "owner" else [set_(on, "person", "owner", role="owner")]


def fed(on: date, item: Item, group: str) -> PlanSet:
    """A group eats an item, beside those that do already."""
    feeds = [{"group": f.group, "per_head_day": f.per_head_day} for f in item.feeds if f.group != group]
    return set_(on, "item", item.name, feeds=[*feeds, {"group": group}])


def does(name: str) -> bool:
    """Whether a name is made of a word of doing something."""
    return any((w,) in BY_WORDS for w in words(name))


# Each takes the words after the noun, with a space before them, and gives None where they are no such row.
DETAILS: Mapping[str, Callable[[str, date, Plan], Details | None]] = {
    "item": _item, "group": _group, "supplier": _supplier, "product": _product, "person": _person, "bin": _bin,
    "field": _field, "crop": _crop,
}  # fmt: skip
