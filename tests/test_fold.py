"""The farm that is advanced with each entry is the farm folded from scratch, whatever is told late, undone, edited."""

from collections.abc import Iterator
from dataclasses import fields
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any, get_args, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules import entries as e
from rules import fold as fold_module
from rules.advance import apply
from rules.farm import Fact, Farm, new_farm
from rules.fold import BEGINNING, Fold, last_of, standing, stands

PLAN = {
    "farm": {"name": "Sallow Hill", "country": "IE", "timezone": "Europe/Dublin", "weight": "kg"},
    "group": [
        {"name": "ewes", "keeps": "ewes"},
        {"name": "pen", "keeps": "market lambs"},
        {"name": "bottles", "keeps": "bottle lambs"},
        {"name": "hens", "keeps": "hens", "head": 20},
    ],
    "item": [{"name": "milk", "unit": "bag", "holds": "10 kg"}, {"name": "hay", "unit": "bale"}],
    "bin": [{"name": "big bin", "crop": "barley", "capacity": "20 t"}],
}
TAGS = ("101", "102", "103", "7", "8", "9")
START = date(2026, 3, 1)
DAYS = st.integers(0, 20).map(lambda n: START + timedelta(n))

NAMES: dict[str, st.SearchStrategy[Any]] = {
    "tag": st.sampled_from(TAGS), "dam": st.sampled_from(TAGS),
    "group": st.sampled_from(("ewes", "pen", "bottles", "hens")),
    "tags": st.lists(st.sampled_from(TAGS), max_size=3, unique=True).map(lambda tags: tuple(sorted(tags))),
    "item": st.sampled_from(("milk", "hay", "no such item")), "what": st.sampled_from(("milk", "eggs")),
    "product": st.sampled_from(("drench", "booster")), "unit": st.sampled_from(("bag", "kg", "bale")),
    "stage": st.sampled_from(("pulled", "weaned", "castrated")), "how": st.sampled_from(("borrowed", "spoiled")),
    "bin": st.just("big bin"), "status": st.sampled_from(("here", "sold", "dead")), "time": st.just("07:00"),
    "text": st.sampled_from(("mend the gate", "ring the vet")), "hours": st.just("08:00-12:00"),
}  # fmt: skip
SCALE = st.sampled_from(("kg", "lb"))
BORN = st.builds(
    e.Born, sex=st.sampled_from(("ewe", "ram", None)), weight=st.none(), tag=st.sampled_from((None, "7", "8", "9")),
    alive=st.sampled_from((None, False)),
)  # fmt: skip
GROUP_ROW = st.fixed_dictionaries(
    {"keeps": st.just("market lambs")}, optional={"head": st.integers(0, 9), "name": st.just("top pen")}
)
OF_KIND: dict[type[e.Said], dict[str, st.SearchStrategy[Any]]] = {
    e.Weight: {"unit": SCALE},
    e.GroupWeight: {"unit": SCALE},
    e.Lambing: {"born": st.lists(BORN, max_size=2).map(tuple)},
    e.Move: {"to": NAMES["group"]},
    e.Retagged: {"to": NAMES["tag"]},
    e.BinMove: {"from_": st.just("big bin"), "to": st.none()},
    e.Load: {"to": st.just("big bin")},
    e.RamsIn: {"rams": NAMES["tags"]},
    e.PlanSet: {"table": st.just("group"), "name": st.sampled_from(("pen", "hens", "new pen")), "set": GROUP_ROW},
}
WITHDRAWING = (e.Undo, e.Edited, e.Correct)


def _value(kind: type[e.Said], name: str, hint: Any) -> st.SearchStrategy[Any]:
    """A value of one field: by kind, else by name, else by type; what need not be said often is not."""
    kinds = get_args(hint) or (hint,)
    plain = next(k for k in kinds if k is not type(None))
    typed = {int: st.integers(1, 9), Decimal: st.decimals("0.5", "60", places=1), date: DAYS, bool: st.booleans()}
    known = {**NAMES, **OF_KIND.get(kind, {})}
    value = known[name] if name in known else typed.get(plain, st.just("x"))
    return value | st.none() if type(None) in kinds and name not in OF_KIND.get(kind, {}) else value


def _kind(kind: type[e.Said]) -> st.SearchStrategy[e.Entry]:
    hints = get_type_hints(kind)
    return st.builds(kind, **{f.name: _value(kind, f.name, hints[f.name]) for f in fields(kind)})


ENTRIES = st.one_of([_kind(kind) for kind in e.KINDS.values() if kind not in WITHDRAWING])


