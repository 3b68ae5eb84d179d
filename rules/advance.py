"""How each fact advances the farm, in place: the only code that writes a Farm.

Facts come in the order in which they happened (`rules.fold` sees to that). An amount that cannot be turned into its
item's unit, or a name the plan does not have, stays in the book but counts for nothing here.
"""

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from rules import entries as e
from rules.farm import Animal, Fact, Farm, Given, Lamb, Order, Shipment, StockFact, Unnamed, Weighing
from rules.jobs import turn_after
from rules.plan import Item, changed, plan_from
from rules.units import convert, factor

SETTLES_DAYS = 21  # a sale with a price this long after a load is taken to settle it (common practice, no source)

Key = TypeVar("Key")
Thing = TypeVar("Thing")
Apply = Callable[[Farm, Fact, Any], None]


def apply(farm: Farm, fact: Fact) -> None:
    """Advance the farm by one fact. Entries that say nothing of the farm (done, notes of nobody) change nothing."""
    entry = fact.entry
    if isinstance(entry, e.Correct) and entry.instead is not None:
        entry = e.entry_from(entry.instead)
    entry = now_named(farm, entry)
    how = _APPLY.get(type(entry))
    if how is None:
        return
    before = _touched(farm, entry)
    how(farm, fact, entry)
    for group in dict.fromkeys((*before, *_touched(farm, entry))):
        _log_feeding(farm, group, fact)


# Which tables the fields of entries name rows of; a few of one name stand in another table.
_NAMING = {"group": ("group",), "item": ("item",), "supplier": ("supplier",), "product": ("product",), "bin": ("bin",),
           "crop": ("crop",), "field": ("field",), "what": ("item", "crop")}  # fmt: skip
_NAMING_TO: dict[type[e.Said], dict[str, tuple[str, ...]]] = {
    e.Move: {"to": ("group",)}, e.BinMove: {"from_": ("bin",), "to": ("bin",)}, e.Load: {"to": ("bin",)},
}  # fmt: skip


def now_named(farm: Farm, entry: e.Entry) -> e.Entry:
    """The entry with the names that the rows of the plan go by now."""
    if not farm.renamed or isinstance(entry, e.PlanSet):
        return entry
    naming = {**_NAMING, **_NAMING_TO.get(type(entry), {})}
    new = {
        key: farm.renamed[table, name]
        for key, tables in naming.items() if isinstance(name := getattr(entry, key, None), str)
        for table in tables if (table, name) in farm.renamed
    }  # fmt: skip
    return replace(entry, **new) if new else entry  # type: ignore[arg-type]


def _add(kept: dict[Key, tuple[Thing, ...]], key: Key, *things: Thing) -> None:
    kept[key] = (*kept.get(key, ()), *things)


# -- membership


def _touched(farm: Farm, entry: e.Entry) -> list[str]:
    """The groups whose heads an entry may change."""
    if not isinstance(entry, _MOVING):
        return []
    tags = tuple(getattr(entry, "tags", ())) + ((entry.tag,) if isinstance(entry, e.Tagged) else ())
    groups = [farm.animals[t].group for t in tags if t in farm.animals]
    to = entry.to if isinstance(entry, e.Move) else None
    return [g for g in (*groups, getattr(entry, "group", None), to) if g]


def _log_feeding(farm: Farm, group: str, fact: Fact) -> None:
    heads = farm.eating(group, fact.moment.date())
    log = farm.feeding.get(group, ())
    if not log or log[-1][1] != heads:
        farm.feeding[group] = (*log, (fact.moment, heads))


def _listed(farm: Farm, fact: Fact, group: str, more: int) -> None:
    """So many more heads eat in a group by what the farm folder lists: one number for the start, counted up (counting
    a flock anew for each of its animals would take minutes)."""
    log = farm.feeding.get(group, ())
    heads = (log[-1][1] if log else farm.heads.get(group, 0)) + more
    kept = log[:-1] if log and log[-1][0] == fact.moment else log
    farm.feeding[group] = (*kept, (fact.moment, heads))


def _more_heads(farm: Farm, group: str, more: int) -> None:
    """So many more (fewer) animals without tags in a group."""
    farm.heads[group] = max(0, farm.heads.get(group, 0) + more)


