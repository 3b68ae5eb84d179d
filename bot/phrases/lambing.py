"""Rows about lambs: born, put on another ewe, tagged."""

import re
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from bot.fact import Ask, Choice, Doubt, Fact, Found, harmless
from bot.phrases.doses import doubt_unknown, unknown_tag
from bot.phrases.row import Row
from bot.slots import Piece
from bot.verbs import STRONG
from rules.entries import Born, Entry, Foster, Lambing, Retagged, Tagged

_SEX = {
    "ewe": "ewe", "ewes": "ewe", "girl": "ewe", "girls": "ewe", "female": "ewe", "gimmer": "ewe", "gimmers": "ewe", "yow": "ewe", "yowe": "ewe",
    "ram": "ram", "rams": "ram", "boy": "ram", "boys": "ram", "male": "ram", "tup": "ram", "tups": "ram", "buck": "ram",
    "wether": "wether", "wethers": "wether", "hogg": "ewe", "lass": "ewe", "lad": "ram",
    "ewes lambs": "ewe", "females": "ewe", "males": "ram", "bucks": "ram", "tip": "ram",
}  # fmt: skip
_LITTER = {
    "single": 1, "singles": 1, "twins": 2, "twin": 2, "pair": 2, "pair of": 2, "triplets": 3, "trips": 3, "triplet": 3,
    "quads": 4,
}  # fmt: skip
_LIVE = ("live", "alive", "living", "strong", "healthy")
_DEAD = {"dead", "stillborn", "died", "born dead", "lost"}


def sex_of(p: Piece) -> str | None:
    word = p.text.split()[-1] if p.kind == "name" else p.text
    return _SEX.get(word)


def grown(fact: Fact, tag: str, today: date) -> bool:
    animal = fact.farm.animals[tag]
    age = animal.age(today)
    return age > 250 if age is not None else animal.dam is None and animal.group in fact.farm.keeping("ewes")


def lambing(fact: Fact) -> Found:
    """A ewe lambed: how many, of which sex, weight and tag, dead ones said so."""
    if re.search(
        r"\b(?:looks like|look like|close to|carrying|expecting|due|should have|scanned|having|will have|about to|soon|any (?:day|time))\b",
        fact.text,
    ):
        return None  # still to come
    if re.search(
        r"\b(?:1|one|2|both) of\b|\b(?:her|his|their|the) (?:twins|triplets|lambs|lamb|single|pair)\b|\d s (?:\w+ )?(?:twins|triplets|lambs?)\b",
        fact.text,
    ) and not re.search(r"\b(?:lambed|lambd|had|born|delivered|dropped|birth)\b", fact.text):
        return None  # of lambs told before
    said = [p for p in fact.pieces if p.is_("lambed")]
    if not said and _newborn(fact):
        said = [fact.pieces[0]]
    weak = ("had", "has had", "dropped", "single", "singles", "born", "delivered", "pair of")
    strong = [p for p in said if p.text not in weak]
    if (
        not said
        or fact.has("scanned", "inlamb", "order")
        or any("item" in p.names and p.text not in ("tags", "tag") for p in fact.pieces)
    ):
        return None
    if not strong and not any(sex_of(p) and p.text not in ("ewes",) for p in fact.pieces):
        return None
    tags = fact.tags()
    if fact.says("died", "lost") and not any(
        sex_of(p) or p.text in _LITTER or p.text in ("lamb", "lambs") for p in fact.pieces
    ):
        return None  # it is the ewe that died
    if (several := _dams(fact, tags)) is not None:
        return several
    dam = _dam(fact, tags)
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
    lambs = _lambs(fact, dam[0])
    if lambs is None:
        return None
    if not lambs:
        return Ask(f"{dam[1]}: how many lambs?")
    names = [(n, p) for n, p in enumerate(fact.pieces) if set(p.names) <= {"group", "field", "item", "person"}]
    where = {"group", "field"}
    fact.use(*(n for n, p in names if p.kind == "name" and (where & set(p.names) or p.text in ("tags", "tag"))))
    return [Lambing(on=fact.on(), dam=dam[1], born=tuple(lambs))]


def _mother_first(fact: Fact) -> bool:
    """Whether a grown ewe is named first."""
    tags = fact.tags()
    return bool(tags) and tags[0][0] == 0 and grown(fact, tags[0][1], fact.said.date())


