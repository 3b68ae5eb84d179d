"""Rows about weights: one animal, several, a group's mean."""

import re
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from bot.fact import Ask, Choice, Doubt, Fact, Found, harmless
from bot.phrases.row import Row
from bot.phrases.unknown import no_such_animal
from bot.slots import Piece
from bot.tags import nearest
from rules import doubt
from rules.entries import Entry, GroupWeight, Note, Weight

# Words that make a stretch something other than a list of weights.
_NOT_WEIGHTS = (
    "dose", "ship", "sell", "die", "cull", "lambed", "foster", "pulled", "weaned", "docked", "castrated", "shorn",
    "order", "borrow", "fieldwork", "load", "inserts", "scanned", "eggs", "remind", "closed",
)  # fmt: skip
_OF_BREEDING = {
    "covered", "served", "marked", "tupped", "bred", "open", "empty", "dry", "in lamb", "pregnant", "barren", "geld",
}  # fmt: skip
_FILLERS = {
    "is", "was", "at", "for", "her", "him", "he", "she", "it", "its", "went", "hit", "weighed", "weighs", "weight", "wt",
    "wts", "weights", "scale", "scales", ":", "=", "-", "@", "came in at", "says", "to", "up to", "down to", "now",
    "weighing", "shes", "hes", "about", "only", "just", "tag", "number", "no", "lamb", "ewe", "ram", "wether", "the",
    "and", "but", "on", "a", "that", "read", "reads", "reading", "showing", "made", "gone", "of", "so", "hogget", "tup",
    "weighed in at", "are", "were", "tips", "tipped", "turned", "this", "morning", "one", "weighed in", "weigh in",
}  # fmt: skip
_AILING = {
    "limping", "lame", "limpin", "coughing", "scouring", "scours", "bloated", "swollen", "snotty", "poorly", "sick", "footrot",
    "foot rot", "orf", "ringworm", "maggots", "flystrike", "mastitis", "prolapsed", "wheezing", "shivering", "hunched",
}  # fmt: skip
# What a number beside an animal may be other than its weight.
MEASURED = re.compile(
    r"\b(?:temp|temps|temperature|fever|bcs|condition|score|scored|famacha|heart|pulse|epg|fec|girth|rate|(?:weeks?|wks?|months?|mths?|years?|yrs?|days?) old)\b"
)


def weights(fact: Fact) -> Found:
    """An animal and a number that can be its weight; several on one line are several."""
    strong = fact.has("weigh") and any(
        p.is_("weigh") and p.text.startswith(("weigh", "wt", "scale")) for p in fact.pieces
    )
    if fact.says(*_OF_BREEDING) or fact.word("looked", "looks", "looking", "eyeballed", "reckon"):
        return None  # nobody weighed it
    if not strong and any(p.is_(*_NOT_WEIGHTS) and not p.is_("weigh") for p in fact.pieces):
        return None
    if re.search(r"\b(?:ship|sell|market)\b.* (?:at|from|between) \d+ (?:to|-|and|or) \d", fact.text):
        return None  # from which weight to which they go
    if (
        MEASURED.search(fact.text)
        or re.search(r"\d f\b", fact.text)
        or (fact.has("average") and not (strong and fact.tags()))
    ):
        return None
    if any(p.names and not set(p.names) <= {"group", "person"} for p in fact.pieces):
        return None
    places = [n for n, p in enumerate(fact.pieces) if "group" in p.names]
    if any(q.text.endswith("to") for n in places for q in fact.pieces[max(0, n - 2) : n]):
        return None  # "1251 1243 to pen 2, 32.5 and 33": where they went is told, too
    nums = [(n, p) for n, p in enumerate(fact.pieces) if p.kind in ("num", "tag") and not harmless(fact.pieces, n)]
    if not nums:
        return None
    pairs = _paired(fact, nums) or _parallel(fact, nums) or _weight_first(fact, nums)
    if pairs is None:
        return _not_paired(fact, nums)
    if not pairs:
        return None
    fact.use(*(n for n, p in enumerate(fact.pieces) if set(p.names) & {"group", "person"} or p.kind == "vague"))
    on = fact.on()
    unit = fact.plan.farm.weight
    entries: list[Entry] = [
        Weight(on=on, tag=tag, weight=p.value or Decimal(0), unit=p.unit or unit) for _, tag, p in pairs
    ]
    _doubt_weights(fact, entries)
    if seen := [p.text for p in fact.pieces if p.text in _AILING]:  # "2641 112 lame"
        if len(pairs) > 1:
            return None
        entries.append(Note(on=on, text=" ".join(seen), tags=(pairs[0][1],)))
    return entries


