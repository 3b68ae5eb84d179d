"""What is said of a row of the plan that is there: other names, what a bag holds, what a pen keeps, who somebody is.

Each reader takes one sentence in full, with the strong words for it, or has nothing to say to it. New rows are read in
`bot.phrases.growing`, suppliers, sales and units in `bot.phrases.standing`.
"""

import re
from datetime import date

from bot.fact import Ask, Choice, Found
from bot.names import words
from bot.phrases.details import (
    AMOUNT,
    EGGS,
    HOLD,
    HOLDER,
    KEEPS,
    NOUN,
    OTHER_KEEPS,
    It,
    Reader,
    Set,
    amount_said,
    does,
    fed,
    first_owner,
    in_full,
    keeps_said,
    known,
    measured,
    new_name,
    new_to_me,
    set_,
    supplier_said,
    unit_said,
)  # fmt: skip
from rules.entries import Entry, Product
from rules.plan import Plan

# -- names

_ROWS = ("item", "product", "group", "supplier", "bin", "field", "crop")
_THINGS = ("item", "product", "group", "bin", "field", "crop")  # "it"


def _both(plan: Plan, table: str, name: str) -> list[str]:
    """The tables in which a thing of this name stands: a product and an item share a name, and their stock."""
    other = {"item": "product", "product": "item"}.get(table)
    there = bool(other) and any(row.name == name for row in getattr(plan, other or "item"))
    return [table, other] if other and there else [table]


