"""Rows about products given to animals. `amount` is what each got, and only where it was said."""

import itertools
import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import TypeAlias

from bot.fact import Ask, Choice, Doubt, Fact, Found, Several, harmless
from bot.phrases.routes import batch, route
from bot.phrases.row import Row
from bot.phrases.unknown import a_new, no_such_animal
from bot.slots import Piece
from bot.tags import nearest
from bot.verbs import STRONG
from rules import doubt
from rules.entries import Dose, Remind
from rules.farm import Given
from rules.units import amount, convert

_UNITS = ("mL", "g", "dose", "tablet", "L")
_GIVEN = ("gave", "given", "jabbed", "jagged", "vaccinated", "vacced", "drenched", "treated", "injected", "dosed", "wormed",
          "jag", "jab", "jabs", "jags", "shot", "shots", "bolused", "injection", "into", "poured on", "sprayed on", "had",
          "has had", "administered", "done", "did", "did the", "got", "dose", "vaccine", "vaccination", "treatment", "stuck")  # fmt: skip
_SURE = ("gave", "given", "jabbed", "jagged", "vaccinated", "vacced", "drenched", "treated", "injected", "dosed", "wormed",
         "bolused", "jab", "jag", "shot", "poured on", "administered")  # fmt: skip
_REASONS = {"for", "because", "cos", "against", "due"}


def dose(fact: Fact) -> Found:
    """A product given to animals."""
    if fact.has("order", "borrow", "closed", "hold_days") and not fact.says("days", "day"):
        return None
    if fact.word("ran out", "run out", "out of", "none left", "all gone"):
        return None  # "wormed 7 then ran out of drench": two facts
    if fact.word("ordered") or fact.says("left", "picked up", "delivered", "received", "bought"):
        return None
    verbs = [p.text for p in fact.pieces if (p.is_("dose") and p.text in _GIVEN) or STRONG.get(p.text) == "dose"]
    products = fact.named("product")
    onto = any(_onto(fact, n + 1) for n, _ in products)
    if any(p.text == "put" for p in fact.pieces) and fact.named("group") and not onto:
        return None
    sure = [v for v in verbs if v in _SURE]
    if not products and fact.product and fact.word("it") and any(p.unit in _UNITS for _, p in fact.nums()):
        products = [(-1, fact.product)]  # "gave 508 2 ml of it"
    if not products:
        return _no_product(fact, sure)
    nums = fact.nums()
    measured = [p for _, p in nums if p.unit in _UNITS]
    if fact.says("dose", "label", "per") and not fact.tags() and not fact.named("group"):
        return None
    if not (verbs or measured or onto or "dose" in fact.carried or _named_as_given(fact, products)):
        return None
    if any(p.unit in ("bottle", "bag") for _, p in nums):
        return None
    if not verbs and fact.says("count", "on hand", "have", "stock"):
        return None
    given = list(dict.fromkeys(name for _, name in products))
    for n, p in enumerate(fact.pieces[:-1]):
        if p.kind == "vague" and "group" in {t for q in fact.pieces[n + 1 : n + 4] for t in q.names}:
            raise Doubt("Which ones, or how many?")  # "treated a few of the lot"
    fact.use(*(n for n, p in enumerate(fact.pieces) if p.kind == "vague"))  # "gave 1309 some reviver"
    if len(given) > 1 and not (
        _one_list(fact, products) and (not measured or (len(measured) == 1 and fact.word("each")))
    ):
        raise Several("product")
    fact.use_named("supplier")  # "the vet gave it"
    fact.use_named("product")
    fact.use(*(n for n, p in enumerate(fact.pieces) if "item" in p.names and p.named("item") in given))
    amount_ = _amount(fact)
    days = _withdrawal(fact)
    batch_ = batch(fact)  # before the animals: its number is none of them
    who = subjects(fact)
    if not who:
        return _who(fact, given[0])
    course = _course(fact)
    on = fact.on()
    value, unit = (amount_.value, amount_.unit) if amount_ else (None, None)
    doses = [Dose(
        on=on, product=product, tags=tags, group=group, head=head, amount=value, unit=unit, for_=_reason(fact),
        withdrawal_days=days, route=route(fact), batch=batch_,
    ) for product in given for tags, group, head in who]  # fmt: skip
    odd = next((ask for name in given if (ask := _too_much(fact, name, doses, amount_))), None)
    return odd or _all_days(fact, doses, course) or list(doses)


