"""Rows about stores: what is left, what came, what went, what is ordered, what a head gets."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import pairwise

from bot.fact import Ask, Choice, Doubt, Fact, Found, Several, harmless
from bot.phrases import eggs
from bot.phrases.row import Row
from bot.phrases.unknown import a_new
from bot.slots import Piece
from rules import doubt
from rules.entries import Entry, OnHand, Ordered, Ration, Received, Used
from rules.plan import Item
from rules.units import like


def _unit(fact: Fact, item: Item, p: Piece | None) -> str:
    """The unit said, else the item's own. Doubts one that cannot be turned into the item's."""
    if p is None or p.unit is None or p.unit in ("each", "head"):
        return item.unit
    if p.unit != item.unit and not like(p.unit, item.unit, fact.plan.farm.country):
        try:
            item.units(Decimal(1), p.unit, fact.plan.farm.country)
        except ValueError:
            if item.unit != "each":
                if fact.plan.product_named(item.name) is not None:
                    raise Several("product") from None  # a dose of it
                raise Doubt(f"{item.name} in {p.unit}s? I count it in {item.unit}s.") from None
            return p.unit
    return p.unit


def _pairs(fact: Fact) -> list[tuple[Item, Piece | None]]:
    """Each item with its amount: the number just before it, else the one just after; a shared unit is taken along."""
    named = fact.named("item")
    if len({name for _, name in named}) == 1 and len(named) > 1:  # "haylage came, 20 big bales": one thing, named twice
        near = next((x for x in named if x[0] and fact.pieces[x[0] - 1].kind == "num"), named[0])
        fact.use(*(n for n, _ in named))
        named = [near]
    items = [(n, fact.plan.item_named(name)) for n, name in named]
    animals = _animals(fact, [n for n, _ in items])
    nums = {n: p for n, p in fact.amounts() if p.unit != "head" and not harmless(fact.pieces, n) and n not in animals}
    found: list[tuple[Item, Piece | None]] = []
    taken: set[int] = set()
    for k, (n, item) in enumerate(items):
        assert item is not None
        low = items[k - 1][0] if k else -1
        high = items[k + 1][0] if k + 1 < len(items) else len(fact.pieces)
        before = [m for m in nums if low < m < n and m not in taken]
        after = [m for m in nums if n < m < high and m not in taken]
        chosen = before[-1] if before and (not after or _beside(fact, before[-1], n)) else after[0] if after else None
        if chosen is None and before:
            chosen = before[-1]
        if chosen is not None:
            taken.add(chosen)
            fact.use(chosen)
        fact.use(n)
        found.append((item, nums.get(chosen) if chosen is not None else None))
    return found


def _animals(fact: Fact, items: list[int]) -> set[int]:
    """Numbers that are an animal: a tag in full, away from any item ("133 has milk fever", "2641 got half a bag")."""
    found = set()
    for n, p in fact.amounts():
        near = any(abs(n - m) == 1 or (abs(n - m) == 2 and fact.pieces[min(n, m) + 1].text == "of") for m in items)
        if p.tags and p.full and (len(p.text) >= 4 or (p.unit is None and not near)):
            found.add(n)
    return found


def _beside(fact: Fact, n: int, item: int) -> bool:
    """Whether only "of", a kind or a size stands between a number and an item."""
    return all(
        p.kind in ("word", "day") and not p.is_("hold", "fed", "come", "order") for p in fact.pieces[n + 1 : item]
    )


_CAME = ("topped up", "filled up", "got", "picked up", "came", "delivered", "received", "rcvd", "recd", "arrived",
         "dropped off", "bought", "brought", "brot", "fetched", "collected", "landed", "turned up", "came in", "got in",
         "unloaded", "delivery", "grabbed", "took delivery", "stocked up", "lifted", "has arrived", "dropped")  # fmt: skip


_ORDERED = ("ordered", "on order", "put in for", "called in", "order in", "put in an order", "reordered", "booked",
            "rang in", "phoned in", "order placed")  # fmt: skip
_LEFT = re.compile(r"(?:^|(?P<who>\w+) )left (?:me |us |off )?(?=\d)")
_STILL = (
    "have",
    "has",
    "had",
    "got",
    "ive",
    "weve",
    "is",
    "are",
    "theres",
    "only",
    "just",
    "still",
    "now",
    "about",
    "be",
    "was",
)
_BRINGERS = ("man", "guy", "lorry", "truck", "driver", "wagon", "van", "delivery", "rep", "lad", "fella", "tanker")
_GAVE_US = re.compile(r"\b(?:gave|given|handed|brought|dropped) (?:us|me) back\b")
_HERE = re.compile(r"(?:'s|s|\bis|\bare|\bnow|\bjust) here\b|\bat the (?:gate|door)\b")


def _verb(fact: Fact) -> str | None:
    """What happened to the store, by the words; None where they do not tell or tell two things."""
    if fact.has("giveback") or _GAVE_US.search(fact.text):
        return "giveback"
    if re.search(r"\b(?:lent|loaned) (?:us|me)\b", fact.text):
        return "borrow"
    if re.search(r"\bnot a (?:grain|bag|bale|drop|bit|scrap|pellet|nut) of\b.*\bleft\b", fact.text):
        return "out"
    if (fact.has("spoil") and _VERMIN.search(fact.text)) or _THROWN.search(fact.text):
        return "spoil"
    if _VERMIN.search(fact.text):
        return None  # what they were in may still be fed
    if fact.word("add", "minus", "plus", "subtract", "deduct"):
        return None  # to what is there, or is that what came?
    if re.search(r"\bput\b.*\bout\b", fact.text):
        return "fed"
    for name in ("borrow", "lend", "spoil"):
        if fact.has(name):
            return name
    phoned = re.search(r"\b(?:phoned|rang|called|texted|emailed)\b.*\bfor\b", fact.text)
    placed = re.search(r"\b(?:placed|made|sent)\b.*\border\b|\border (?:is |was )?(?:in|placed|sent)\b", fact.text)
    if phoned or (placed and fact.nums()) or fact.says(*_ORDERED):
        return "order"
    if fact.has("out") and fact.word("no") and not fact.nums() and _is_out(fact):
        return "out"
    if _had(fact):
        return "fed"
    first = fact.pieces[0]
    if "supplier" in first.names and fact.says("put", "left", "sent", "tipped") and fact.nums():
        return "come"
    if (left := _LEFT.search(fact.text)) is not None:  # who left it, or is it what is left?
        bringer = fact.mentions("supplier") or left["who"] in _BRINGERS
        if bringer or left["who"] not in _STILL:
            return "come" if bringer else None
    holds = fact.has("hold") and any(
        p.is_("hold") and p.text not in ("have", "has", "yet", "reading", "reads") for p in fact.pieces
    )
    if holds and not (fact.word("left on", "left out")):
        return "hold"
    second = fact.pieces[1].text if len(fact.pieces) > 1 else ""
    if fact.pieces[0].named("group") and second in ("got", "had", "ate", "get") and not fact.word("from"):
        return "fed"  # "lowland ewes got 300 kilos of beet"
    bought = fact.word("from", "paid") and any(p.money or p.per for _, p in fact.nums())
    if bought or fact.says(*_CAME) or _HERE.search(fact.text):
        return "come"
    if fact.has("out") and not fact.nums() and _is_out(fact):
        return "out"
    other = ("took", "filled with", "spread", "finished", "through", "thru", "hung")
    if any(p.is_("fed") and p.text not in other for p in fact.pieces) or (fact.has("fed") and fact.named("item")):
        return "fed"
    if fact.has("hold"):
        return "hold"
    return None


_VERMIN = re.compile(r"\b(?:rats?|mice|mouse|vermin)\b")
_THROWN = re.compile(r"\b(?:threw|thrown|chucked)\b.*\baway\b")


def _had(fact: Fact) -> bool:
    """Whether a group has eaten something: "hens have had a bag of pellets"."""
    had = re.match(
        r"(?:the )?(?:\w+ ){1,3}?(?:have had|has had|had|have eaten|have been through|got through)\b", fact.text
    )
    fed = [p for p in fact.pieces[:3] if "group" in p.names]
    items = fact.named("item")
    return bool(had and fed and items) and all(fact.plan.product_named(name) is None for _, name in items)


def _two_doings(fact: Fact) -> bool:
    """Whether some came and some went: "got 10 bags of milk, fed 2 of creep"."""
    went = ("fed", "used", "opened", "ate", "burned", "burnt", "bedded", "went through")
    came = ("got", "came", "picked up", "delivered", "bought", "received")
    texts = {p.text for p in fact.pieces}
    if len(texts & {*went}) > 1:
        return True  # "used 40 litres of diesel and fed 2 bags of nuts to the ewes"
    return (
        sum(map(bool, (texts & {*went}, texts & {*came}, "ordered" in texts, fact.has("borrow"), fact.has("lend")))) > 1
    )


def _is_out(fact: Fact) -> bool:
    """Whether nothing is left: "out of mash", "no milk left", not "no milk in the ewe"."""
    words = [p.text for p in fact.pieces]
    if "no" in words:
        n = words.index("no")
        if n + 1 < len(words) and fact.pieces[n].end != fact.pieces[n + 1].start:
            return False  # "no, hay" answers something else
        return ("left" in words or len(words) <= 3) and not any(w in ("in", "on", "for") for w in words)
    return True


def stock(fact: Fact) -> Found:
    """An item and an amount with what happened to it."""
    if fact.has("remind", "scanned") or re.search(r"\boff (?:her|his|its|their)\b", fact.text):
        return None
    if fact.has("fieldwork") and fact.named("field") and not fact.named("crop"):
        return None
    if fact.has("fieldwork"):
        fact.use(*(n for n, p in enumerate(fact.pieces) if set(p.names) & {"crop", "field"} and "item" not in p.names))
    given = (fact.has("dose") and fact.tags()) or ("dose" in fact.carried and fact.before)
    if given and any(fact.looks_like_tag(p) for _, p in fact.nums()):
        return None  # "gave 2404 and 2499 cdt": no store
    items = fact.named("item")
    verb = _verb(fact)
    if fact.pieces[0].text in ("she", "shes", "her", "hers") or (
        fact.tags() and re.search(r"\b(?:no|any|of|enough|plenty of) milk\b", fact.text)
    ):
        return None  # the ewe's own
    if items and re.search(r"\bof it\b", fact.text):
        return None  # "on creep now, opened a bag of it": two facts
    if len(items) > 1 and fact.says(*_CAME) and fact.word("left", "down to", "is", "are"):
        return None  # what came and what is left are two facts
    if not items and fact.item and _of_it(fact, verb):
        return _same_item(fact, verb)
    if not items:
        return _out_of(fact) if verb == "out" else _no_item(fact, verb)
    if any(p.percent for _, p in fact.nums()) or (fact.has("price") and fact.nums() and fact.nums()[0][1].per):
        return None
    vague = fact.vague()
    if verb is None and fact.carried and not vague:
        verb = next((v for v in ("hold", "come", "fed", "order", "borrow") if v in fact.carried), None)
    if fact.has("ration") and verb in (None, "fed", "hold") and _is_ration(fact):
        return None
    if vague is not None and not fact.amounts():
        return _how_much(fact, items[0][1], verb)
    if {"opened", "used", "fed"} & {p.text for p in fact.pieces} and fact.word("left", "down to") and len(items) > 1:
        return None
    product = fact.has("dose") and fact.plan.product_named(items[0][1]) is not None
    if product and not any(p.unit for _, p in fact.nums()) and fact.named("group"):
        return None  # "gave mules their 8-way, all 20"
    if fact.has("out") and verb not in ("out", "hold") and fact.word("ran out", "out of", "all gone") and fact.nums():
        return None  # "ran out of milk, borrowed 1": two facts
    if verb != "out" and fact.nums() and any(p.text == "no" and "item" in q.names for p, q in pairwise(fact.pieces)):
        return None  # "no nuts left, ordered 4": two facts
    if len(items) > 1 and _two_doings(fact):
        return None  # each is told by itself
    if verb == "spoil" and fact.says(*_CAME) and len(items) == 1:
        return _some_spoilt(fact, items[0][1])
    if verb in ("fed", "out") and not fact.nums() and re.search(r"\blast (?:o |of )?(?:the )?", fact.text):
        verb = "out"  # "put out the last of the hay"
    pairs = _pairs(fact)
    if verb == "out" and fact.word(*_OTHERS):
        return None  # the neighbor is out of it
    if verb == "out" and re.search(r"\bno tags?$", fact.text):
        return None  # the ewe had none
    if verb == "out":
        fact.one("group")  # "hens out of pellets"
        return [OnHand(on=fact.on(), item=i.name, amount=Decimal(0), unit=i.unit) for i, _ in pairs]
    if any(p is None for _, p in pairs):
        missing = next(i for i, p in pairs if p is None)
        happened = verb in ("come", "order", "borrow", "fed", "hold") and len(pairs) == 1 and not fact.amounts()
        return _how_much(fact, missing.name, verb) if verb and happened and _meant(fact, verb) else None
    return _entries(fact, verb, pairs)


def _of_it(fact: Fact, verb: str | None) -> bool:
    """Whether the item told of just before is meant: "fed 20 kg of it", "9 bags left"."""
    item = fact.plan.item_named(fact.item or "")
    nums = fact.amounts()
    if item is None or len(nums) != 1 or fact.tags() or verb not in ("hold", "fed", "spoil", "lend", "order", "borrow"):
        return False
    unit = nums[0][1].unit
    if verb in ("order", "borrow"):
        return unit in (None, item.unit)
    if verb in ("fed", "spoil") and unit in (None, item.unit) and len(fact.pieces) <= 3:
        return True  # "bought 10 bags of milk and used one"
    bare = verb == "hold" and len(fact.pieces) <= 4 and fact.word("left", "down to") and unit in (None, item.unit)
    return bare or (fact.word("it") and unit is not None)


def _same_item(fact: Fact, verb: str | None) -> Found:
    item = fact.plan.item_named(fact.item or "")
    n, p = fact.amounts()[0]
    fact.use(n)
    return _entries(fact, verb, [(item, p)]) if item is not None else None


def _some_spoilt(fact: Fact, name: str) -> Found:
    """ "got 12 bags milk but 2 were split open"."""
    item = fact.plan.item_named(name)
    nums = [p for _, p in fact.amounts()]
    if item is None or len(nums) != 2 or not 0 < nums[1].number < nums[0].number:
        return None
    came, spoilt, on, unit = nums[0].number, nums[1].number, fact.on(), _unit(fact, item, nums[0])
    both = (
        Received(on=on, item=name, amount=came, unit=unit),
        Used(on=on, item=name, amount=spoilt, unit=unit, how="spoiled"),
    )
    return Ask(f"{came:f} came and {spoilt:f} are no good?", (
        Choice(f"{came:f}, {spoilt:f} spoilt", both),
        Choice(f"{came - spoilt:f} came", (Received(on=on, item=name, amount=came - spoilt, unit=unit),)),
    ))  # fmt: skip


_OTHERS = (
    "neighbor", "neighbors", "neighbour", "neighbours", "they", "theyre", "he", "hes", "she", "shes", "store", "shop",
)  # fmt: skip


def _meant(fact: Fact, verb: str) -> bool:
    """Whether a stretch without an amount means a store all the same: "got some mash", not "milk is going down well"."""
    if verb == "hold" and re.search(r"\bdays?\b", fact.text) and fact.nums():
        return True  # "3 days of milk left"
    held = fact.says("bags", "bales", "bottles", "bag", "bale") or any(p.unit for p in fact.pieces)
    if verb in ("hold", "fed") and held:
        return True  # a container, and no number: "for bags of nuts left"
    texts = {p.text for p in fact.pieces}
    return verb in ("come", "order", "borrow") and bool(
        texts & {"got", "ordered", "delivered", "came", "borrowed", "received", "picked up", "arrived", "pallet"}
    )


_HEARD = {
    "for": "4",
    "fore": "4",
    "ate": "8",
    "too": "2",
    "won": "1",
    "tree": "3",
    "free": "3",
    "sex": "6",
    "tin": "10",
}


def _how_much(fact: Fact, name: str, verb: str | None) -> Ask:
    item = fact.plan.item_named(name)
    unit = f"{item.unit}s of " if item and item.unit not in ("each",) else ""
    heard = [
        (f"{_HEARD[p.text]} {q.unit}s", ((p, replace(p, kind="num", text=_HEARD[p.text], value=Decimal(_HEARD[p.text]), unit=q.unit, classes=frozenset())),))
        for p, q in pairwise(fact.pieces) if p.text in _HEARD and q.unit
    ]  # fmt: skip
    what = {"come": "came", "order": "are ordered", "fed": "were used", "borrow": "did you borrow"}.get(
        verb or "", "are left"
    )
    return Ask(f"How many {unit}{name} {what}?", (), tuple(heard))


def _entries(fact: Fact, verb: str | None, pairs: list[tuple[Item, Piece | None]]) -> Found:
    shown = [(i, p) for i, p in pairs if p is not None and p.value is not None]
    fact.one("person")
    supplier = _from(fact)
    groups = [n for n, _ in fact.named("group")]
    to = any(
        fact.behind(n, "to", "into", "in for") or fact.pieces[max(0, n - 2)].text in ("to", "into") for n in groups
    )
    if verb is None and to:
        verb = "fed"  # "a bale of hay to the tups"
    group = fact.one("group") if verb in ("fed", "come") else None
    if group is None and verb == "fed" and fact.word("em", "them"):
        group = fact.group
    if verb is None:
        return _left_came_used(fact, shown)
    ahead = verb == "order"
    _doubt_amounts(fact, shown)
    if verb == "hold":
        on = fact.on()
        fact.use(*(n for n, _ in fact.nums() if fact.pieces[n - 1].text == "not"))  # "19 bales, not 22"
        return [
            OnHand(on=on, item=i.name, amount=p.number, unit=_unit(fact, i, p), rough=p.rough or None) for i, p in shown
        ]
    if verb in ("come", "borrow"):
        return _received(fact, shown, supplier, verb)
    if verb == "giveback":
        return _given_back(fact, shown)
    if ahead:
        due: date | None = fact.due()
        on = fact.said.date()
        if due is not None and due < on:  # "ordered yesterday"
            on, due = due, None
        return _told(fact, Ordered, shown, on, supplier=supplier, due=due)
    fact.use(*(n for n, _ in fact.tags() if n and fact.pieces[n - 1].text in ("gave", "fed")))  # "gave hector a bag"
    how = {"lend": "lent", "spoil": "spoiled"}.get(verb)
    return _told(fact, Used, shown, fact.on(), group=group, how=how)


_FROM = ("from", "at", "off", "by", "the", "of", "via", "with", "to", "in")


def _from(fact: Fact) -> str | None:
    """The supplier it came from, or is ordered at: after "from", or the one that brought it."""
    found = fact.named("supplier")
    for n, name in found:
        before = fact.pieces[n - 1].text if n else ""
        after = fact.pieces[n + 1].text if n + 1 < len(fact.pieces) else ""
        if (
            not n
            or before in _FROM
            or after in ("brought", "brot", "delivered", "dropped", "dropped off", "truck", "lorry", "'s")
        ):
            fact.use(*(m for m, _ in found))
            return name
    n, name = found[0] if found else (0, "")
    after = fact.pieces[n + 1].text if n + 1 < len(fact.pieces) else ""
    if found and after not in ("had", "has", "have", "said", "says", "were", "was", "is"):
        fact.use(*(m for m, _ in found))
        return name
    return None


def _received(fact: Fact, shown: list[tuple[Item, Piece]], supplier: str | None, verb: str) -> Found:
    on = fact.on()
    price, each = _price(fact, len(shown))
    how = "borrowed" if verb == "borrow" else None
    return _told(fact, Received, shown, on, supplier=supplier, price=price, price_each=each, how=how)


def _price(fact: Fact, count: int) -> tuple[Decimal | None, Decimal | None]:
    """(for all of it, for each unit). A number over that is no other amount is the whole price where it has pence or a
    money sign."""
    prices = [(n, p) for n, p in fact.nums() if p.money or p.per or ("." in p.text and p.unit is None)]
    if count != 1 or len(prices) != 1:
        return None, None
    n, p = prices[0]
    fact.use(n)
    if p.per not in (None, "total") or (n and fact.pieces[n - 1].text in ("at", "@")):
        return None, p.value
    return p.value, None


_WE_GAVE = ("i", "we", "gave", "gave back", "paid back", "returned", "took back", "given back", "took")


def _given_back(fact: Fact, shown: list[tuple[Item, Piece]]) -> Found:
    """We gave back what we had borrowed; or they brought back what we had lent."""
    on = fact.on()
    theirs = fact.pieces[0].text not in _WE_GAVE
    fact.use(*(n for n, p in enumerate(fact.pieces) if set(p.names) == {"person"}))
    return _told(fact, Received if theirs else Used, shown, on, how="given_back")


def _told(
    fact: Fact, kind: Callable[..., Entry], shown: Sequence[tuple[Item, Piece]], on: date, **more: object
) -> list[Entry]:
    """An entry of a kind for each item and its amount."""
    return [kind(on=on, item=i.name, amount=p.number, unit=_unit(fact, i, p), **more) for i, p in shown]


def _left_came_used(fact: Fact, shown: list[tuple[Item, Piece]]) -> Found:
    """An item and a number, and no word that tells what happened: asked, whichever fits on a button."""
    if len(shown) != 1 or any(p.is_("weigh") for p in fact.pieces):
        return None
    if fact.has("dose") and fact.plan.product_named(shown[0][0].name) is not None:
        return None
    item, p = shown[0]
    on, unit = fact.on(), _unit(fact, item, p)
    kinds = (("left", OnHand), ("came", Received), ("used", Used))
    choices = tuple(Choice(word, tuple(_told(fact, kind, shown, on))) for word, kind in kinds)
    return Ask(f"{p.text} {unit}{'' if p.value == 1 else 's'} of {item.name}: left, came, or used?", choices)


def _doubt_amounts(fact: Fact, shown: list[tuple[Item, Piece]]) -> None:
    for item, p in shown:
        told = [f.amount for f in fact.farm.stock.get(item.name, ())]
        if doubt.too_much(p.number, p.unit or item.unit, max(told, default=None)):
            raise Doubt(f"{p.text} {p.unit or item.unit}s of {item.name}? That is a lot. How many?")


def _no_item(fact: Fact, verb: str | None) -> Found:
    """A store's words and a container, but no item: "fed 9 bales", "got 4 bags from the mill"."""
    bags = [
        (n, p) for n, p in fact.amounts() if p.unit in ("bag", "bale", "bottle") or (p.unit in ("gal", "L") and verb)
    ]
    boxed = next((p.text for p in fact.pieces if p.kind == "word" and p.unit in ("bag", "bale")), None)
    if not bags and boxed and fact.vague() is not None and verb in ("come", "fed", "hold") and not fact.tags():
        return Ask(f"How many {boxed}, of what?")
    if not bags or verb == "out" or fact.tags():
        return None
    n, p = bags[0]
    unknown = _unknown_noun(fact, n)
    if verb is None and (len(fact.pieces) > 6 or unknown is None):
        return None
    if _NO_ITEMS & set((unknown or fact.text).split()):
        return None
    supplier = fact.one("supplier")
    fact.use(n)
    fits = [i for i in fact.plan.item if i.unit == p.unit and (supplier is None or i.supplier in (None, supplier))]
    on = fact.on(verb == "order")
    make = {"hold": OnHand, "come": Received, "borrow": Received, "order": Ordered}.get(verb or "", Used)
    choices = [Choice(i.name, (make(on=on, item=i.name, amount=p.number, unit=p.unit or i.unit),)) for i in fits[:4]]
    if unknown:
        alike = [c for c in choices if verb and set(unknown.split()) & set(c.label.lower().split())]
        return a_new(fact, "item", unknown, *alike[:2], unit=p.unit, supplier=supplier)
    return Ask(f"{p.text} {p.unit}{'' if p.value == 1 else 's'} of what?", tuple(choices))