def _put(farm: Farm, animal: Animal) -> None:
    """Write an animal, and keep the lists of who is where."""
    old = farm.animals.get(animal.tag)
    if old and old.group and (old.group != animal.group or not animal.here):
        farm.members.get(old.group, {}).pop(animal.tag, None)
    farm.animals[animal.tag] = animal
    farm.retagged.pop(animal.tag, None)  # it is some animal's own tag now
    if animal.here and animal.group:
        farm.members.setdefault(animal.group, {})[animal.tag] = None


def _subject(farm: Farm, entry: e.About) -> list[Animal]:
    """The tagged animals an entry is about: those named, or all here of its group where no head count is told."""
    if entry.tags:
        return [farm.animals[t] for t in (farm.now_tagged(t) for t in entry.tags) if t in farm.animals]
    return farm.in_group(entry.group) if entry.group and entry.head is None else []


def _leave(farm: Farm, entry: e.About, status: str, fact: Fact) -> None:
    """Animals go: by tag, all of a group, or by head."""
    gone = _subject(farm, entry)
    for animal in gone:
        _put(farm, replace(animal, status=status, gone=entry.on))
    kind = "ship" if isinstance(entry, e.Sale) else entry.kind
    if entry.tags:
        _name(farm, kind, gone, entry.on)
    elif entry.group and entry.head is None:
        farm.heads[entry.group] = 0
    elif not entry.group and entry.head is not None and kind == "ship":
        if any(farm.tagged(g) for g in farm.keeping("market lambs")):  # lambs of some market pen: which is not told
            farm.unnamed += (Unnamed(kind, "", entry.head, entry.on, fact.seq),)
    elif entry.group and entry.head is not None:
        if farm.tagged(entry.group):
            farm.unnamed += (Unnamed(kind, entry.group, entry.head, entry.on, fact.seq),)
        else:
            _more_heads(farm, entry.group, -entry.head)


def _name(farm: Farm, kind: str, animals: Iterable[Animal], on: date, what: str | None = None) -> None:
    """Animals told by tag settle a head count told before of the same kind, product and day, group by group."""
    for animal in animals:
        for u in farm.unnamed:
            if (u.kind, u.what) == (kind, what) and u.group in (animal.group, "") and abs((on - u.on).days) <= 1:
                rest = replace(u, head=u.head - 1)
                farm.unnamed = tuple(rest if x is u else x for x in farm.unnamed if x is not u or rest.head > 0)
                if rest.head <= 0 and kind == "dose":
                    _lift(farm, u)
                break


def _lift(farm: Farm, settled: Unnamed) -> None:
    """All animals of a dose told by head are named now: the others of the group were not dosed."""
    for animal in list(farm.animals.values()):  # some may have gone to another group since
        doses = tuple(d for d in animal.doses if not (d.unnamed and d.seq == settled.seq))
        if doses != animal.doses:
            _put(farm, replace(animal, doses=doses))


# -- animals


def _animal(farm: Farm, fact: Fact, entry: e.AnimalSet) -> None:
    old, new = farm.animals.get(entry.tag), Animal(
        tag=entry.tag, eid=entry.eid, sex=entry.sex, born=entry.born, dam=entry.dam, group=entry.group,
        birth_weight=entry.birth_weight, birth_type=entry.birth_type, status=entry.status or "here",
    )  # fmt: skip
    _put(farm, new)
    for animal, more in ((old, -1), (new, 1)):
        if animal and animal.here and animal.group and not farm.at_foot(animal, entry.on):
            _listed(farm, fact, animal.group, more)


def _in_farm_unit(farm: Farm, weight: Decimal | None, unit: str | None) -> Decimal | None:
    with suppress(ValueError):
        if weight is not None:
            return convert(weight, unit or farm.plan.farm.weight, farm.plan.farm.weight, farm.plan.farm.country)
    return None


def _weight(farm: Farm, fact: Fact, entry: e.Weight) -> None:
    animal = farm.animals.get(farm.now_tagged(entry.tag))
    weight = _in_farm_unit(farm, entry.weight, entry.unit)
    if animal and weight is not None:
        weighings = (*animal.weighings, Weighing(entry.on, weight, fact.seq))
        _put(farm, replace(animal, weighings=tuple(sorted(weighings, key=lambda w: (w.on, w.seq)))))