def _newborn(fact: Fact) -> bool:
    """ "503 ewe lamb 3.4 kg": a ewe, a lamb, and a weight that only one just born has."""
    top = Decimal(9) if fact.plan.farm.weight == "kg" else Decimal(20)
    small = [p for _, p in fact.nums() if p.unit in ("kg", "lb") or "." in p.text]
    count = re.search(r"\b[234] (?:ewe|ram|tup|gimmer) lambs\b", fact.text)
    lambs = all((p.value or top) < top for p in small)
    if count and lambs and 0 < len(small) == int(count[0][0]) and _mother_first(fact):
        return True
    lamb = re.search(r"\b(?:ewe|ram|tup|gimmer) lamb\b", fact.text)
    dead = re.search(r"\bdead (?:ewe |ram |tup |gimmer )?lamb\b", fact.text)
    mother = _mother_first(fact)
    if dead and mother and all(p.tags or p.value == 1 for _, p in fact.amounts()):
        return True
    return bool(lamb) and mother and len(small) == 1 and (small[0].value or top) < top and len(fact.pieces) <= 10


def _dams(fact: Fact, tags: list[tuple[int, str]]) -> list[Entry] | None:
    """Several ewes of which one thing is said: "101 and 103 both had twins"."""
    litters = [_LITTER[p.text] for p in fact.pieces if p.text in _LITTER]
    names = [n for n, p in enumerate(fact.pieces) if p.kind == "name" or (p.kind == "word" and sex_of(p))]
    if len(tags) < 2 or len(litters) != 1 or names or len(fact.nums()) > len(tags) or fact.has("die"):
        return None
    if not all(grown(fact, t, fact.said.date()) for _, t in tags) or not fact.word("both", "all", "each"):
        return None
    fact.use(*(n for n, _ in tags))
    return [Lambing(on=fact.on(), dam=t, born=tuple([Born()] * litters[0])) for _, t in tags]


def _dam(fact: Fact, tags: list[tuple[int, str]]) -> tuple[int, str] | None:
    """The first grown female named, and her place."""
    for n, tag in tags:
        age = fact.farm.animals[tag].age(fact.said.date())
        if fact.farm.animals[tag].sex in ("ewe", None) and (age is None or age > 250):
            fact.use(n)
            return n, tag
    return None


