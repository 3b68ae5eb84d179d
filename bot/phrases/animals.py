"""Rows about animals: born, fostered, staged, moved, gone, lost, tagged, counted, and what was seen on them."""

import itertools
import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

from bot.fact import Ask, Choice, Doubt, Fact, Found, harmless
from bot.phrases.doses import subject, unknown_tag
from bot.phrases.growth import MEASURED
from bot.phrases.row import Row
from bot.slots import Piece
from bot.verbs import STRONG
from rules.doubt import fits
from rules.entries import (
    Arrived,
    Born,
    Cull,
    Entry,
    Foster,
    HeadCount,
    Lambing,
    Loss,
    Move,
    Note,
    Retagged,
    Ship,
    Stage,
    Tagged,
    Weight,
)  # fmt: skip

_SEX = {
    "ewe": "ewe", "ewes": "ewe", "girl": "ewe", "girls": "ewe", "female": "ewe", "gimmer": "ewe", "yow": "ewe", "yowe": "ewe",
    "ram": "ram", "rams": "ram", "boy": "ram", "boys": "ram", "male": "ram", "tup": "ram", "tups": "ram", "buck": "ram",
    "wether": "wether", "wethers": "wether", "hogg": "ewe", "lass": "ewe", "lad": "ram",
    "ewes lambs": "ewe", "females": "ewe", "males": "ram", "bucks": "ram", "tip": "ram",
}  # fmt: skip
_LITTER = {
    "single": 1,
    "singles": 1,
    "twins": 2,
    "twin": 2,
    "pair": 2,
    "pair of": 2,
    "triplets": 3,
    "trips": 3,
    "triplet": 3,
    "quads": 4,
}
_LIVE = ("live", "alive", "living", "strong", "healthy")
_DEAD = {"dead", "stillborn", "died", "born dead", "lost"}


def _sex(p: Piece) -> str | None:
    word = p.text.split()[-1] if p.kind == "name" else p.text
    return _SEX.get(word)


# -- lambing


def lambing(fact: Fact) -> Found:
    """A ewe lambed: how many, of which sex, weight and tag, dead ones said so."""
    if re.search(r"\b(?:looks like|look like|close to|carrying|expecting|due|should have|scanned|having|will have|about to|soon|any (?:day|time))\b", fact.text):
        return None  # still to come
    if re.search(r"\b(?:1|one|2|both) of\b|\b(?:her|his|their|the) (?:twins|triplets|lambs|lamb|single|pair)\b|\d s (?:\w+ )?(?:twins|triplets|lambs?)\b", fact.text) and not re.search(
        r"\b(?:lambed|lambd|had|born|delivered|dropped|birth)\b", fact.text
    ):
        return None  # of lambs told before
    said = [p for p in fact.pieces if p.is_("lambed")]
    strong = [
        p
        for p in said
        if p.text not in ("had", "has had", "dropped", "single", "singles", "born", "delivered", "pair of")
    ]
    if (
        not said
        or fact.has("scanned", "inlamb", "order")
        or any("item" in p.names and p.text not in ("tags", "tag") for p in fact.pieces)
    ):
        return None
    if not strong and not any(_sex(p) and p.text not in ("ewes",) for p in fact.pieces):
        return None
    tags = fact.tags()
    if any(p.text in ("died", "lost") for p in fact.pieces) and not any(
        _sex(p) or p.text in _LITTER or p.text in ("lamb", "lambs") for p in fact.pieces
    ):
        return None  # it is the ewe that died
    if (several := _dams(fact, tags)) is not None:
        return several
    dam, rest = _dam(fact, tags)
    if dam is None:
        unknown = [p for _, p in fact.nums() if fact.looks_like_tag(p)]
        if unknown and (strong or len(unknown) == 1) and fact.pieces.index(unknown[0]) < 3:
            raise unknown_tag(fact, unknown[0], [])
        if (
            any(p.text in ("lambed", "lambd", "gave birth", "twins", "triplets") for p in strong)
            and len(fact.pieces) <= 12
        ):
            fact.use(*range(len(fact.pieces)))
            return Ask("Which ewe, and how many lambs?")
        return None
    lambs = _lambs(fact, dam, rest)
    if lambs is None:
        return None
    if not lambs:
        return Ask(f"{dam[1]}: how many lambs?")
    fact.use(
        *(
            n
            for n, p in enumerate(fact.pieces)
            if p.kind == "name"
            and set(p.names) <= {"group", "field", "item", "person"}
            and ("group" in p.names or "field" in p.names or p.text in ("tags", "tag"))
        )
    )
    return [Lambing(on=fact.on(), dam=dam[1], born=tuple(lambs))]