def _lambing(farm: Farm, fact: Fact, entry: e.Lambing) -> None:
    dam = farm.animals.get(farm.now_tagged(entry.dam)) if entry.dam else None
    group = dam.group if dam else None
    farm.lambings += ((group, entry),)
    if dam:
        _put(farm, replace(dam, lambed=(*dam.lambed, (entry.on, len(entry.born)))))
    for lamb in entry.born:
        weight = _in_farm_unit(farm, lamb.weight, lamb.unit)
        if lamb.tag:
            _put(farm, Animal(
                tag=lamb.tag, sex=lamb.sex, born=entry.on, dam=entry.dam, group=group, birth_weight=weight,
                birth_type=len(entry.born), status="dead" if lamb.alive is False else "here",
                gone=entry.on if lamb.alive is False else None,
            ))  # fmt: skip
        elif lamb.alive is not False:
            farm.untagged += (Lamb(entry.dam, entry.on, group, lamb.sex, weight, len(entry.born)),)


def _tagged(farm: Farm, fact: Fact, entry: e.Tagged) -> None:
    lamb = next(
        (x for x in farm.untagged if x.dam == entry.dam and (not entry.sex or x.sex in (None, entry.sex))), None
    )
    dam = farm.animals.get(entry.dam or "")
    animal = farm.animals.get(entry.tag) or Animal(tag=entry.tag)
    if lamb and entry.dam:
        farm.untagged = tuple(x for x in farm.untagged if x is not lamb)
        if lamb.group in farm.keeping("bottle lambs"):  # pulled before it had its tag
            _more_heads(farm, lamb.group, -1)
        animal = replace(
            animal, sex=lamb.sex, born=lamb.born, group=lamb.group, birth_weight=lamb.weight, birth_type=lamb.litter
        )
    _put(farm, replace(
        animal, dam=entry.dam or animal.dam, sex=entry.sex or animal.sex, born=entry.born or animal.born,
        group=animal.group or (dam.group if dam else None),
    ))  # fmt: skip


def _retagged(farm: Farm, fact: Fact, entry: e.Retagged) -> None:
    animal = farm.animals.pop(farm.now_tagged(entry.tag), None)
    if animal:
        if animal.group:
            farm.members.get(animal.group, {}).pop(animal.tag, None)
        farm.retagged[animal.tag] = entry.to
        _put(farm, replace(animal, tag=entry.to))


def _foster(farm: Farm, fact: Fact, entry: e.Foster) -> None:
    if animal := farm.animals.get(farm.now_tagged(entry.tag)):
        _put(farm, replace(animal, nursed_by=entry.dam))


def _dose(farm: Farm, fact: Fact, entry: e.Dose) -> None:
    given = Given(
        entry.on, entry.product, entry.withdrawal_days, fact.seq, fact.by, entry.amount, entry.unit, entry.for_,
        entry.route, entry.batch, head=entry.head,
    )  # fmt: skip
    dosed = _subject(farm, entry)
    head = entry.head or (farm.head(entry.group) if entry.group else len(dosed))
    if entry.group and entry.head is not None and farm.tagged(entry.group):
        dosed = farm.in_group(entry.group)
        if entry.head < farm.head(entry.group):
            # which of them is not told: the dose may be in any of the group
            given = replace(given, unnamed=True)
            farm.unnamed += (Unnamed("dose", entry.group, entry.head, entry.on, fact.seq, entry.product),)
    for animal in dosed:
        _put(farm, replace(animal, doses=(*animal.doses, given)))
    if entry.tags:
        open_ = _open_heads(farm, entry.product)
        _name(farm, "dose", dosed, entry.on, entry.product)
        head -= open_ - _open_heads(farm, entry.product)  # those left the fridge when they were told by head
    if entry.group:
        _add(farm.group_doses, entry.group, given)
    for seq, job in list(farm.reminders.items()):  # a course goes on
        same = set(job.tags) & set(entry.tags) if job.tags else job.group is not None and job.group == entry.group
        if job.product == entry.product and job.due <= entry.on and same:
            _tick(farm, seq, entry.on)
    _from_fridge(farm, fact, entry, head)


def _open_heads(farm: Farm, product: str) -> int:
    return sum(u.head for u in farm.unnamed if u.kind == "dose" and u.what == product)


def _from_fridge(farm: Farm, fact: Fact, entry: e.Dose, head: int) -> None:
    """A product and an item of one name share their stock: what was given is no longer there."""
    item, each = farm.plan.item_named(entry.product), farm.plan.takes(entry.product, entry.amount, entry.unit)
    if item and each is not None and head > 0 and item.name in farm.stock:
        _stock(
            farm, fact, item.name, entry.on, "used", each * head, item.unit, how="dosed", group=entry.group
        )  # fmt: skip