def _named_as_given(fact: Fact, products: list[tuple[int, str]]) -> bool:
    """Whether the name itself says that it was given: "fluke dose to the hill ewes"."""
    n = products[0][0]
    giving = n >= 0 and fact.pieces[n].text.split()[-1] in ("dose", "drench", "jab", "vaccine", "injection", "bolus")
    to = [p.text for p in fact.pieces[n + 1 : n + 2]] in (["to"], ["into"], ["on"])
    return giving and to and not _to_come(fact)


def _onto(fact: Fact, n: int) -> bool:
    """Whether what was named is said to be on animals: "fly spray on 35", "ran the pour on down the rams"."""
    after = [p for p in fact.pieces[n : n + 4] if p.text not in ("the", "all", "both", "my", "our", "of", "every")]
    animal = len(after) > 1 and ("group" in after[1].names or after[1].kind == "tag" or bool(after[1].tags))
    there = animal and after[0].text in ("on", "into", "onto", "on to", "down", "over", "across", "along")
    return there and not _to_come(fact)


def _to_come(fact: Fact) -> bool:
    """Whether it is said of a dose that is still to be given: "drench on pen 1 is due friday"."""
    coming = any(p.day and p.day.lead in ("due", "by", "before") for p in fact.pieces)
    return coming or fact.says("due", "needed", "required", "next", "ready", "list", "hold", "?")


def _one_list(fact: Fact, products: list[tuple[int, str]]) -> bool:
    """Whether products stand together: "five in one and B12, 2 ml of each"."""
    between = fact.pieces[products[0][0] : products[-1][0]]
    return all(p.kind == "sep" or "product" in p.names or p.text in ("plus", "with", "the", "a") for p in between)


def _amount(fact: Fact) -> Piece | None:
    found = [(n, p) for n, p in fact.nums() if p.unit in _UNITS]
    if len(found) > 1:
        raise Doubt("Two amounts: which one did each get?")
    for n, p in found:
        fact.use(n)
        return p
    return None


def _withdrawal(fact: Fact) -> int | None:
    """ "10 days before he can ship", said with the dose."""
    for n, p in fact.nums():
        after = [q.text for q in fact.pieces[n + 1 : n + 6]]
        if p.unit is None and after[:1] and after[0].startswith("day") and p.value is not None:
            held = fact.has("hold_days", "ship") or fact.word(
                "before", "vet", "hold", "label", "withdrawal", "meat", "tub", "box", "tin", "packet", "drum"
            )
            if held and p.value == int(p.value):
                fact.use(n)
                return int(p.value)
        if p.text and fact.has("hold_days") and after[:1] == ["d"]:
            fact.use(n)
            return int(p.value or 0)
    for n, p in enumerate(fact.pieces):  # "10 day hold" is cut out as a day word sometimes
        if p.kind == "day" and p.day is not None and p.day.form == "day" and "day" in p.text and fact.has("hold_days"):
            return abs(p.day.offset)
        del n
    return None


Who: TypeAlias = tuple[tuple[str, ...], str | None, int | None]