@dataclass
class _Litter:
    """The lambs of one ewe as they are told, piece by piece: a sex begins a lamb, "dead" belongs to one of them."""

    fact: Fact
    dam: int  # her place among the pieces
    size: int | None  # "twins"
    lambs: list[Born] = field(default_factory=list)
    loose: list[tuple[int, Piece]] = field(default_factory=list)  # numbers that are weights or tags
    count: int | None = None  # "2" of "2 ewes", until what it counts is said
    dead: bool = False  # "dead" of "a dead ram", until the ram is said
    pointed: tuple[int, int] | None = None  # "the tup", said again: where, and which lamb
    each: bool = False
    live: bool = False  # "2 live": a dead one is beside them

    def add(self, number: int, sex: str | None = None) -> None:
        self.lambs += [Born(sex=sex, alive=False if self.dead else None)] * number
        self.count, self.dead = None, False

    def kill(self, which: int) -> None:
        self.lambs[which] = replace(self.lambs[which], alive=False)

    def died(self, n: int) -> None:
        """A word for dead: of the lamb pointed at, of so many said just before it, else of what follows."""
        back = self.fact.pieces[n - 1]
        after = self.fact.pieces[n + 1] if n + 1 < len(self.fact.pieces) else None
        if back.kind == "num" and back.value == 1 and after is not None and sex_of(after):
            self.dead, self.count = True, 1  # "one dead tup lamb"
            self.fact.use(n - 1)
            return
        if self.pointed is not None and (back.text in _WAS or n - self.pointed[0] <= 2):
            self.kill(self.pointed[1])
        elif back.kind == "num" and back.value is not None and back.value <= 4 and (self.count or back.value == 1):
            self.some_dead(int(back.value))
        elif self.lambs and back.kind in ("word", "name") and (sex_of(back) or back.text in ("lamb", *_WAS)):
            self.kill(-1)
        else:
            self.dead = True

    def some_dead(self, number: int) -> None:
        """ "one dead": beside those told, or where they are all told already, one of them."""
        alike = len({b.sex for b in self.lambs}) == 1 and len(self.lambs) > number
        if len(self.lambs) > number and not self.live and not self.size:
            if not alike:
                raise Doubt("Which of them was dead?")
            for k in range(number):
                self.kill(-1 - k)
        else:
            self.lambs += [Born(alive=False)] * number
        self.count = None

    def number(self, n: int, p: Piece) -> None:
        """How many of what follows, how many in all, or a weight or tag."""
        if p.new:
            self.loose.append((n, p))
            return
        lambed = self.fact.pieces[n - 1].is_("lambed")
        if p.value is None or (harmless(self.fact.pieces, n) and not lambed):
            return
        after = self.fact.pieces[n + 1] if n + 1 < len(self.fact.pieces) else None
        counts = after is not None and (
            sex_of(after) is not None
            or after.text in ("lambs", "lamb", "dead", *_LIVE)
            or (after.is_("lambed") and after.text in _LITTER)
        )
        few = p.value == int(p.value) and p.value <= 5
        if counts and few and p.unit in (None, "head"):
            self.count = int(p.value)
        elif few and p.unit is None and p.value <= 4 and (p.spelled or (lambed and "." not in p.text)):
            said = p.value > 1 or lambed  # "had two", "lambed one"
            self.size = self.size or (int(p.value) if said and not self.lambs else None)
        else:
            self.loose.append((n, p))
            return
        self.fact.use(n)

    def word(self, n: int, p: Piece) -> None:
        """A sex begins a lamb, or so many; "the tup" points back at one."""
        sex = sex_of(p) if p.kind in ("word", "name") else None
        again = next((k for k, b in enumerate(self.lambs) if b.sex == sex), None) if sex else None
        after = self.fact.pieces[n + 1].text if n + 1 < len(self.fact.pieces) else ""
        broke = self.fact.pieces[n - 1].end != p.start
        if again is not None and (self.fact.pieces[n - 1].text == "the" or (broke and after in _DEAD)):
            self.pointed = (n, again)
            self.fact.use(n)
        elif (
            sex is not None and self.lambs and self.fact.pieces[n - 1].text in ("all", "both") and p.text.endswith("s")
        ):
            self.lambs = [replace(b, sex=b.sex or sex) for b in self.lambs]  # "lambed 3, all rams"
            self.fact.use(n)
        elif sex is not None and (n > self.dam or self.size):
            if p.text == "ewe" and n + 1 == self.dam:
                return
            several = p.text in _SEVERAL or (n + 1 < len(self.fact.pieces) and self.fact.pieces[n + 1].text == "lambs")
            pair = several and self.count is None and not self.lambs and self.size == 2
            self.add(self.count or (2 if pair else 1), sex)
            self.fact.use(n)
        elif self.count and (p.text in _LIVE or (p.text in ("lamb", "lambs") and not self.lambs)):
            self.live = self.live or p.text in _LIVE
            if p.text in ("lamb", "lambs"):  # how many in all: which they are may follow
                self.size, self.count = self.size or self.count, None
            else:
                self.add(self.count)
        elif p.text in ("each", "apiece"):
            self.each = True

    def settled(self) -> list[Born] | None:
        """The lambs once all is heard; None where more were told than the litter has."""
        one_sex = len(self.lambs) == 1 and self.lambs[0].sex and not self.fact.says(*_SINGLE)
        if self.size and one_sex:
            self.lambs *= self.size
        if self.size and len(self.lambs) > self.size:
            return None
        self.lambs += [Born()] * ((self.size or 0) - len(self.lambs))
        if self.dead and self.lambs and all(b.alive is None for b in self.lambs):
            if self.fact.word("both", "all") or len(self.lambs) == 1:
                self.lambs = [replace(b, alive=False) for b in self.lambs]
            else:
                raise Doubt("How many of them were dead?")
        return self.lambs


_WAS = ("born", "was", "is", "one", "came", "other", "second")
_SEVERAL = ("ewes", "rams", "boys", "girls", "tups")
_SINGLE = ("ewe", "ram", "tup", "boy", "girl")


def _lambs(fact: Fact, dam: int) -> list[Born] | None:
    """The lambs as told, with their weights and tags; none where no number and no sex was said."""
    litter = _Litter(fact, dam, next((_LITTER[p.text] for p in fact.pieces if p.text in _LITTER), None))
    for n, p in enumerate(fact.pieces):
        if n == dam:
            continue
        if p.text in _DEAD or p.is_("die"):
            litter.died(n)
        elif p.kind == "num":
            litter.number(n, p)
        else:
            litter.word(n, p)
    lambs = litter.settled()
    return None if lambs is None else _weights_and_tags(fact, lambs, litter.loose, litter.each)


