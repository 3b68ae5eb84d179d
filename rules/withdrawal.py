"""Which animals are held back from slaughter, until when and for what: the label's and the vet's days, counted here.

No withdrawal time is ever made up: where neither the plan nor whoever gave the dose said the days, the animal is held
until someone does. Lame or ill animals are held in `rules.loads`, which asks here for the rest.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

from rules.days import Moment
from rules.farm import Animal, Farm, Given
from rules.findings import Hold, Withdrawal
from rules.plan import Item


def until(given: date, days: int) -> date:
    """The first day it may ship: the day of the last dose, the withdrawal days, and one.

    An entry has no hour and a withdrawal day is a full 24 hours, so the day of the dose never counts.
    Source: Finnish Medicines Agency, What is a withdrawal period (6 days: delivered on the 7th day after).
    """
    return given + timedelta(days + 1)


def held(farm: Farm, animal: Animal, on: date) -> Hold | None:
    """What still holds an animal on a day, as the book stands now: the last of several products to end; None: free."""
    found = _last(_holds(farm, animal, _feeds(farm, animal.group, on)), on)
    return Hold(tag=animal.tag, until=found[0], product=found[1].product, why=_unsure(found[1])) if found else None


def group_held(farm: Farm, group: str, on: date) -> Hold | None:
    """What holds the animals without tags of a group on a day; its name stands for theirs. None: free."""
    found = _last(_group_holds(farm, group, _feeds(farm, group, on)), on) if farm.heads.get(group) else None
    return Hold(tag=group, until=found[0], product=found[1].product) if found else None


def hold_after(farm: Farm, product: str, on: date, said: int | None = None) -> date | None:
    """Until when a dose given on a day would hold an animal; None where nobody has told the product's days."""
    row = farm.plan.product_named(product)
    days = _longer(said, row.withdrawal_days if row else None)
    return until(on, days) if days is not None else None


def withdrawal(farm: Farm, moment: Moment) -> list[Withdrawal]:
    """Every animal that may not go to slaughter today, and from which day on it may; for hens, when eggs are free.

    Why: one animal shipped early is a residue case. Each product counts from its own last dose, and the latest end
    decides (several products: from memory, unverified; the day's count: see `until`). Days told with a dose count
    where they are longer than the plan's, or the plan has none. A dose told by head holds all it may be in, until the
    tags are told. Medicated feed holds whoever ate it. All of it is `know`: nothing is to be done but wait, or to ask
    the vet where no days are known.
    """
    today = moment.today
    found = []
    feeds = {group.name: list(_feeds(farm, group.name, today)) for group in farm.plan.group}
    for tag in sorted(farm.animals):
        animal = farm.animals[tag]
        if animal.here and (last := _last(_holds(farm, animal, feeds.get(animal.group or "", ())), today)):
            end, given, days = last
            found.append(
                Withdrawal(level="know", due=end, tag=tag, product=given.product, until=end, given=given.on, days=days)
            )
    for group in farm.plan.group:
        if farm.heads.get(group.name) and (last := _last(_group_holds(farm, group.name, feeds[group.name]), today)):
            end, given, days = last
            found.append(Withdrawal(
                level="know", due=end, group=group.name, product=given.product, until=end, given=given.on, days=days
            ))  # fmt: skip
    return found


_Feeds = Iterable[tuple[Item, date]]  # medicated feed, and the last day on which it was eaten
_End = tuple[date | None, Given, int | None]  # the first free day, what was given, its days


def _last(ends: Iterable[_End], on: date) -> _End | None:
    """The hold that ends last, one without an end before all; of those that end together the first by name."""
    still = [x for x in ends if x[0] is None or x[0] > on]
    return min(still, key=lambda x: (x[0] is not None, -(x[0] or date.min).toordinal(), x[1].product), default=None)


def _holds(farm: Farm, animal: Animal, feeds: _Feeds) -> Iterator[_End]:
    yield from ends(farm, animal.doses, eggs=False)
    for item, last in feeds:
        if animal.since is None or animal.since <= last:
            yield _fed(item, last)


def _group_holds(farm: Farm, group: str, feeds: _Feeds) -> Iterator[_End]:
    """Of animals without tags: what was given to the group counts for each of them. Hens are held for their eggs."""
    eggs = group in farm.keeping("hens")
    yield from ends(farm, farm.group_doses.get(group, ()), eggs)
    yield from (_fed(item, last) for item, last in feeds)


def ends(farm: Farm, doses: Sequence[Given], eggs: bool) -> Iterator[_End]:
    """Of each dose, in the order given: the first day free of it (None: nobody has told its days), and those days."""
    for given in doses:
        if given.for_ == "feed":
            planned = given.withdrawal_days
        else:
            row = farm.plan.product_named(given.product)
            planned = (row.egg_withdrawal_days if eggs else row.withdrawal_days) if row else None
        said = given.withdrawal_days
        if said is None and planned is None:  # told with another dose of it since: that answers for this one, too
            told = [d.withdrawal_days for d in doses if d.product == given.product]
            said = max((days for days in told if days is not None), default=None)
        days = _longer(said, planned)
        yield (until(given.on, days) if days is not None else None), given, days


def _longer(said: int | None, planned: int | None) -> int | None:
    return max((days for days in (said, planned) if days is not None), default=None)


def _feeds(farm: Farm, group: str | None, on: date) -> Iterator[tuple[Item, date]]:
    """Medicated feed that a group ate, and the last day up to this one on which it did."""
    for item in farm.plan.item if group else ():
        if item.withdrawal_days is not None and group and (last := farm.had_feed(item, group, on)):
            yield item, last


def _fed(item: Item, last: date) -> _End:
    days = item.withdrawal_days or 0
    return until(last, days), Given(last, item.name, days, 0, "", for_="feed"), days


def _unsure(given: Given) -> str | None:
    return "told by head: which of the group is not known" if given.unnamed else None
