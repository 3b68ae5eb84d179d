"""The book keeps what it was told, all of a message or none of it, and says calmly when it cannot."""

import os
import shutil
import sqlite3
import subprocess
import sys
import textwrap
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.book import Book, BookTrouble, Spoken, fact, fold, load_plan
from bot.plan import PlanFolder
from rules import entries as e
from rules.fold import BEGINNING

DUBLIN = ZoneInfo("Europe/Dublin")
TUESDAY = datetime(2026, 5, 5, 7, 10, tzinfo=DUBLIN)
PLAN = PlanFolder(
    {
        "farm": {"name": "Sallow Hill", "country": "IE", "timezone": "Europe/Dublin", "weight": "kg"},
        "ship": {"min": 40, "keep_cost": Decimal("0.10")},
        "group": [{"name": "pen", "keeps": "market lambs"}],
        "item": [{"name": "milk", "unit": "bag", "holds": "10 kg"}],
    },
    ({"tag": "0101", "group": "pen"},),
    ({"tag": "0101", "on": date(2026, 4, 20), "weight": Decimal("21.50")},),
)
WEIGHT = e.Weight(on=date(2026, 5, 5), tag="0101", weight=Decimal("28.50"), unit="kg")
LEFT = e.OnHand(on=date(2026, 5, 4), item="milk", amount=Decimal("2.0"), unit="bag", rough=True)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "sallow.book"


@pytest.fixture
def book(path: Path) -> Iterator[Book]:
    """A book in a file, with the plan loaded."""
    with Book.open(path, patience=0) as opened:
        load_plan(opened, PLAN, TUESDAY - timedelta(days=1))
        yield opened


def _everything(path: Path) -> str:
    """All that a book holds, as SQL, read by nobody's code but sqlite's own."""
    copy = sqlite3.connect(path)
    try:
        return "\n".join(copy.iterdump())
    finally:
        copy.close()


# -- what was told


def test_a_farm_folder_becomes_entries(book: Book) -> None:
    """The plan, each animal and each weight are entries told by "plan"; weights in the farm's unit."""
    told = list(book.entries())
    assert [(t.seq, t.entry.kind) for t in told] == [(1, "plan"), (2, "animal"), (3, "weight")]
    assert {t.heard.by for t in told} == {"plan"}
    assert told[2].entry == e.Weight(on=date(2026, 4, 20), tag="0101", weight=Decimal("21.50"), unit="kg")


def test_what_append_gives_is_what_the_book_gives(book: Book, path: Path) -> None:
    """Entry, moment, sender, words and number are the same from memory and from the disk, decimals to the last zero."""
    message = book.hear("owner", TUESDAY, "0101 28.50, 2 bags left yesterday", name="m7")
    told = book.append(message, [WEIGHT, LEFT])
    book.close()
    with Book.open(path, patience=0) as again:
        assert list(again.entries())[3:] == told
    assert [t.seq for t in told] == [4, 5]
    assert told[0].heard.words == "0101 28.50, 2 bags left yesterday"
    assert str(told[0].entry.weight) == "28.50"  # type: ignore[attr-defined]
    assert str(told[1].entry.amount) == "2.0"  # type: ignore[attr-defined]


def test_facts_count_from_when_they_happened(book: Book) -> None:
    """The plan before everything; what was told of today from its message, of an earlier day from that evening."""
    heavier = e.PlanSet(on=TUESDAY.date(), table="ship", set={"max": 46})
    told = book.append(book.hear("owner", TUESDAY, ""), [heavier, WEIGHT, LEFT])
    moments = [fact(t).moment for t in told]
    assert moments == [BEGINNING, datetime(2026, 5, 5, 6, 10, tzinfo=UTC), datetime(2026, 5, 4, 19, 0, tzinfo=UTC)]


def test_the_advanced_farm_is_the_farm_of_the_book(book: Book) -> None:
    """A farm advanced with each message equals the one that a start folds from the disk."""
    advanced = fold(book)
    fed = e.Used(on=date(2026, 5, 5), item="milk", amount=Decimal("0.5"), unit="bag")
    late = e.Weight(on=date(2026, 5, 2), tag="0101", weight=Decimal("26.1"), unit="kg")
    said: list[list[e.Entry]] = [[WEIGHT, LEFT], [fed], [e.Undo(on=date(2026, 5, 5), withdraws=(4, 5))], [late]]
    for n, entries in enumerate(said):
        message = book.hear("owner", TUESDAY + timedelta(hours=n), "")
        advanced.tell(fact(t) for t in book.append(message, entries))
    assert fold(book).farm == advanced.farm
    assert [w.weight for w in advanced.farm.animals["0101"].weighings] == [Decimal("21.50"), Decimal("26.1")]