def _dams(fact: Fact, tags: list[tuple[int, str]]) -> list[Entry] | None:
    """Several ewes of which one thing is said: "101 and 103 both had twins"."""
    litters = [_LITTER[p.text] for p in fact.pieces if p.text in _LITTER]
    names = [n for n, p in enumerate(fact.pieces) if p.kind == "name" or (p.kind == "word" and _sex(p))]
    if len(tags) < 2 or len(litters) != 1 or names or len(fact.nums()) > len(tags) or fact.has("die"):
        return None
    if not all(_grown(fact, t, fact.said.date()) for _, t in tags) or not fact.word("both", "all", "each"):
        return None
    fact.use(*(n for n, _ in tags))
    return [Lambing(on=fact.on(), dam=t, born=tuple([Born()] * litters[0])) for _, t in tags]


def _dam(fact: Fact, tags: list[tuple[int, str]]) -> tuple[tuple[int, str] | None, list[int]]:
    """The first grown female named."""
    for n, tag in tags:
        animal = fact.farm.animals[tag]
        age = animal.age(fact.said.date())
        if animal.sex in ("ewe", None) and (age is None or age > 250):
            fact.use(n)
            return (n, tag), [m for m, _ in tags if m != n]
    return None, []


def _lambs(fact: Fact, dam: tuple[int, str], _: list[int]) -> list[Born] | None:
    """The lambs as told, walking the pieces: a sex begins a lamb, a weight and a tag belong to the one before."""
    lambs: list[Born] = []
    litter = next((_LITTER[p.text] for p in fact.pieces if p.text in _LITTER), None)
    each = 0
    dead = False
    dead_count: int | None = None
    loose: list[tuple[int, Piece]] = []
    count: int | None = None
    pointed: tuple[int, int] | None = None  # "the tup", said again: which lamb it is
    for n, p in enumerate(fact.pieces):
        if n == dam[0]:
            continue
        if p.text in _DEAD or p.is_("die"):
            back = fact.pieces[n - 1]
            if (pointed is not None and back.text in ("born", "was", "is", "one", "came")) or (
                pointed is not None and n - pointed[0] <= 2
            ):
                lambs[pointed[1]] = replace(lambs[pointed[1]], alive=False)
            elif back.kind == "num" and back.value is not None and back.value <= 4 and (count or back.value == 1):
                lambs += [Born(alive=False)] * int(back.value)
                count = None
            else:
                dead = True
                if lambs and back.text in ("other", "was", "is", "but", "second", "born"):
                    dead_count = 1
            continue
        if p.kind == "num":
            if harmless(fact.pieces, n):
                continue
            after = list(fact.pieces[n + 1 : n + 3])
            counts = bool(after) and (
                _sex(after[0]) is not None
                or after[0].text in ("lambs", "lamb", "dead", *_LIVE)
                or (after[0].is_("lambed") and after[0].text in _LITTER)
            )
            if counts and p.value is not None and p.value == int(p.value) and p.value <= 5 and p.unit in (None, "head"):
                count = int(p.value)
                fact.use(n)
                continue
            if p.spelled and p.unit is None and p.value is not None and p.value <= 4 and p.value == int(p.value):
                litter = litter or (int(p.value) if p.value > 1 and not lambs else None)
                fact.use(n)  # "had two", "one dead": how many, not how heavy
                continue
            loose.append((n, p))
            continue
        sex = _sex(p) if p.kind in ("word", "name") else None
        again = (
            next((k for k, b in enumerate(lambs) if b.sex == sex), None)
            if sex and n and fact.pieces[n - 1].text == "the"
            else None
        )
        if again is not None:
            pointed = (n, again)
            fact.use(n)
            continue
        if (sex is not None and n > dam[0]) or (sex is not None and dam[0] > n and litter):
            if p.text == "ewe" and n + 1 == dam[0]:
                continue
            born = Born(sex=sex, alive=False if dead else None)
            lambs += [born] * (
                count
                or (
                    2
                    if p.text in ("ewes", "rams", "boys", "girls", "tups")
                    and count is None
                    and not lambs
                    and litter == 2
                    else 1
                )
            )
            count, dead = None, False
            fact.use(n)
        elif p.text in _LIVE and count or p.text in ("lamb", "lambs") and count and not lambs:
            lambs += [Born(alive=False if dead else None)] * count
            count, dead = None, False
        elif p.text in ("each", "apiece"):
            each = 1
    if not lambs and litter:
        lambs = [Born()] * litter
    elif (
        litter
        and len(lambs) == 1
        and litter > 1
        and lambs[0].sex
        and not any(p.text in ("ewe", "ram", "tup", "boy", "girl") for p in fact.pieces)
    ):
        lambs *= litter
    if litter and len(lambs) > litter:
        return None
    if litter and len(lambs) < litter:
        lambs += [Born()] * (litter - len(lambs))
    if dead and lambs and all(b.alive is None for b in lambs):
        which = lambs[-1] if dead_count or len(lambs) == 1 else None
        if which is None:
            if fact.word("both", "all"):
                lambs = [replace(b, alive=False) for b in lambs]
            else:
                lambs[-1] = replace(lambs[-1], alive=False)
        else:
            lambs[-1] = replace(lambs[-1], alive=False)
    return _weights_and_tags(fact, lambs, loose, bool(each))