def subjects(fact: Fact) -> list[Who]:
    """Who got it, as (tags, group, head); each group of several named together ("pen 1 and pen 2")."""
    groups = list(dict.fromkeys(g for _, g in fact.named("group")))
    if len(groups) > 1 and not fact.tags() and not fact.says(*_BUT):
        if any(p.unit in (None, "head") and not harmless(fact.pieces, n) for n, p in fact.nums()):
            return []
        fact.use(*(n for n, _ in fact.named("group")))
        return [((), g, None) for g in groups]
    if _tags_and_groups(fact):
        tags = fact.tags()
        fact.use(*(n for n, _ in (*tags, *fact.named("group"))))
        named = tuple(sorted(dict.fromkeys(t for _, t in tags)))
        return [*(((), g, None) for g in groups), (named, None, None)]
    one = subject(fact)
    return [one] if one else []


def _tags_and_groups(fact: Fact) -> bool:
    """Whether animals and groups stand in one list: "the early ewes and Boomer"."""
    places = sorted({n for n, _ in (*fact.named("group"), *fact.tags())})
    if not fact.named("group") or not fact.tags() or fact.says(*_BUT):
        return False
    between = [fact.pieces[a + 1 : b] for a, b in itertools.pairwise(places)]
    parted = [
        any(x.end < y.start or y.kind == "sep" for x, y in itertools.pairwise(fact.pieces[a : b + 1]))
        for a, b in itertools.pairwise(places)
    ]
    small = ("the", "all", "both", "of", "my", "our", "also")
    return all(parted) and all(p.kind == "sep" or p.text in small for part in between for p in part)


def subject(fact: Fact) -> Who | None:
    """(tags, group, head): who got it, or whom another entry is about. A range of tags is every animal here within it."""
    tags = fact.tags()
    doubt_unknown(fact, tags)
    for (n, tag), (m, _) in itertools.pairwise(tags):  # "2641 112 and gave him": a weight, no second animal
        shorter = len(fact.pieces[m].text) < len(fact.pieces[n].text)
        if m == n + 1 and (shorter or fact.word("him", "her", "it")) and fact.can_weigh(tag, fact.pieces[m]):
            raise Several("weight")
    groups = fact.named("group")
    left_out = next((n for n, p in enumerate(fact.pieces) if p.text in _BUT), None)
    if left_out is not None and tags:
        return _all_but(fact, groups, tags, left_out)
    if any(fact.pieces[n + 1].text == "s" for n, _ in tags if n + 1 < len(fact.pieces)):
        raise Doubt(f"Which one of {tags[0][1]}'s?")
    if tags:
        fact.use(*(n for n, _ in tags), *(n for n, _ in groups))
        return tuple(sorted(dict.fromkeys(t for _, t in tags))), None, None
    heads = [x for x in fact.nums() if x[1].unit in (None, "head", "dose") and not x[1].money]
    heads = [(n, p) for n, p in heads if not harmless(fact.pieces, n)]
    if len(groups) == 1 and not heads:
        fact.use(groups[0][0])
        return (), groups[0][1], None
    if len(groups) == 1 and len(heads) == 1:
        (at, group), (n, p) = groups[0], heads[0]
        every = fact.pieces[n - 1].text == "all"
        if p.unit is None and n > at and not every:
            return None  # a number after the group is not how many of it
        fact.use(at, n)
        head = int(p.value or 0)
        return (), group, None if every and head == fact.farm.head(group) else head  # "the mules, all 20"
    if (
        not groups
        and not heads
        and len(fact.before) > 1
        and fact.word("him", "her", "it", "he", "she")
        and _means_them(fact)
    ):
        raise Doubt(f"Which one: {' or '.join(fact.before[:3])}?")
    if not groups and not heads and fact.before and _means_them(fact):
        return fact.before, None, None
    if not groups and not heads and fact.heads and not fact.before and _means_them(fact):
        return (), None, fact.heads  # "moved 6 of pen 1 and drenched them"
    whole = "dose" in fact.carried or fact.word("them", "em", "they")
    if not groups and not heads and fact.group and whole and _means_them(fact):
        return (), fact.group, None
    return None