def _can_weigh(p: Piece) -> bool:
    return p.kind == "num" and p.unit in (None, "lb", "kg") and not p.money and not p.percent and p.per is None


def _paired(fact: Fact, nums: Sequence[tuple[int, Piece]]) -> list[tuple[int, str, Piece]] | None:
    """Animal, number, animal, number ...; None where that is not what it is."""
    pairs = []
    at = 0
    while at < len(nums):
        n, p = nums[at]
        if not (p.kind == "tag" or fact.is_tag(p)) or at + 1 >= len(nums):
            return None
        m, q = nums[at + 1]
        if not _can_weigh(q) or q.text == p.text or not _near(fact, n, m):
            return None
        if len(p.tags) > 1:
            return None
        another = (q.full and len(q.text) >= 4) or (
            len(q.tags) == 1 and len(q.text) >= 3 and len(q.text) == len(p.text)
        )
        if another and not fact.can_weigh(p.tags[0], q):  # the next animal, not this one's weight
            return None
        pairs.append((n, p.tags[0], q))
        fact.use(n, m)
        at += 2
    return pairs


def _near(fact: Fact, n: int, m: int) -> bool:
    """Whether nothing but small words stands between an animal and its number."""
    between = fact.pieces[n + 1 : m]
    if any(p.text in ("and", "n", "&") for p in between) and not any(p.is_("weigh") for p in between):
        return False  # "8 and 17 limping"
    words = [p for p in between if p.kind == "word" and p.text not in _FILLERS]
    return not any(p.kind == "name" for p in between) and len(words) <= (
        6 if any(p.is_("weigh") for p in between) else 3
    )


def _parallel(fact: Fact, nums: Sequence[tuple[int, Piece]]) -> list[tuple[int, str, Piece]] | None:
    """So many animals, then as many weights: "2653 and 2649 on the scale, 78 and 83"."""
    half = len(nums) // 2
    first, second = nums[:half], nums[half:]
    if len(nums) < 4 or len(nums) % 2:
        return None
    if not all((p.kind == "tag" or fact.is_tag(p)) and len(p.tags) == 1 for _, p in first):
        return None
    if not all(_can_weigh(q) and fact.can_weigh(p.tags[0], q) for (_, p), (_, q) in zip(first, second, strict=True)):
        return None
    fact.use(*(n for n, _ in nums))
    return [(n, p.tags[0], q) for (n, p), (_, q) in zip(first, second, strict=True)]


def _weight_first(fact: Fact, nums: Sequence[tuple[int, Piece]]) -> list[tuple[int, str, Piece]] | None:
    """A weight, then whose it is: "112 for 2641", "112 lb on 2641"."""
    if len(nums) != 2:
        return None
    (m, q), (n, p) = nums
    linked = (
        m + 2 == n
        and fact.pieces[m + 1].text in ("for", "on", "is", "was")
        and all(p.text in ("it", "the", "clock") or p.is_("weigh") for p in fact.pieces[:m])
    )  # not "charged 85 for 2401"
    whose = len(p.tags) == 1 and (p.kind == "tag" or fact.is_tag(p)) and len(p.text) > len(q.text.split(".")[0])
    if not linked or not whose or not _can_weigh(q) or not fact.can_weigh(p.tags[0], q):
        return None
    fact.use(m, n)
    return [(n, p.tags[0], q)]


