"""The book folded into a farm, and kept so: each new fact advances it, a late or withdrawn one refolds from a mark.

Facts are ordered by when they happened, then by when they were told. A refold starts at the nearest mark (a copy of
the farm as it stood) before the place that changed, so the cost of a reply does not grow with the book's length.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from rules import entries as e
from rules.advance import apply, now_named
from rules.farm import Fact, Farm, new_farm

# The plan and the animals of a farm folder stand outside time: they are folded before all that happened.
BEGINNING = datetime(1, 1, 1, tzinfo=UTC)
_EVERY = 32  # facts between marks
_MARKS = 24  # marks kept; the newest half close together, older ones thinned


class Fold:
    """The facts that stand, and the farm they make. `told` holds every entry ever told, by its number."""

    def __init__(self) -> None:
        self.told: dict[int, Fact] = {}
        self.withdrawn: dict[int, int] = {}  # what was taken back, by what
        self._takers: dict[int, tuple[int, ...]] = {}  # all that ever withdrew an entry, themselves withdrawn or not
        self.facts: list[Fact] = []
        self.farm: Farm = new_farm()
        self._marks: list[tuple[int, Farm]] = [(0, new_farm())]  # (facts folded, farm), oldest first

    def tell(self, facts: Iterable[Fact]) -> None:
        """Take in newly told facts, in the order of telling."""
        lowest = len(self.facts)
        for fact in facts:
            fact = self._placed(fact)
            self.told[fact.seq] = fact
            for seq in self._taken(fact):
                self._takers[seq] = (*self._takers.get(seq, ()), fact.seq)
            lowest = min(lowest, self._settle(self._taken(fact)))
            if not isinstance(fact.entry, e.Undo | e.Edited):
                place = bisect_left(self.facts, fact[:2], key=lambda f: f[:2])
                self.facts.insert(place, fact)
                lowest = min(lowest, place)
        self._refold(lowest)

    def _placed(self, fact: Fact) -> Fact:
        """A corrected entry stands at the moment of the one it replaces, unless it was moved to another day."""
        entry = fact.entry
        if isinstance(entry, e.Correct) and entry.instead is not None and entry.withdraws:
            old = self.told.get(entry.withdraws[0])
            if old is not None and standing(old.entry).on == standing(entry).on:
                return fact._replace(moment=old.moment)
        return fact

    def _settle(self, seqs: Iterable[int]) -> int:
        """Take these out of the order, or put them back, as something that withdraws them stands or not; and so on
        with what they had withdrawn themselves. The lowest place in the order that changed."""
        lowest, todo = len(self.facts), list(seqs)
        while todo:
            seq = todo.pop()
            fact, was = self.told[seq], seq in self.withdrawn
            by = next((taker for taker in self._takers[seq] if taker not in self.withdrawn), None)
            if by is None:
                self.withdrawn.pop(seq, None)
            else:
                self.withdrawn[seq] = by
            if was == (by is not None):
                continue
            todo += self._taken(fact)
            if not isinstance(fact.entry, e.Undo | e.Edited):
                place = bisect_left(self.facts, fact[:2], key=lambda f: f[:2])
                if by is None:
                    self.facts.insert(place, fact)
                else:
                    del self.facts[place]
                lowest = min(lowest, place)
        return lowest

    def _taken(self, fact: Fact) -> list[int]:
        """The earlier entries that an entry withdraws."""
        return [seq for seq in getattr(fact.entry, "withdraws", ()) if seq < fact.seq and seq in self.told]

    def _refold(self, lowest: int) -> None:
        """Fold the facts from that place on; marks that lie after it are void."""
        folded = self._folded
        if lowest < folded:
            while self._marks[-1][0] > lowest:
                self._marks.pop()
            folded, farm = self._marks[-1]
            self.farm = farm.copy()
        for fact in self.facts[folded:]:
            apply(self.farm, fact)
            folded += 1
            if folded - self._marks[-1][0] >= _EVERY:
                self._mark(folded)
        self._folded = folded

    _folded = 0

    def _mark(self, folded: int) -> None:
        self._marks.append((folded, self.farm.copy()))
        if len(self._marks) > _MARKS:
            half = _MARKS // 2
            self._marks = self._marks[:half:2] + self._marks[half:]


def stands(fold: Fold, seqs: Iterable[int]) -> tuple[int, ...]:
    """Those of these numbers that nothing has withdrawn."""
    return tuple(s for s in seqs if s in fold.told and s not in fold.withdrawn)


def standing(entry: e.Entry) -> e.Entry:
    """What an entry says of the farm: a correction says what it put in the place of another."""
    if isinstance(entry, e.Correct) and entry.instead is not None:
        return e.entry_from(entry.instead)
    return entry


def last_of(fold: Fold, want: Mapping[type[e.Said], str], name: str) -> Fact | None:
    """The last-told standing fact of these kinds whose field (the value) is `name`: what a correction means."""
    for seq in sorted(fold.told, reverse=True):
        entry = now_named(fold.farm, standing(fold.told[seq].entry))
        key = want.get(type(entry))
        if seq not in fold.withdrawn and key is not None and getattr(entry, key) == name:
            return fold.told[seq]._replace(entry=entry)
    return None