def _weights_and_tags(fact: Fact, lambs: list[Born], loose: list[tuple[int, Piece]], each: bool) -> list[Born] | None:
    """Give the lambs their weights and tags, in order; numbers that are neither make the reading fail."""
    unit = fact.plan.farm.weight
    top = Decimal(9) if unit == "kg" else Decimal(20)
    weights = [
        (n, p)
        for n, p in loose
        if not p.new and p.value is not None and top / 10 <= p.value <= top and p.unit in (None, "kg", "lb")
    ]
    tags = [
        (n, p) for n, p in loose if (n, p) not in weights and p.unit is None and (p.text.isdigit() or p.tags or p.new)
    ]
    words = [n for n, p in enumerate(fact.pieces) if p.kind == "tag" and n not in fact.used]
    if len(weights) + len(tags) != len(loose) or words:
        return None
    if weights and len(weights) not in (1, len(lambs)):
        return None
    if tags and len(tags) not in (1, len(lambs)):
        return None
    live = [k for k, b in enumerate(lambs) if b.alive is not False]
    if weights:
        places = (
            list(range(len(lambs))) if len(weights) == len(lambs) else _place(fact, lambs, weights[0][0], each, live)
        )
        for k, (n, p) in zip(places, weights * len(places) if len(weights) == 1 else weights, strict=False):
            lambs[k] = replace(lambs[k], weight=p.value, unit=p.unit or unit)
            fact.use(n)
    if tags:
        for k, (n, p) in zip(range(len(lambs)) if len(tags) == len(lambs) else live, tags, strict=False):
            if p.tags and p.full:
                raise Doubt(f"{p.text} is taken already. Which tag is it?", ())
            lambs[k] = replace(lambs[k], tag=p.text)
            fact.use(n)
    return lambs


def _place(fact: Fact, lambs: list[Born], at: int, each: bool, live: list[int]) -> list[int]:
    """Which lamb one weight belongs to: all of them (each), the one said last before it, the only live one."""
    if each:
        return list(range(len(lambs)))
    if len(lambs) == 1:
        return [0]
    before = sum(1 for p in fact.pieces[:at] if _sex(p) is not None and p.kind in ("word", "name"))
    return [min(max(before, 1), len(lambs)) - 1] if before else live[:1]


# -- foster, stages


def foster(fact: Fact) -> Found:
    """A lamb put on to another ewe."""
    words = [p for p in fact.pieces if p.is_("foster")]
    strong = [p for p in words if p.text in ("fostered", "foster", "grafted", "graft", "adopted", "mothered", "set on")]
    if not words or (fact.amounts() and any(not p.tags for _, p in fact.amounts())):
        return None
    tags = fact.tags()
    unknown = [p for _, p in fact.nums() if fact.looks_like_tag(p)]
    if strong and unknown:
        raise unknown_tag(fact, unknown[0], [t for _, t in tags])
    if len(tags) < 2:
        return None
    today = fact.said.date()
    old = [
        (n, t) for n, t in tags if (fact.farm.animals[t].age(today) or 9999) > 250 and fact.farm.animals[t].sex != "ram"
    ]
    young = [(n, t) for n, t in tags if (n, t) not in old]
    took = any(p.text in ("took", "accepted", "adopted") for p in words) and not fact.word("off", "from")
    put = any(p.text in ("put", "onto", "on to") for p in words) and fact.word("on", "onto", "on to", "with hers", "w")
    if len(old) != 1 or not young or not (strong or took or put):
        return None
    if fact.has("ship", "dose", "die"):
        return None
    fact.use(*(n for n, _ in tags))
    on = fact.on()
    return [Foster(on=on, tag=t, dam=old[0][1]) for _, t in young]


_STAGES = (
    ("pulled", ("pulled",)), ("weaned", ("weaned",)), ("docked", ("docked",)), ("castrated", ("castrated",)),
    ("shorn", ("shorn",)), ("housed", ("housed",)), ("creep", ("creep",)),
)  # fmt: skip


def stage(fact: Fact) -> Found:
    """pulled, housed, on creep, weaned, docked, castrated, shorn: of named animals, of a group, of so many head."""
    stages = _stages(fact)
    named = [t for _, t in fact.tags()]
    if not stages or len(set(named)) < len(named):
        return None
    fact.use(
        *(n for n, p in enumerate(fact.pieces) if "item" in p.names and n and fact.pieces[n - 1].text == "off")
    )  # weaned off milk
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
    groups = fact.farm.keeping("bottle lambs")
    for name in stages:
        for tags, group, head in who:
            if name == "pulled" and len(groups) != 1:
                return Ask("Which group do bottle lambs go into?", tuple(Choice(g.name) for g in fact.plan.group[:3]))
            entries.append(Stage(on=on, stage=name, tags=tags, group=group, head=head))
    return entries


def _creepy(p: Piece) -> bool:
    return "item" in p.names and "creep" in p.text


