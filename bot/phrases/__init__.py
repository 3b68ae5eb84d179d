"""The phrase table: one row for each thing a farmer can tell, each with a sentence, examples, and how it is read.

A row's `build` takes a Fact and gives entries where the stretch is its own, an Ask where it is but leaves a doubt, or
None. It marks the pieces it has accounted for; the reader takes its entries only where no number or name is left over.
Rows are offered in the order of `ROWS`; the first that reads a stretch in full has it, so each must be strict about the
words that make a stretch its own, and free about their order.
"""

from collections.abc import Sequence
from dataclasses import replace

from bot.fact import Ask, Choice, Fact
from bot.phrases import animals, breeding, doses, growth, lambing, land, leaving, selling, stages, stores
from bot.phrases.row import Row
from bot.phrases.unknown import numbered_place
from bot.verbs import STRONG
from bot.words import examples, say
from rules.entries import Entry, Weight

ROWS: tuple[Row, ...] = (
    *breeding.ROWS,
    *lambing.FIRST,
    *doses.ROWS,
    *stages.ROWS,
    *lambing.FOSTER,
    *animals.ARRIVED,
    *leaving.ROWS,
    *selling.ROWS,
    *land.ROWS,
    *stores.ROWS,
    *growth.ROWS,
    *animals.MOVE,
    *leaving.SHIP,
    *animals.LAST,
)


AT_ONCE: tuple[Row, ...] = (*lambing.FIRST, *(r for r in breeding.ROWS if r.name == "scanned"))


def twice(entries: Sequence[Entry]) -> Ask | None:
    """One animal with two weights on one day: which one?"""
    seen: dict[str, Weight] = {}
    for entry in entries:
        if not isinstance(entry, Weight):
            continue
        other = seen.setdefault(entry.tag, entry)
        if other.on == entry.on and other.weight != entry.weight:
            first = Choice(f"{other.weight:f}", tuple(x for x in entries if x is not entry))
            second = Choice(f"{entry.weight:f}", tuple(x for x in entries if x is not other))
            return Ask(f"Two weights for {entry.tag}: which one?", (first, second))
    return None


def which(entries: Sequence[Entry]) -> Ask:
    """Told of one animal or another: which?"""
    tags = [t for x in entries for t in getattr(x, "tags", ())][:3]
    choices = [Choice(t, tuple(replace(x, tags=(t,)) for x in entries)) for t in tags]  # type: ignore[call-arg]
    return Ask("Which one was it?", tuple(choices))


def not_understood(fact: Fact) -> Ask:
    """A stretch in which the farm is plainly meant, and no row has it: said back with the nearest example, in this
    farm's own names."""
    if place := numbered_place(fact):
        return place
    heard = " ".join(say.amount(p.value, p.unit) if p.unit and p.value is not None else p.text for p in fact.pieces)
    said = {table: name for p in fact.pieces for table in p.names if (name := p.named(table))}
    tags = [p.tags[0] for p in fact.pieces if len(p.tags) == 1 and (p.kind == "tag" or fact.is_tag(p))]
    doing = {STRONG[p.text] for p in fact.pieces if p.text in STRONG}
    doing |= {c for p in fact.pieces if len(p.classes) == 1 for c in p.classes}  # a word that is of one thing only
    rows = [row.name for row in ROWS if doing.intersection(row.classes[:1])]
    near = examples.nearest(rows, fact.farm, {**said, **({"tag": tags[0]} if tags else {})})
    return Ask(examples.not_understood(heard, near))


def keep_the_rest(words: str, told: Sequence[Entry]) -> Ask:
    """Part of a message was understood, and part of it, with numbers in it, was not."""
    shown = words if len(words) <= 60 else words[:57] + "..."
    return Ask(
        f'I can\'t make sense of "{shown}". Keep the rest?', (Choice("keep the rest", tuple(told)), Choice("no"))
    )
