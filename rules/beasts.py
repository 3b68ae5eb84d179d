"""The animals as a dose plan sees them: who is in its scope, with what each has had; of those without tags, by number.

When a step is due is in `rules.doses`.
"""

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from rules.breeding import first_due
from rules.farm import AT_FOOT_DAYS, Animal, Farm, Given, Lamb
from rules.plan import DosePlan, Group

DOSED_DAYS = 7  # a lamb younger than this is not yet meant by a dose told by head of its group
CARRIED_DAYS = 150  # before birth: a dose of hers in them is one while she carried the lamb
YOUNG_DAYS = 240  # an animal born into a ewe group is a ewe of it from this age on (common practice, no source)
FIRST_LAMBING_DAYS = 915  # a ewe older than two and a half years has lambed before, told or not


@dataclass(frozen=True, slots=True)
class Beast:
    """An animal, or so many head without tags, as a dose plan sees it. `vague`: products given by head to its
    group, so that it is not known who had them."""

    tag: str | None
    head: int
    group: str
    keeps: str
    at_foot: bool
    due: date | None  # the group's first due date
    born: date | None
    stages: tuple[tuple[str, date], ...]
    doses: tuple[Given, ...]
    since: date | None = None
    sex: str | None = None
    lambed: tuple[tuple[date, int], ...] = ()
    weighed: tuple[date, Decimal] | None = None  # the last time, in the farm's unit
    dam: str | None = None
    vague: tuple[str, ...] = ()


def in_scope(farm: Farm, plan: DosePlan, today: date, kept: dict[tuple[str, bool], list[Beast]]) -> Iterator[Beast]:
    """The animals a plan is for; `kept` holds each group's, at foot and not, once worked out."""
    at_foot = plan.for_ == "lambs at foot"
    dams = {a.dam for a in farm.animals.values()} if plan.first_time else set()
    of_dosed = _of_dosed_dams(farm, plan) if plan.dam else set()
    for group in farm.plan.group:
        if group.keeps == ("ewes" if at_foot else plan.for_):
            if (group.name, at_foot) not in kept:
                kept[group.name, at_foot] = list(_beasts(farm, group, at_foot, today))
            for beast in kept[group.name, at_foot]:
                if plan.dam and ((beast.dam, beast.born) in of_dosed) is not (plan.dam == "dosed"):
                    continue
                if not plan.first_time or _first_time(beast, dams, today):
                    yield beast


def _of_dosed_dams(farm: Farm, plan: DosePlan) -> set[tuple[str | None, date | None]]:
    """(dam, birthday) of the lambs whose dam had the plan's product while she carried them."""
    product = plan.steps[0].product if plan.steps else ""
    births = {(a.dam, a.born) for a in farm.animals.values()} | {(x.dam, x.born) for x in farm.untagged}
    return {
        (tag, born) for tag, born in births
        if tag and born and (dam := farm.animals.get(farm.now_tagged(tag)))
        and any(d.product == product and 0 <= (born - d.on).days <= CARRIED_DAYS and not d.unnamed for d in dam.doses)
    }  # fmt: skip


def _beasts(farm: Farm, group: Group, at_foot: bool, today: date) -> Iterator[Beast]:
    """A group's lambs at foot, or all the others: those with tags, then what is known only by number."""
    due, ewes = first_due(farm, group.name), group.keeps == "ewes"
    tagged = [
        Beast(
            a.tag, 1, group.name, group.keeps, at_foot, due, a.born, a.stages, a.doses, a.since, a.sex, a.lambed,
            (a.weighings[-1].on, a.weighings[-1].weight) if a.weighings else None, a.dam,
        )
        for a in farm.in_group(group.name)
        if not ewes or (farm.at_foot(a, today) if at_foot else _ewe(farm, a, today))
    ]  # fmt: skip
    loose = _loose(farm, group.name, today)
    of_lambs = of_the_lambs(farm, group.name, today) if ewes else []
    if ewes and not at_foot:
        theirs = {d.seq for d in of_lambs}
        tagged = [replace(b, doses=tuple(d for d in b.doses if d.seq not in theirs)) for b in tagged]
    yield from _settled(farm, group.name, tagged)
    # what was told of a whole group was told of its head without tags
    stages = farm.group_stages.get(group.name, ())
    doses = tuple(d for d in farm.group_doses.get(group.name, ()) if not d.unnamed)
    if at_foot or not ewes:
        for (born, dam, had), count in _dosed(loose, sorted((*doses, *of_lambs), key=lambda d: (d.on, d.seq))).items():
            beast = Beast(None, count, group.name, group.keeps, at_foot, due, born, stages, had)
            yield replace(beast, dam=dam)
    head = farm.heads.get(group.name, 0) - (0 if ewes else len(loose))
    if head > 0 and not at_foot:
        yield from _split(Beast(None, head, group.name, group.keeps, at_foot, due, None, stages, doses))