def _stages(fact: Fact) -> list[str]:
    found = []
    for name, classes in _STAGES:
        hits = [p for p in fact.pieces if p.is_(*classes)]
        if name == "pulled":
            hits = [p for p in hits if p.text != "bottle"]
        if name == "shorn":
            over = fact.word("finished", "done", "did")
            hits = [
                p for p in hits if p.text not in ("clip", "blades", "shearer") and (p.text != "shearing" or over)
            ] or ([p for p in hits if p.text == "shearer"] if fact.word("did", "done", "came") else [])
        if name == "creep":
            on_creep = "on creep" in fact.text or "onto creep" in fact.text or "on to creep" in fact.text
            hits = hits or ([p for p in fact.pieces if _creepy(p)] if on_creep or _on_it(fact) else [])
        if name == "housed":
            hits = [p for p in hits if p.text not in ("indoors",)]
        if name == "castrated":
            male = [t for _, t in fact.tags() if fact.farm.animals[t].sex != "ewe"]
            hits = [p for p in hits if p.text != "cut" or male or fact.word("boys", "lambs", "rams", "tups", "males")]
        if hits:
            found.append(name)
    if fact.word("ringed", "rubber ringed", "ringing") and "docked" in found:
        tails = any(p.text in ("docked", "tailed", "tails", "tails done", "tails off") for p in fact.pieces)
        boys = any(p.text in ("boys", "rams", "tups", "males", "tup", "nuts off", "wethers") for p in fact.pieces)
        first = next(p.text for p in fact.pieces if p.is_("docked"))
        only = re.search(r"\bring(?:ed|ing) (?:the |their |all |all the )?tails\b", fact.text) and not boys
        both = ["castrated", "docked"] if first.startswith("ring") else ["docked", "castrated"]
        found = [x for x in found if x not in both] + (both if tails and not only else ["castrated"] if boys else ["docked"])
    if "shorn" in found and fact.has("sick"):
        found.remove("shorn")
    return found


def _on_it(fact: Fact) -> bool:
    return bool(re.search(r"\bput .*\b(?:bottles|lambs|nursery|on it)\b|\bon (?:it|creep|the creep)\b", fact.text))


def _grown(fact: Fact, tag: str, today: date) -> bool:
    animal = fact.farm.animals[tag]
    age = animal.age(today)
    return age > 250 if age is not None else animal.dam is None and animal.group in fact.farm.keeping("ewes")


def _stage_subject(fact: Fact, stages: list[str]) -> list[tuple[tuple[str, ...], str | None, int | None]] | None:
    tags = fact.tags()
    if "pulled" in stages and len(tags) >= 2:  # "2669 off 152 and on the bottle": the ewe is not the one pulled
        today = fact.said.date()
        old = [(n, t) for n, t in tags if _grown(fact, t, today)]
        if len(old) < len(tags):
            fact.use(*(n for n, _ in old))
    if "pulled" in stages and tags and all(_grown(fact, t, fact.said.date()) for _, t in tags):
        raise Doubt(f"Which lamb was pulled off {tags[0][1]}?")
    groups = fact.named("group")
    if any(_sex(fact.pieces[n - 1]) and n for n, _ in groups):
        raise Doubt("Which of them? Tell me the tags, or how many.")
    groups = [(n, g) for n, g in groups if not ("pulled" in stages and g in fact.farm.keeping("bottle lambs"))]
    fact.use(*(n for n, g in fact.named("group") if (n, g) not in groups))
    if len(groups) > 1 and not fact.tags() and not fact.nums():
        fact.use(*(n for n, _ in groups))
        return [((), g, None) for _, g in groups]
    found = subject(fact)
    if found is not None:
        counts = [(n, p) for n, p in fact.nums() if p.value is not None and p.value == len(found[0])]
        fact.use(*(n for n, _ in counts))
        return [found]
    heads = [(n, p) for n, p in fact.nums() if p.unit in (None, "head") and not p.tags]
    sure = any(p.text in STRONG for p in fact.pieces) or fact.word("lambs", "lamb", "ewes", "tails", "tups", "boys")
    if len(heads) == 1 and not groups and sure:
        fact.use(heads[0][0])
        return [((), None, int(heads[0][1].value or 0))]
    if not heads and fact.group and fact.word("them", "em", "all", "lot"):
        return [((), fact.group, None)]
    return None


# -- arriving, moving, going


