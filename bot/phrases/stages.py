"""Rows about stages: pulled, weaned, docked, castrated, shorn, housed, on creep."""

import re
from itertools import pairwise

from bot.fact import Ask, Choice, Doubt, Fact, Found
from bot.phrases.doses import subjects
from bot.phrases.lambing import grown, sex_of
from bot.phrases.row import Row
from bot.slots import Piece
from bot.verbs import STRONG
from rules.entries import Entry, Move, Stage

_STAGES = (
    ("pulled", ("pulled",)), ("weaned", ("weaned",)), ("docked", ("docked",)), ("castrated", ("castrated",)),
    ("shorn", ("shorn",)), ("housed", ("housed",)), ("creep", ("creep",)),
)  # fmt: skip


def stage(fact: Fact) -> Found:
    """pulled, housed, on creep, weaned, docked, castrated, shorn: of named animals, of a group, of so many head."""
    stages = _stages(fact)
    named = [t for _, t in fact.tags()]
    if len(stages) > 1 and (own := _each_own(fact, stages)) is not None:
        return own
    if not stages or len(set(named)) < len(named):
        return None
    if len(stages) > 1 and _others_first(fact):
        return None  # "lambs are on creep and 2641 is off milk"
    before = ("off", "no", "any") if "pulled" in stages else ("off",)  # weaned off milk, "she has no milk"
    fact.use(*(n for n, p in enumerate(fact.pieces) if "item" in p.names and fact.behind(n, *before)))
    if "housed" in stages:
        fact.use_named("field")
    if any(
        ("item" in p.names or "field" in p.names) and n not in fact.used
        for n, p in enumerate(fact.pieces)
        if not (p.is_("creep") or _creepy(p))
    ):
        return None
    if "pulled" in stages and any(p.text.startswith(("ram", "tup", "boys")) for p in fact.pieces):
        return None
    fact.use(*(n for n, p in enumerate(fact.pieces) if _creepy(p) or p.text in ("tails", "the tails")))
    entries: list[Entry] = []
    who = _stage_subject(fact, stages)
    if who is None:
        return None
    on = fact.on()
    females = [t for tags, _, _ in who for t in tags if fact.farm.animals[t].sex == "ewe"]
    if "castrated" in stages and females:
        return Ask(f"{', '.join(females[:3])}: a ewe in my book. Which were castrated?")
    groups = fact.farm.keeping("bottle lambs")
    for name in stages:
        for tags, group, head in who:
            if name == "pulled" and group in fact.farm.keeping("ewes"):
                raise Doubt("Which lambs were pulled? Tell me the tags.")
            if name == "pulled" and len(groups) != 1:
                return Ask("Which group do bottle lambs go into?", tuple(Choice(g.name) for g in fact.plan.group[:3]))
            had = _colostrum(fact) if name == "pulled" else None
            entries.append(Stage(on=on, stage=name, tags=tags, group=group, head=head, colostrum=had))
    return entries + _into(fact, entries)


def _into(fact: Fact, entries: list[Entry]) -> list[Entry]:
    """Where lambs told by tag went with it: "weaned 701 into pen 1"."""
    to = [g for n, p in enumerate(fact.pieces) if fact.behind(n, "into", "to") for g in p.names.get("group", ())]
    tags = tuple(
        sorted({t for x in entries if isinstance(x, Stage) and x.stage in ("weaned", "housed") for t in x.tags})
    )
    moved = len(to) == 1 and any(fact.farm.animals[t].group != to[0] for t in tags)
    return [Move(on=fact.on(), tags=tags, to=to[0])] if moved else []


def _each_own(fact: Fact, stages: list[str]) -> list[Entry] | None:
    """Each doing of the animals said behind it ("tailed 2451 thru 2456 and castrated 2452 2455"); "the boys" are those
    of the animals before. None where they are told of the same ones."""
    said = [(name, next((n for n, p in enumerate(fact.pieces) if p.is_(name)), None)) for name in stages]
    at = sorted((n, name) for name, n in said if n is not None)
    tags = fact.tags()
    if len(at) < len(stages) or not tags or tags[0][0] < at[0][0]:
        return None
    on = fact.on()
    before: tuple[str, ...] = ()
    entries: list[Entry] = []
    for (low, name), (high, _) in pairwise([*at, (len(fact.pieces), "")]):
        own = tuple(sorted({tag for n, tag in tags if low < n < high}))
        if not own and name == "castrated" and any(p.text in _BOYS for p in fact.pieces[low:high]):
            own = tuple(tag for tag in before if fact.farm.animals[tag].sex != "ewe")
        if not own:
            return None
        before = own
        entries.append(Stage(on=on, stage=name, tags=own))
    fact.use(*(n for n, _ in tags), *(n for n, p in enumerate(fact.pieces) if p.text in ("tails", "the tails")))
    return entries


_BOYS = ("boys", "the boys", "rams", "males", "ram lambs", "tups", "tup lambs", "wethers", "lads")


def _others_first(fact: Fact) -> bool:
    """Whether a chunk before the one with the animals has a stage, and others that it is about."""
    at = next((n for n, p in enumerate(fact.pieces) if p.kind == "tag" or (p.kind == "num" and p.tags)), 0)
    first = [p for n, p in enumerate(fact.pieces[:at]) if all(a.end == b.start for a, b in pairwise(fact.pieces[n:at]))]
    before = fact.pieces[: at - len(first)]
    return any(p.text in ("lambs", "ewes", "they", "hoggets", "all") or "group" in p.names for p in before)