def _weights_and_tags(fact: Fact, lambs: list[Born], loose: list[tuple[int, Piece]], each: bool) -> list[Born] | None:
    """Give the lambs their weights and tags, in order; numbers that are neither make the reading fail."""
    unit = fact.plan.farm.weight
    top = Decimal(9) if unit == "kg" else Decimal(20)
    weights = [(n, p) for n, p in loose if not p.new and p.unit in (None, "kg", "lb")]
    weights = [(n, p) for n, p in weights if p.value is not None and top / 10 <= p.value <= top]
    lengths = () if fact.word("tag", "tags", "tagged") else fact.tags_known.lengths
    tags = [
        (n, p)
        for n, p in loose
        if (n, p) not in weights
        and p.unit is None
        and (p.tags or p.new or (p.text.isdigit() and (not lengths or len(p.text) in lengths)))
    ]
    words = [n for n, p in enumerate(fact.pieces) if p.kind == "tag" and n not in fact.used]
    if len(weights) + len(tags) != len(loose) or words:
        return None
    live = [k for k, b in enumerate(lambs) if b.alive is not False]
    if weights and len(weights) not in (1, len(lambs), len(live)):
        return None
    if tags and len(tags) not in (1, len(lambs)):
        return None
    if weights:
        alive = live if len(weights) == len(live) > 1 else _place(fact, lambs, weights[0][0], each, live)
        places = list(range(len(lambs))) if len(weights) == len(lambs) else alive
        for k, (n, p) in zip(places, weights * len(places) if len(weights) == 1 else weights, strict=False):
            lambs[k] = replace(lambs[k], weight=p.value, unit=p.unit or unit)
            fact.use(n)
    if tags:
        for k, (n, p) in zip(range(len(lambs)) if len(tags) == len(lambs) else live, tags, strict=False):
            if p.tags and not p.full:
                return None
            if p.tags:
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
    before = sum(1 for p in fact.pieces[:at] if sex_of(p) is not None and p.kind in ("word", "name"))
    return [min(max(before, 1), len(lambs)) - 1] if before else live[:1]


def foster(fact: Fact) -> Found:
    """A lamb put on to another ewe."""
    words = [p for p in fact.pieces if p.is_("foster")]
    strong = [p for p in words if p.text in ("fostered", "foster", "grafted", "graft", "adopted", "mothered", "set on")]
    if not words or (fact.amounts() and any(not p.tags for _, p in fact.amounts())):
        return None
    tags = fact.tags()
    if strong:
        doubt_unknown(fact, tags)
    if len(tags) < 2:
        return None
    today = fact.said.date()
    old = [
        (n, t) for n, t in tags if (fact.farm.animals[t].age(today) or 9999) > 250 and fact.farm.animals[t].sex != "ram"
    ]
    young = [(n, t) for n, t in tags if (n, t) not in old]
    took = any(
        p.text in ("took", "accepted", "adopted", "taken to", "has taken to", "took to") for p in words
    ) and not fact.word("off", "from")
    put = any(p.text in ("put", "onto", "on to") for p in words) and fact.word(
        "on", "onto", "on to", "with hers", "w", "under"
    )
    if len(old) != 1 or not young or not (strong or took or put):
        return None
    if (
        fact.word("temp", "temperature")
        or fact.has("ship", "dose", "die")
        or (len(young) > 1 and fact.has("pulled") and fact.word("pulled", "took off"))
    ):
        return None
    fact.use(*(n for n, _ in tags))
    on = fact.on()
    return [Foster(on=on, tag=t, dam=old[0][1]) for _, t in young]


