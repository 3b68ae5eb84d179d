"""Rows about animals that come, move, are counted, or on which something was seen."""

import itertools
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from bot.fact import Ask, Choice, Doubt, Fact, Found, Several
from bot.phrases.details import NOUN
from bot.phrases.doses import doubt_unknown
from bot.phrases.growth import MEASURED
from bot.phrases.lambing import sex_of
from bot.phrases.row import Row
from bot.phrases.unknown import unknown_group
from bot.slots import Piece
from bot.verbs import STRONG
from rules.entries import Arrived, Entry, HeadCount, Move, Note, Weight

_BOUGHT = (
    "bought", "bought in", "arrived", "came home", "brought home", "purchased", "landed", "joined us", "new", "in off",
    "in from",
)  # fmt: skip


def arrived(fact: Fact) -> Found:
    """Animals bought in, or back."""
    verbs = [p for p in fact.pieces if p.is_("arrived") or p.text == "came"]
    if not verbs or fact.mentions("item"):
        return None
    if re.search(rf"\bnew (?:{NOUN})\b", fact.text):
        return None  # a new pen, not new animals
    sold = fact.says("sold")
    kinds = {"ewe", "ewes", "ram", "rams", "tup", "tups", "lambs", "hoggets", "hens", "pullets", "gimmers", "wethers",
             "hogget", "gimmer", "stores", "store lambs", "hoggs", "sheep", "chicks", "layers", "buck", "lamb"}  # fmt: skip
    named = [p for p in fact.pieces if p.text in kinds or "group" in p.names]
    if sold or not named:
        return None
    came = re.search(r"\bcame (?:from|off|home)\b", fact.text)
    if not came and not any(p.text in _BOUGHT for p in verbs):
        return None
    if all(p.text == "new" for p in verbs) and fact.word("lambs", "lamb") and not fact.word("from", "off"):
        raise Doubt("Born here, or bought in? Tell me which ewe, or where from.")
    kind = next((n for n, p in enumerate(fact.pieces) if n and p.text in _ONE and _single(fact.pieces[:n])), None)
    if kind is not None:  # "a new ram", "a yearling buck": which it is, not where it goes
        fact.use(kind, *(n for n in (kind - 1,) if fact.pieces[n].kind == "name"))
    if any(fact.behind(n, "from", "out of", "in from") for n, _ in fact.named("group")):
        return None  # "brought 12 in from pen 1": they were here
    group = fact.one("group")
    told = _its_tag(fact)
    tags = fact.tags()
    prices = [
        (n, p) for n, p in fact.nums()
        if p.money or p.per or (p.unit is None and n and fact.pieces[n - 1].text in ("for", "paid", "cost", "gave") and (p.value or 0) > 20)
    ]  # fmt: skip
    new = [(n, p) for n, p in fact.nums() if fact.looks_like_tag(p) and (n, p) not in prices]
    heads = [(n, p) for n, p in fact.nums() if (n, p) not in new and (n, p) not in prices and p.unit in (None, "head")]
    if tags or len(heads) > 1 or len(prices) > 1:
        return None
    born, on = _born(fact)
    new = _spread(fact, new)
    sexes = [s for p in fact.pieces if p.kind in ("word", "name") and (s := sex_of(p))]
    head = int(heads[0][1].value or 0) if heads and not new else None
    lettered = told or (_lettered(fact) if not new else ())
    new = [] if told else new
    if lettered and head in (None, len(lettered)):
        head = None
    elif not new and head is None:
        return None
    else:
        lettered = ()
    fact.use(*(n for n, _ in (*new, *heads, *prices)))
    single = (head or len(lettered or new)) == 1 or any(p.per == "total" for _, p in prices)
    price = prices[0][1].value if prices and single else None
    return [Arrived(
        on=on, tags=lettered or tuple(sorted(p.text for _, p in new)), group=group, head=head,
        sex=sexes[0] if sexes else None, born=born, price=price,
    )]  # fmt: skip


def _single(before: Sequence[Piece]) -> bool:
    """Whether "a", "one" or "new" stands before what an animal is called."""
    return before[-1].text in ("new", "a", "1") or (len(before) > 1 and before[-2].text in ("new", "a", "1"))


