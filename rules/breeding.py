"""When a group lambs: the window from the rams' days, inserts and scanning, and about how many lambs it brings.

What-ifs and the loads months on are in `rules.mating`. A group's first due date is what dose plans, kits and feed ahead
of lambing count from.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from rules import entries as e
from rules.days import Moment
from rules.farm import Farm
from rules.findings import LambingDue

GESTATION, LONGEST = 147, 152  # days; New Mexico State Univ., Reproduction in Sheep: about 147, 144 to 152
EARLIEST = 144
CYCLE = 17  # days, same source: ewes not in lamb come back after it
UNTOLD_OUT = 2 * CYCLE  # rams nobody has told are out are taken to stay two cycles (common practice, no source)
HEAT = 2  # days from inserts out to heat: joined at 30 to 48 hours (Reid and Shannon 1987, NZ Soc. Animal Production)
SAME_MATING = 60  # rams told in again within so many days of the first belong to the same mating, unless long out
SOON_DAYS = 14  # said so long before the first due date (common practice, no source)
MOST = Decimal("0.8")  # of the ewes: then the group is lambing no longer, only its stragglers
OWN_LITTERS = 10  # lambings after which the farm's own litter size is worth saying


@dataclass(frozen=True, slots=True)
class Mating:
    """One joining of a group: first day of the rams (None: only inserts told), last day, and what was told of it."""

    rams: date | None
    out: date | None = None
    inserts: date | None = None  # the day they came out
    synced: bool = False
    head: int | None = None
    marked: tuple[e.Marked, ...] = ()
    scan: e.Scanned | None = None

    @property
    def start(self) -> date:
        """The first day on which ewes can have held."""
        return self.rams or (self.inserts or date.min) + timedelta(HEAT - 1)


def last_mating(farm: Farm, group: str) -> Mating | None:
    """The last joining of a group, or None. Rams in and out again within one cycle's rest are one joining."""
    mating: Mating | None = None
    for entry in farm.breeding.get(group, ()):
        if isinstance(entry, e.RamsIn):
            same = mating and (entry.on - mating.start).days <= SAME_MATING and (
                mating.out is None or (entry.on - mating.out).days <= CYCLE
            )  # fmt: skip
            base = mating if mating and same else Mating(None)
            mating = replace(
                base, rams=base.rams or entry.on, out=None, head=base.head or entry.head,
                synced=base.synced or bool(entry.synced),
            )  # fmt: skip
        elif isinstance(entry, e.InsertsOut):
            fresh = mating is None or (entry.on - mating.start).days > SAME_MATING
            base = Mating(None) if fresh or mating is None else mating
            mating = replace(base, inserts=entry.on, synced=True, head=base.head or entry.head)
        elif mating and isinstance(entry, e.RamsOut):
            mating = replace(mating, out=entry.on)
        elif mating and isinstance(entry, e.Marked):
            mating = replace(mating, marked=(*mating.marked, entry))
        elif mating and isinstance(entry, e.Scanned):
            mating = replace(mating, scan=entry)
    return mating


def first_due(farm: Farm, group: str) -> date | None:
    """The first day on which a group is due: its rams' first day and 147 days. None: no rams told, or none in lamb.

    Check: rams in on 10 October 2014, lambing from 6 March 2015 (Teagasc Athenry, Irish Farmers Journal, 2014).
    """
    mating = last_mating(farm, group)
    if mating is None or (mating.scan and mating.scan.in_lamb == 0):
        return None
    return mating.start + timedelta(GESTATION)


def lambing_due(farm: Farm, moment: Moment) -> list[LambingDue]:
    """When each group lambs: first day, the day around which most do, and the last.

    Why: pens, colostrum, boosters and watch at night are wanted from the first day on. From rams in to rams out, with
    gestation 147 days (144 to 152) and a cycle of 17 (sources: at the numbers above). Most ewes take in the first
    cycle (85 % lambed within 17 days, Teagasc Athenry 2014), so the middle is half a cycle after the start; with
    inserts it is the first days; with ram marks it is the middle of those. `soon` in the two weeks before, `know`
    earlier and while it goes on; gone once four in five have lambed or the window is past.
    """
    found = []
    for group in farm.plan.group:
        mating, from_ = last_mating(farm, group.name), first_due(farm, group.name)
        if mating is None or from_ is None:
            continue
        end = _end(mating)
        head = in_lamb(farm, group.name, mating)
        since = from_ - timedelta(GESTATION - EARLIEST)
        lambed = sum(1 for where, said in farm.lambings if where == group.name and said.on >= since)
        if moment.today > end or (head and lambed >= MOST * head):
            continue
        ahead = (from_ - moment.today).days
        found.append(LambingDue(
            level="act" if ahead == 1 else "soon" if 0 <= ahead <= SOON_DAYS else "know", due=from_, group=group.name,
            from_=from_, peak=min(_peak(mating), end), to=end, head=head, lambs=_lambs(farm, mating),
        ))  # fmt: skip
    return sorted(found, key=lambda x: (x.from_, x.group))


def _end(mating: Mating) -> date:
    """The last day to be expected; inserts without rams told out: only the heat they made, no returns."""
    if mating.out:
        return max(mating.out, mating.start) + timedelta(LONGEST)
    return mating.start + timedelta((HEAT if mating.synced else UNTOLD_OUT) + LONGEST)


def _peak(mating: Mating) -> date:
    heads = sum(x.head for x in mating.marked)
    if heads:
        seen = 0
        for said in sorted(mating.marked, key=lambda x: x.on):
            seen += said.head
            if 2 * seen >= heads:
                return said.on + timedelta(GESTATION)
    stay = (mating.out - mating.start).days if mating.out else UNTOLD_OUT
    half = 1 if mating.synced else min(CYCLE, stay) // 2
    return mating.start + timedelta(GESTATION + half)


def in_lamb(farm: Farm, group: str, mating: Mating) -> int | None:
    """Ewes in lamb: as scanned, else those told with the rams, else the grown heads of the group."""
    scan = mating.scan
    if scan and scan.in_lamb is not None:
        return scan.in_lamb
    litters = _litters(scan)
    return sum(head for head, _ in litters) or mating.head or farm.eating(group, mating.start) or None


def _litters(scan: e.Scanned | None) -> Sequence[tuple[int, int]]:
    """(ewes, lambs each) as scanned."""
    if scan is None:
        return ()
    said = ((scan.singles, 1), (scan.twins, 2), (scan.triplets, 3))
    return tuple((head, lambs) for head, lambs in said if head is not None)


def lambs_scanned(mating: Mating) -> Decimal | None:
    """Lambs to expect as scanned; None: not scanned by litters."""
    litters = _litters(mating.scan)
    return Decimal(sum(head * lambs for head, lambs in litters)) if litters else None


def _lambs(farm: Farm, mating: Mating) -> Decimal | None:
    """Lambs to expect: as scanned, else ewes in lamb at the farm's own litter size; None where neither is known."""
    if (scanned := lambs_scanned(mating)) is not None:
        return scanned
    born = [len(said.born) for _, said in farm.lambings if said.born]
    if mating.scan and mating.scan.in_lamb and len(born) >= OWN_LITTERS:
        return Decimal(round(mating.scan.in_lamb * sum(born) / len(born)))
    return None