def _loose(farm: Farm, group: str, today: date) -> list[Lamb]:
    """The lambs without tags of a group that are not weaned."""
    return [x for x in farm.untagged if x.group == group and not _past(farm, x, today)]


def of_the_lambs(farm: Farm, group: str, today: date) -> list[Given]:
    """Doses told by head of tagged ewes that were their lambs', which have no tags yet: of a product that the plan
    gives lambs at foot, to no more than there are of an age for it."""
    loose = _loose(farm, group, today)
    products = (
        {s.product for p in farm.plan.dose_plan if p.for_ == "lambs at foot" for s in p.steps} if loose else set()
    )
    return [
        d for d in farm.group_doses.get(group, ())
        if d.unnamed and d.head is not None and d.product in products
        and (d.head <= sum((d.on - x.born).days >= DOSED_DAYS for x in loose) or d.head > len(farm.in_group(group)))
    ]  # fmt: skip


def _dosed(
    lambs: Sequence[Lamb], doses: Sequence[Given]
) -> dict[tuple[date, str | None, tuple[Given, ...]], int]:  # fmt: skip
    """How many lambs without tags have one birthday, dam and doses. Of a dose told by head those had it that had the
    fewest of its product before, the oldest first."""
    had: list[tuple[Given, ...]] = [() for _ in lambs]
    for d in doses:
        there = [n for n, x in enumerate(lambs) if x.born <= d.on]
        if d.head is not None:
            there.sort(key=lambda n: (sum(g.product == d.product for g in had[n]), lambs[n].born, n))
        for n in there[: d.head]:
            had[n] += (d,)
    found: dict[tuple[date, str | None, tuple[Given, ...]], int] = {}
    for lamb, doses_ in zip(lambs, had, strict=True):
        key = lamb.born, lamb.dam, doses_
        found[key] = found.get(key, 0) + 1
    return dict(sorted(found.items(), key=lambda x: (x[0][0], x[0][1] or "")))


def _split(beast: Beast) -> Iterator[Beast]:
    """Head without tags of which only some were dosed: those who were, and those who were not."""
    rest, doses = beast.head, beast.doses
    for given in (d for d in doses if d.head is not None and d.head < beast.head):
        doses = tuple(d for d in doses if d is not given)
        dosed = min(rest, given.head or 0)
        if dosed:
            yield replace(beast, head=dosed, doses=(*doses, given))
        rest -= dosed
    if rest:
        yield replace(beast, head=rest, doses=doses)


def _ewe(farm: Farm, a: Animal, today: date) -> bool:
    age = a.age(today)
    grown = age is None or age >= YOUNG_DAYS or (a.since is not None and age > AT_FOOT_DAYS)
    return grown and a.sex not in ("ram", "wether") and not farm.at_foot(a, today)


def _first_time(ewe: Beast, dams: Container[str | None], today: date) -> bool:
    """A ewe young enough to lamb for the first time, of which no lamb is in the book."""
    young = ewe.born is not None and (today - ewe.born).days <= FIRST_LAMBING_DAYS
    return young and not ewe.lambed and ewe.tag not in dams


def _past(farm: Farm, lamb: Lamb, today: date) -> bool:
    """Whether a lamb without a tag was weaned with its group, or is too old to be at foot."""
    weaned = any(name == "weaned" and on >= lamb.born for name, on in farm.group_stages.get(lamb.group or "", ()))
    return weaned or (today - lamb.born).days > AT_FOOT_DAYS


def _settled(farm: Farm, group: str, beasts: list[Beast]) -> Iterator[Beast]:
    """Of a dose told by head the oldest are taken to have had it, so that the count is right; no tags are said then."""
    for told in (u for u in farm.unnamed if u.kind == "dose" and u.group == group):
        left = told.head
        for n in sorted(range(len(beasts)), key=lambda n: (beasts[n].born or date.max, beasts[n].tag or "")):
            same = [d for d in beasts[n].doses if d.product == told.what and abs((d.on - told.on).days) <= 1]
            if not any(d.seq == told.seq for d in same) or not all(d.unnamed for d in same):
                continue  # not in the group that day, or named since
            doses = beasts[n].doses if left > 0 else tuple(d for d in beasts[n].doses if d.seq != told.seq)
            beasts[n] = replace(beasts[n], doses=doses, vague=(*beasts[n].vague, told.what or ""))
            left -= 1
    yield from beasts