def tagged(fact: Fact) -> Found:
    """A lamb gets its tag, or an animal another one."""
    new = [(n, p) for n, p in fact.nums() if p.new or (p.text.isdigit() and not p.tags and p.unit is None)]
    tags = fact.tags()
    if fact.has("retagged") and any(
        p.text not in ("now", "is now", "replaced") for p in fact.pieces if p.is_("retagged")
    ):
        if len(tags) == 1 and len(new) == 1:
            fact.use(tags[0][0], new[0][0])
            fact.use(*(n for n, p in enumerate(fact.pieces) if "item" in p.names))
            return [Retagged(on=fact.on(), tag=tags[0][1], to=new[0][1].text)]
        return None
    if len(tags) == 1 and len(new) == 1 and any(p.text in ("is now", "changed to") for p in fact.pieces):
        fact.use(tags[0][0], new[0][0])
        return [Retagged(on=fact.on(), tag=tags[0][1], to=new[0][1].text)]
    if not any(p.text in ("tagged", "tagging", "put tag", "put tags") for p in fact.pieces):
        return None
    if fact.has("lambed") and not fact.word("tagged"):
        return None
    if not new or len(tags) > 1:
        return None
    dam = tags[0][1] if tags else None
    age = fact.farm.animals[dam].age(fact.said.date()) if dam else None
    if dam and (fact.farm.animals[dam].sex in ("ram", "wether") or (age is not None and age < 300)):
        raise Doubt(f"Is {new[0][1].text} the new tag of {dam}?", (
            Choice("its new tag", (Retagged(on=fact.on(), tag=dam, to=new[0][1].text),)), Choice("another lamb"),
        ))  # fmt: skip
    sexes = [s for p in fact.pieces if (s := _sex(p)) and p.kind == "word"]
    fact.use(*(n for n, _ in new), *(n for n, _ in tags))
    on = fact.on()
    sex = sexes[0] if len(sexes) == 1 and len(new) == 1 else None
    return [Tagged(on=on, tag=p.text, dam=dam, sex=sex) for _, p in new]


def arrived(fact: Fact) -> Found:
    """Animals bought in, or back."""
    verbs = [p for p in fact.pieces if p.is_("arrived")]
    if not verbs or any("item" in p.names for p in fact.pieces):
        return None
    sold = any(p.text in ("sold",) for p in fact.pieces)
    kinds = {"ewe", "ewes", "ram", "rams", "tup", "tups", "lambs", "hoggets", "hens", "pullets", "gimmers", "wethers",
             "hogget", "gimmer", "stores", "store lambs", "hoggs", "sheep", "chicks", "layers", "buck", "lamb"}  # fmt: skip
    named = [p for p in fact.pieces if p.text in kinds or "group" in p.names]
    if sold or not named:
        return None
    if not any(
        p.text
        in ("bought", "bought in", "arrived", "came home", "brought home", "purchased", "landed", "joined us", "new")
        for p in verbs
    ):
        return None
    if all(p.text == "new" for p in verbs) and fact.word("lambs", "lamb") and not fact.word("from", "off"):
        raise Doubt("Born here, or bought in? Tell me which ewe, or where from.")
    group = fact.one("group")
    tags = fact.tags()
    prices = [(n, p) for n, p in fact.nums() if p.money or p.per]
    new = [(n, p) for n, p in fact.nums() if fact.looks_like_tag(p) and (n, p) not in prices]
    heads = [(n, p) for n, p in fact.nums() if (n, p) not in new and (n, p) not in prices and p.unit in (None, "head")]
    if tags or len(heads) > 1 or len(prices) > 1:
        return None
    born, on = _born(fact)
    new = _spread(fact, new)
    sexes = [s for p in fact.pieces if p.kind == "word" and (s := _sex(p))]
    head = int(heads[0][1].value or 0) if heads and not new else None
    if not new and head is None:
        return None
    fact.use(*(n for n, _ in (*new, *heads, *prices)))
    single = (head or len(new)) == 1 or any(p.per == "total" for _, p in prices)
    price = prices[0][1].value if prices and single else None
    return [Arrived(
        on=on, tags=tuple(sorted(p.text for _, p in new)), group=group, head=head,
        sex=sexes[0] if sexes else None, born=born, price=price,
    )]  # fmt: skip


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
    if any(p.text in ("shipped", "truck", "trailer", "hauled", "sent", "loaded") for p in fact.pieces):
        return None
    groups = fact.named("group")
    if not groups or any("bin" in p.names or "item" in p.names or "field" in p.names for p in fact.pieces):
        return None
    if any(g in fact.farm.keeping("rams") for _, g in groups[:1]) and len(groups) > 1 and not fact.tags():
        return None
    to = _destination(fact, groups)
    if to is None:
        return None
    source = next((g for _, g in groups if g != to), None)
    fact.use(*(n for n, _ in groups))
    tags = fact.tags()
    first = fact.pieces[0].text
    if (
        not tags
        and not fact.nums()
        and source is None
        and fact.before
        and (first in STRONG or fact.word("him", "her", "them", "em", "it"))
    ):
        return [Move(on=fact.on(), tags=fact.before, to=to)]
    unknown = [p for _, p in fact.nums() if fact.looks_like_tag(p)]
    if unknown:
        raise unknown_tag(fact, unknown[0], [t for _, t in tags])
    on = fact.on()
    weights = [(n, p) for n, p in fact.amounts() if n not in {m for m, _ in tags}]
    if tags:
        fact.use(*(n for n, _ in tags))
        counts = [(n, p) for n, p in weights if p.value == len(tags) and len(weights) == 1]
        fact.use(*(n for n, _ in counts))
        moved: list[Entry] = [Move(on=on, tags=tuple(sorted(dict.fromkeys(t for _, t in tags))), to=to)]
        rest = [(n, p) for n, p in weights if (n, p) not in counts]
        return _with_weights(fact, moved, [t for _, t in tags], rest)
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
        if p.unit not in (None, "kg", "lb") or not fits(
            fact.farm.animals[tag], p.value or Decimal(0), p.unit or unit, fact.said.date(), fact.farm
        ):
            return None
        fact.use(n)
        moved.append(Weight(on=fact.on(), tag=tag, weight=p.value or Decimal(0), unit=p.unit or unit))
    return moved


