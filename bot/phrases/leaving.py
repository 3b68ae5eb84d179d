"""Rows about animals that leave: shipped, dead, to go with a next load."""

import re

from bot.fact import Ask, Choice, Fact, Found
from bot.phrases.doses import doubt_unknown, subject
from bot.phrases.lambing import grown
from bot.phrases.row import Row
from bot.verbs import STRONG
from rules.entries import Cull, Loss, Ship


def _also(fact: Fact) -> bool:
    """ "... culls 225 and 226 went too"."""
    return bool(re.search(r"\b(?:too|aswell|also|as well|an all|and all|along|with (?:em|them))\b", fact.text))


_SENT = (
    "sent", "took", "loaded", "to the", "gone to", "went to market", "off to", "away", "left on", "away to", "went off",
)  # fmt: skip


def ship(fact: Fact) -> Found:
    """A load that left: animals by tag, by head, or a whole group."""
    words = [
        p
        for n, p in enumerate(fact.pieces)
        if p.is_("ship") and not (p.text == "away" and n and fact.pieces[n - 1].text.endswith("ing"))
    ]
    bound = re.search(
        r"\b(?:to|at|for) (?:the |a )?(?:sale|mart|market|factory|works|abattoir|yards|stockyards|auction|butcher|packer|processor|plant)\b",
        fact.text,
    )
    took = re.search(
        r"\b(?:truck|lorry|trailer|carrier|float|wagon|trucker|haulier|drover) (?:took|got|came for|picked up|has|left with|left w|gone with)\b|\b(?:gone|went|left|away|off) (?:on|in) (?:\w+ ){0,3}(?:trailer|truck|lorry|wagon|float|boat|load)\b",
        fact.text,
    )
    also = _also(fact) and "ship" in fact.carried
    if (
        not (words or bound or took or also)
        or fact.has("order")
        or re.search(r"\baway from\b|\b(?:sent|went) (?:\w+ )?home\b", fact.text)
    ):
        return None
    if fact.has("cull") and not (also or fact.word("shipped", "away", "gone")):
        return None
    if fact.has("dose", "lambed") and not any(p.text in ("shipped", "hauled", "loaded") for p in words):
        return None
    heads = [(n, p) for n, p in fact.nums() if not p.tags]
    counted = (
        len(heads) == 1 and heads[0][1].unit in (None, "head") and heads[0][1].value == int(heads[0][1].value or 0)
    )
    if bound and counted and not fact.named("group"):
        if any(p.money or p.per for _, p in fact.nums()) or fact.named("item") or fact.named("crop"):
            return None
        fact.use(heads[0][0])
        return [Ship(on=fact.on(), head=int(heads[0][1].value or 0))]
    if (
        heads
        and all(p.spelled and p.unit is None for _, p in heads)
        and not any(p.text in STRONG and not p.mended for p in words)
    ):
        return None
    strong = [p for p in words if p.text not in _SENT]
    if fact.mentions("item", "crop", "bin", "product"):
        return None
    if any(p.money or p.per for _, p in fact.nums()):
        return None
    tags = fact.tags()
    fact.which_of(tags)
    if strong or tags:
        doubt_unknown(fact, tags)
    away = any(p.text in ("loaded", "sent", "away", "away to") for p in words)
    return _gone(fact, Ship, tags, bool(strong or took or also or away))


_STOCK = (
    "lambs", "ewes", "head", "hd", "hoggets", "hoggs", "wethers", "culls", "sheep", "cull ewes", "tups", "rams", "fats",
    "stores", "lads", "boys", "pigs",
)  # fmt: skip


def _gone(fact: Fact, make: type[Ship] | type[Loss] | type[Cull], tags: list[tuple[int, str]], sure: bool) -> Found:
    who = subject(fact)
    on = fact.on()
    if who is not None:
        counts = [(n, p) for n, p in fact.nums() if p.value == len(who[0]) and who[0]]
        fact.use(*(n for n, _ in counts))
        if who[1] and who[2] is None and not who[0] and not sure:
            return None
        return [make(on=on, tags=who[0], group=who[1], head=who[2])]
    heads = [
        (n, p) for n, p in fact.nums() if p.unit in (None, "head") and p.value is not None and p.value == int(p.value)
    ]
    groups = fact.named("group")
    kind = fact.says(*_STOCK)
    strong = any(p.text in STRONG for p in fact.pieces)
    if len(heads) == 1 and sure and not groups and (strong or kind or heads[0][1].unit == "head"):
        fact.use(heads[0][0])
        return [make(on=on, head=int(heads[0][1].value or 0))]
    if tags and not fact.nums():
        fact.use(*(n for n, _ in tags))
        return [make(on=on, tags=tuple(sorted({t for _, t in tags})))]
    return None


_TAKEN = re.compile(
    r"\b(?:fox|foxes|dogs?|coyotes?|eagles?|crows?|hawks?|badgers?|stoats?|minks?|wolf|wolves|bears?|dingos?|ferrets?|bobcats?|cougars?|lions?|lynx|pumas?|ravens?|buzzards?|boars?|pigs?|snakes?|lightning|bloat)"
    r" (?:has |have )?(?:got|had|took|taken|killed|nabbed|grabbed)\b"
    r"|\b(?:taken|took|killed|eaten|got|nabbed) by (?:a |the |some )?(?:fox|dog|coyote|eagle|crow|hawk|badger|stoat|mink|wol|bear|dingo|ferret|bobcat|cougar|train|car|truck)"
)


