"""The phrase table's own examples: each is read by its row, and by no other kind."""

from datetime import datetime

import pytest

from bot.phrases import ROWS
from bot.phrases.row import Row
from bot.reading import Record, read
from bot.when import local
from tests.test_reading import AT, FARM, farm_of

# The rows' examples speak of the farm of the talks; a row may record entries of these kinds.
KINDS = {
    "weight": {"weight"}, "order_moved": {"ordered"}, "stock": {"on_hand", "received", "used", "ordered"},
    "tagged": {"tagged", "retagged"}, "inserts": {"inserts_in", "inserts_out"}, "rams": {"rams_in", "rams_out"},
    "sale": {"sale", "ship"},
}  # fmt: skip


@pytest.mark.parametrize(
    ("row", "example"), [(r, x) for r in ROWS for x in r.examples], ids=lambda v: v if isinstance(v, str) else v.name
)
def test_examples(row: Row, example: str) -> None:
    """An example of a row records what the row is for."""
    got = read(example, local(datetime.fromisoformat(AT), "America/Chicago"), farm_of(FARM))
    assert isinstance(got, Record), got
    assert {x.kind for x in got.entries} <= KINDS.get(row.name, {row.name})


@pytest.mark.parametrize(
    ("row", "miss"), [(r, x) for r in ROWS for x in r.misses], ids=lambda v: v if isinstance(v, str) else v.name
)
def test_near_misses(row: Row, miss: str) -> None:
    """What only looks like a row's message records nothing."""
    assert not isinstance(read(miss, local(datetime.fromisoformat(AT), "America/Chicago"), farm_of(FARM)), Record)