_BUT = ("except", "bar", "excepting", "but", "minus")
_THEM = {"him", "her", "it", "them", "em", "both", "he", "she", "they", "these", "those"}


def _all_but(fact: Fact, groups: list[tuple[int, str]], tags: list[tuple[int, str]], at: int) -> Who:
    """A group without those named after "except"."""
    out = {t for n, t in tags if n > at}
    group = groups[0][1] if len({g for _, g in groups}) == 1 else None
    if group is None or len(out) != len(tags):
        raise Doubt("All but those: of which group?")
    fact.use(*(n for n, _ in tags), *(n for n, _ in groups))
    return tuple(a.tag for a in fact.farm.in_group(group) if a.tag not in out), None, None


_AND_THAT = (
    "a", "an", "the", "some", "their", "also", "too", "on", "in", "it", "him", "her", "them", "as", "well", "got",
    "gave",
)  # fmt: skip


def _means_them(fact: Fact) -> bool:
    """Whether the animals told of just before are meant: "him", "them", or a doing with nobody named."""
    words = {p.text for p in fact.pieces}
    bare = all(p.kind != "word" or p.text in _AND_THAT for p in fact.pieces)
    more = "dose" in fact.carried and (bare or any(p.unit in _UNITS for p in fact.pieces))
    return more or bool(words & _THEM) or fact.pieces[0].text in STRONG


def unknown_tag(fact: Fact, p: Piece, beside: list[str], new: bool = True) -> Doubt:
    """An animal that the farm does not have, with the nearest ones."""
    return no_such_animal(fact, p, nearest(p.text, fact.farm, None, beside), new)


def doubt_unknown(fact: Fact, tags: Sequence[tuple[int, str]], new: bool = True) -> None:
    """Asks which animal is meant by a number that looks like a tag, and that no animal has."""
    for _, p in fact.nums():
        if fact.looks_like_tag(p):
            raise unknown_tag(fact, p, [t for _, t in tags], new)


def _who(fact: Fact, product: str) -> Ask:
    on = fact.said.date()
    groups = [g.name for g in fact.plan.group if g.keeps in ("bottle lambs", "ewes", "market lambs", "replacements")]
    choices = [Choice(g, (Dose(on=on, product=product, group=g),)) for g in groups[:4]]
    return Ask(f"Who got the {product}?", tuple(choices))


def _no_product(fact: Fact, sure: list[str]) -> Found:
    """A dose without a product that the plan has: "gave 2641 a shot", "gave 131 penicillin"."""
    if not sure or fact.named("item") or re.search(r"\b(?:are|is|was|were|all) shot\b", fact.text):
        return None
    tags = fact.tags()
    groups = fact.named("group")
    mls = [p for _, p in fact.nums() if p.unit in ("mL", "dose", "tablet")]
    kinds = fact.word("ewes", "lambs", "hoggets", "sheep", "rams", "tups", "them", "all", "everything", "mob")
    if not (tags or groups or mls or (fact.before and _means_them(fact)) or (kinds and len(fact.pieces) <= 7)):
        return None
    named = [v for v in sure if v in ("drenched", "wormed", "vaccinated", "vacced")]
    only = _the_one(fact, named[0]) if named else None
    if only:
        odd = _odd(fact) if fact.word("with", "w", "using") else None
        if odd:
            return a_new(fact, "product", odd)
        amount_ = _amount(fact)
        who = subjects(fact)
        if not who:
            return _who(fact, only)
        value, unit = (amount_.value, amount_.unit) if amount_ else (None, None)
        course = _course(fact)
        given = [Dose(
            on=fact.on(), product=only, tags=tags_, group=group, head=head, amount=value, unit=unit,
            for_=_reason(fact), withdrawal_days=_withdrawal(fact),
        ) for tags_, group, head in who]  # fmt: skip
        return _too_much(fact, only, given, amount_) or _all_days(fact, given, course) or list(given)
    medicine = mls or fact.word("shot", "jab", "jag", "dose", "injection", "vaccine")
    if set(sure) <= {"gave", "given"} and not medicine and not _odd(fact):
        return None
    who_tags = tuple(sorted(t for _, t in tags))
    fact.use(*(n for n, p in enumerate(fact.pieces) if p.kind in ("num", "tag", "name")))
    choices = [
        Choice(p.name, (Dose(on=fact.said.date(), product=p.name, tags=who_tags),) if who_tags else ())
        for p in fact.plan.product[:3]
    ]
    odd = _odd(fact)
    if odd:
        return a_new(fact, "product", odd, *choices[:2])
    return Ask("What was given?", tuple(choices))