def test_an_edited_message_keeps_the_day_of_the_first(book: Book) -> None:
    """Both versions are kept, under the sender's own name for them, and the second is dated from the first."""
    book.hear("owner", TUESDAY, "2 bags left", name="m1")
    book.hear("Una", TUESDAY, "thanks", name="m1")
    first = book.named("owner", "m1")[0]
    book.hear("owner", TUESDAY + timedelta(days=1), "3 bags left", name="m1", said=first.said)
    versions = book.named("owner", "m1")
    assert [(h.words, h.said) for h in versions] == [("2 bags left", TUESDAY), ("3 bags left", TUESDAY)]
    assert book.named("owner", "m2") == []


def test_what_a_sender_recorded_latest_first(book: Book) -> None:
    """For undo: a message's numbers stay together, also where an answer added to it after others came between."""
    first, other = book.hear("owner", TUESDAY, "0101 285"), book.hear("Una", TUESDAY, "2 bags left")
    book.append(first, [WEIGHT])
    book.append(other, [LEFT])
    book.append(book.hear("owner", TUESDAY, "1 left"), [LEFT])
    book.hear("owner", TUESDAY, "thanks")
    book.append(first, [WEIGHT])
    assert list(book.recorded("owner")) == [(4, 7), (6,)]
    assert book.told_by(other) == (5,)
    assert [h.words for h in book.silent()] == ["thanks"]


def test_any_words_can_be_kept(book: Book) -> None:
    """Emoji, control characters and half characters: kept as far as text can hold them, and never a stop."""
    words = "2 bags \U0001f411\x00\x07 left \ud83d"
    told = book.append(book.hear("owner", TUESDAY, words), [e.Note(on=TUESDAY.date(), text=words, tags=("0101",))])
    assert list(book.entries())[-1] == told[0]
    assert told[0].heard.words == "2 bags \U0001f411\x00\x07 left ?"


# -- what is asked, owed, said and kept


def test_an_answer_counts_once(book: Book) -> None:
    """Questions can be answered in any order, each once, and stay open over a restart until then."""
    ask = {"why": "28.5 or 285?", "choices": ["28.5", "285"], "weight": Decimal("28.50")}
    first, second = book.ask("owner", TUESDAY, None, ask), book.ask("owner", TUESDAY, 1, ask)
    assert book.settle(second, "28.5")
    assert not book.settle(second, "285")
    assert [(a.id, a.ask) for a in book.open_asks("owner")] == [(first, ask)]
    assert book.open_asks("Una") == []
    settled = book.asked(second)
    assert settled is not None
    assert (settled.open, settled.answer, settled.message) == (False, "28.5", 1)
    assert book.asked(99) is None


def test_an_update_counts_once(book: Book) -> None:
    """The same update of the chat's server is seen the second time, in a later block as well."""
    with book.block():
        assert not book.seen(70_000_000_001)
    assert book.seen(70_000_000_001)
    assert not book.seen(69_999_999_999)


def test_what_is_owed_stays_owed_until_sent(book: Book) -> None:
    """Replies owed come in order, with their data, until they are marked as sent."""
    first = book.owe("owner", TUESDAY, "reply", {"text": "kept", "per_day": Decimal("0.70")})
    second = book.owe("Una", TUESDAY, "scheduled", {"text": "order milk"})
    book.sent(first, TUESDAY)
    assert [(o.id, o.person, o.cause, o.payload, o.at) for o in book.owed()] == [
        (second, "Una", "scheduled", {"text": "order milk"}, TUESDAY)
    ]


def test_what_was_said_is_known_by_person_and_finding(book: Book) -> None:
    """The last thing said of a finding, to each person of their own."""
    book.say("owner", "run_out milk", "Thursday", TUESDAY)
    book.say("owner", "run_out milk", "Wednesday", TUESDAY + timedelta(hours=1))
    assert book.said("owner", "run_out milk") == Spoken("Wednesday", TUESDAY + timedelta(hours=1))
    assert book.said("Una", "run_out milk") is None


def test_a_kept_value_is_replaced(book: Book) -> None:
    """Small values are kept by name, exact, and None where there is none."""
    book.keep("context owner", {"group": "pen"})
    book.keep("context owner", {"gain": Decimal("0.30")})
    assert book.kept("context owner") == {"gain": Decimal("0.30")}
    assert book.kept("context Una") is None