def _colostrum(fact: Fact) -> bool | None:
    """Whether a pulled lamb had colostrum, where that is said with it."""
    if not fact.word("colostrum", "beestings", "first milk"):
        return None
    return not re.search(r"\b(?:no|without|didnt|never|not|hasnt|hadnt|no real)\b.*\bcolostrum", fact.text)


def _creepy(p: Piece) -> bool:
    return "item" in p.names and "creep" in p.text


def _stages(fact: Fact) -> list[str]:
    found: list[str] = []
    said: dict[str, int] = {}  # where each is said
    for name, classes in _STAGES:
        hits = [p for p in fact.pieces if p.is_(*classes)]
        if name == "pulled":
            hits = [p for p in hits if p.text != "bottle"]
        if name == "pulled" and not hits and _OFF_HER.search(fact.text):
            hits = [fact.pieces[0]]
        if name == "shorn":
            over = fact.word("finished", "done", "did", "shore")
            hits = [
                p for p in hits if p.text not in ("clip", "blades", "shearer") and (p.text != "shearing" or over)
            ] or ([p for p in hits if p.text == "shearer"] if fact.word("did", "done", "came") else [])
        if name == "creep":
            on_creep = "on creep" in fact.text or "onto creep" in fact.text or "on to creep" in fact.text
            hits = hits or ([p for p in fact.pieces if _creepy(p)] if on_creep or _on_it(fact) else [])
        if name == "housed":
            hits = [p for p in hits if p.text not in ("indoors",)]
            hits = hits or ([fact.pieces[0]] if re.search(r"\bin for (?:the )?winter\b", fact.text) else [])
        if name == "castrated":
            male = [t for _, t in fact.tags() if fact.farm.animals[t].sex != "ewe"]
            hits = [p for p in hits if p.text != "cut" or male or fact.word("boys", "lambs", "rams", "tups", "males")]
        if hits:
            found.append(name)
            said[name] = next(n for n, p in enumerate(fact.pieces) if p is hits[0])
    found.sort(key=lambda name: said[name])
    if fact.word("ringed", "rubber ringed", "ringing") and "docked" in found:
        tails = fact.says("docked", "tailed", "tails", "tails done", "tails off")
        boys = fact.says("boys", "rams", "tups", "males", "tup", "nuts off", "wethers") or "castrated" in found
        first = next(p.text for p in fact.pieces if p.is_("docked"))
        only = re.search(r"\bring(?:ed|ing) (?:the |their |all |all the )?tails\b", fact.text) and not boys
        both = ["castrated", "docked"] if first.startswith("ring") else ["docked", "castrated"]
        found = [x for x in found if x not in both] + (
            both if tails and not only else ["castrated"] if boys else ["docked"]
        )
    if "shorn" in found and fact.has("sick"):
        found.remove("shorn")
    return found


_OFF_HER = re.compile(
    r"\boff (?:her|his|its|their) (?:mam|mum|mom|mammy|mother|dam|ma)s?\b|\btook .*\b(?:off|away from) (?:her|him|them)\b.*\bbottle\b"
)


def _on_it(fact: Fact) -> bool:
    return bool(re.search(r"\bput .*\b(?:bottles|lambs|nursery|on it)\b|\bon (?:it|creep|the creep)\b", fact.text))


def _stage_subject(fact: Fact, stages: list[str]) -> list[tuple[tuple[str, ...], str | None, int | None]] | None:
    tags = fact.tags()
    if "pulled" in stages and len(tags) >= 2:  # "2669 off 152 and on the bottle": the ewe is not the one pulled
        today = fact.said.date()
        old = [(n, t) for n, t in tags if grown(fact, t, today) or (n and fact.pieces[n - 1].text in ("off", "from"))]
        if len(old) < len(tags):
            fact.use(*(n for n, _ in old))
    if "pulled" in stages and tags and all(grown(fact, t, fact.said.date()) for _, t in tags):
        raise Doubt(f"Which lamb was pulled off {tags[0][1]}?")
    groups = fact.named("group")
    if any(n and sex_of(p := fact.pieces[n - 1]) and "group" not in p.names for n, _ in groups):
        raise Doubt("Which of them? Tell me the tags, or how many.")
    groups = [(n, g) for n, g in groups if not ("pulled" in stages and g in fact.farm.keeping("bottle lambs"))]
    fact.use(*(n for n, g in fact.named("group") if (n, g) not in groups))
    if len(groups) > 1 and not fact.tags() and not fact.nums():
        fact.use(*(n for n, _ in groups))
        return [((), g, None) for _, g in groups]
    found = subjects(fact)
    if found:
        counts = [(n, p) for n, p in fact.nums() if p.value is not None and p.value == len(found[-1][0])]
        fact.use(*(n for n, _ in counts))
        return found
    heads = [(n, p) for n, p in fact.nums() if p.unit in (None, "head") and not p.tags]
    sure = any(p.text in STRONG for p in fact.pieces) or fact.word("lambs", "lamb", "ewes", "tails", "tups", "boys")
    if len(heads) == 1 and not groups and sure:
        fact.use(heads[0][0])
        return [((), None, int(heads[0][1].value or 0))]
    if not heads and fact.group and fact.word("them", "em", "all", "lot"):
        return [((), fact.group, None)]
    return None


ROWS = (
    Row("stage", "Pulled, weaned, docked, castrated, shorn, housed or on creep.", ("weaned 2431 2432", "docked 2431", "nursery on creep as of today"), stage, ("weaned", "docked", "castrated", "shorn", "pulled", "creep", "housed")),
)  # fmt: skip