def _not_paired(fact: Fact, nums: Sequence[tuple[int, Piece]]) -> Found:
    """Numbers that should be weights but are not clear: an unknown tag, a weight without an animal, two for one."""
    unknown = [(n, p) for n, p in nums if fact.looks_like_tag(p)]
    if unknown and len(nums) >= 2:
        n, p = unknown[0]
        after = next((q for m, q in nums if m > n), None)
        raise _unknown(fact, p, after)
    weigh = any(p.is_("weigh") and p.text.startswith(("weigh", "scale")) for p in fact.pieces) or fact.word("wt", "wts")
    they = re.match(r"(?:they are|theyre|they were|weights?|now)\b", fact.text)
    pairs_ = list(zip(fact.before, (p for _, p in nums), strict=False))
    if they and len(nums) == len(fact.before) > 1 and all(_can_weigh(p) and fact.can_weigh(t, p) for t, p in pairs_):
        fact.use(*(n for n, _ in nums))
        return [_weight(fact, t, p) for t, p in pairs_]
    sure = nums[0][1].unit in ("kg", "lb") or _fits_before(fact, nums)
    if len(nums) == 1 and len(fact.before) == 1 and sure and fact.word("him", "her", "he", "she", "hes", "shes"):
        fact.use(nums[0][0])
        told: list[Entry] = [_weight(fact, fact.before[0], nums[0][1])]  # "92 kg on him"
        _doubt_weights(fact, told)
        return told
    if len(nums) == 1:
        n, p = nums[0]
        alone = fact.single and len([x for x in fact.pieces if x.kind != "day"]) == 1
        whose = fact.word("he", "she", "wether", "lamb", "ewe", "ram", "one", "big", "little") or any(
            q.spelled and q.value == 1 for q in fact.pieces
        )
        lone = not p.tags or not p.full
        told_so = weigh or alone or (whose and (p.unit or "." in p.text))
        if lone and told_so and _can_weigh(p) and _is_a_weight(fact, p):
            return Ask(f"{p.text} {p.unit or fact.plan.farm.weight} for which animal?")
        return None
    first = nums[0][1]
    tags = [p for _, p in nums if p.kind == "tag" or (fact.is_tag(p) and (len(p.text) >= 4 or p is first))]
    rest = [p for _, p in nums if p not in tags]
    if len(tags) == 1 and len(rest) == 2 and fact.word("or"):
        return _which(fact, tags[0].tags[0], rest)
    if len(tags) >= 2 and len(rest) == 1 and _can_weigh(rest[0]) and not fact.has("move", "ship", "dose"):
        unit = rest[0].unit or fact.plan.farm.weight
        on = fact.on()
        value = rest[0].value or Decimal(0)
        each = [(t.tags[0], Weight(on=on, tag=t.tags[0], weight=value, unit=unit)) for t in tags]
        choices = [Choice(tag, (entry,)) for tag, entry in each[:3]]
        return Ask(f"{rest[0].text} {unit} for which?", (*choices, Choice("all of them", tuple(e for _, e in each))))
    short = [p for _, p in nums if p.text.isdigit() and len(p.text) <= 2]
    if len(nums) % 2 == 0 and short and all(_can_weigh(p) for _, p in nums) and _bare(fact):
        pairs = list(zip((q for _, q in nums[::2]), (q for _, q in nums[1::2]), strict=True))
        ends = [[t for t in fact.farm.animals if t.endswith(p.text) and fact.can_weigh(t, q)] for p, q in pairs]
        if all(ends) and len(nums) == 2:
            choices = [Choice(t, (_weight(fact, t, pairs[0][1]),)) for t in ends[0][:3]]
            return Ask(f"{pairs[0][1].text} for which?", (*choices, Choice("none of these")))
        if all(ends):
            last = tuple(_weight(fact, e[-1], q) for e, (_, q) in zip(ends, pairs, strict=True))
            return Ask(
                "Which animals are those?", (Choice(" and ".join(e[-1] for e in ends), last), Choice("other animals"))
            )
    return None