# -- all or nothing


def test_stopped_half_way_leaves_nothing(book: Book, path: Path) -> None:
    """A block that breaks off leaves the book as it was, and the next message gets the numbers it would have had."""
    before = _everything(path)

    def break_off() -> None:
        with book.block():
            book.seen(1)
            message = book.hear("owner", TUESDAY, "0101 28.50")
            book.append(message, [WEIGHT, LEFT])
            book.owe("owner", TUESDAY, "reply", {"text": "kept"})
            raise RuntimeError("power cut")

    with pytest.raises(RuntimeError, match="power cut"):
        break_off()
    assert _everything(path) == before
    assert [t.seq for t in book.append(book.hear("owner", TUESDAY, ""), [LEFT])] == [4]


def test_a_bad_second_folder_leaves_the_first(book: Book, path: Path) -> None:
    """A plan can only be loaded into an empty book."""
    before = _everything(path)
    with pytest.raises(ValueError, match="not empty"):
        load_plan(book, PLAN, TUESDAY)
    assert _everything(path) == before


KILLED = """
    import os, sys
    from datetime import UTC, date, datetime
    from decimal import Decimal
    from pathlib import Path
    from bot.book import Book
    from rules.entries import Weight
    book = Book.open(Path(sys.argv[1]))
    at = datetime(2026, 5, 5, 7, tzinfo=UTC)
    weight = Weight(on=date(2026, 5, 5), tag="1", weight=Decimal(20), unit="kg")
    with book.block():
        book.append(book.hear("owner", at, "whole"), [weight])
        book.owe("owner", at, "reply", {"text": "kept"})
    with book.block():
        book.append(book.hear("owner", at, "half"), [weight])
        os.kill(os.getpid(), 9)
"""


def test_killed_in_the_middle(path: Path) -> None:
    """kill -9 amid a block: the message before is whole, the one in work was never there, the book opens at once."""
    command = [sys.executable, "-c", textwrap.dedent(KILLED), str(path)]
    done = subprocess.run(command, cwd=Path(__file__).parent.parent, check=False)
    assert done.returncode == -9
    with Book.open(path, patience=0) as book:
        assert [t.heard.words for t in book.entries()] == ["whole"]
        assert [o.payload for o in book.owed()] == [{"text": "kept"}]
        assert book.silent() == []


# -- trouble


def test_a_full_disk(book: Book, path: Path) -> None:
    """A message that no longer fits is not kept in part; the sentence says why and what to do."""
    before = _everything(path)
    pages = book._db.execute("pragma page_count").fetchone()[0]
    book._db.execute(f"pragma max_page_count = {pages}")

    def many_weights() -> None:
        with book.block():
            message = book.hear("owner", TUESDAY, "many weights")
            for _ in range(500):
                book.append(message, [WEIGHT])

    with pytest.raises(BookTrouble) as trouble:
        many_weights()
    assert trouble.value.why == "the disk is full"
    assert str(trouble.value) == f"The book {path} cannot be used: the disk is full. Make room on it."
    assert _everything(path) == before
    book._db.execute(f"pragma max_page_count = {pages + 1000}")
    assert [t.seq for t in book.append(book.hear("owner", TUESDAY, ""), [WEIGHT])] == [4]


def test_a_book_that_may_only_be_read(book: Book) -> None:
    """Writing is refused by the file: a sentence, and reading goes on."""
    book._db.execute("pragma query_only = on")
    with pytest.raises(BookTrouble, match=r"it may only be read\. Let this program write the file and its folder\."):
        book.hear("owner", TUESDAY, "2 bags left")
    assert book.count() == 3


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is read-only for root")
def test_a_read_only_file_is_told_at_the_start(path: Path, book: Book) -> None:
    """Not the first message but the start finds out that the file cannot be written."""
    book.close()
    path.chmod(0o444)
    with pytest.raises(BookTrouble, match="it may only be read"):
        Book.open(path, patience=0)


def test_a_book_held_by_another(book: Book, path: Path) -> None:
    """Two that write would each answer from a farm the other has changed; reading beside is fine."""
    with pytest.raises(BookTrouble, match=r"another program holds it\. Stop that one first\."):
        Book.open(path, patience=0)
    with Book.open(path, write=False) as beside:
        assert beside.count() == 3
    book.close()
    with Book.open(path, patience=0) as again:
        assert again.count() == 3


