"""How a dose was given, and from which batch: kept where it is said, and never made of another word."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from bot.book import Book
from bot.conversation import understand
from bot.desk import open_desk
from bot.files import load_folder
from bot.reading import Ask, Record
from bot.words.kept import echo
from rules.entries import Dose
from rules.farm import Farm

FARM = Path(__file__).parent / "talks" / "farm"
SAID = datetime.fromisoformat("2026-08-10T07:00:00-05:00")


@pytest.fixture(scope="module")
def farm() -> Iterator[Farm]:
    with Book.open(None) as book:
        load_folder(book, FARM, datetime.fromisoformat("2026-08-01T00:00:00-05:00"))
        yield open_desk(book).farm


def doses(text: str, farm: Farm) -> list[Dose]:
    read = understand(text, SAID, farm)
    assert isinstance(read, Record), read
    return [x for x in read.entries if isinstance(x, Dose)]


@pytest.mark.parametrize(
    ("text", "route", "batch"),
    [
        ("gave 2401 5 ml oxy sub q", "under the skin", None),
        ("gave 2401 5ml oxy sc batch B123", "under the skin", "B123"),
        ("jabbed 2401 oxy under his skin lot 4471", "under the skin", "4471"),
        ("gave 2401 5 ml oxy im", "in the muscle", None),
        ("gave 2401 oxy into the muscle, batch AX-4471", "in the muscle", "AX-4471"),
        ("gave 2401 and 2402 cdt by mouth", "by mouth", None),
        ("cdt pour on for pen 1, done all, gave it today", "on the skin", None),
        ("im giving 2401 5 ml oxy", None, None),
        ("gave the lot 2401 2402 cdt", None, None),
    ],
)
def test_a_route_and_a_batch_are_kept_where_they_are_said(
    text: str, route: str | None, batch: str | None, farm: Farm
) -> None:
    assert [(x.route, x.batch) for x in doses(text, farm)] == [(route, batch)]


def test_each_dose_has_its_own_route(farm: Farm) -> None:
    assert [(x.tags, x.route) for x in doses("gave 2401 oxy sub q and 2402 cdt im", farm)] == [
        (("2401",), "under the skin"), (("2402",), "in the muscle"),
    ]  # fmt: skip


def test_it_is_said_back_and_read_again(farm: Farm) -> None:
    (dose,) = doses("gave 2401 5 ml oxy sub q batch B123 for foot rot", farm)
    said = echo(dose, farm, SAID.date())
    assert said == "gave 2401 oxytetracycline 5 mL under the skin, batch B123 for foot rot"
    assert doses(said, farm) == [dose]


def test_a_batch_that_may_be_an_animal_is_asked(farm: Farm) -> None:
    assert isinstance(understand("gave 2401 oxy lot 2403", SAID, farm), Ask)