def _its_tag(fact: Fact) -> tuple[str, ...]:
    """The new tag that a single animal is said to have: "tag RX7", "tag is white 9", "tag 7"."""
    at = next((n for n, p in enumerate(fact.pieces) if p.text == "tag"), None)
    said = re.search(r"\btag (?:is |no |number )?(?:([a-z]+) ?)?(\d+)\b", fact.text)
    if at is None or said is None:
        return ()
    letters, digits = said[1] or "", said[2]
    if letters in ("is", "no", "number"):
        letters = ""
    n = next((n for n, p in enumerate(fact.pieces) if n > at and p.text.endswith(digits)), at)
    fact.use(n)
    return (f"{letters} {digits}" if len(letters) > 2 else letters.upper() + digits,)


_ONE = ("ram", "ewe", "tup", "hogget", "hen", "gimmer", "wether", "lamb", "hogg", "buck")


def _lettered(fact: Fact) -> tuple[str, ...]:
    """Tags with letters that no animal here has the like of ("R1 R2"), which are no pieces of their own yet."""
    pairs = itertools.pairwise(fact.pieces)
    joined = [(p, q) for p, q in pairs if p.kind == q.kind == "word" and p.end == q.start and q.text.isdigit()]
    return tuple(sorted((p.text + q.text).upper() for p, q in joined if p.text.isalpha() and len(p.text) <= 3))


def _spread(fact: Fact, new: list[tuple[int, Piece]]) -> list[tuple[int, Piece]]:
    """ "8851 to 8856 arrived": all tags of a range of new ones."""
    if len(new) != 2 or fact.pieces[new[0][0] + 1].text not in ("to", "thru", "through", "-", "up to"):
        return new
    (n, p), (m, q) = new
    if not (
        p.text.isdigit() and q.text.isdigit() and len(p.text) == len(q.text) and 0 < int(q.text) - int(p.text) <= 200
    ):
        raise Doubt(f"{p.text} to {q.text}: which tags?")
    fact.use(n, m)
    return [(n, replace(p, text=str(k).zfill(len(p.text)))) for k in range(int(p.text), int(q.text) + 1)]


def _born(fact: Fact) -> tuple[date | None, date]:
    """(born, arrived): the day after "born" is no day of arrival."""
    at = next((n for n, p in enumerate(fact.pieces) if p.day and n and fact.pieces[n - 1].text == "born"), None)
    if at is None:
        return None, fact.on()
    rest = [p for n, p in enumerate(fact.pieces) if n != at]
    return Fact([fact.pieces[at]], fact.said, fact.farm).on(), Fact(rest, fact.said, fact.farm).on()


def move(fact: Fact) -> Found:
    """Animals put into another group."""
    if not fact.has("move") or any(
        STRONG.get(p.text) in ("sell", "die", "cull", "lambed", "foster") for p in fact.pieces
    ):
        return None
    if fact.says("shipped", "truck", "trailer", "hauled", "sent", "loaded"):
        return None
    groups = fact.named("group")
    why = next((n for n, p in enumerate(fact.pieces) if p.text in _WHY), len(fact.pieces))
    fact.use(*(n for n, p in enumerate(fact.pieces) if n > why and p.kind == "name"))
    if any("bin" in p.names or "item" in p.names or "field" in p.names for p in fact.pieces[:why]):
        return None
    if not groups:
        return unknown_group(fact)
    if any(g in fact.farm.keeping("rams") for _, g in groups[:1]) and len(groups) > 1 and not fact.tags():
        return None
    to = _destination(fact, groups)
    if to is None:
        return unknown_group(fact)
    source = next((g for _, g in groups if g != to), None)
    fact.use(*(n for n, _ in groups))
    tags = fact.tags()
    fact.which_of(tags)
    nobody = not tags and not fact.nums() and source is None
    if nobody and fact.before and (fact.pieces[0].text in STRONG or fact.word("him", "her", "them", "em", "it")):
        return [Move(on=fact.on(), tags=fact.before, to=to)]
    doubt_unknown(fact, tags)
    on = fact.on()
    weights = [(n, p) for n, p in fact.amounts() if n not in {m for m, _ in tags}]
    if tags:
        fact.use(*(n for n, _ in tags))
        counts = [(n, p) for n, p in weights if p.value == len(tags) and len(weights) == 1]
        fact.use(*(n for n, _ in counts))
        moved: list[Entry] = [Move(on=on, tags=tuple(sorted(dict.fromkeys(t for _, t in tags))), to=to)]
        rest = [(n, p) for n, p in weights if (n, p) not in counts]
        entries = _with_weights(fact, moved, [t for _, t in tags], rest)
        doing = next((n for n, p in enumerate(fact.pieces) if p.is_("move") and p.text not in _SMALL), 0)
        first_said = isinstance(entries, list) and rest and rest[0][0] < doing  # "6325 99, moved him to pen 1"
        return [*entries[1:], entries[0]] if first_said and isinstance(entries, list) else entries
    moved_ = any(p.is_("move") and p.text not in ("to", "up to", "back to", "in with", "off to") for p in fact.pieces)
    if len(weights) == 1 and weights[0][1].unit in (None, "head") and moved_:
        fact.use(weights[0][0])
        return [Move(on=on, group=source, head=int(weights[0][1].value or 0), to=to)]
    if (not weights and source and fact.word("all", "whole", "lot", "everything", "them")) or (
        not weights and source and len(groups) == 2
    ):
        return [Move(on=on, group=source, to=to)]
    return None