def _stage(farm: Farm, fact: Fact, entry: e.Stage) -> None:
    bottle = farm.keeping("bottle lambs")
    for animal in _subject(farm, entry):
        if (entry.stage, entry.on) not in animal.stages:  # colostrum told afterwards is no second time
            animal = replace(animal, stages=(*animal.stages, (entry.stage, entry.on)))
        if entry.colostrum is not None:
            animal = replace(animal, colostrum=entry.colostrum)
        if entry.stage == "pulled" and len(bottle) == 1 and animal.group != bottle[0]:
            animal = replace(_fed(farm, fact, animal), group=bottle[0], since=entry.on)
        if entry.stage == "castrated":
            animal = replace(animal, sex="wether")
        _put(farm, animal)
    if entry.group and entry.head is None:
        _add(farm.group_stages, entry.group, (entry.stage, entry.on))
    if entry.stage == "pulled" and entry.head and len(bottle) == 1:
        _pulled_heads(farm, fact, entry, bottle[0], entry.head)
    for group in bottle if entry.stage == "pulled" else ():
        _log_feeding(farm, group, fact)


def _pulled_heads(farm: Farm, fact: Fact, entry: e.Stage, bottle: str, head: int) -> None:
    """Lambs pulled by head: the youngest without tags, of the group where it was named; else as a move by head."""
    loose = [x for x in farm.untagged if x.group != bottle and entry.group in (None, x.group)]
    pulled = sorted(loose, key=lambda x: x.born)[-head:]
    if len(pulled) == head:
        farm.untagged = tuple(replace(x, group=bottle) if any(x is y for y in pulled) else x for x in farm.untagged)
        _more_heads(farm, bottle, head)
    elif entry.group and entry.group != bottle:
        _move(farm, fact, e.Move(on=entry.on, group=entry.group, head=head, to=bottle))


def _fed(farm: Farm, fact: Fact, animal: Animal) -> Animal:
    """An animal about to leave its group, with the medicated feed it ate there: that holds it like a dose."""
    for item in farm.plan.item if animal.group else ():
        if item.withdrawal_days is not None and animal.group:
            last = farm.had_feed(item, animal.group, fact.entry.on)
            if last and (animal.since is None or animal.since <= last):
                given = Given(last, item.name, item.withdrawal_days, fact.seq, fact.by, for_="feed")
                animal = replace(animal, doses=(*animal.doses, given))
    return animal


def _arrived(farm: Farm, fact: Fact, entry: e.Arrived) -> None:
    for tag in entry.tags:
        known = farm.animals.get(tag) or Animal(tag=tag)
        _put(farm, replace(
            known, status="here", gone=None, sex=entry.sex or known.sex, born=entry.born or known.born,
            group=entry.group or known.group, since=entry.on,
        ))  # fmt: skip
    if not entry.tags and entry.group and entry.head:
        _more_heads(farm, entry.group, entry.head)


def _move(farm: Farm, fact: Fact, entry: e.Move) -> None:
    moved = _subject(farm, entry)
    if entry.tags:
        _name(farm, "move", moved, entry.on)
    for animal in moved:
        _put(farm, replace(_fed(farm, fact, animal), group=entry.to, since=entry.on))
    if entry.group and not entry.tags:
        loose = farm.heads.get(entry.group, 0)
        head = loose if entry.head is None else entry.head
        if entry.head is not None and farm.tagged(entry.group):
            farm.unnamed += (Unnamed("move", entry.group, head, entry.on, fact.seq, entry.to),)
        elif head:
            _more_heads(farm, entry.group, -head)
        if head:
            _more_heads(farm, entry.to, head)
            _add(
                farm.group_doses, entry.to, *(replace(d, head=head) for d in farm.group_doses.get(entry.group, ()))
            )  # a hold goes with them


def _head_count(farm: Farm, fact: Fact, entry: e.HeadCount) -> None:
    if entry.group:
        _add(farm.counts, entry.group, (entry.on, entry.head))
        if not farm.tagged(entry.group):
            farm.heads[entry.group] = entry.head


def _loss(farm: Farm, fact: Fact, entry: e.Loss) -> None:
    for animal in _subject(farm, entry):
        farm.losses += ((entry.on, animal.group, 1),)
    if not entry.tags and entry.head is not None:
        farm.losses += ((entry.on, entry.group, entry.head),)
    _leave(farm, entry, "dead", fact)