def _destination(fact: Fact, groups: list[tuple[int, str]]) -> str | None:
    """The group after "to", "into", "in with"; the last one where only one is named."""
    for n, g in reversed(groups):
        before = [p.text for p in fact.pieces[max(0, n - 3) : n]]
        near = next(
            (
                p
                for p in reversed(fact.pieces[:n])
                if p.text not in ("the", "my", "our", "a", "all", "with", "w", "their")
            ),
            None,
        )
        if near is None or not (near.is_("move", "in", "inserts") or near.text in ("to", "into", "in", "back", "onto")):
            continue
        if (
            any(
                w
                in (
                    "to",
                    "into",
                    "in",
                    "up to",
                    "over to",
                    "down to",
                    "with",
                    "in with",
                    "went to",
                    "back",
                    "back to",
                    "onto",
                    "w",
                    "run in with",
                    "out to",
                    "turned into",
                )
                for w in before
            )
            and "of" not in before[-1:]
            and "out of" not in before
        ):
            return g
    return None


def ship(fact: Fact) -> Found:
    """A load that left: animals by tag, by head, or a whole group."""
    words = [p for p in fact.pieces if p.is_("ship")]
    bound = re.search(r"\b(?:to|at|for) (?:the |a )?(?:sale|mart|market|factory|works|abattoir|yards|stockyards|auction|butcher|packer|processor|plant)\b", fact.text)
    if not (words or bound) or fact.has("order") or (fact.has("cull") and not fact.word("shipped", "away", "gone")):
        return None
    if fact.has("dose", "lambed") and not any(p.text in ("shipped", "hauled", "loaded") for p in words):
        return None
    heads = [(n, p) for n, p in fact.nums() if not p.tags]
    if bound and heads and len(heads) == 1 and not fact.named("group") and heads[0][1].unit in (None, "head"):
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
    strong = [
        p
        for p in words
        if p.text
        not in (
            "sent",
            "took",
            "loaded",
            "to the",
            "gone to",
            "went to market",
            "off to",
            "away",
            "left on",
            "away to",
            "went off",
        )
    ]
    if any("item" in p.names or "crop" in p.names or "bin" in p.names or "product" in p.names for p in fact.pieces):
        return None
    if any(p.money or p.per for _, p in fact.nums()):
        return None
    tags = fact.tags()
    unknown = [p for _, p in fact.nums() if fact.looks_like_tag(p)]
    if unknown and (strong or tags):
        raise unknown_tag(fact, unknown[0], [t for _, t in tags])
    return _gone(fact, Ship, tags, bool(strong) or any(p.text in ("loaded", "sent", "away", "away to") for p in words))


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
    kind = any(
        p.text
        in (
            "lambs",
            "ewes",
            "head",
            "hd",
            "hoggets",
            "hoggs",
            "wethers",
            "culls",
            "sheep",
            "cull ewes",
            "tups",
            "rams",
            "fats",
            "stores",
            "lads",
            "boys",
            "pigs",
        )
        for p in fact.pieces
    )
    strong = any(p.text in STRONG for p in fact.pieces)
    if len(heads) == 1 and sure and not groups and (strong or kind or heads[0][1].unit == "head"):
        fact.use(heads[0][0])
        return [make(on=on, head=int(heads[0][1].value or 0))]
    if tags and not fact.nums():
        fact.use(*(n for n, _ in tags))
        return [make(on=on, tags=tuple(sorted({t for _, t in tags})))]
    return None