def loss(fact: Fact) -> Found:
    """A death, with its cause where said."""
    if re.search(r"\bput\b.*\bdown (?:as|at|for|that)\b|\bput down \d+\S* for\b", fact.text):
        return None  # written down
    if re.search(r"\bdead (?:one|1|un)\b", fact.text) and not fact.tags() and not fact.named("group"):
        fact.use(*(n for n, p in fact.nums() if p.value == 1))
        return Ask("Which one was it? The tag, or how many of which group.")
    worn = re.search(r"\b(?:feet|foot|legs?|teeth|bag|hips?|back|knees?)\b.*\bshot\b", fact.text)
    words = [p for p in fact.pieces if p.is_("die") and p.text != "gone" and not (worn and p.text == "shot")]
    born = re.search(
        r"\bdead (?:ewe |ram |tup |gimmer )?lambs?\b|\blambs? (?:was |were |born )?dead\b|\bstill ?born\b", fact.text
    )
    if born and any(grown(fact, t, fact.said.date()) for _, t in fact.tags()):
        return None  # the lamb, not the ewe
    if fact.tags() and fact.pieces[-1].text == "gone" and not words:
        tags_ = tuple(sorted({t for _, t in fact.tags()}))
        fact.use(*(n for n, _ in fact.tags()))
        return Ask("Gone: dead, or shipped?", (
            Choice("dead", (Loss(on=fact.on(), tags=tags_),)), Choice("shipped", (Ship(on=fact.on(), tags=tags_),)),
        ))  # fmt: skip
    if fact.single and re.fullmatch(
        r"(?:we |i |just |weve |ive |sadly )*lost (?:a |another )?(?:couple|few|2|3|4|1|one|two|three)(?: more| today| overnight| last night)*",
        fact.text,
    ):
        return Ask("Lost what? The tags, or how many of which group.")
    if fact.tags() and re.search(r"\bput\b.*\bdown\b", fact.text):
        words += [p for p in fact.pieces if p.text == "put"]
    if "lambed" in fact.carried and not fact.tags() and not fact.nums():
        return None  # "..., tup dead": one of those born
    if _TAKEN.search(fact.text):
        words += [p for p in fact.pieces if p.kind == "word"]
    if not words or any(STRONG.get(p.text) in ("lambed", "sell", "ship", "order") for p in fact.pieces):
        return None
    weak = ("lost", "gone", "took", "passed", "stiff", "shot", "got by", "fallen", "knackered", "is gone")
    strong = [p for p in words if p.text not in weak]
    if any("item" in p.names or ("field" in p.names and not strong) for p in fact.pieces if p.kind == "name"):
        return None
    if fact.word("tag") and fact.word("lost"):
        return None
    tags = fact.tags()
    fact.which_of(tags)
    doubt_unknown(fact, tags)
    fact.use_named("field")
    who = subject(fact)
    cause = cause_of(fact)
    on = fact.on()
    if who is not None and (who[0] or who[2] is not None):
        return [Loss(on=on, tags=who[0], group=who[1], head=who[2], cause=cause)]
    single = (
        who is not None
        and who[1] is not None
        and any("group" in p.names and not p.text.endswith("s") for p in fact.pieces)
    )
    if single and who is not None:  # "one hen died"
        return [Loss(on=on, group=who[1], head=1, cause=cause)]
    heads = [(n, p) for n, p in fact.nums() if p.unit in (None, "head")]
    if len(heads) == 1 and heads[0][1].value is not None and not heads[0][1].tags:
        kinds = ("lambs", "ewes", "lamb", "ewe", "hens", "hen", "hogget", "hoggets")
        kind = next((p.text for p in fact.pieces if p.text in kinds), None)
        if kind is None:
            return None
        fact.use(heads[0][0])
        return [Loss(on=on, head=int(heads[0][1].value), group=who[1] if who else None, cause=cause)]
    if (
        fact.says("lamb", "ewe", "hogget", "hen", "ram", "one")
        and any(p.text in ("lost", "died", "dead") for p in words)
        and len(fact.pieces) <= 8
    ):
        kind = next(p.text for p in fact.pieces if p.text in ("lamb", "ewe", "hogget", "hen", "ram", "one"))
        return Ask(f"Which {kind}?")
    return None


def cause_of(fact: Fact) -> str | None:
    words = [p.text for p in fact.pieces if p.kind == "word" and not p.classes and p.text.isalpha() and len(p.text) > 2]
    skip = {
        "the", "this", "morning", "and", "had", "all", "his", "her", "was", "really", "sad", "last", "night", "says",
        "vet", "just", "our", "head",
    }  # fmt: skip
    told = [w for w in words if w not in skip]
    return " ".join(told[:4]) or None


def cull(fact: Fact) -> Found:
    """Animals to go with a next load."""
    if not fact.has("cull") or fact.has("sell", "dose") or fact.says("shipped", "sold", "away"):
        return None
    if any(p.money or p.per for _, p in fact.nums()) or (_also(fact) and "ship" in fact.carried):
        return None
    tags = fact.tags()
    doubt_unknown(fact, tags)
    if not tags:
        return None
    fact.use(*(n for n, _ in tags))
    return [Cull(on=fact.on(), tags=tuple(sorted({t for _, t in tags})), for_=cause_of(fact))]


ROWS = (
    Row("loss", "A death.", ("lost 2431, bloat", "fox got 2 hens last night"), loss, ("die",)),
    Row("cull", "To go with a next load.", ("cull 105, bad bag",), cull, ("cull",), (), ("load",)),
)  # fmt: skip
SHIP = (
    Row("ship", "A load that left.", ("shipped 2401 2402", "shipped 4 from pen 1"), ship, ("ship",), (), ("cull", "load")),
)  # fmt: skip
