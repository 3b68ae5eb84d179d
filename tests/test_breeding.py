"""Lambing dates from the rams' days, against dates that others have printed."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from barn import animal, at, barn

from rules import entries as e
from rules.breeding import first_due, lambing_due

PLAN = {"group": [{"name": "ewes", "keeps": "ewes"}, {"name": "late", "keeps": "ewes", "head": 40}]}
EWES = tuple(animal(str(n), "ewes", date(2022, 3, 1), sex="ewe") for n in range(101, 111))
RAMS = date(2026, 10, 10)


def due(farm, on):
    return lambing_due(farm, at(on))


def test_first_due_date_is_147_days_after_the_rams():
    """Teagasc Athenry, Irish Farmers Journal, 2014: rams in on 10 October 2014, lambing from 6 March 2015."""
    farm = barn(PLAN, e.RamsIn(on=date(2014, 10, 10), group="ewes"))
    assert first_due(farm, "ewes") == date(2015, 3, 6)
    assert first_due(farm, "late") is None


def test_the_window_runs_from_the_first_ram_day_to_the_longest_gestation_after_the_last():
    """New Mexico State Univ., Reproduction in Sheep: 144 to 152 days. 30 November and 152 days is 1 May."""
    farm = barn(PLAN, *EWES, e.RamsIn(on=RAMS, group="ewes"), e.RamsOut(on=date(2026, 11, 30), group="ewes"))
    (found,) = due(farm, date(2026, 12, 1))
    assert (found.from_, found.to) == (date(2027, 3, 6), date(2027, 5, 1))
    # 85 % lambed within 17 days of the first (Teagasc Athenry 2014): the middle is in there
    assert timedelta(0) < found.peak - found.from_ < timedelta(17)
    assert found.head == 10


def test_inserts_make_the_window_tight():
    synced = barn(PLAN, *EWES, e.InsertsOut(on=RAMS - timedelta(2), group="ewes"), e.RamsIn(on=RAMS, group="ewes"))
    loose = barn(PLAN, *EWES, e.RamsIn(on=RAMS, group="ewes"))
    (tight,), (wide,) = due(synced, RAMS), due(loose, RAMS)
    assert tight.from_ == wide.from_
    assert tight.to - tight.from_ < timedelta(10) < timedelta(30) < wide.to - wide.from_
    assert tight.peak - tight.from_ <= timedelta(2)


def test_inserts_alone_give_a_date():
    """Artificial insemination: no ram is told; heat comes within two days of the inserts' end."""
    farm = barn(PLAN, *EWES, e.InsertsOut(on=RAMS, group="ewes", head=10))
    assert timedelta(147) <= first_due(farm, "ewes") - RAMS <= timedelta(149)


def test_a_second_ram_told_later_moves_nothing_but_another_season_does():
    one = (e.RamsIn(on=RAMS, group="ewes"), e.RamsIn(on=RAMS + timedelta(17), group="ewes"))
    assert first_due(barn(PLAN, *one), "ewes") == RAMS + timedelta(147)
    out = e.RamsOut(on=RAMS + timedelta(40), group="ewes")
    again = e.RamsIn(on=RAMS + timedelta(240), group="ewes")
    assert first_due(barn(PLAN, *one, out, again), "ewes") == RAMS + timedelta(387)


def test_ram_marks_tell_where_the_middle_is():
    """Irish Independent, 2017: 26 ewes marked a day for 3 days, 24 for 4, 23 for 3: 243 in ten, half by the 5th."""
    days = [26] * 3 + [24] * 4 + [23] * 3
    marks = [e.Marked(on=RAMS + timedelta(n), group="late", head=head) for n, head in enumerate(days)]
    (found,) = due(barn(PLAN, e.RamsIn(on=RAMS, group="late"), *marks), RAMS + timedelta(20))
    assert found.peak == RAMS + timedelta(4 + 147)


def test_rams_changed_over_are_one_mating():
    """Out on Friday, the other ram in on Monday: the first due date stays, the last counts from the second ram."""
    days = ((e.RamsIn, 0), (e.RamsOut, 20), (e.RamsIn, 23), (e.RamsOut, 40))
    swap = [kind(on=RAMS + timedelta(n), group="ewes") for kind, n in days]
    (found,) = due(barn(PLAN, *EWES, *swap), RAMS + timedelta(41))
    assert (found.from_, found.to) == (RAMS + timedelta(147), RAMS + timedelta(192))


@pytest.mark.parametrize(
    ("scan", "head", "lambs"),
    [
        # Mead, Curnow, Hasted 2002, p. 359: 231 singles, 483 twins, 48 three or more: at least 1,341 lambs of 762 ewes
        ({"singles": 231, "twins": 483, "triplets": 48, "empty": 78}, 762, 1341),
        ({"in_lamb": 36, "empty": 4}, 36, None),
    ],
)
def test_lambs_to_expect_by_scanning(scan, head, lambs):
    farm = barn(PLAN, e.RamsIn(on=RAMS, group="late"), e.Scanned(on=RAMS + timedelta(80), group="late", **scan))
    (found,) = due(farm, RAMS + timedelta(90))
    assert (found.head, found.lambs) == (head, lambs and Decimal(lambs))


def test_the_farms_own_litters_stand_in_where_scanning_did_not_count_them():
    """Ten earlier lambings with 15 lambs: 36 ewes in lamb bring 54."""
    born = [e.Lambing(on=date(2026, 3, 1), dam=str(101 + n), born=(e.Born(),) * (1 + n % 2)) for n in range(10)]
    farm = barn(PLAN, *EWES, *born, e.RamsIn(on=RAMS, group="late"),
                e.Scanned(on=RAMS + timedelta(80), group="late", in_lamb=36))  # fmt: skip
    assert [x.lambs for x in due(farm, RAMS + timedelta(90))] == [Decimal(54)]


@pytest.mark.parametrize(
    ("days_before", "level"),
    [(60, "know"), (15, "know"), (14, "soon"), (2, "soon"), (1, "act"), (0, "soon"), (-5, "know")],
)
def test_it_is_said_in_the_two_weeks_before(days_before, level):
    farm = barn(PLAN, *EWES, e.RamsIn(on=RAMS, group="ewes"))
    (found,) = due(farm, date(2027, 3, 6) - timedelta(days_before))
    assert found.level == level


def test_it_is_gone_once_most_have_lambed_or_the_window_is_past():
    rams = (*EWES, e.RamsIn(on=RAMS, group="ewes"), e.RamsOut(on=RAMS + timedelta(34), group="ewes"))
    born = [e.Lambing(on=date(2027, 3, 8), dam=str(tag), born=(e.Born(),)) for tag in range(101, 109)]
    assert due(barn(PLAN, *rams, *born[:7]), date(2027, 3, 9))
    assert not due(barn(PLAN, *rams, *born), date(2027, 3, 9))
    last = RAMS + timedelta(34 + 152)
    assert due(barn(PLAN, *rams), last)
    assert not due(barn(PLAN, *rams), last + timedelta(1))


def test_a_group_scanned_empty_is_not_due():
    farm = barn(PLAN, e.RamsIn(on=RAMS, group="late"), e.Scanned(on=RAMS + timedelta(80), group="late", in_lamb=0))
    assert not due(farm, RAMS + timedelta(90))