def loss(fact: Fact) -> Found:
    """A death, with its cause where said."""
    if re.search(r"\bput\b.*\bdown (?:as|at|for|that)\b|\bput down \d+\S* for\b", fact.text):
        return None  # written down
    words = [p for p in fact.pieces if p.is_("die")]
    if fact.tags() and re.search(r"\bput\b.*\bdown\b", fact.text):
        words += [p for p in fact.pieces if p.text == "put"]
    if not words or any(STRONG.get(p.text) in ("lambed", "sell", "ship", "order") for p in fact.pieces):
        return None
    strong = [
        p
        for p in words
        if p.text not in ("lost", "gone", "took", "passed", "stiff", "shot", "got by", "fallen", "knackered", "is gone")
    ]
    if any("item" in p.names or ("field" in p.names and not strong) for p in fact.pieces if p.kind == "name"):
        return None
    if fact.word("tag") and fact.word("lost"):
        return None
    tags = fact.tags()
    unknown = [p for _, p in fact.nums() if fact.looks_like_tag(p)]
    if unknown:
        raise unknown_tag(fact, unknown[0], [t for _, t in tags])
    fact.use(*(n for n, p in enumerate(fact.pieces) if "field" in p.names))
    who = subject(fact)
    cause = _cause(fact)
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
        kind = next(
            (
                p.text
                for p in fact.pieces
                if p.text in ("lambs", "ewes", "lamb", "ewe", "hens", "hen", "hogget", "hoggets")
            ),
            None,
        )
        if kind is None:
            return None
        fact.use(heads[0][0])
        return [Loss(on=on, head=int(heads[0][1].value), cause=cause)]
    if (
        any(p.text in ("lamb", "ewe", "hogget", "hen", "ram", "one") for p in fact.pieces)
        and any(p.text in ("lost", "died", "dead") for p in words)
        and len(fact.pieces) <= 8
    ):
        kind = next(p.text for p in fact.pieces if p.text in ("lamb", "ewe", "hogget", "hen", "ram", "one"))
        return Ask(f"Which {kind}?")
    return None


def _cause(fact: Fact) -> str | None:
    words = [p.text for p in fact.pieces if p.kind == "word" and not p.classes and p.text.isalpha() and len(p.text) > 2]
    skip = {
        "the",
        "this",
        "morning",
        "and",
        "had",
        "all",
        "his",
        "her",
        "was",
        "really",
        "sad",
        "last",
        "night",
        "says",
        "vet",
        "just",
        "our",
        "head",
    }
    told = [w for w in words if w not in skip]
    return " ".join(told[:4]) or None


def cull(fact: Fact) -> Found:
    """Animals to go with a next load."""
    if (
        not fact.has("cull")
        or fact.has("sell", "dose")
        or any(p.text in ("shipped", "sold", "away") for p in fact.pieces)
    ):
        return None
    if any(p.money or p.per for _, p in fact.nums()):
        return None
    tags = fact.tags()
    unknown = [p for _, p in fact.nums() if fact.looks_like_tag(p)]
    if unknown:
        raise unknown_tag(fact, unknown[0], [t for _, t in tags])
    if not tags:
        return None
    fact.use(*(n for n, _ in tags))
    return [Cull(on=fact.on(), tags=tuple(sorted({t for _, t in tags})), for_=_cause(fact))]


def head_count(fact: Fact) -> Found:
    """So many counted in a group."""
    nums = [
        (n, p) for n, p in fact.nums() if p.unit in (None, "head") and not p.money and not p.per and p.value is not None
    ]
    group = fact.one("group", use=False)
    if group is None or len(nums) != 1 or len(fact.nums()) != 1:
        return None
    n, p = nums[0]
    counted = fact.has("count") and any(
        q.text
        in (
            "i make it",
            "make it",
            "counted",
            "count",
            "cownted",
            "headcount",
            "i make it",
            "make it",
            "in tonight",
            "all in",
            "head",
            "hd",
            "there are",
        )
        for q in fact.pieces
    )
    whole = p.unit == "head" and fact.word("in", "in with") and len(fact.pieces) <= 6
    tonight = any(q.text in ("in tonight", "in", "all in") for q in fact.pieces) and group in fact.farm.keeping("hens")
    if (
        fact.has("sick")
        or not (counted or whole or tonight)
        or any(
            fact.has(c)
            for c in ("move", "ship", "die", "dose", "sell", "average", "rams", "arrived", "ration", "stage")
        )
    ):
        return None
    if fact.has("weigh") and any(q.text.startswith("weigh") for q in fact.pieces):
        return None
    fact.use(n, *(m for m, _ in fact.named("group")))
    return [HeadCount(on=fact.on(), group=group, head=int(p.value or 0))]


_SEEN = re.compile(
    r"\b(?:limp|lame|cough|scour|bloat|swoll|swell|runny|sick|poorly|loose|blind|bleed|abscess|stuck|cast|hurt|sore|rot\b|orf|"
    r"ringworm|maggot|fly ?strike|struck|snot|breath|wheez|drool|shiver|weak|thin|skinny|prolap|mastitis|lump|wound|torn|"
    r"broken|not eating|off (?:her|his|its|their) food|off feed|dull|hunch|head down|itch|rubb|wool|blown|not right|"
    r"not (?:him|her)self|off colou?r|escap|got out|jumped|eye|jaw|pale|anaem|favou?r|hop|tender|nose|foot|feet|leg|hoof|"
    r"udder|teat|horn|scab|scald|wormy|dirty|daggy|mucky|sneez|fever|temperature|quiet|better|recover|eating again|fine|"
    r"looks|looking|seems|sound\b|acting|aggressive|hitting|bad|puny|wild|friendly|gone off|mad|hung up|down|notice|sore|crook|"
    r"fluke|fat|hairless|bare|drooping|teeth|mouth|hobbl|stiff|stagger|circling|trembl|cut|scrape|scratch|fly|pink ?eye|foot ?rot|temp\b|bcs|famacha|score|condition)"
)