# What a farm runs out of (common practice, no source): of these alone an unknown name is asked about.
_GOODS = {
    "milk", "powder", "replacer", "hay", "straw", "haylage", "silage", "creep", "pellets", "nuts", "meal", "grain", "corn",
    "barley", "oats", "wheat", "mineral", "minerals", "salt", "licks", "diesel", "wormer", "drench", "vaccine", "iodine",
    "bedding", "mash", "pulp", "starter", "grower", "finisher", "colostrum", "shavings", "molasses",
}  # fmt: skip


def _out_of(fact: Fact) -> Found:
    """ "no milk left", "out of hay", of an item that the plan does not have."""
    found = re.fullmatch(
        r"(?:we(?:re| are) |im |all |clean |totally )*(?:out of|no more|no) ((?:\w+ )??\w+?)(?: left)?",
        fact.text.strip(" !"),
    )
    if not found or found[1].split()[-1] not in _GOODS:
        return None
    return a_new(fact, "item", found[1])


_NO_ITEMS = {"feed", "beans", "seed", "rubbish", "groceries", "crisps", "chips", "sweets", "shopping", "clothes"}


_BEFORE_WHO = (
    "of", "the", "this", "that", "for", "from", "at", "in", "on", "it", "them", "more", "to", "w", "with", "after",
    "so", "i",
)  # fmt: skip