def _fits_before(fact: Fact, nums: Sequence[tuple[int, Piece]]) -> bool:
    """ "he's 105 and a half": the animal told of just before, at a weight it can have."""
    if len(nums) != 1 or len(fact.before) != 1:
        return False
    p = nums[0][1]
    return _can_weigh(p) and not p.tags and fact.can_weigh(fact.before[0], p)


def _bare(fact: Fact) -> bool:
    """Whether there is nothing but numbers: "14 38"."""
    return fact.single and all(p.kind in ("num", "sep") or p.text in ("-", ":", "=") for p in fact.pieces)


def _weight(fact: Fact, tag: str, p: Piece) -> Weight:
    return Weight(on=fact.on(), tag=tag, weight=p.value or Decimal(0), unit=p.unit or fact.plan.farm.weight)


def _is_a_weight(fact: Fact, p: Piece) -> bool:
    unit = 1 if fact.plan.farm.weight == "kg" else 2
    return p.value is not None and 2 * unit <= p.value <= 130 * unit


def _which(fact: Fact, tag: str, numbers: Sequence[Piece]) -> Ask:
    on, unit = fact.on(), fact.plan.farm.weight
    choices = [
        Choice(p.text, (Weight(on=on, tag=tag, weight=p.value or Decimal(0), unit=p.unit or unit),)) for p in numbers
    ]
    return Ask(f"{tag}: {' or '.join(p.text for p in numbers)}?", (*choices, Choice("weigh again")))


def _unknown(fact: Fact, p: Piece, after: Piece | None) -> Doubt:
    """An animal that the farm does not have, with the nearest ones."""
    on, unit = fact.said.date(), fact.plan.farm.weight
    value = after.value if after is not None and _can_weigh(after) and after.value is not None else None
    said = (after.unit or unit) if after is not None else unit

    def fits(tag: str) -> bool:
        return value is None or doubt.fits(fact.farm.animals[tag], value, said, on, fact.farm)

    near = nearest(p.text, fact.farm, fits)
    return no_such_animal(fact, p, near)


def _doubt_weights(fact: Fact, entries: Sequence[Entry]) -> None:
    """Raise a Doubt where a weight cannot be that animal's, or one animal has two."""
    seen: dict[str, Weight] = {}
    for entry in entries:
        assert isinstance(entry, Weight)
        other = seen.get(entry.tag)
        if other is not None and other.weight != entry.weight:
            one = [
                Choice(f"{x.weight}", tuple(y for y in entries if y is not z))
                for x, z in ((other, entry), (entry, other))
            ]
            raise Doubt(f"Two weights for {entry.tag}: which one?", one)
        seen[entry.tag] = entry
    for entry in entries:
        assert isinstance(entry, Weight)
        animal = fact.farm.animals[entry.tag]
        if not animal.here:
            raise Doubt(f"{entry.tag} is {animal.status} in my book. Which one was it?", (Choice("another tag"),))
        if not doubt.fits(animal, entry.weight, entry.unit, entry.on, fact.farm):
            raise _cannot(fact, entry, entries)