def _with_weights(fact: Fact, moved: list[Entry], tags: list[str], weights: list[tuple[int, Piece]]) -> Found:
    """ "moved 2628 and 2653 to pen 1, weights 84 and 85"."""
    if not weights:
        return moved
    unit = fact.plan.farm.weight
    if len(weights) != len(tags):
        return None
    for tag, (n, p) in zip(tags, weights, strict=True):
        if p.unit not in (None, "kg", "lb") or not fact.can_weigh(tag, p):
            return None
        fact.use(n)
        moved.append(Weight(on=fact.on(), tag=tag, weight=p.value or Decimal(0), unit=p.unit or unit))
    return moved


_WHY = ("since", "because", "cos", "cause", "seeing")
_INTO = {
    "to", "into", "in", "up to", "over to", "down to", "with", "in with", "in w", "went to", "back", "back to", "onto", "w",
    "run in with", "out to", "turned into",
}  # fmt: skip
_SMALL = ("the", "my", "our", "a", "all", "with", "w", "their")


def _destination(fact: Fact, groups: list[tuple[int, str]]) -> str | None:
    """The group after "to", "into", "in with"; None where there is none. Two of them are two moves: not for this row."""
    found = []
    for n, g in groups:
        before = [p.text for p in fact.pieces[max(0, n - 3) : n]]
        near = next((p for p in reversed(fact.pieces[:n]) if p.text not in _SMALL), None)
        if near is None or not (near.is_("move", "in", "inserts") or near.text in ("to", "into", "in", "back", "onto")):
            continue
        if _INTO & set(before) and "of" not in before[-1:] and "out of" not in before:
            found.append((n, g))
    if len({g for _, g in found}) > 1 and any(found[0][0] < n < found[-1][0] for n, _ in fact.tags()):
        raise Several("group")
    return found[-1][1] if found else None


_COUNTED = (
    "tally", "counted", "count", "cownted", "headcount", "i make it", "make it", "in tonight", "all in", "head", "hd",
    "there are",
)  # fmt: skip


def head_count(fact: Fact) -> Found:
    """So many counted in a group, or in each of several."""
    if (several := _counts(fact)) is not None:
        return several
    nums = [
        (n, p) for n, p in fact.nums() if p.unit in (None, "head") and not p.money and not p.per and p.value is not None
    ]
    group = fact.one("group", use=False) or (fact.group if fact.has("count") and len(fact.pieces) <= 4 else None)
    if group is None or len(nums) != 1 or len(fact.nums()) != 1:
        return None
    n, p = nums[0]
    listed = "count" in fact.carried and len(fact.pieces) <= 4 and "name" in (fact.pieces[0].kind, fact.pieces[-1].kind)
    left = re.match(r"(?:only |just |so |thats |now )*\d+ (?:head |lambs |ewes |of them )?left in ", fact.text)
    counted = listed or bool(left) or fact.has("count") and fact.says(*_COUNTED)
    whole = p.unit == "head" and fact.word("in", "in with") and len(fact.pieces) <= 6
    roost = re.search(r"\b(?:roost|perch|shut in|locked up)\b", fact.text)
    tonight = (roost or fact.says("in tonight", "in", "all in")) and group in fact.farm.keeping("hens")
    if (
        fact.has("sick")
        or not (counted or whole or tonight)
        or any(fact.has(c) for c in ("move", "ship", "die", "dose", "sell", "average", "rams", "arrived", "stage"))
    ):
        return None
    if fact.has("weigh") and any(q.text.startswith("weigh") for q in fact.pieces):
        return None
    fact.use(n, *(m for m, _ in fact.named("group")))
    return [HeadCount(on=fact.on(), group=group, head=int(p.value or 0))]