def _unknown_noun(fact: Fact, n: int) -> str | None:
    """The word that a container is followed by: "12 bags of beet pulp"."""
    rest = fact.pieces[n + 1 : n + 4]
    words = []
    for p in rest:
        if p.kind != "word" or p.classes or p.unit:
            break
        if p.text not in _BEFORE_WHO:
            words.append(p.text)
        elif p.text not in ("of", "the"):
            break
    return " ".join(words) if words else None


# -- orders put back, rations


_MOVED = re.compile(
    r"\b(?:pushed|put|moved|shifted|knocked|bumped|slipped) (?:it )?(?:back|out|on|off|to|till|til|until)\b|\b(?:delayed|postponed|held up|brought forward)\b"
    r"|\b(?:wont|not|isnt|cant) (?:now )?(?:be (?:here|in|out|over|down)|come|coming|here|arriv\w+|till?|until)\b|\b(?:now|be) (?:coming|here|in) (?:now )?(?:till?\b|until|on\b|not|mon|tue|wed|thu|fri|sat|sun)|\bnow coming\b|\bcoming \w+ now\b"
)


def order_moved(fact: Fact) -> Found:
    """The open order's new day: "milk put back to thursday", "won't be here till monday now"."""
    if not _MOVED.search(fact.text) or fact.amounts():
        return None
    if not any(p.day and p.day.names_day for p in fact.pieces):
        return None
    item = fact.one("item")
    supplier = fact.one("supplier")
    if item is None:
        item = _only_order(fact, supplier)
    if item is None:
        return None
    fact.one("product")
    due = fact.on(ahead=True)
    return [Ordered(on=fact.said.date(), item=item, supplier=supplier, due=due)]