def _cannot(fact: Fact, entry: Weight, entries: Sequence[Entry]) -> Doubt:
    animal = fact.farm.animals[entry.tag]
    last = animal.weighings[-1] if animal.weighings else None
    was = f" It was {last.weight} on {last.on.day} {last.on:%b}." if last else ""

    def instead(**change: object) -> tuple[Entry, ...]:
        return tuple(replace(x, **change) if x is entry else x for x in entries)  # type: ignore[arg-type]

    slips = [
        Choice(f"{s:f}", instead(weight=s))
        for s in doubt.slips(animal, entry.weight, entry.unit, entry.on, fact.farm)[:2]
    ]

    def suits(tag: str) -> bool:
        return doubt.fits(fact.farm.animals[tag], entry.weight, entry.unit, entry.on, fact.farm)

    fitting = [t for t in nearest(entry.tag, fact.farm, suits, slips=1) if t != entry.tag and suits(t)]
    fitting.sort(key=lambda t: doubt.apart(fact.farm.animals[t], entry.weight, entry.unit, entry.on, fact.farm))
    others = [Choice(f"{t} it was", instead(tag=t)) for t in fitting]
    choices = [*slips[:1], *others[:2], *slips[1:]][:3]
    real = Choice(f"really {entry.weight:f}", tuple(entries))
    return Doubt(
        f"{entry.tag} at {entry.weight:f} {entry.unit}?{was}",
        (*choices[:2], *([real] if len(choices) < 3 else choices[2:3]), Choice("weigh again")),
    )


def group_weight(fact: Fact) -> Found:
    """A group's mean: "pen 2 averaged 85, all 6 head"."""
    if not fact.has("average") or (fact.has("sell", "price") and not fact.has("weigh")):
        return None
    if not (fact.word("averaged", "average", "avg", "averaging", "mean", "averages", "av", "ave") or fact.has("weigh")):
        return None
    if any(w in fact.text for w in (" a day", "per day", "daily", "gain", " a week", "adg")):
        return None  # how they gain, not what they weigh
    group = fact.one("group") or fact.group
    nums = fact.amounts()
    heads = [(n, p) for n, p in nums if p.unit == "head" or _counts_animals(fact, n)]
    means = [(n, p) for n, p in nums if (n, p) not in heads and p.unit in (None, "lb", "kg")]
    said = [(n, p) for n, p in means if fact.pieces[n - 1].is_("average") or p.unit]
    if len(means) == 2 and len(said) == 1 and not heads:
        heads, means = [x for x in means if x not in said], said
    if len(means) == 2 and not heads and means[0][1].unit is None:
        heads, means = [means[0]], [means[1]]
    if any(
        n and fact.pieces[n - 1].text in ("best", "top", "heaviest", "lightest", "high", "low", "worst")
        for n, _ in nums
    ):
        return None
    if group is None or len(means) != 1 or len(heads) > 1:
        return None
    (n, mean), unit = means[0], fact.plan.farm.weight
    fact.use(n, *(m for m, _ in heads))
    head = int(heads[0][1].value or 0) if heads else None
    value, shown, on = mean.value or Decimal(0), mean.unit or unit, fact.on()
    entry = GroupWeight(on=on, group=group, head=head, mean=value, unit=shown)
    if not doubt.mean_fits(fact.farm.in_group(group), value, shown, on, fact.farm):
        raise Doubt(
            f"{value:f} {shown} for {group}? None of them could weigh that.", (Choice("yes", (entry,)), Choice("no"))
        )
    return [entry]


def _counts_animals(fact: Fact, n: int) -> bool:
    """Whether a number is followed by what it counts: "all 6 of them", "14 lambs"."""
    after = [p.text for p in fact.pieces[n + 1 : n + 3]]
    return any(
        w in ("of", "lambs", "ewes", "hoggets", "sheep", "wethers", "rams", "tups", "hd", "gimmers", "hoggs")
        for w in after[:1]
    )


ROWS = (
    Row(
        "group_weight", "A group's mean weight.",
        ("pen 1 averaged 85, all 6 head", "weighed the bottle lambs, 14 head, average 28.5"),
        group_weight, ("average",), ("average day today",), ("weigh",),
    ),
    Row(
        "weight", "What an animal weighs.",
        ("2401 108", "2401 108, 2402 101.5", "weighed 2401 yesterday, 104"),
        weights, ("weigh",), ("need to weigh 2401", "108"), ("average",),
    ),
)  # fmt: skip
