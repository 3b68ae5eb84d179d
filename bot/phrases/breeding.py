"""Rows about breeding: inserts, rams in and out, marks, scans."""

import re

from bot.fact import Ask, Choice, Fact, Found, Several
from bot.phrases.row import Row
from rules.entries import InsertsIn, InsertsOut, Marked, RamsIn, RamsOut, Scanned


def ewes_meant(fact: Fact) -> str | None:
    """The ewe group meant: named, or by the last word of its name alone ("B")."""
    ewes = fact.farm.keeping("ewes", "replacements")
    named = [(n, g) for n, g in fact.named("group") if g not in fact.farm.keeping("rams")]
    fact.use(*(n for n, g in fact.named("group") if g in fact.farm.keeping("rams")))
    if named:
        fact.use(*(n for n, _ in named if n >= 0))
        return named[0][1] if len({g for _, g in named}) == 1 else None
    ends = {g.lower().split()[-1]: g for g in ewes if g.lower().split()[-1] != "ewes"}
    meant = list(dict.fromkeys(ends[p.text] for p in fact.pieces if p.kind == "word" and p.text in ends))
    if len(meant) > 1:
        raise Several("group")
    return meant[0] if meant else None


def _head(fact: Fact) -> int | None:
    heads = [
        (n, p) for n, p in fact.nums() if (p.unit in (None, "head") and not p.money and not p.tags) or p.unit == "head"
    ]
    short = [(n, p) for n, p in fact.nums() if (n, p) not in heads and p.text.isdigit() and not p.unit]
    for n, p in heads or short[:1]:
        fact.use(n)
        return int(p.value or 0)
    return None


def inserts(fact: Fact) -> Found:
    """Progesterone inserts or sponges put in or taken out."""
    words = [p for p in fact.pieces if p.is_("inserts")]
    if not words or fact.mentions("item") or (fact.has("rams") and fact.has("in") and not fact.has("outof")):
        return None
    if all(p.mended for p in words) and not fact.named("group"):
        return None
    out = fact.has("outof") or fact.says("out", "pulled", "removed")
    into = fact.has("in") or fact.says("sponged", "put", "inserted", "put in", "into")
    if not out and not into:
        return None
    group = ewes_meant(fact)
    head = _head(fact)
    if group is None:
        groups = fact.farm.keeping("ewes")
        return Ask("In which group?", tuple(Choice(g) for g in groups[:4])) if len(groups) != 1 else None
    make = InsertsOut if out else InsertsIn
    return [make(on=fact.on(), group=group, head=head)]


def _ram_words(fact: Fact) -> bool:
    rams = fact.has("rams") or any(g in fact.farm.keeping("rams") for _, g in fact.named("group"))
    return rams or fact.says("boys")


def _named_rams(fact: Fact) -> list[tuple[int, str]]:
    found = []
    for n, p in enumerate(fact.pieces):
        grown = [t for t in p.tags if _grown_ram(fact, t)]
        if len(grown) == 1 and (p.kind == "tag" or fact.is_tag(p)):
            found.append((n, grown[0]))
    return found


def _grown_ram(fact: Fact, tag: str) -> bool:
    animal = fact.farm.animals[tag]
    return animal.sex == "ram" and (animal.age(fact.said.date()) or 999) > 150


def _raddled(fact: Fact) -> bool:
    """Whether it is the ram that was raddled, and put in: "raddled S14 and put him in with the mules"."""
    at = next((n for n, p in enumerate(fact.pieces) if p.is_("marked")), 0)
    return fact.pieces[at].text in ("raddled", "keeled", "coloured") and any(
        n in (at + 1, at + 2) for n, _ in _named_rams(fact)
    )


_IN_WITH = (
    "in", "in with", "over", "in w", "went in", "turned in", "put", "joined", "with", "turned out with", "running with",
)  # fmt: skip


def rams(fact: Fact) -> Found:
    """Rams in with a group of ewes, or taken out again."""
    named = _named_rams(fact)
    if not named and fact.word("him", "them", "em", "he"):  # of whom the fact before told
        named = [(-1, t) for t in fact.before if _grown_ram(fact, t)]
    away = "away from" in fact.text
    others = ("lambed", "dose", "die", "shorn", "castrated", "docked", *(() if away else ("ship",)))
    if (
        not (_ram_words(fact) or named)
        or fact.has(*others)
        or any(p.is_("sell") and p.text != "fetched" for p in fact.pieces)
        or (fact.has("marked") and not (named and _raddled(fact)))
        or re.search(r"\b(?:paint|raddle|crayon)\b|\b(?:by|from) the (?:ram|tup)", fact.text)
    ):
        return None
    if fact.mentions("item", "product") or any(p.unit in ("lb", "kg") for _, p in fact.nums()):
        return None
    out = any((p.is_("outof") and not p.is_("in")) or p.text == "out" for p in fact.pieces) or away
    into = fact.has("in") or fact.says("in", "w", "over", "into", "joined", "in with", "turned in")
    if re.search(r"\btook .*\b(?:rams?|tups?|boys) off\b", fact.text):
        out = True
    if re.search(r"\bout (?:to|with|in with|among|wi) (?:the )?", fact.text):
        out, into = False, True  # "went out to the main mob"
    if not out and not into:
        return None
    if named and not _ram_words(fact) and not (out or fact.says(*_IN_WITH)):
        return None
    worded = _ram_words(fact)
    group = ewes_meant(fact)
    fact.use(*(n for n, _ in named if n >= 0))
    if group is None and fact.group in fact.farm.keeping("ewes") and fact.word("them", "em"):
        group = fact.group
    if group is None:
        groups = fact.farm.keeping("ewes")
        if worded and len(fact.pieces) <= 5 and not fact.nums():
            make = RamsOut if out else RamsIn
            on = fact.said.date()
            return Ask(
                "In with which ewes?" if not out else "Out of which ewes?",
                tuple(Choice(g, (make(on=on, group=g),)) for g in groups[:4]),
            )
        return None
    if group not in fact.farm.keeping("ewes", "replacements"):
        return None
    if out and not (into and not any(p.is_("outof") for p in fact.pieces)):
        return [RamsOut(on=fact.on(), group=group)]
    head = _head(fact)
    synced = True if fact.has("synced") else None
    return [RamsIn(on=fact.on(), group=group, head=head, rams=tuple(sorted(t for _, t in named)), synced=synced)]