def _only_order(fact: Fact, supplier: str | None) -> str | None:
    items = {o.item for o in fact.farm.orders if supplier is None or o.supplier == supplier}
    if len(items) == 1:
        return next(iter(items))
    mine = [i.name for i in fact.plan.item if supplier is not None and i.supplier == supplier]
    return mine[0] if len(mine) == 1 else None


def _is_ration(fact: Fact) -> bool:
    texts = fact.text
    per = any(w in texts for w in ("a head", "per head", "per hd", "a hd", "each a day", "a day each", "per day", "a day",
                                   "daily", "apiece", "each", "per ewe", "per lamb", "a ewe"))  # fmt: skip
    now = any(w in texts for w in ("upped", "drop", "cut to", "from now", "from today", "as of", "starting", "now on", "now", "going forward", "bump",
                                   "up to", "get ", "gets", "getting", " on ", "from tomorrow", "every day", "ration"))  # fmt: skip
    return per and now


def ration(fact: Fact) -> Found:
    """What a head gets in a day from now on."""
    if not _is_ration(fact) or fact.has("sell", "order") or any(p.money for _, p in fact.nums()):
        return None
    if not fact.named("item"):
        return None
    group = fact.one("group") or fact.group
    item = fact.plan.item_named(fact.one("item") or "")
    fact.one("product")
    nums = [(n, p) for n, p in fact.nums() if not p.money]
    if group is None or item is None or len(nums) != 1 or nums[0][1].unit in ("head",):
        return None
    n, p = nums[0]
    if p.unit in ("bag", "bale") and not any(w in fact.text for w in ("head", "hd", "each", "ewe", "lamb")):
        return None
    fact.use(n)
    days = [x for x in fact.pieces if x.day and x.day.names_day]
    on = fact.said.date() if not days or days[0].day is None or days[0].day.offset == 0 else fact.on(ahead=True)
    return [
        Ration(on=min(on, fact.said.date()), item=item.name, group=group, amount=p.number, unit=_unit(fact, item, p))
    ]


ROWS = (
    Row("order_moved", "An order comes another day.", ("milk put back to thursday",), order_moved, ("order",)),
    Row(
        "ration", "What a head gets in a day from now on.",
        ("nursery on 0.5 lb milk a head a day from now on",), ration, ("ration",), (), ("move",),
    ),
    *eggs.ROWS,
    Row(
        "stock", "What is left, came, went or is ordered.",
        ("2 bags milk left", "got 10 bags milk", "used 1 bag milk", "ordered 10 bags milk, comes friday"),
        stock, ("hold", "come", "fed", "order", "borrow", "lend"), ("milk 3", "got some milk"), ("fieldwork",),
    ),
)  # fmt: skip