def _cull(farm: Farm, fact: Fact, entry: e.Cull) -> None:
    for animal in _subject(farm, entry):
        _put(farm, replace(animal, culled=entry.on))


def _ship(farm: Farm, fact: Fact, entry: e.Ship) -> None:
    head = len(entry.tags) or entry.head or (farm.head(entry.group) if entry.group else 0)
    named = any(u.kind == "ship" and abs((entry.on - u.on).days) <= 1 for u in farm.unnamed) and bool(entry.tags)
    if not named:  # otherwise the tags of a load that was told by head before
        farm.shipments += (Shipment(entry.on, head, entry.tags, entry.group, entry.to, fact.seq),)
    _leave(farm, entry, "sold", fact)


def _sale(farm: Farm, fact: Fact, entry: e.Sale) -> None:
    if entry.what is not None:
        _sale_of_things(farm, fact, entry)
        return
    head = len(entry.tags) or entry.head or 0
    for load in reversed(farm.shipments):
        fits = set(entry.tags) <= set(load.tags) if entry.tags and load.tags else head <= load.head
        if load.sale is None and fits and 0 <= (entry.on - load.on).days <= SETTLES_DAYS:
            farm.shipments = tuple(replace(x, sale=entry) if x is load else x for x in farm.shipments)
            return
    farm.sales += (entry,)
    _leave(farm, entry, "sold", fact)


def _sale_of_things(farm: Farm, fact: Fact, entry: e.Sale) -> None:
    farm.sales += (entry,)
    if entry.what and entry.amount is not None and entry.unit:
        _stock(farm, fact, entry.what, entry.on, "sold", entry.amount, entry.unit)


# -- breeding


def _breeding(farm: Farm, fact: Fact, entry: Any) -> None:
    if entry.group:
        _add(farm.breeding, entry.group, entry)


# -- stores


def _counted_in(farm: Farm, name: str, unit: str | None) -> Item | None:
    """The item; one of which nobody has said what it is counted in is counted in what it is first told in."""
    item = farm.plan.item_named(name)
    if (
        item is None
        or unit in (None, "each", "head")
        or (farm.stock.get(name) and factor(unit, farm.plan.farm.country))
    ):
        return item
    if all("unit" in row for row in farm.plan_data["item"] if row["name"] == name):
        return item
    _replan(farm, changed(farm.plan_data, "item", name, {"unit": unit}))
    return farm.plan.item_named(name)


def _units(farm: Farm, item: Item | None, value: Decimal, unit: str) -> Decimal | None:
    """An amount in its item's unit; None where it cannot be turned into that."""
    with suppress(ValueError):
        return item.units(value, unit, farm.plan.farm.country) if item else None
    return None


def _stock(farm: Farm, fact: Fact, name: str, on: date, what: str, value: Decimal, unit: str, **more: Any) -> None:
    amount = _units(farm, _counted_in(farm, name, unit), value, unit)
    if amount is not None:
        _add(farm.stock, name, StockFact(fact.moment, on, what, amount, **more))


def _on_hand(farm: Farm, fact: Fact, entry: e.OnHand) -> None:
    _stock(farm, fact, entry.item, entry.on, "on_hand", entry.amount, entry.unit, rough=bool(entry.rough))


def _received(farm: Farm, fact: Fact, entry: e.Received) -> None:
    cost = entry.price if entry.price is not None else entry.price_each and entry.price_each * entry.amount
    _stock(
        farm, fact, entry.item, entry.on, "received", entry.amount, entry.unit, how=entry.how, who=entry.who, cost=cost,
        supplier=entry.supplier,
    )  # fmt: skip
    if entry.how is None:
        _fill(farm, entry)


def _fill(farm: Farm, entry: e.Received) -> None:
    """A delivery fills the oldest open order of its item; of at least half of it the rest is not waited for."""
    came = _units(farm, farm.plan.item_named(entry.item), entry.amount, entry.unit) or Decimal(0)
    for order in farm.orders:
        other = entry.supplier and order.supplier and entry.supplier != order.supplier
        if order.item != entry.item or other or came <= 0:
            continue
        taken = min(came, order.amount)
        came -= taken
        left = replace(order, amount=order.amount - taken)
        if taken * 2 >= order.amount:
            farm.orders = tuple(o for o in farm.orders if o is not order)
            farm.filled += (replace(order, came=entry.on),)
        else:
            farm.orders = tuple(left if o is order else o for o in farm.orders)


