"""Deaths that come together are said; single ones are not (all thresholds: common practice, no source)."""

from datetime import date, timedelta

import pytest
from barn import animal, at, barn

from rules import entries as e
from rules.losses import losses

PLAN = {
    "group": [
        {"name": "pen", "keeps": "market lambs", "head": 20},
        {"name": "field", "keeps": "market lambs", "head": 100},
        {"name": "hill", "keeps": "ewes", "head": 400},
    ]
}
DAY = date(2026, 5, 10)


def died(group, *heads):
    """(days ago, head) of deaths in a group."""
    return [e.Loss(on=DAY - timedelta(ago), group=group, head=head) for ago, head in sorted(heads, reverse=True)]


@pytest.mark.parametrize(
    ("group", "deaths", "said"),
    [
        ("pen", [(0, 1)], None),
        ("pen", [(0, 2)], (2, 1)),
        ("pen", [(0, 1), (2, 1)], (2, 3)),
        ("pen", [(0, 1), (3, 1)], None),  # two, but not close together
        ("pen", [(0, 1), (3, 1), (6, 1)], (3, 7)),
        ("pen", [(0, 1), (3, 1), (7, 1)], None),  # the third is a week ago
        ("field", [(0, 2)], None),  # two of a hundred
        ("field", [(0, 2), (4, 1)], (3, 5)),
        ("hill", [(0, 2), (4, 2)], None),  # four of 400 in a week
        ("hill", [(0, 5), (4, 3)], (8, 5)),
    ],
)
def test_several_deaths_close_together(group, deaths, said):
    found = losses(barn(PLAN, *died(group, *deaths)), at(DAY))
    assert [(x.group, x.head, x.days) for x in found] == ([(group, *said)] if said else [])


def test_it_is_urgent_while_it_is_fresh():
    farm = barn(PLAN, *died("pen", (0, 3)))
    levels = [[x.level for x in losses(farm, at(DAY + timedelta(n)))] for n in (0, 1, 2, 6, 7)]
    assert levels == [["act"], ["act"], ["know"], ["know"], []]


def test_deaths_of_different_pens_are_not_added_up():
    farm = barn(PLAN, *died("pen", (0, 1)), *died("field", (0, 2)))
    assert losses(farm, at(DAY)) == []


def test_deaths_told_by_tag_count_for_their_pen():
    farm = barn(PLAN, *(animal(str(n), "pen") for n in range(5)), e.Loss(on=DAY, tags=("1", "3")))
    assert [(x.group, x.head) for x in losses(farm, at(DAY))] == [("pen", 2)]