def _odd(fact: Fact) -> str | None:
    """A word that could be a product nobody has named to me: beside an amount or an animal, and none of ours."""
    for n, p in enumerate(fact.pieces):
        if p.kind == "word" and not p.classes and not p.unit and len(p.text) >= 5 and p.text.isalpha():
            before = [q.text for q in fact.pieces[max(0, n - 2) : n]]
            if not set(before) & _REASONS and p.text not in _PLAIN:
                return p.text
    return None


_PLAIN = {"while", "since", "after", "before", "check", "water", "bottle", "colostrum", "today", "again", "every", "their", "there", "these", "those", "other", "first", "second", "third", "lambs",
          "sheep", "morning", "tonight", "about", "nearly", "poorly", "being", "bloody", "attention", "little", "another",
          "credit", "thumbs", "whole", "group", "bunch"}  # fmt: skip


def _the_one(fact: Fact, verb: str) -> str | None:
    """The only product a verb can mean: "drenched" with one drench on the list."""
    stem = {"drenched": ("drench", "wormer"), "wormed": ("worm", "drench")}.get(verb, ("vaccin",))
    fits = [p.name for p in fact.plan.product if any(s in " ".join((p.name, *p.also)).lower() for s in stem)]
    named = [p.name for p in fact.plan.product if {stem[0], stem[0] + "er"} & {x.lower() for x in (p.name, *p.also)}]
    return fits[0] if len(fits) == 1 else named[0] if len(named) == 1 else None


def _reason(fact: Fact) -> str | None:
    """The words after "for"."""
    for n, p in enumerate(fact.pieces):
        if p.text == "for" and n + 1 < len(fact.pieces):
            words = []
            for q in fact.pieces[n + 1 : n + 6]:
                if q.kind in ("day", "num", "sep") or q.text in ("and", "when", "then", "today"):
                    break
                words.append(q.text)
            return " ".join(words) or None
    return None


