"""The farm's names as its people say and misspell them: groups, items, products, suppliers, bins, crops, fields, people.

One index for each plan. A span of words may name several things (an item and a product share a name): all are kept,
the fact decides. A near spelling is only taken for a word that is nothing else, and where one name alone is in reach.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from rapidfuzz.distance import OSA

from rules.plan import Plan

TABLES = ("group", "item", "supplier", "product", "bin", "crop", "field", "person")
Names = dict[str, tuple[str, ...]]  # table: names

# Words of the barn and the road that are within a slip of names people give to things, and never meant as those.
ORDINARY = frozenset({
    "pullets", "pullet", "hogget", "hoggets", "gimmer", "gimmers", "wether", "heifer", "kettle", "starts", "mart",
    "marts", "milled", "mill", "mild", "mile", "mind", "mine", "milking", "mink", "silk", "may", "bay", "day", "way",
    "pay", "say", "play", "stay", "stray", "straight", "slow", "show", "shot", "short", "sheet", "steep", "sweep",
    "street", "creek", "creak", "crept", "cheap", "chop", "stop", "drop", "shop", "ship", "corner", "scorn", "scorned",
    "worn", "whet", "wheel", "heat", "meat", "neat", "beat", "seat", "treat", "boats", "coats", "goats", "oath", "beam",
    "bean", "bear", "been", "barn", "born", "burn", "burly", "early", "yearly", "fuels", "duel", "cruel", "mesh",
    "mass", "match", "marsh", "smash", "latch", "later", "layer's", "player", "liar", "dressed", "drank", "trench",
    "french", "branch", "finish", "finished", "finishing", "fisher", "fish", "penned", "open", "pens", "people",
    "paper", "pepper", "pellet", "hopped", "hopping", "hoped", "hope", "hoper's", "home", "hone", "done", "rhyme",
    "whole", "hole", "hold", "bold", "gold", "cold", "told", "sold", "salty", "malt", "halt", "slat", "self", "shelf",
    "mineral's", "general", "several", "seminar", "field", "fields", "shield", "yield", "filed", "filled", "fuelled",
    "nurse", "nurses", "rain", "rains", "ring", "rings", "runs", "ran", "tram", "trams", "harm", "farm", "farms",
    "trick", "track", "truck", "trucks", "brick", "truly", "fairly", "family", "weather", "whether", "either",
    "leather", "feather", "feeding", "feeders", "feeder", "feeds", "needs", "seeds", "speed", "steed", "hens", "then",
    "when", "them", "than", "they", "there", "these", "tales", "tails", "tall", "tally", "total", "mouse", "house",
    "horse", "purse", "course", "coarse", "hoarse", "source", "water", "waters", "after", "gate", "gates", "late",
    "hate", "rate", "date", "plate", "state", "roads", "load", "loads", "loaded", "goad", "grain", "brain", "drain",
    "train", "trail", "trailer", "tailor", "straws", "store", "story", "score", "stove", "stone", "alone", "loan",
    "loaned", "lone", "long", "along", "song", "strong", "wrong", "among", "bugs", "bags", "bag", "bogs", "bales",
    "bails", "balls", "sales", "males", "powered", "powders", "lower", "flower", "tower", "shower", "mower", "mowed",
    "moved", "loved", "proved", "bottled", "battle", "bottom", "bother", "brother", "father", "mother", "grow",
    "growing", "grown", "grows", "grower", "groove", "lamps", "lamp", "limbs", "limp", "clamp", "camp", "stamp", "damp",
    "ewer", "ewers", "ever", "never", "river", "fever", "evening", "even", "event", "seven", "eleven", "heaven",
    "leave", "leaves", "lease", "least", "lest", "west", "rest", "best", "test", "nest", "pest", "chest", "crest",
    "guest", "quest",
})  # fmt: skip


def words(text: str) -> tuple[str, ...]:
    """A name as the words and numbers it is made of: "CD&T" is ("cd", "t"), "pen 1" is ("pen", "1")."""
    return tuple(re.findall(r"[^\W\d_]+|\d+", text.lower().replace("'", "").replace("’", "")))


@dataclass(slots=True)
class Index:
    """`spans`: a tuple of words, and the names it says. `starts`: first words, with the longest span each begins.
    `tokens`: the first word of each name, of four letters or more, for near spellings."""

    spans: dict[tuple[str, ...], Names] = field(default_factory=dict)
    starts: dict[str, int] = field(default_factory=dict)
    tokens: tuple[str, ...] = ()
    near: dict[str, str | None] = field(default_factory=dict)
    own: frozenset[str] = frozenset()  # every word of a name

    def at(self, tokens: list[str], start: int) -> tuple[int, Names] | None:
        """The longest name that begins at a word: (how many words it takes, what it names)."""
        for size in range(min(self.starts.get(tokens[start], 0), len(tokens) - start), 0, -1):
            if names := self.spans.get(tuple(tokens[start : start + size])):
                return size, names
        return None

    def nearly(self, tokens: list[str], start: int) -> tuple[int, Names] | None:
        """The only name of several words that begins at a word misspelt by a letter, its others as they are."""
        found = {}
        for span, names in self.spans.items():
            said = tuple(tokens[start : start + len(span)])
            if (
                len(span) > 1
                and said[1:] == span[1:]
                and said[0] != span[0]
                and not span[0].isdigit()
                and len(said[0]) >= 3
            ):
                if said[0][0] == span[0][0] and OSA.distance(said[0], span[0], score_cutoff=1) == 1:
                    found[span] = names
        return (len(next(iter(found))), next(iter(found.values()))) if len(found) == 1 else None

    def mended(self, word: str, known: Iterable[str]) -> str | None:
        """The word of a name that a misspelt word must mean, or None. `known` are the words that are no slip."""
        if word not in self.near:
            self.near[word] = None if word in known else slip(word, self.tokens)
        return self.near[word]


def slip(word: str, candidates: Iterable[str]) -> str | None:
    """The only candidate within one slip of a word (two where it is long), or None. A short word may have swapped,
    lost or gained a letter, never changed one: "mill" is not milk."""
    if len(word) < 4 or word in ORDINARY or any(letter.isdigit() for letter in word):
        return None
    found = []
    for other in candidates:
        if word == other or abs(len(word) - len(other)) > 2 or len(other) < 4:
            continue
        heard = len(word) >= 6 and word[0] == other[0] and _sound(word) == _sound(other)  # "diseal" is diesel
        reach = 2 if len(word) >= 7 or heard else 1
        far = OSA.distance(word, other, score_cutoff=reach)
        if far > reach or (word[0] != other[0] and sorted(word) != sorted(other)):
            continue
        changed = len(word) == len(other) and sorted(word) != sorted(other)
        if changed and len(word) < 6:
            continue
        found.append((far, other))
    found.sort()
    stems = {other.rstrip("s") for far, other in found if far == found[0][0]}
    return found[0][1] if len(stems) == 1 else None


def misspelt(word: str, verbs: Iterable[str]) -> str | None:
    """The doing that a word must be a misspelling of, or None: it sounds the same ("cownted", "hawled"), or two letters
    changed places. A lost or changed consonant makes another word too easily: "slipped" is not shipped."""
    if word in _SOUNDS_LIKE:
        return None
    found = [v for v in verbs if word[0] == v[0] and OSA.distance(word, v, score_cutoff=1) == 1 and _alike(word, v)]
    return found[0] if len({v.rstrip("s").replace("u", "o") for v in found}) == 1 else None


def _alike(word: str, other: str) -> bool:
    """Whether two words, one letter apart, are one word spelt twice; "stick" and "stuck", "close" and "closes" are two."""
    if sorted(word) == sorted(other):
        return True
    changed = len(word) == len(other)
    ends = word[-1] == other[-1] or other.endswith("ing")
    return ends and _sound(word) == _sound(other) and not (changed and len(word) < 6)


def _sound(word: str) -> str:
    """A word without its vowels and doubled letters, which are what is misspelt; "ing" may have lost its g."""
    plain = re.sub(r"ing$", "in", word).replace("sh", "1").replace("ch", "2").replace("th", "3")
    return re.sub(r"(.)\1+", r"\1", re.sub(r"[aeiouwyh]", "", plain))


# Words that sound like a doing of the barn and are none.
_SOUNDS_LIKE = frozenset({
    "shopped", "shaped", "shipper", "shared", "sharing", "sherry", "hailed", "heeled", "healed", "holed",
    "hated", "polled", "piled", "pallid", "peeled", "paled", "ducked", "decked", "tapped", "typed", "taped",
    "toped", "sewed", "sawed", "sued", "seed", "clapped", "claps", "canted", "county", "canty", "classed",
    "clauses", "clause", "closet", "closest", "closer", "loads", "leads", "limbed", "limbing", "lumbering",
    "railed", "relied", "riled", "raked", "reeked", "mowed", "mooed", "mewed", "bailed", "boiled", "bowled",
    "belled", "rowed", "winded", "wound", "warmed", "whirled", "dosing", "dozing", "dazed", "doused", "drooped",
    "dropper", "torn", "tailor", "toiled", "tolled", "trotted", "seared", "soared", "sheered", "shored",
    "scene", "scenes", "spied", "sprayer", "planet", "plants", "plaited", "plotted", "weeding", "wedding",
    "wading", "waiting", "hosing", "totally", "leader", "louder", "ladder", "lambda", "pickled", "tacked",
    "ticked",
})  # fmt: skip

_known: list[tuple[Plan, Index]] = []


def index_of(plan: Plan) -> Index:
    """The index of a plan, made once: the last few are kept."""
    for known, index in _known:
        if known is plan:
            return index
    index = _index(plan)
    _known[:] = [(plan, index), *_known[:3]]
    return index


def _twin(plan: Plan, table: str, name: str) -> tuple[str, ...]:
    """The other names of a product that is an item too, and the other way round: they are one thing."""
    twin = {"item": plan.product_named, "product": plan.item_named}.get(table)
    found = twin(name) if twin else None
    return found.also if found else ()


def _index(plan: Plan) -> Index:
    exact: dict[tuple[str, ...], dict[str, list[str]]] = {}
    loose: dict[tuple[str, ...], dict[str, list[str]]] = {}
    for table in TABLES:
        for row in getattr(plan, table):
            for said in dict.fromkeys((row.name, *row.also, *_twin(plan, table, row.name))):
                whole = words(said)
                for spoken, into in ((whole, exact), *((form, loose) for form in _forms(whole))):
                    if spoken:
                        into.setdefault(spoken, {}).setdefault(table, []).append(row.name)
    spans = {span: _tidy(names) for span, names in exact.items()}
    for span, names in loose.items():
        spans.setdefault(span, _tidy(names))
    starts: dict[str, int] = {}
    for span in spans:
        starts[span[0]] = max(starts.get(span[0], 0), len(span))
    tokens = sorted({span[0] for span in spans if len(span[0]) >= 4 and not span[0].isdigit()})
    return Index(spans, starts, tuple(tokens), own=frozenset(word for span in spans for word in span))


def _tidy(names: dict[str, list[str]]) -> Names:
    return {table: tuple(dict.fromkeys(rows)) for table, rows in names.items()}


def _forms(name: tuple[str, ...]) -> list[tuple[str, ...]]:
    """The same name without "the", in the singular or plural, or with its words run together."""
    bare = name[1:] if name[:1] == ("the",) and len(name) > 1 else name
    forms = [bare] if bare != name else []
    last = bare[-1] if bare else ""
    if last.isalpha() and len(last) > 2:
        plurals = [last[:-1]] if last.endswith("s") and not last.endswith("ss") else [last + "s"]
        if last.endswith("ies"):
            plurals = [last[:-3] + "y"]
        forms += [(*bare[:-1], other) for other in plurals]
    if len(bare) > 1 and last in ("dose", "drench", "vaccine", "jab"):  # "fluke dosed the hill ewes"
        forms.append((*bare[:-1], last + ("d" if last.endswith("e") else "ed")))
    joined = "".join(bare)
    if len(bare) > 1 and joined.isalpha():
        forms.append((joined,))
    elif len(bare) > 1:
        forms.append(tuple(re.findall(r"[^\W\d_]+|\d+", joined)))
    return forms
