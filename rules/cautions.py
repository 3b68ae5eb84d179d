"""Which cautions go with what was told: where someone, or an animal, could be hurt. Codes only, no words.

The cautions themselves are common practice and defer to label, vet and local rules; none of them gives a dose.
"""

import re
from collections.abc import Iterator, Sequence

from rules import entries as e
from rules.days import Moment
from rules.farm import Farm
from rules.losses import losses
from rules.travel import unfit

# Feed or powder made for other stock can hold copper that kills sheep (common practice, no source).
_NOT_FOR_SHEEP = re.compile(r"\b(calf|calves|cattle|cow|dairy|pig|sow|hog|poultry|horse|goat)\b")


def cautions_with(entries: Sequence[e.Entry], before: Farm, farm: Farm, m: Moment) -> list[str]:
    """The cautions that go with these entries, each once; `before` is the farm as it stood without them."""
    return list(dict.fromkeys(c for entry in entries for c in _with(entry, before, farm, m)))


def _with(entry: e.Entry, before: Farm, farm: Farm, m: Moment) -> Iterator[str]:
    match entry:
        case e.Dose():
            yield from ("label", "withdrawal")
        case e.Product():
            yield "label"
        case e.Stage(stage="pulled") if not entry.colostrum:
            yield "colostrum"
        case e.Received() | e.OnHand() | e.Used():
            yield from _feed(entry, before, farm)
        case e.Ship():
            yield from _ship(entry, before)
        case e.BinMove() | e.BinLevel():
            yield "bin"
        case e.Loss() if losses(farm, m):
            yield "losses"


def _feed(entry: e.Received | e.OnHand | e.Used, before: Farm, farm: Farm) -> Iterator[str]:
    item = farm.plan.item_named(entry.item)
    sheep = farm.keeping("market lambs", "bottle lambs", "replacements", "ewes", "rams")
    groups = [feed.group for feed in item.feeds] if item else []
    if any(g in sheep for g in groups) and _NOT_FOR_SHEEP.search(entry.item.lower()):
        yield "copper"
    bottle = set(farm.keeping("bottle lambs"))
    if isinstance(entry, e.Received) and bottle.intersection(groups) and _was_out(entry.item, before):
        yield "gorging"


def _was_out(item: str, before: Farm) -> bool:
    """Whether the last thing told of an item was that none is left."""
    told = before.stock.get(item, ())
    return bool(told) and told[-1].what == "on_hand" and told[-1].amount == 0


def _ship(entry: e.Ship, before: Farm) -> Iterator[str]:
    animals = [before.animals[t] for t in entry.tags if t in before.animals]
    if any(unfit(a, entry.on) for a in animals) or any(g in before.keeping("ewes") for g in (a.group for a in animals)):
        yield "fit_to_travel"
    if len(entry.tags) + (entry.head or 0) >= 10:
        yield "room"