_NUMBERS = {"two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7}
_COURSE = re.compile(
    rf"\b(?:for |over |the |last |past )*(\d+|{'|'.join(_NUMBERS)}) ?days?(?: (?:in a row|running|straight|on the trot|on end|course))?\b"
)


def _course(fact: Fact) -> int | None:
    """For how many days running it was, or is to be, given: "3 days in a row", "daily for 3 days"; None: once."""
    if fact.has("hold_days") or fact.word("withdrawal", "old", "ago", "before"):
        return None
    found = _COURSE.search(fact.text)
    plain = found and re.search(r"\bfor |in a row|running|straight|on the trot|on end|course|last |past ", found[0])
    if not found or not plain:
        return None
    days = _NUMBERS.get(found[1]) or int(found[1])
    return days if 2 <= days <= 14 else None


def _all_days(fact: Fact, given: Sequence[Dose], days: int | None) -> Ask | None:
    """Given for days running: all of them up to now, or the first of them today? The hold counts from the last."""
    if days is None:
        return None
    first, last = given[0], given[0].on
    all_ = tuple(replace(x, on=last - timedelta(n)) for n in range(days - 1, -1, -1) for x in given)
    choices = [Choice("all given", all_)]
    if last == fact.said.date():
        more = Remind(
            on=last, text=f"give {first.product} again", due=last + timedelta(1),
            tags=first.tags, group=first.group, product=first.product, every="1 days", until=last + timedelta(days - 1),
        )  # fmt: skip
        choices.append(Choice("first today", (*given, more)))
    why = f"{first.product}, {days} days: are all {days} given, or was the first today? The hold counts from the last."
    return Ask(why, (*choices, Choice("just once", tuple(given))))


# More than this at once, for a product of which nobody has told a dose and none was told here (common practice, no
# source): a slip of the thumb, or an amount for the whole pen.
_MOST = {"mL": Decimal(100), "g": Decimal(100), "tablet": Decimal(6), "dose": Decimal(4), "L": Decimal("0.3")}
_BY_WEIGHT = re.compile(r"([\d.]+) ?(ml|g)\b ?(?:per|/|a|to|for each|for every) ?([\d.]*) ?(kg|lb)\b", re.IGNORECASE)
_FAR = 5  # times what it should be


def _too_much(fact: Fact, product: str, given: Sequence[Dose], p: Piece | None) -> Ask | None:
    """A dose far beyond what the plan says, what such an animal would get, or what this product was given here."""
    if p is None or p.value is None or p.unit is None:
        return None
    row = fact.plan.product_named(product)
    usual, why = _usual(fact, product, given, p.unit)
    if p.value < (_FAR * usual if usual else _MOST.get(p.unit, p.value + 1)):
        return None
    told = f" The dose I was told is {row.dose}." if row and row.dose else why
    # the slip that comes nearest to what is usual, else a tenth
    slips = [p.value / n for n in (10, 100)]
    near = min(slips, key=lambda x: abs(x - usual)) if usual else slips[0]
    near = near.normalize() + 0
    fixed = tuple(replace(x, amount=near) for x in given)
    choices = (Choice(f"{near:f} {p.unit}", fixed), Choice(f"really {p.value:f}", tuple(given)))
    return Ask(f"{p.value:f} {p.unit} of {product}?{told}", choices)


def _usual(fact: Fact, product: str, given: Sequence[Dose], unit: str) -> tuple[Decimal | None, str]:
    """About what each should get in this unit, and how that is known: the plan's dose, by weight, or given before."""
    row = fact.plan.product_named(product)
    if row and row.dose and (found := _BY_WEIGHT.search(row.dose)) and amount(f"1 {found[2]}").unit == unit:
        place = fact.plan.farm
        tags = [t for x in given for t in x.tags] or [
            t for x in given for t in fact.farm.members.get(x.group or "", ())
        ]
        animals = [fact.farm.animals[t] for t in tags]
        heavy = max((doubt.bounds(a, fact.said.date(), fact.farm)[1] for a in animals), default=Decimal(100))
        per = convert(Decimal(found[3] or 1), found[4].lower(), place.weight, place.country)
        return Decimal(found[1]) * heavy / per, ""
    with suppress(ValueError, ArithmeticError):
        usual = amount(row.dose) if row and row.dose else None
        if usual and usual.unit == unit and usual.value > 0:
            return usual.value, ""
    before = max((d.amount for d in _given_here(fact, product) if d.amount and d.unit == unit), default=None)
    return before, f" The most it was here before is {before:f} {unit}." if before else ""


def _given_here(fact: Fact, product: str) -> Iterator[Given]:
    for doses in (*(a.doses for a in fact.farm.animals.values()), *fact.farm.group_doses.values()):
        yield from (d for d in doses if d.product == product)


ROWS = (
    Row(
        "dose", "A product given to animals.",
        ("gave 2401 oxy 5 ml for foot rot", "jabbed 2401 2402 cdt", "cdt into 12 of the nursery", "gave pen 1 cdt sunday"),
        dose, ("dose",), ("gave the booster", "gave 2401 a shot"),
    ),
)  # fmt: skip