def note(fact: Fact) -> Found:
    """Something seen on a named animal, or in a group, that is none of the others."""
    if fact.pieces[0].text in ("has", "is", "can", "did", "does", "will", "are", "what", "why", "when", "who", "how"):
        return None
    if not _SEEN.search(fact.text) or fact.has("remind") or any(p.unit for _, p in fact.nums()):
        return None
    fact.use(*(n for n, p in enumerate(fact.pieces) if p.kind == "vague"))
    tags = fact.tags()
    if MEASURED.search(fact.text):  # a temperature, a score: part of what was seen
        fact.use(*(n for n, p in fact.nums() if not p.tags))
    for (n, tag), (m, _) in itertools.pairwise(tags):
        if m == n + 1 and fits(
            fact.farm.animals[tag],
            fact.pieces[m].value or Decimal(0),
            fact.plan.farm.weight,
            fact.said.date(),
            fact.farm,
        ):
            return None  # an animal and its weight
    groups = [g for _, g in fact.named("group")]
    unknown = [p for _, p in fact.nums() if fact.looks_like_tag(p)]
    if unknown and not tags:
        raise unknown_tag(fact, unknown[0], [])
    if any("item" in p.names or "product" in p.names or "bin" in p.names for p in fact.pieces) and not tags:
        return None
    sick = fact.has("sick")
    if any(
        STRONG.get(p.text) in ("docked", "castrated", "weaned", "shorn", "dose", "move", "ship") for p in fact.pieces
    ):
        return None
    if tags:
        fact.use(*(n for n, _ in tags), *(n for n, p in enumerate(fact.pieces) if p.kind == "name"))
        text = _rest(fact, {n for n, _ in tags})
        return [Note(on=fact.on(), text=text, tags=tuple(sorted({t for _, t in tags})))]
    loose = len(set(groups)) == 1 and not fact.farm.tagged(groups[0])
    if loose and sick and len(fact.nums()) == 1:
        fact.use(fact.nums()[0][0])  # two hens poorly: of animals without tags
    if len(set(groups)) == 1 and sick and not fact.nums() and len(fact.pieces) <= 14:
        if not re.search(
            r"limp|lame|cough|scour|loose|sick|poorly|off feed|snot|orf|fly|itch|wormy|eye|bloat|runny|not eating",
            fact.text,
        ):
            return None
        fact.use(*(n for n, p in enumerate(fact.pieces) if "group" in p.names))
        return [Note(on=fact.on(), text=_rest(fact, set()), group=groups[0])]
    return None


def _rest(fact: Fact, without: set[int]) -> str:
    return " ".join(p.text for n, p in enumerate(fact.pieces) if n not in without and p.kind not in ("day", "sep"))[:80]


FIRST = (
    Row("tagged", "A lamb gets its tag, or an animal a new one.", ("tagged 2450 out of 101", "2403 lost its tag, new tag 2460"), tagged, ("tagged", "retagged")),
    Row(
        "lambing", "A ewe has lambed.",
        ("101 had twins ewe 8.5 ram 9.1", "102 lambed a single", "103 had a ewe 9 lb and a dead ram"), lambing, ("lambed",),
        ("something lambed in the field",), ("die", "tagged", "weigh"),
    ),
)  # fmt: skip
ROWS = (
    Row("stage", "Pulled, weaned, docked, castrated, shorn, housed or on creep.", ("weaned 2431 2432", "docked 2431", "nursery on creep as of today"), stage, ("weaned", "docked", "castrated", "shorn", "pulled", "creep", "housed")),
    Row("foster", "A lamb on another ewe.", ("fostered 2431 onto 104",), foster, ("foster",)),
    Row("arrived", "Animals bought in.", ("bought 5 ewes into ewes",), arrived, ("arrived",)),
    Row("loss", "A death.", ("lost 2431, bloat", "fox got 2 hens last night"), loss, ("die",)),
    Row("cull", "To go with a next load.", ("cull 105, bad bag",), cull, ("cull",)),
)  # fmt: skip
LAST = (
    Row("move", "Into another group.", ("2431 up to pen 1", "moved 4 head from pen 1 to nursery"), move, ("move",), (), ("weigh",)),
    Row("ship", "A load that left.", ("shipped 2401 2402", "shipped 4 from pen 1"), ship, ("ship",), (), ("cull",)),
    Row("head_count", "How many were counted.", ("12 head in pen 1",), head_count, ("count",)),
    Row("note", "Something seen on an animal.", ("2401 limping left hind",), note, ("sick",)),
)  # fmt: skip
