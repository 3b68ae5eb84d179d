"""Help: every example is in the farm's own names, and is read on that farm as it stands."""

from datetime import datetime

import pytest
from test_reading import AT, FARM, farm_of

from bot.reading import Answer, Ask, Nothing, Record, read
from bot.when import local
from bot.words.examples import help_lines, help_screen, nearest
from rules.farm import Farm, new_farm

# Said to the bot, not read as facts: what they lean on is what was told before.
LEANING = ("make that 3", "what did I just say")
ROWS = (
    "weight", "stock", "dose", "move", "ship", "loss", "lambing", "eggs", "note", "cull", "rams", "bin_level",
    "fieldwork", "head_count", "sale", "stage", "foster",
)  # fmt: skip
FOLDERS = (FARM, "readings/rimu", "readings/brae", "../demo_farm")


def bare() -> Farm:
    """A farm of three lines: nothing on the plan but where it is."""
    return new_farm({"farm": {"name": "Bare Hill", "country": "GB", "timezone": "Europe/London", "weight": "kg"}})


def now(place: Farm) -> datetime:
    """A morning after all that the farm has been weighed."""
    days = [w.on for a in place.animals.values() for w in a.weighings[-1:]]
    at = local(datetime.fromisoformat(AT), place.plan.farm.timezone)
    return (
        at.replace(year=max(days).year, month=max(days).month, day=max(days).day)
        if days and max(days) > at.date()
        else at
    )


def farm(folder: str) -> Farm:
    return farm_of(folder) if folder else bare()


@pytest.mark.parametrize("folder", [*FOLDERS, ""])
def test_what_help_shows_is_understood(folder: str) -> None:
    """Each example records something, or is answered, when it is sent as it stands."""
    place = farm(folder)
    moment = now(place)
    for _, examples in help_lines(place):
        for example in examples:
            got = read(example, moment, place)
            assert example in LEANING or isinstance(got, Record | Answer), (example, got)


@pytest.mark.parametrize("folder", [*FOLDERS, ""])
def test_help_is_one_screen(folder: str) -> None:
    """A dozen short lines, whatever the farm is like."""
    text = help_screen(farm(folder))
    assert len(text.splitlines()) <= 12
    assert len(text) <= 900


@pytest.mark.parametrize("folder", FOLDERS)
@pytest.mark.parametrize("row", ROWS)
def test_the_nearest_example_is_understood(folder: str, row: str) -> None:
    """Whichever matter a message was near to, what is shown instead is read on this farm."""
    place = farm(folder)
    example = nearest([row], place, {})
    assert example is not None
    got = read(example, now(place), place)
    assert isinstance(got, Record), (example, got)


def test_the_example_is_of_what_was_said() -> None:
    """A message about hay gets an example of hay, one about an animal an example with that animal."""
    place = farm(FARM)
    moment = local(datetime.fromisoformat(AT), "America/Chicago")
    for text, name in (
        ("hay 40 whatsit by the thing", "hay"),
        ("2408 97 2409", "2408"),
        ("oxy 2405 2 2", "oxytetracycline"),
    ):
        got = read(text, moment, place)
        assert isinstance(got, Ask | Nothing)
        if isinstance(got, Ask) and "Tell me like" in got.why:
            assert name in got.why.split("Tell me like")[1]
