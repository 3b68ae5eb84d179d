"""What is asked as a picture, to print or as a file: the words for it, and those that only speak of one."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from bot.book import Book
from bot.conversation import understand
from bot.desk import open_desk
from bot.files import load_folder
from bot.reading import Answer, Nothing
from rules.farm import Farm
from rules.records import as_data

FARM = Path(__file__).parent / "talks" / "farm"
SAID = datetime.fromisoformat("2026-08-11T07:10:00-05:00")


@pytest.fixture(scope="module")
def farm() -> Iterator[Farm]:
    with Book.open(None) as book:
        load_folder(book, FARM, datetime.fromisoformat("2026-08-01T00:00:00-05:00"))
        yield open_desk(book).farm


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("milk as a chart", "stock item=milk as=chart"),
        ("can you graph the milk for me", "stock item=milk as=chart"),
        ("when do we run out of milk, show me on a graph", "lasts item=milk as=chart"),
        ("feed chart", "stock as=chart"),
        ("2401 chart", "growth tag=2401 as=chart"),
        ("how is 2401 doing, as a picture", "animal tag=2401 as=chart"),
        ("pen 1 chart please", "growth group=pen 1 as=chart"),
        ("ready by week chart", "ready as=chart"),
        ("chart of freight per head", "ship_plan as=chart"),
        ("picture of the bins", "bins as=chart"),
        ("egg graph", "eggs as=chart"),
        ("lambing chart", "lambing_due as=chart"),
        ("print me the list to sort by", "ready as=sheet"),
        ("list of lambs to ship for printing", "ready as=sheet"),
        ("print the weigh list", "growth as=sheet"),
        ("weigh sheet for pen 1", "growth group=pen 1 as=sheet"),
        ("list of doses due, on paper", "due as=sheet"),
        ("print out the vaccine list", "due as=sheet"),
        ("print a feed list for the mill", "order supplier=Hollow Feed as=sheet"),
        ("print me one page on 2401", "animal tag=2401 as=sheet"),
        ("treatment record as a file", "withdrawal as=file"),
        ("send the drug records for the inspector as a file", "withdrawal as=file"),
        ("treatment records for pen 1 as a csv", "withdrawal group=pen 1 as=file"),
        ("download sales", "shipped as=file"),
        ("give me a csv of all the weights", "growth as=file"),
    ],
)
def test_what_is_asked_on_paper(text: str, asked: str, farm: Farm) -> None:
    read = understand(text, SAID, farm)
    assert isinstance(read, Answer), read
    question = as_data(read.question)
    assert " ".join([question.pop("about"), *(f"{k}={v}" for k, v in question.items())]) == asked


@pytest.mark.parametrize(
    "text",
    [
        "pic of the lambs racing",
        "sent the file to bob",
        "printed the list",
        "made a chart of the milk",
        "took a picture",
    ],
)
def test_who_only_speaks_of_one_asks_nothing(text: str, farm: Farm) -> None:
    assert isinstance(understand(text, SAID, farm), Nothing)
