"""Messages that can be understood, in a farm's own names: for help, and for what was not understood.

Each is made from what the plan and the animals say, so that sent as it stands it is read; where a farm lacks what a
message needs there is no such example. A name that was just said is kept, so that the example is near to it.
"""

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal

from bot.words import say
from rules.farm import Animal, Farm
from rules.herd import MARKET

Example = Callable[["Own"], str | None]


class Own:
    """The names of a farm to make examples of: those just said first, else the first that fit."""

    def __init__(self, farm: Farm, said: Mapping[str, str]) -> None:
        self.farm, self.plan, self.said = farm, farm.plan, said
        self.group = self._row("group")
        self.item = self.plan.item_named(self._row("item") or "")
        self.product = self._row("product")
        self.supplier = self._row("supplier")
        self.bin = next((b for b in self.plan.bin if b.name == self._row("bin")), None)
        self.field = self._row("field")
        self.lamb = self._animal(farm.keeping(*MARKET), lambs=True)
        self.ewe = self._animal(farm.keeping("ewes"), lambs=False)
        self.any = farm.animals.get(said.get("tag", "")) or self.lamb or self.ewe

    def _row(self, table: str) -> str | None:
        rows = [row.name for row in getattr(self.plan, table)]
        return self.said.get(table) or (rows[0] if rows else None)

    def _animal(self, groups: Sequence[str], *, lambs: bool) -> Animal | None:
        there = [a for g in groups for a in self.farm.in_group(g)]
        weighed = [a for a in there if a.weighings] if lambs else [a for a in there if a.sex in (None, "ewe")]
        chosen = self.farm.animals.get(self.said.get("tag", ""))
        return chosen if chosen in there else next(iter(weighed or there), None)

    def keeping(self, *kinds: str) -> str | None:
        """A group that keeps one of these, the one just said where it does."""
        groups = self.farm.keeping(*kinds)
        return self.said["group"] if self.said.get("group") in groups else next(iter(groups), None)

    def other_group(self) -> str | None:
        home = self.any.group if self.any else None
        return next((g.name for g in self.plan.group if g.name != home), None)


def _weight(own: Own) -> str | None:
    animal = own.any
    if animal is None:
        return None
    last = animal.weighings[-1].weight if animal.weighings else None
    if last is None and own.lamb is None:
        return None
    animal = animal if last is not None else own.lamb
    assert animal is not None
    shown = animal.weighings[-1].weight if animal.weighings else (own.plan.ship.min or Decimal(40))
    return f"{animal.tag} {say.number(shown, 1)}"


def _stock(verb: str, amount: int) -> Example:
    def made(own: Own) -> str | None:
        item = own.item
        if item is None:
            return None
        much = f"{say.amount(Decimal(amount), item.unit)} {item.name}"
        return f"{much} left" if verb == "left" else f"{verb} {much}"

    return made


def _of(words: str, *needs: str) -> Example:
    """An example of names in braces; None where the farm has not got one of them."""

    def made(own: Own) -> str | None:
        lamb, ewe, any_ = own.lamb, own.ewe, own.any
        names = {
            "tag": any_.tag if any_ else None, "lamb": lamb.tag if lamb else None, "ewe": ewe.tag if ewe else None,
            "group": own.group, "product": own.product, "supplier": own.supplier, "field": own.field,
            "market": own.keeping(*MARKET), "ewes": own.keeping("ewes"), "bottle": own.keeping("bottle lambs"),
            "other": own.other_group(), "item": own.item.name if own.item else None, "weight": own.plan.farm.weight,
        }  # fmt: skip
        return words.format(**names) if all(names[k] for k in needs) else None

    return made


def _bin(own: Own) -> str | None:
    """A bin about half full."""
    much, _, unit = own.bin.capacity.partition(" ") if own.bin and own.bin.capacity else ("", "", "")
    half = Decimal(much) / 2 if unit and much.replace(".", "", 1).isdigit() else None
    return f"{own.bin.name} at {say.number(half, 0 if half > 4 else 1)} {unit}" if own.bin and half else None


def _eggs(own: Own) -> str | None:
    hens = own.keeping("hens")
    return f"{max(1, round(own.farm.head(hens) * 0.8))} eggs" if hens and own.farm.head(hens) else None