def test_a_book_locked_by_a_stranger(book: Book, path: Path) -> None:
    """Any other program that has locked the file makes a sentence, not a traceback."""
    book.close()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("begin immediate")
    with pytest.raises(BookTrouble, match="another program holds it"):
        Book.open(path, patience=0)
    other.close()


def test_a_book_of_a_newer_version(book: Book, path: Path) -> None:
    """It is left exactly as it is, whether to be read or written."""
    book.close()
    newer = sqlite3.connect(path)
    step = ("tethera book", "of next year", "")
    newer.execute("insert into _sqlite_migrations (migration_set, name, applied_at) values (?, ?, ?)", step)
    newer.commit()
    newer.close()
    before = _everything(path)
    for write in (True, False):
        with pytest.raises(BookTrouble, match="a newer version of this program made it"):
            Book.open(path, write=write, patience=0)
    assert _everything(path) == before


@pytest.mark.parametrize("content", [b"milk 2 bags\n" * 200, b"SQLite format 3\x00" + b"\xff" * 4096])
def test_not_a_book_at_all(path: Path, content: bytes) -> None:
    """Some other file is refused and not touched."""
    path.write_bytes(content)
    with pytest.raises(BookTrouble):
        Book.open(path, patience=0)
    assert path.read_bytes() == content


def test_another_programs_database(path: Path) -> None:
    """A database that is no farm book is refused and not touched."""
    other = sqlite3.connect(path)
    other.execute("create table music (title)")
    other.commit()
    other.close()
    before = _everything(path)
    with pytest.raises(BookTrouble, match="it is not a farm book"):
        Book.open(path, patience=0)
    assert _everything(path) == before


def test_no_book_and_no_folder(tmp_path: Path) -> None:
    """Where there is none, it is made only if that was meant; a folder that is not there is said."""
    for meant in ({"create": False}, {"write": False}):
        with pytest.raises(BookTrouble, match="there is none yet"):
            Book.open(tmp_path / "no.book", **meant)
    for place in (tmp_path / "nowhere" / "a.book", tmp_path):
        with pytest.raises(BookTrouble, match="it cannot be opened"):
            Book.open(place, patience=0)
    assert list(tmp_path.iterdir()) == []


def test_a_start_that_was_cut_off_is_taken_up(path: Path) -> None:
    """A file that the first start made and died over, before any table was in it, becomes a book."""
    cut_off = sqlite3.connect(path)
    cut_off.execute("pragma journal_mode = wal")
    cut_off.close()
    with Book.open(path, patience=0) as book:
        assert book.count() == 0


# -- backup


def test_a_backup_beside_the_open_book(book: Book, path: Path, tmp_path: Path) -> None:
    """One file, whole although the book is open, and again a book."""
    book.append(book.hear("owner", TUESDAY, "0101 28.50"), [WEIGHT])
    to = tmp_path / "copies" / "monday.book"
    to.parent.mkdir()
    book.backup(to)
    assert [file.name for file in to.parent.iterdir()] == ["monday.book"]
    assert _everything(to) == _everything(path)
    with Book.open(to, patience=0) as copy:
        assert fold(copy).farm == fold(book).farm


def test_a_backup_that_fails_leaves_the_old_one(book: Book, tmp_path: Path) -> None:
    """Where the copy cannot be made, yesterday's stays."""
    to = tmp_path / "monday.book"
    to.write_text("yesterday's")
    (tmp_path / "monday.book.part").mkdir()
    with pytest.raises((BookTrouble, OSError)):
        book.backup(to)
    assert to.read_text() == "yesterday's"


def test_a_book_in_memory() -> None:
    """Replay without a file: the same book, nothing on the disk."""
    with Book.open(None) as book:
        load_plan(book, PLAN, TUESDAY)
        assert fold(book).farm.animals["0101"].weighings[0].weight == Decimal("21.50")


def test_times_keep_their_zone(book: Book) -> None:
    """A message's time comes back as the same moment with the same distance from UTC."""
    at = datetime(2026, 5, 5, 7, 10, 3, 250000, tzinfo=timezone(timedelta(hours=-5)))
    heard = book.heard(book.hear("owner", at, ""))
    assert (heard.at, heard.at.utcoffset()) == (at, timedelta(hours=-5))


def test_a_copy_of_the_file_opens_elsewhere(book: Book, path: Path, tmp_path: Path) -> None:
    """A closed book is one file that can be carried to another place."""
    book.close()
    there = tmp_path / "there"
    there.mkdir()
    shutil.copy(path, there / "sallow.book")
    with Book.open(there / "sallow.book", write=False) as copy:
        assert copy.count() == 3