def _renamed(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "rename pen 2 to nursery", "pen 2 is now called nursery"."""
    kind = rf"(?:(?:the )?(?P<noun>{NOUN}) )?"
    found = in_full(
        text,
        rf"(?:re-?name|change the name of) {kind}(?P<old>.+?) (?:to|as|into) (?P<new>.+)",
        r"(?P<old>.+?) (?:(?:(?:is|are) )?(?:now|from now on) (?:called|named)|should be called) (?P<new>.+)",
        r"(?P<old>.+?) (?:is|are) (?:called|named) (?P<new>.+?) (?:now|from now on)",
        r"(?P<old>.+?)(?:'s) new name is (?P<new>.+)",
    )
    bare = in_full(text, r"re-?name (?P<old>.+)")
    if not found and bare and (old := known(plan, bare["old"], *_ROWS)):
        return Ask(f'What should {old[1]} be called? Like "rename {old[1]} to top {old[0]}".')
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


def _if_free(plan: Plan, of: tuple[str, str], new: str, told: list[Entry]) -> list[Entry] | Ask:
    """The change, where no other row of the table has the name."""
    other = known(plan, new, of[0])
    if new == of[1]:
        return Ask(f"It is called {new} already.")
    if other is not None and other != of:
        return Ask(f"{new} is the name of another {of[0]}. Take another one.")
    return told


_QUOTED = r"""["'](?P<quoted>[^"']+)["']"""


def _called(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "we call it starter", "call the milk powder 'formula'", "formula means milk powder"."""
    found = in_full(
        text,
        r"(?P<of>.+?) (?:is |are )?(?:(?:also )?(?:called|known as|named)|aka|a\.k\.a\.|also goes by) (?P<new>.+?)(?: too| as well| here| by us)?",
        r"(?P<new>.+?) (?:means|is (?:the same as|short for|another name for|what we call|our name for)) (?P<of>.+)",
        r"when (?:i|we) say (?P<new>.+?),? (?:i|we) mean (?P<of>.+)",
    )
    if found:
        of, new = known(plan, found["of"], *_ROWS), new_name(found["new"])
        return _also(plan, on, of, new) if of and new else None
    found = in_full(
        text, r"(?P<we>we|i) (?:also |mostly |usually |just )*call (?P<rest>.+)|(?:you can )?call (?P<rest2>.+)"
    )
    if not found:
        return None
    rest = re.sub(r"^(?:the|our|my) ", "", found["rest"] or found["rest2"], flags=re.I)
    rest = re.sub(r" (?:just|mostly|only) (?=\S+$)", " ", rest)
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
        if new and sure:
            return _also(plan, on, of, new)
        if new and of[0] in ("item", "product", "group") and len(words(new)) <= 2 and not does(new):
            told = _also(plan, on, of, new)
            if isinstance(told, Ask):
                return told
            return Ask(f"{new}: another name for {of[1]}?", (Choice("yes", tuple(told)), Choice("no")))
    return None


def _also(plan: Plan, on: date, of: tuple[str, str], new: str) -> list[Entry] | Ask:
    told: list[Entry] = []
    for table in _both(plan, *of):
        row = next((r for r in getattr(plan, table) if r.name == of[1]), None)
        told.append(set_(on, table, of[1], also=[*(row.also if row else ()), new]))
    return Ask(f"{new} is a name of it already.") if known(plan, new, of[0]) == of else _if_free(plan, of, new, told)


# -- items, groups, land, people


def _of_item(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "a bag of beet pulp is 50 lb", "beet pulp comes in 50 lb bags", "we get beet pulp from Ridge"."""
    sized = rf"(?P<n>{AMOUNT})"
    found = in_full(
        text,
        rf"(?:a |one |each |every )?(?P<c>{HOLDER})s? of (?P<of>.+?) (?:is|are|holds?|weighs?|=) {sized}(?: each)?",
        rf"(?:the |our )?(?P<of>.+?) (?P<c>{HOLDER})s (?:are|hold|weigh) {sized}(?: each)?",
        rf"(?P<of>.+?) (?:comes?|is|are) in {sized}[ -](?P<c>{HOLDER})s",
    )
    if found:
        item = _item_of(found["of"], plan, it)
        row = plan.item_named(item) if item else None
        if row is None:
            return None
        unit = unit_said(found["c"])
        more = {"unit": unit} if row.unit == "each" else {}
        if row.unit not in ("each", unit):
            return Ask(f"I count {row.name} in {row.unit}s. What does a {row.unit} hold?")
        return [set_(on, "item", row.name, holds=measured(found["n"]), **more)]
    found = in_full(
        text,
        r"(?:we (?:get|buy|order) (?:the |our )?(?P<a>.+?)|(?:the |our )?(?P<b>.+?) comes) (?:from|at) (?P<who>[^\d]+)",
    )
    item = _item_of(found["a"] or found["b"], plan, it) if found else None
    if not found or item is None:
        return None
    who = supplier_said(plan, on, found["who"])
    if who is None or who[0] is None:
        return None
    told = [set_(on, "item", item, supplier=who[0]), *who[1]]
    return new_to_me(who[0], "supplier", told) if who[1] else told


def _fed_to(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "beet pulp is for the spring ewes"."""
    found = in_full(text, r"(?:the )?(?P<of>.+?) (?:is for|is fed to|feeds) (?P<who>.+)")
    item = plan.item_named(_item_of(found["of"], plan, it) or "") if found else None
    group = known(plan, found["who"], "group") if found else None
    if item is None or group is None:
        return None
    return [fed(on, item, group[1])]


def _item_of(text: str, plan: Plan, it: It) -> str | None:
    if text.lower() in ("it", "them") and it and it[0] == "item":
        return it[1]
    found = known(plan, text, "item")
    return found[1] if found else None


def _of_group(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "pen 3 keeps ewes"."""
    kinds = "|".join([*KEEPS.values(), OTHER_KEEPS])
    found = in_full(text, rf"(?P<of>.+?) (?:keeps|is for|holds|is for keeping) (?:the |our )?(?P<k>{kinds})")
    group = known(plan, found["of"], "group") if found else None
    if not found or group is None:
        return None
    keeps = keeps_said(found["k"]) or found["k"].lower()
    told, before = set_(on, "group", group[1], keeps=keeps), plan.group_named(group[1])
    if before and before.keeps not in ("", keeps):
        return Ask(f"{group[1]} keeps {before.keeps}. Now {keeps}?", (Choice("yes", (told,)), Choice("no")))
    return [told]


def _of_land(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "bin 3 capacity is 5000 bu", "the home field is 40 acres"."""
    found = in_full(text, rf"(?P<of>.+?)(?:'s)? capacity(?: is|:)? (?P<n>{AMOUNT})")
    bin_ = known(plan, found["of"], "bin") if found else None
    if found and bin_:
        return [set_(on, "bin", bin_[1], capacity=measured(found["n"]))]
    found = in_full(text, r"(?P<of>.+?) is (?P<n>[\d.]+) ?(?P<u>ac|acres?|ha|hectares?)(?: in all| total| altogether)?")
    field = known(plan, found["of"], "field") if found else None
    return [set_(on, "field", field[1], area=amount_said(found["n"], found["u"]))] if found and field else None


def _of_product(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "withdrawal 28 days" of the product spoken of; with its name it is read as any product told of."""
    of = it[1] if it and it[0] == "product" else None
    found = in_full(text, rf"(?:its |the |meat )*{HOLD}(?: is| of|:)? (?P<d>\d{{1,3}}) ?(?:days?|d)?")
    if found and of:
        return [Product(on=on, product=of, withdrawal_days=int(found["d"]))]
    if found:
        untold = sorted(plan.product, key=lambda p: p.withdrawal_days is not None)
        told = [Choice(p.name, (Product(on=on, product=p.name, withdrawal_days=int(found["d"])),)) for p in untold]
        return Ask("The withdrawal of which product?", tuple(told[:4]))
    found = in_full(text, rf"(?:its |the )*{EGGS}") if of else None
    return [set_(on, "product", of, egg_withdrawal_days=int(found["d"]))] if found else None


def _of_person(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "Bea is a helper", "Bea's telegram is 12345678", "add Sam as a helper"."""
    role = r"(?P<r>owner|family(?: member)?|helper)"
    found = in_full(
        text,
        rf"(?:add )?(?P<of>[^\d\W][\w'\- ]{{0,30}}?) (?:is|as) (?:an?|the|our) (?:new )?{role}(?: now| here)?(?:,? (?:telegram|chat)(?: number| id)? (?P<n>\d{{4,15}}))?",
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
        told = [set_(on, "person", new, **keys), *first_owner(plan, on, new)]
        if re.match(r"add\b", text, re.I):
            return told
        return Ask(f"{new}: a new person of the farm?", (Choice("yes", tuple(told)), Choice("no")))
    found = in_full(
        text, r"(?P<of>[\w ]{1,30}?)(?:'s)? (?:telegram|chat|number)(?: number| id)?(?: is|:)? (?P<n>\d{4,15})"
    )
    name = next((p.name for p in plan.person if found and p.name.lower() == found["of"].lower()), None)
    return [set_(on, "person", name, telegram=int(found["n"]))] if found and name else None


OF_A_ROW: tuple[Reader, ...] = (
    _renamed, _called, _of_item, _fed_to, _of_group, _of_land, _of_product, _of_person,
)  # fmt: skip