def _counts(fact: Fact) -> list[Entry] | None:
    """ "count this morning 11 stores 10 pets and 18 hens"."""
    found = [(n, p) for n, p in enumerate(fact.pieces) if p.kind == "num" or "group" in p.names]
    pairs = list(zip(found[::2], found[1::2], strict=False))
    counted = fact.says("count", "counted", "tally", "head count", "headcount", "i make it", "gathered")
    if not counted or len(pairs) < 2 or len(found) % 2 or any(p.unit or p.money for _, p in fact.nums()):
        return None
    if not all(a[1].kind == "num" and b[0] == a[0] + 1 and b[1].kind == "name" for a, b in pairs):
        return None
    fact.use(*(n for n, _ in found))
    on = fact.on()
    return [HeadCount(on=on, group=b[1].named("group") or "", head=int(a[1].value or 0)) for a, b in pairs]


_SEEN = re.compile(
    r"\b(?:limp|lame|cough|scour|bloat|swoll|swell|runny|sick|poorly|loose|blind|bleed|abscess|stuck|cast|hurt|sore|rot\b|orf|"
    r"ringworm|maggot|fly ?strike|struck|snot|breath|wheez|drool|shiver|weak|thin|skinny|prolap|mastitis|lump|wound|torn|"
    r"broken|not eating|off (?:her|his|its|their) food|off feed|dull|hunch|head down|itch|rubb|wool|blown|not right|"
    r"not (?:him|her)self|off colou?r|escap|got out|jumped|eye|jaw|pale|anaem|favou?r|hop|tender|nose|foot|feet|leg|hoof|"
    r"udder|teat|horn|scab|scald|wormy|dirty|daggy|mucky|sneez|fever|temperature|quiet|blowing|puffing|panting|grunt|better|recover|eating again|fine|"
    r"looks|looking|seems|sound\b|acting|aggressive|hitting|bad|puny|wild|friendly|gone off|mad|hung up|down|notice|sore|crook|"
    r"fluke|fat|empty|barren|geld|dry\b|off (?:her|his|its|their) (?:legs|nuts|cake|milk|grub|tucker|hay|creep|meal|pellets)|on (?:her|his) side|skin|hairless|bare|drooping|teeth|mouth|hobbl|stiff|stagger|circling|trembl|cut\b|scrape|scratch|fly|pink ?eye|foot ?rot|temp\b|bcs|famacha|score|condition)"
)


