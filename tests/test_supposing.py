"""What-ifs and reckonings in words: they ask, never record, and are not taken for something told."""

from datetime import date, datetime
from decimal import Decimal

import pytest

from bot.reading import Answer, Question, Record, read
from bot.when import local, month_ahead
from tests.test_reading import AT, FARM, farm_of


def asked(text):
    got = read(text, local(datetime.fromisoformat(AT), "America/Chicago"), farm_of(FARM))
    return got.question if isinstance(got, Answer) else got


@pytest.mark.parametrize(
    ("text", "about", "keys"),
    [
        ("what if I take only the ones over 112", "ship_plan", {"over": Decimal(112)}),
        ("if i only sell the lambs above 115", "ship_plan", {"over": Decimal(115)}),
        ("what if i go friday", "ship_plan", {"trip": date(2026, 8, 14)}),
        ("if we ship them on saturday?", "ship_plan", {"trip": date(2026, 8, 15)}),
        ("what if I wait a week", "ship_plan", {"wait": 7}),
        ("if i hold them another 2 weeks", "ship_plan", {"wait": 14}),
        ("what if I sync the ewes in march?", "mating", {"synced": True, "rams": date(2027, 3, 1), "group": "ewes"}),
        ("what if rams stay in 3 weeks instead of 6", "mating", {"stay": 21, "instead": 42}),
        ("what if the rams go in oct 10", "mating", {"rams": date(2026, 10, 10)}),
        ("how many lambs come ready each week", "coming", {}),
        ("how many fit in a 12 by 6 foot trailer", "room", {"space": Decimal("6.69")}),  # 72 square feet
        ("how many lambs will 4 m2 hold", "room", {"space": Decimal("4.00")}),
        ("adjusted weaning weights", "growth", {"adjusted": 0}),
        ("weights adjusted to 90 days", "growth", {"adjusted": 90}),
        ("gain by sex", "growth", {"split": "sex"}),
        ("which ewes rear the best gaining lambs", "growth", {"split": "dam"}),
        ("where can the corn go", "bins", {"crop": "corn", "goes": True}),
        ("what did back forty make", "loads", {"field": "back forty"}),
        ("yield by field", "loads", {"split": "field"}),
        ("feed per dozen", "eggs", {}),
        ("freight per head", "shipped", {}),
    ],
)
def test_asked(text, about, keys):
    got = asked(text)
    assert isinstance(got, Question), got
    assert got.about == about
    assert {k: getattr(got, k) for k in keys} == keys


@pytest.mark.parametrize(
    "text",
    [
        "if i get time ill weigh pen 1",
        "what if 2403 dies",
        "if it rains we wont go",
        "if the rams got out",
        "what if the coop is shut",
    ],
)
def test_supposing_records_nothing(text):
    got = read(text, local(datetime.fromisoformat(AT), "America/Chicago"), farm_of(FARM))
    assert not isinstance(got, Record), got


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("in march", date(2027, 3, 1)),
        ("in sept", date(2026, 9, 1)),
        ("from aug", date(2026, 8, 11)),
        ("in october 10", None),
        ("they march in", None),
    ],
)
def test_a_month_by_its_name(text, day):
    assert month_ahead(text, date(2026, 8, 11)) == day