def _used(farm: Farm, fact: Fact, entry: e.Used) -> None:
    _stock(
        farm, fact, entry.item, entry.on, "used", entry.amount, entry.unit, how=entry.how, who=entry.who,
        group=entry.group,
    )  # fmt: skip


def _ordered(farm: Farm, fact: Fact, entry: e.Ordered) -> None:
    item = _counted_in(farm, entry.item, entry.unit)
    if item is None:
        return
    if entry.amount is None:  # the open order's new day
        old = next((o for o in reversed(farm.orders) if o.item == entry.item), None)
        farm.orders = tuple(replace(o, due=entry.due) if o is old else o for o in farm.orders)
        return
    amount = _units(farm, item, entry.amount, entry.unit or item.unit)
    if amount is not None:
        supplier = entry.supplier or item.supplier
        farm.orders += (Order(entry.item, amount, supplier, entry.due, fact.moment, entry.on, fact.seq),)


def _ration(farm: Farm, fact: Fact, entry: e.Ration) -> None:
    item = farm.plan.item_named(entry.item)
    amount = _units(farm, item, entry.amount, entry.unit)
    if item is None or amount is None:
        return
    _add(farm.rations, (entry.item, entry.group), (fact.moment, amount))
    if amount and farm.plan.group_named(entry.group) and all(feed.group != entry.group for feed in item.feeds):
        row = next(row for row in farm.plan_data["item"] if row["name"] == entry.item)
        feeds = [*row.get("feeds", ()), {"group": entry.group}]  # whom it is given to is one of its eaters from now on
        _replan(farm, changed(farm.plan_data, "item", entry.item, {"feeds": feeds}))


# -- bins


def _bin(farm: Farm, name: str | None, entry: e.BinLevel | e.BinMove | e.Load | e.Sale) -> None:
    if name and any(b.name == name for b in farm.plan.bin):
        kept = () if isinstance(entry, e.BinLevel) else farm.bins.get(name, ())
        farm.bins[name] = (*kept, entry)


def _bin_move(farm: Farm, fact: Fact, entry: e.BinMove) -> None:
    _bin(farm, entry.from_, entry)
    _bin(farm, entry.to, entry)


def _load(farm: Farm, fact: Fact, entry: e.Load) -> None:
    farm.loads += (entry,)
    _bin(farm, entry.to, entry)


# -- any


def _remind(farm: Farm, fact: Fact, entry: e.Remind) -> None:
    farm.reminders[fact.seq] = replace(entry, who=entry.who or fact.by)


def _done(farm: Farm, fact: Fact, entry: e.Done) -> None:
    """Of several jobs that the words fit, those that are due, else the next one; a repeated one comes round again."""
    farm.done += (entry,)
    said = (entry.text or "").lower()
    fits: dict[int, e.Remind] = {}
    for seq, job in farm.reminders.items():
        about = (entry.tag and entry.tag == job.tag) or (entry.group and entry.group == job.group)
        if (said and (said in job.text.lower() or job.text.lower() in said)) or (about and not said):
            fits[seq] = job
    if entry.job in farm.reminders:
        fits = {entry.job: farm.reminders[entry.job]}
    due = {seq: job for seq, job in fits.items() if job.due <= entry.on}
    for seq in due or [seq for _, seq in sorted((job.due, seq) for seq, job in fits.items())[:1]]:
        _tick(farm, seq, entry.on, stop=bool(entry.stop))


def _tick(farm: Farm, seq: int, on: date, *, stop: bool = False) -> None:
    """A job is done for this time, or for good."""
    job = farm.reminders[seq]
    then = None if stop else turn_after(job, max(on, job.due))
    if then is None:
        del farm.reminders[seq]
    else:
        monthly = (job.every or "").endswith("months")
        farm.reminders[seq] = replace(job, due=then, of_month=job.of_month or (job.due.day if monthly else None))


def _note(farm: Farm, fact: Fact, entry: e.Note) -> None:
    for tag in entry.tags:
        if animal := farm.animals.get(farm.now_tagged(tag)):
            _put(farm, replace(animal, notes=(*animal.notes, (entry.on, entry.text))))
    if entry.group:
        _add(farm.group_notes, entry.group, (entry.on, entry.text))