def note(fact: Fact) -> Found:
    """Something seen on a named animal, or in a group, that is none of the others."""
    if fact.pieces[0].text in ("has", "is", "can", "did", "does", "will", "are", "what", "why", "when", "who", "how"):
        return None
    if (which := _short(fact)) is not None:
        return which
    if any(STRONG.get(p.text) in _TOLD_OTHERWISE for p in fact.pieces) or re.search(
        r"\b(?:job|jobs|tick|list|next load|next truck|reminder|bottles?|the scales?)\b", fact.text
    ):
        return None
    if not _SEEN.search(fact.text) or fact.has("remind") or any(p.unit for _, p in fact.nums()):
        return None
    fact.use(*(n for n, p in enumerate(fact.pieces) if p.kind == "vague"))
    tags = fact.tags()
    if fact.single and len(fact.pieces) < 4:
        fact.which_of(tags)
    if MEASURED.search(fact.text):  # a temperature, a score: part of what was seen
        fact.use(*(n for n, p in fact.nums() if not p.tags))
    for (n, tag), (m, _) in itertools.pairwise(tags):
        if m == n + 1 and fact.can_weigh(tag, fact.pieces[m]):
            return None  # an animal and its weight
    groups = [g for _, g in fact.named("group")]
    if not tags:
        doubt_unknown(fact, ())
    if fact.mentions("item", "product", "bin") and not tags:
        return None
    if any("product" in p.names for p in fact.pieces) and not fact.word("for", "after", "since", "from"):
        return None  # what was given, not what was seen
    sick = fact.has("sick")
    if len(tags) > 1 and not _together(fact, [n for n, _ in tags]):
        return None
    if tags and _named_before(fact, tags[0][0]):
        return None
    if any(
        STRONG.get(p.text) in ("docked", "castrated", "weaned", "shorn", "dose", "move", "ship") for p in fact.pieces
    ):
        return None
    his = re.match(r"(?:he|hes|she|shes|its|his|her|cut his|cut her|hurt his|hurt her)\b", fact.text)
    if not tags and not groups and not fact.nums() and len(fact.before) == 1 and his and sick:
        return [Note(on=fact.on(), text=_rest(fact, set()), tags=fact.before)]  # "2641 97, cut his leg on the gate"
    if tags:
        fact.use(*(n for n, _ in tags), *(n for n, p in enumerate(fact.pieces) if p.kind == "name"))
        text = _rest(fact, {n for n, _ in tags})
        return [Note(on=fact.on(), text=text, tags=tuple(sorted({t for _, t in tags})))]
    loose = len(set(groups)) == 1 and not fact.farm.tagged(groups[0])
    if loose and sick and len(fact.nums()) == 1:
        fact.use(fact.nums()[0][0])  # two hens poorly: of animals without tags
    if len(set(groups)) == 1 and sick and not fact.nums() and len(fact.pieces) <= 14:
        if not re.search(
            r"limp|lame|cough|scour|loose|sick|poorly|off feed|snot|orf|fly|itch|wormy|eye|bloat|runny|not eating|dull|hunched|not right|letharg|standing around",
            fact.text,
        ):
            return None
        fact.use_named("group")
        return [Note(on=fact.on(), text=_rest(fact, set()), group=groups[0])]
    return None


_TOLD_OTHERWISE = (
    "fed", "order", "sell", "ship", "die", "foster", "lambed", "move", "dose", "weaned", "pulled", "scanned",
    "retagged",
)  # fmt: skip


def _together(fact: Fact, places: list[int]) -> bool:
    """Whether animals stand in one list: "204 and 205 limping", not "204 limping, 205 coughing"."""
    first, last = min(places), max(places)
    return all(p.kind in ("tag", "num", "sep") or p.text in ("and", "n", "&") for p in fact.pieces[first:last])


def _named_before(fact: Fact, n: int) -> bool:
    """Whether a chunk of its own, with names or numbers, stands before the animal: "boys are out of A, 13 looks thin"."""
    breaks = [m for m in range(1, n + 1) if fact.pieces[m - 1].end != fact.pieces[m].start]
    return bool(breaks) and any(p.kind in ("name", "num", "tag") for p in fact.pieces[: breaks[-1]])


def _short(fact: Fact) -> Found:
    """ "17 lame": so many, or the one whose tag ends so?"""
    seen = [p.text for p in fact.pieces[1:3] if p.is_("sick")]
    if not (1 < len(fact.pieces) <= 12 and seen and fact.single) or len(fact.nums()) != 1:
        return None
    n, p = fact.nums()[0]
    here = [t for t, a in fact.farm.animals.items() if a.here]
    ends = [t for t in here if re.fullmatch(rf"\D*{p.text}", t)][:3]  # "blue 41"
    ends = ends or ([t for t in here if t.endswith(p.text)][:3] if len(p.text) == 2 else [])
    if n or not p.text.isdigit() or p.unit or p.tags or not ends:
        return None
    choices = [Choice(t, (Note(on=fact.on(), text=_rest(fact, {0}), tags=(t,)),)) for t in ends]
    return Ask(f"Which animal is {p.text}?", (*choices, Choice("none of these")))


def _rest(fact: Fact, without: set[int]) -> str:
    return " ".join(p.text for n, p in enumerate(fact.pieces) if n not in without and p.kind not in ("day", "sep"))[:80]


ARRIVED = (
    Row("arrived", "Animals bought in.", ("bought 5 ewes into ewes",), arrived, ("arrived",)),
)  # fmt: skip
MOVE = (
    Row("move", "Into another group.", ("2431 up to pen 1", "moved 4 head from pen 1 to nursery"), move, ("move",), (), ("weigh",)),
)  # fmt: skip
LAST = (
    Row("head_count", "How many were counted.", ("12 head in pen 1",), head_count, ("count",)),
    Row("note", "Something seen on an animal.", ("2401 limping left hind",), note, ("sick",)),
)  # fmt: skip
