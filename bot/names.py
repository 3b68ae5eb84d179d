"""The farm's names as its people say and misspell them: groups, items, products, suppliers, bins, crops, fields, people.

One index for each plan. A span of words may name several things (an item and a product share a name): all are kept,
the fact decides. A near spelling is only taken for a word that is nothing else, and where one name alone is in reach.
"""

import re
from dataclasses import dataclass, field

from rapidfuzz.distance import OSA

from bot.slips import meant
from rules.plan import Plan

TABLES = ("group", "item", "supplier", "product", "bin", "crop", "field", "person")
Names = dict[str, tuple[str, ...]]  # table: names


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
            if len(span) > 1 and said[1:] == span[1:] and len(said[0]) >= 3 and not span[0].isdigit():
                if said[0][0] == span[0][0] and OSA.distance(said[0], span[0], score_cutoff=1) == 1:
                    found[span] = names
        return (len(next(iter(found))), next(iter(found.values()))) if len(found) == 1 else None

    def mended(self, word: str) -> str | None:
        """The first word of a name that a misspelt word must mean, or None."""
        near = meant(word, self.tokens)
        return near if near in self.tokens else None


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