@st.composite
def talks(draw: st.DrawFn, messages: int = 12) -> list[list[Fact]]:
    """Facts as they are told, message by message; some take back anything told before, themselves included."""
    plan = Fact(BEGINNING, 1, "plan", e.PlanSet(on=START, set=PLAN))
    flock = [
        Fact(BEGINNING, n, "plan", e.AnimalSet(on=START, tag=tag, group="ewes" if len(tag) == 3 else "pen"))
        for n, tag in enumerate(TAGS[:5], 2)
    ]
    told, talk = [plan, *flock], [[plan, *flock]]
    for n in range(draw(st.integers(1, messages))):
        said = datetime.combine(START + timedelta(n + 1), time(8), UTC)
        taking_back = st.tuples(_withdrawal(told, said.date()))
        message = draw(taking_back if draw(st.booleans()) else st.lists(ENTRIES, min_size=1, max_size=4))
        facts = [_fact(entry, len(told) + i, said) for i, entry in enumerate(message, 1)]
        told += facts
        talk.append(facts)
    return talk


def _fact(entry: e.Entry, seq: int, said: datetime) -> Fact:
    if isinstance(entry, e.PlanSet | e.AnimalSet):
        return Fact(BEGINNING, seq, "plan", entry)
    return Fact(said if entry.on == said.date() else datetime.combine(entry.on, time(20), UTC), seq, "owner", entry)


@st.composite
def _withdrawal(draw: st.DrawFn, told: list[Fact], today: date) -> e.Entry:
    seqs = tuple(sorted(draw(st.lists(st.integers(2, len(told)), min_size=1, max_size=3, unique=True))))
    if draw(st.booleans()):
        return draw(st.sampled_from((e.Undo, e.Edited)))(on=today, withdraws=seqs)
    old = standing(told[seqs[0] - 1].entry)
    day = old.on if draw(st.booleans()) else today
    instead = {"kind": "weight", "on": day.isoformat(), "tag": "7", "weight": Decimal("31.5"), "unit": "kg"}
    return e.Correct(on=day, withdraws=seqs[:1], instead=instead)


def scratch(told: list[Fact]) -> Farm:
    """The farm by the definition: an entry counts unless one that counts takes it back; in the order of happening; a
    correction at the moment of what it replaces, where it is of the same day."""
    back: set[int] = set()
    for fact in reversed(told):
        if fact.seq not in back:
            back |= {seq for seq in getattr(fact.entry, "withdraws", ()) if seq < fact.seq}
    moments: dict[int, datetime] = {}
    for fact in told:
        moments[fact.seq] = fact.moment
        if isinstance(fact.entry, e.Correct):
            old = fact.entry.withdraws[0]
            if standing(told[old - 1].entry).on == standing(fact.entry).on:
                moments[fact.seq] = moments[old]
    farm = new_farm()
    for fact in sorted(told, key=lambda fact: (moments[fact.seq], fact.seq)):
        if fact.seq not in back and not isinstance(fact.entry, e.Undo | e.Edited):
            apply(farm, fact._replace(moment=moments[fact.seq]))
    return farm