# By the row of the phrase table that it is near to.
_NEAR: Mapping[str, Example] = {
    "weight": _weight,
    "stock": _stock("left", 2),
    "received": _stock("got", 4),
    "used": _stock("used", 1),
    "ordered": lambda own: f"{made}, comes friday" if (made := _stock("ordered", 4)(own)) else None,
    "dose": _of("gave {tag} {product}", "tag", "product"),
    "stage": _of("weaned {lamb}", "lamb"),
    "pulled": _of("pulled {lamb}", "lamb", "bottle"),
    "move": _of("moved {tag} to {other}", "tag", "other"),
    "head_count": _of("counted 12 head in {group}", "group"),
    "loss": _of("lost {tag}", "tag"),
    "cull": _of("cull {ewe}", "ewe"),
    "ship": _of("shipped {lamb}", "lamb"),
    "sale": _of("sold 4 at 2.40 a {weight}", "weight"),
    "lambing": _of("{ewe} had twins", "ewe"),
    "foster": _of("fostered {lamb} onto {ewe}", "lamb", "ewe"),
    "note": _of("{tag} limping", "tag"),
    "rams": _of("rams in with {ewes} today", "ewes"),
    "eggs": _eggs,
    "bin_level": _bin,
    "fieldwork": _of("sprayed {field}", "field"),
    "market_price": _of("lambs at 2.40 a {weight}", "weight"),
}
# What names of a kind, just said, are most often told with; in this order.
_TOLD_WITH = (
    ("product", "dose"), ("item", "stock"), ("bin", "bin_level"), ("field", "fieldwork"), ("tag", "weight"),
    ("group", "head_count"), ("supplier", "ordered"), ("crop", "bin_level"),
)  # fmt: skip


def nearest(rows: Sequence[str], farm: Farm, said: Mapping[str, str]) -> str | None:
    """The example nearest to a message: of these rows of the phrase table, else of the names that were `said`."""
    own = Own(farm, said)
    wanted = [*rows, *(kind for table, kind in _TOLD_WITH if table in said), "weight", "stock"]
    found = (_NEAR[kind](own) for kind in wanted if kind in _NEAR)
    return next((x for x in found if x), None) or "new item hay, in bales"


def not_understood(heard: str, example: str | None) -> str:
    """What was heard, and the nearest thing that can be understood."""
    shown = heard if len(heard) <= 60 else heard[:57] + "..."
    return f'I can\'t make sense of "{shown}".' + (f' Tell me like "{example}".' if example else "")


# What a farmer wants to do, and the examples that say it; a line without any is left out.
_HELP: Sequence[tuple[str, Sequence[Example]]] = (
    ("Weigh", (_weight, _of("who should I weigh", "lamb"))),
    ("Stores", (_NEAR["stock"], _NEAR["received"], _NEAR["used"], _NEAR["ordered"])),
    ("Dose", (_NEAR["dose"], _of("can {lamb} go", "lamb"))),
    ("Lambs", (_NEAR["lambing"], _NEAR["pulled"], _NEAR["stage"], _NEAR["foster"])),
    ("Move", (_NEAR["move"], _NEAR["ship"], _NEAR["loss"])),
    ("Land", (_bin, _NEAR["fieldwork"])),
    ("Eggs", (_eggs,)),
    ("Jobs", (lambda own: "remind me friday to call the vet", lambda own: "what's due")),
    ("Ask", (
        _of("how many ready", "lamb"), _of("ship or wait", "lamb"), _of("what must I order", "item"),
        _of("how long will {item} last", "item"), _of("is {supplier} open sat", "supplier"),
    )),
    ("See", (
        _of("{item} as a chart", "item"), _of("print the ship list", "lamb"),
        _of("treatment record as a file", "product"),
    )),
    ("Wrong", (lambda own: "undo", lambda own: "make that 3", lambda own: "what did I just say")),
    ("New", (lambda own: "new item oats, 25 kg bags", lambda own: "new pen 9, ewes, 40 head")),
)  # fmt: skip


def help_lines(farm: Farm) -> list[tuple[str, list[str]]]:
    """What can be done, each with examples in this farm's names."""
    own = Own(farm, {})
    lines = [(name, [x for make in makes if (x := make(own))]) for name, makes in _HELP]
    return [(name, examples) for name, examples in lines if examples]


def help_screen(farm: Farm) -> str:
    """One screen, by what the farmer wants to do."""
    return "\n".join(f"{name}: {' / '.join(examples)}" for name, examples in help_lines(farm))