def tagged(fact: Fact) -> Found:
    """A lamb gets its tag, or an animal another one."""
    new = [
        (n, p) for n, p in fact.nums()
        if p.new or (p.text.isdigit() and not p.tags and p.unit is None and not (p.spelled and (p.value or 0) <= 4))
    ]  # fmt: skip
    tags = fact.tags()
    if fact.has("retagged") and any(
        p.text not in ("now", "is now", "replaced") for p in fact.pieces if p.is_("retagged")
    ):
        if len(tags) == 1 and len(new) == 1:
            fact.use(tags[0][0], new[0][0])
            fact.use_named("item")
            return [Retagged(on=fact.on(), tag=tags[0][1], to=new[0][1].text)]
        return None
    torn = _TORN.search(fact.text) and re.search(r"\b(?:put|gave|given|got)\b", fact.text)
    if len(tags) == 1 and len(new) == 1 and (torn or fact.says("is now", "changed to")):
        fact.use(tags[0][0], new[0][0])
        return [Retagged(on=fact.on(), tag=tags[0][1], to=new[0][1].text)]
    put = fact.pieces[0].text == "tag" and re.search(r"\b(?:in|on|to|for|off)\b.*\b(?:lamb|ewe|ram|tup)\b", fact.text)
    put = put or (
        fact.pieces[0].kind == "num"
        and re.match(r"\S+ (?:in|on) (?:the |her |his )?(?:ewe|ram|tup|gimmer) lamb\b", fact.text)
    )
    if not put and not fact.says("tagged", "tagging", "put tag", "put tags", "got her tag", "got his tag"):
        return None
    told = re.search(r"\b(?:had|lambed|birth)\b(?! (?:her|his|its|their|the) ).*\btagged\b", fact.text)
    if any(STRONG.get(p.text) == "lambed" for p in fact.pieces) and not _THEIRS.search(fact.text):
        return None
    if fact.has("lambed") and (told or not (put or fact.word("tagged"))):
        return None
    if not new or len(tags) > 1:
        return None
    dam = tags[0][1] if tags else None
    age = fact.farm.animals[dam].age(fact.said.date()) if dam else None
    if dam and (fact.farm.animals[dam].sex in ("ram", "wether") or (age is not None and age < 300)):
        raise Doubt(f"Is {new[0][1].text} the new tag of {dam}?", (
            Choice("its new tag", (Retagged(on=fact.on(), tag=dam, to=new[0][1].text),)), Choice("another lamb"),
        ))  # fmt: skip
    of_one = [(n, p) for n, p in enumerate(fact.pieces) if sex_of(p) and (p.kind == "word" or p.text in _SINGLE)]
    sexes = [sex_of(p) for _, p in of_one]
    born = next((p for n, p in enumerate(fact.pieces) if p.day and n and fact.pieces[n - 1].text == "born"), None)
    rest = Fact([p for p in fact.pieces if p is not born], fact.said, fact.farm)
    fact.use(*(n for n, _ in new), *(n for n, _ in tags), *(n for n, _ in of_one))
    fact.use(*(n for n, p in fact.nums() if p.spelled and p.value == len(new)))  # "103's two"
    sex = sexes[0] if len(sexes) == 1 and len(new) == 1 else None
    each = (
        sexes
        if len(sexes) == len(new)
        else [_sex_before(fact, n, new[k - 1][0] if k else -1) for k, (n, _) in enumerate(new)]
    )
    day = Fact([born], fact.said, fact.farm).on() if born else None
    return [
        Tagged(on=rest.on(), tag=p.text, dam=dam, sex=sex or (s if len(new) > 1 else None), born=day)
        for (_, p), s in zip(new, each, strict=True)
    ]


def _sex_before(fact: Fact, n: int, low: int) -> str | None:
    """The sex said between two tags: "ram lamb is 411 and the ewe lamb 412"."""
    return next((s for p in reversed(fact.pieces[low + 1 : n]) if p.kind == "word" and (s := sex_of(p))), None)


_THEIRS = re.compile(r"\b(?:s|her|his|their) (?:\w+ )?(?:twins|triplets|pair|lambs)\b")
_TORN = re.compile(r"\b(?:tore|ripped|lost|pulled|no tag|missing|instead|in (?:him|her|it))\b")


FIRST = (
    Row("tagged", "A lamb gets its tag, or an animal a new one.", ("tagged 2450 out of 101", "2403 lost its tag, new tag 2460"), tagged, ("tagged", "retagged"), (), ("lambed",)),
    Row(
        "lambing", "A ewe has lambed.",
        ("101 had twins ewe 8.5 ram 9.1", "102 lambed a single", "103 had a ewe 9 lb and a dead ram"), lambing, ("lambed",),
        ("something lambed in the field",), ("die", "tagged", "weigh"),
    ),
)  # fmt: skip
FOSTER = (
    Row("foster", "A lamb on another ewe.", ("fostered 2431 onto 104",), foster, ("foster",)),
)  # fmt: skip