@pytest.fixture(autouse=True, scope="module")
def close_marks() -> Iterator[None]:
    """Marks every few facts and few of them, so that short talks refold from every kind of place."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fold_module, "_EVERY", 3)
        patch.setattr(fold_module, "_MARKS", 4)
        yield


@settings(max_examples=300, deadline=None)
@given(talks())
def test_advanced_as_from_scratch(talk: list[list[Fact]]) -> None:
    """After each message the advanced farm is the one folded from scratch."""
    fold, told = Fold(), list[Fact]()
    for message in talk:
        fold.tell(message)
        told += message
        assert fold.farm == scratch(told)


@settings(max_examples=120, deadline=None)
@given(talks())
def test_all_told_at_once_is_the_same_farm(talk: list[list[Fact]]) -> None:
    """A start folds the whole book at once and comes to the same farm and the same entries withdrawn."""
    slow, quick = Fold(), Fold()
    for message in talk:
        slow.tell(message)
    quick.tell(fact for message in talk for fact in message)
    assert quick.farm == slow.farm
    assert quick.withdrawn.keys() == slow.withdrawn.keys()


@settings(max_examples=120, deadline=None)
@given(talks())
def test_undo_leaves_the_farm_as_before(talk: list[list[Fact]]) -> None:
    """Undoing all of a message, whatever it told or took back itself, leaves the farm as it was."""
    *before, last = talk
    fold = Fold()
    for message in before:
        fold.tell(message)
    was = fold.farm.copy()
    fold.tell(last)
    undo = e.Undo(on=START, withdraws=tuple(fact.seq for fact in last))
    fold.tell([Fact(last[-1].moment, last[-1].seq + 1, "owner", undo)])
    assert fold.farm == was


def _told(*entries: e.Entry) -> Fold:
    fold = Fold()
    facts = [Fact(BEGINNING, 1, "plan", e.PlanSet(on=START, set=PLAN))]
    said = datetime.combine(START + timedelta(9), time(8), UTC)
    facts += [_fact(entry, seq, said) for seq, entry in enumerate(entries, 2)]
    for fact in facts:
        fold.tell([fact])
    return fold


def _lamb(tag: str = "7", group: str = "pen", born: date | None = None) -> e.AnimalSet:
    return e.AnimalSet(on=START + timedelta(9), tag=tag, group=group, born=born)


def _weighed(day: int, weight: str, tag: str = "7") -> e.Weight:
    return e.Weight(on=START + timedelta(day), tag=tag, weight=Decimal(weight), unit="kg")


def test_a_weight_told_late_stands_on_its_day() -> None:
    """Told on the tenth that it was weighed on the third: the weighings are in the order of the days."""
    fold = _told(_lamb(), _weighed(8, "30"), _weighed(2, "24.5"))
    assert [w.weight for w in fold.farm.animals["7"].weighings] == [Decimal("24.5"), Decimal(30)]


def test_a_count_told_late_does_not_hide_a_later_one() -> None:
    """A count of last week, told today, is no news of what is on hand."""
    count = e.OnHand(on=START + timedelta(8), item="milk", amount=Decimal(2), unit="bag")
    late = e.OnHand(on=START + timedelta(2), item="milk", amount=Decimal(9), unit="bag")
    fold = _told(count, late)
    assert [fact.amount for fact in fold.farm.stock["milk"]] == [Decimal(9), Decimal(2)]


def test_an_undone_undo_takes_nothing_back() -> None:
    """Undo, undo of the undo, and undo of that: gone, back, gone again."""
    weight = _weighed(1, "20")
    today = START + timedelta(9)
    stands_after = []
    entries: list[e.Entry] = [_lamb(), weight]
    for taken in (3, 4, 5):
        entries.append(e.Undo(on=today, withdraws=(taken,)))
        stands_after.append(stands(_told(*entries), [3]) == (3,))
    assert stands_after == [False, True, False]


def test_taken_back_twice_needs_both_undone() -> None:
    """An entry that two others took back stays away while one of them counts."""
    today = START + timedelta(9)
    entries = [_lamb(), _weighed(1, "20"), e.Undo(on=today, withdraws=(3,)), e.Edited(on=today, withdraws=(3,))]
    assert stands(_told(*entries, e.Undo(on=today, withdraws=(5,))), [3]) == ()
    assert stands(_told(*entries, e.Undo(on=today, withdraws=(4, 5))), [3]) == (3,)


def test_a_correction_stands_where_the_wrong_weight_stood() -> None:
    """The corrected weight takes the day and the place of the wrong one, and is what a further correction means."""
    wrong = _weighed(3, "42")
    right = {"kind": "weight", "on": wrong.on.isoformat(), "tag": "7", "weight": Decimal("24"), "unit": "kg"}
    fold = _told(_lamb(), wrong, _weighed(6, "26"), e.Correct(on=START + timedelta(9), withdraws=(3,), instead=right))
    assert [(w.on, w.weight) for w in fold.farm.animals["7"].weighings] == [
        (START + timedelta(3), Decimal(24)), (START + timedelta(6), Decimal(26)),
    ]  # fmt: skip
    last = last_of(fold, {e.Weight: "tag"}, "7")
    assert last is not None
    assert last.seq == 5


def test_a_tag_given_back_is_no_circle() -> None:
    """Retagged there and back again, the animal is found under the tag it has."""
    day = START + timedelta(2)
    fold = _told(_lamb(), e.Retagged(on=day, tag="7", to="77"), e.Retagged(on=day, tag="77", to="7"), _weighed(8, "30"))
    assert fold.farm.now_tagged("77") == "7"
    assert len(fold.farm.animals["7"].weighings) == 1


def test_lambs_at_foot_on_the_first_day_do_not_eat() -> None:
    """A folder that lists two ewes and a lamb born last week: two eat."""
    fold = _told(_lamb("101", "ewes"), _lamb("102", "ewes"), _lamb("7", "ewes", born=START))
    assert [heads for _, heads in fold.farm.feeding["ewes"]] == [2]