def _product(farm: Farm, fact: Fact, entry: e.Product) -> None:
    said = {k: v for k, v in (("withdrawal_days", entry.withdrawal_days), ("dose", entry.dose)) if v is not None}
    _replan(farm, changed(farm.plan_data, "product", entry.product, said))


def _plan_set(farm: Farm, fact: Fact, entry: e.PlanSet) -> None:
    if entry.table is None:
        _replan(farm, dict(entry.set))
    else:
        there = any(
            row.get("name") == entry.name for row in farm.plan_data.get(entry.table, ()) if isinstance(row, dict)
        )
        _replan(farm, changed(farm.plan_data, entry.table, entry.name, entry.set))
        new = entry.set.get("name")
        if there and entry.name and isinstance(new, str) and new != entry.name:
            _rename(farm, entry.table, entry.name, new)
    for group in farm.plan.group:
        told = entry.table is None or (entry.table == "group" and entry.name == group.name and "head" in entry.set)
        head = farm.heads.get(group.name, 0)
        if told and group.head is not None:
            _listed(farm, fact, group.name, group.head - head)
            farm.heads[group.name] = group.head
        else:
            _listed(farm, fact, group.name, 0)


def _rename(farm: Farm, table: str, old: str, new: str) -> None:
    """A row goes by another name: what the farm folder told under the old one follows here, what happens later by
    `now_named`."""
    for known, name in list(farm.renamed.items()):
        if known[0] == table and name == old:
            farm.renamed[known] = new
    farm.renamed[table, old] = new
    farm.renamed.pop((table, new), None)
    if table != "group":
        return
    for held in (farm.heads, farm.members, farm.feeding):
        if old in held:
            held[new] = held.pop(old)  # type: ignore[assignment]
    for tag, animal in farm.animals.items():
        if animal.group == old:
            farm.animals[tag] = replace(animal, group=new)


def _replan(farm: Farm, data: dict[str, Any]) -> None:
    farm.plan_data, farm.plan = data, plan_from(data)


_MOVING = (e.Tagged, e.Arrived, e.Move, e.HeadCount, e.Loss, e.Ship, e.Sale, e.Stage)

_APPLY: dict[type[e.Said], Apply] = {
    e.PlanSet: _plan_set,
    e.AnimalSet: _animal,
    e.Weight: _weight,
    e.Lambing: _lambing,
    e.Tagged: _tagged,
    e.Retagged: _retagged,
    e.Foster: _foster,
    e.Dose: _dose,
    e.Stage: _stage,
    e.Arrived: _arrived,
    e.Move: _move,
    e.HeadCount: _head_count,
    e.Loss: _loss,
    e.Cull: _cull,
    e.Ship: _ship,
    e.Sale: _sale,
    e.InsertsIn: _breeding,
    e.InsertsOut: _breeding,
    e.RamsIn: _breeding,
    e.RamsOut: _breeding,
    e.Marked: _breeding,
    e.Scanned: _breeding,
    e.OnHand: _on_hand,
    e.Received: _received,
    e.Used: _used,
    e.Ordered: _ordered,
    e.Ration: _ration,
    e.BinLevel: lambda farm, fact, entry: _bin(farm, entry.bin, entry),
    e.BinMove: _bin_move,
    e.Load: _load,
    e.Remind: _remind,
    e.Done: _done,
    e.Note: _note,
    e.Product: _product,
}


def _append(name: str) -> Apply:
    def apply_(farm: Farm, fact: Fact, entry: Any) -> None:
        setattr(farm, name, (*getattr(farm, name), entry))

    return apply_


def _set(name: str, key: Callable[[Fact, Any], Any], value: Callable[[Any], Any]) -> Apply:
    def apply_(farm: Farm, fact: Fact, entry: Any) -> None:
        getattr(farm, name)[key(fact, entry)] = value(entry)

    return apply_


_APPLY |= {
    e.GroupWeight: _append("group_weights"),
    e.MarketPrice: _append("prices"),
    e.Eggs: _append("eggs"),
    e.Fieldwork: _append("fieldwork"),
    e.Closed: _append("closures"),
    e.Open: _append("closures"),
    e.SaleDay: _set("sale_days", lambda fact, entry: entry.date, lambda entry: entry.held),
    e.Wave: _set("waves", lambda fact, entry: entry.key, lambda entry: entry),
}