def marked(fact: Fact) -> Found:
    """Ewes newly seen marked by the ram."""
    paint = re.search(r"\b(?:paint|raddle|crayon|keel)\b", fact.text) and not fact.has("come", "order", "hold")
    more = paint or "marked" in fact.carried and fact.named("group") and fact.nums() and len(fact.pieces) <= 5
    if not (fact.has("marked") or more) or (fact.has("cull", "rams") and not fact.nums()) or fact.has("sell", "price"):
        return None
    fact.use(*(n for n, _ in _named_rams(fact) if fact.pieces[n - 1].text == "by"))
    if fact.tags():
        return None
    group = ewes_meant(fact)
    head = _head(fact)
    if head is None:
        return None
    on = fact.said.date() if any(p.day and p.day.lead == "since" for p in fact.pieces) else fact.on()
    if group is None:
        groups = fact.farm.keeping("ewes")
        if len(groups) != 1:
            return Ask(
                "Marked in which group?", tuple(Choice(g, (Marked(on=on, group=g, head=head),)) for g in groups[:4])
            )
        group = groups[0]
    return [Marked(on=on, group=group, head=head)]


_COUNTS = {
    "singles": "singles", "single": "singles", "twins": "twins", "twin": "twins", "triplets": "triplets", "trips": "triplets",
    "triplet": "triplets", "empty": "empty", "open": "empty", "dry": "empty", "barren": "empty", "empties": "empty",
    "geld": "empty", "eild": "empty", "yeld": "empty", "in lamb": "in_lamb", "pregnant": "in_lamb", "bred": "in_lamb",
    "not in lamb": "empty", "carrying": "in_lamb", "doubles": "twins", "pairs": "twins", "drys": "empty",
}  # fmt: skip


def scanned(fact: Fact) -> Found:
    """What the scanner found in a group."""
    nums = fact.nums()
    counts: dict[str, int] = {}
    taken = []
    for k, (n, p) in enumerate(nums):
        high = nums[k + 1][0] if k + 1 < len(nums) else len(fact.pieces)
        low = nums[k - 1][0] if k else -1
        key = next((_COUNTS[q.text] for q in fact.pieces[n + 1 : high] if q.text in _COUNTS), None)
        key = key or next((_COUNTS[q.text] for q in fact.pieces[low + 1 : n] if q.text in _COUNTS), None)
        one_ewe = bool(p.tags) and n == 0 and fact.farm.animals[p.tags[0]].sex == "ewe"  # "101 scanned twins"
        if one_ewe:
            continue
        if key is not None and key not in counts and p.value is not None and p.unit in (None, "head"):
            counts[key] = int(p.value)
            taken.append(n)
    if re.search(r"\b(?:a|one|1) set of triplets\b", fact.text) and "triplets" not in counts:
        counts["triplets"] = 1
    if not counts or not (fact.has("scanned") or (len(counts) >= 2 and set(counts) & {"empty", "in_lamb"})):
        return None
    if fact.has("sell", "order"):
        return None
    fact.use(*taken)
    group = ewes_meant(fact)
    if group is None and len(fact.farm.keeping("ewes")) > 1:
        return Ask("Which ewes were scanned?", tuple(Choice(g) for g in fact.farm.keeping("ewes")[:4]))
    return [Scanned(
        on=fact.on(), group=group, in_lamb=counts.get("in_lamb"), empty=counts.get("empty"), singles=counts.get("singles"),
        twins=counts.get("twins"), triplets=counts.get("triplets"),
    )]  # fmt: skip


ROWS = (
    Row("inserts", "Inserts or sponges in or out.", ("sponges in 8 ewes", "sponges out of ewes, 8"), inserts, ("inserts",)),
    Row("scanned", "What the scanner found.", ("ewes scanned 2 empty 3 singles 3 twins",), scanned, ("scanned",), (), ("lambed",)),
    Row("rams", "Rams in or out.", ("rams in with ewes", "rams out of ewes"), rams, ("rams",), ("rams in",), ("inserts", "marked")),
    Row("marked", "Ewes newly marked by the ram.", ("5 ewes marked in ewes",), marked, ("marked",)),
)  # fmt: skip
