"""Nothing is locked in: what is exported says everything, and a book made from it is the book it came from."""

import csv
import json
import tomllib
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import tomli_w

from bot.book import Book, fact, fold, load_plan
from bot.files import export, import_, load_folder, take_plan
from bot.plan import PlanFolder, PlanMistakes, load
from rules import entries as e

TUESDAY = datetime(2026, 5, 5, 7, 10, tzinfo=ZoneInfo("Europe/Dublin"))
TODAY = TUESDAY.date()
PLAN = PlanFolder(
    {
        "farm": {"name": "Sallow Hill", "country": "IE", "timezone": "Europe/Dublin", "morning": "05:30"},
        "ship": {"min": 40, "price": [{"from": 38, "per": Decimal("3.10")}]},
        "group": [{"name": "pen", "keeps": "market lambs"}, {"name": "hens", "keeps": "hens", "head": 36}],
        "item": [{"name": "milk", "unit": "bag", "holds": "10 kg"}],
    },
    (
        {"tag": "0101", "group": "pen", "born": date(2026, 2, 1), "sex": "ewe"},
        {"tag": "0102", "dam": "0101", "group": "pen"},
    ),
    ({"tag": "0101", "on": date(2026, 4, 20), "weight": Decimal("21.50")},),
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A book with a few days in it: told, corrected, undone, edited, asked, owed and said."""
    with Book.open(tmp_path / "sallow.book", patience=0) as book:
        load_plan(book, PLAN, TUESDAY - timedelta(days=1))
        weight = e.Weight(on=TODAY, tag="0101", weight=Decimal("28.50"), unit="kg")
        instead = {"kind": "weight", "on": TODAY.isoformat(), "tag": "0101", "weight": Decimal("25.50"), "unit": "kg"}
        right = e.Correct(on=TODAY, tag="0101", weight=Decimal("25.50"), withdraws=(5,), instead=instead)
        told: list[tuple[str, str | None, list[e.Entry]]] = [
            ("0101 28.50 🐑", "m1", [weight]),
            ("no, 25.5", "m2", [right]),
            ("lost 2 hens", "m3", [e.Loss(on=TODAY, group="hens", head=2)]),
            ("0102 is now 202", None, [e.Retagged(on=TODAY, tag="0102", to="202")]),
            ("9 bags left", "m5", [e.OnHand(on=TODAY, item="milk", amount=Decimal(9), unit="bag")]),
            ("undo", None, [e.Undo(on=TODAY, withdraws=(9,))]),
            ("thanks", "m7", []),
            ("we ship at 42", None, [e.PlanSet(on=TODAY, table="ship", set={"min": Decimal("42.0"), "max": None})]),
        ]
        for n, (words, name, entries) in enumerate(told):
            book.append(book.hear("owner", TUESDAY + timedelta(minutes=n), words, name=name), entries)
        edit = book.hear("owner", TUESDAY + timedelta(days=1), "8 bags left", name="m5", said=TUESDAY)
        book.append(edit, [e.OnHand(on=TODAY, item="milk", amount=Decimal("8.0"), unit="bag")])
        book.settle(book.ask("owner", TUESDAY, 3, {"why": "28.5 or 285?", "choices": [Decimal("28.50")]}), "28.5")
        book.ask("Una", TUESDAY, None, {"why": "which pen?", "choices": ["pen", "hens"]})
        book.sent(book.owe("owner", TUESDAY, "reply", {"text": "kept"}), TUESDAY)
        book.owe("owner", TUESDAY, "scheduled", {"text": "order milk", "findings": [{"per_day": Decimal("0.70")}]})
        book.say("owner", "run_out milk", "Thursday", TUESDAY)
        book.keep("context owner", {"group": "pen"})
        for update in range(1000, 1300):
            book.seen(update)
        yield book


@pytest.fixture
def folder(book: Book, tmp_path: Path) -> Path:
    """The export of that book."""
    export(book, tmp_path / "out")
    return tmp_path / "out"


def _lines(folder: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in (folder / "entries.jsonl").read_text(encoding="utf-8").splitlines()]


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_entry_ever_made_in_the_order_of_telling(folder: Path) -> None:
    """Each with when, who, the sender's own words and the entry; what was undone or corrected is there, and marked."""
    told = [line for line in _lines(folder) if "entry" in line]
    kinds = "plan animal animal weight weight correct loss retagged on_hand undo plan on_hand"
    assert " ".join(line["entry"]["kind"] for line in told) == kinds  # type: ignore[index]
    assert [n for n, line in enumerate(told, 1) if line.get("withdrawn")] == [5, 9]
    assert {k: told[4][k] for k in ("at", "from", "words", "entry")} == {
        "at": "2026-05-05T07:10:00+01:00", "from": "owner", "words": "0101 28.50 🐑",
        "entry": {"kind": "weight", "on": "2026-05-05", "tag": "0101", "weight": 28.5, "unit": "kg"},
    }  # fmt: skip


def test_numbers_are_written_as_they_were_said(folder: Path) -> None:
    """28.50 stays 28.50 in the file, and 9 stays 9."""
    text = (folder / "entries.jsonl").read_text(encoding="utf-8")
    assert '"weight": 28.50,' in text
    assert '"amount": 9,' in text
    assert '"amount": 8.0,' in text


def test_the_plan_as_it_stands(folder: Path) -> None:
    """With what chat changed, and the heads of groups without tags as they are now."""
    plan = tomllib.loads((folder / "farm.toml").read_text(encoding="utf-8"), parse_float=Decimal)
    assert plan["ship"] == {"min": Decimal("42.0"), "price": [{"from": 38, "per": Decimal("3.10")}]}
    assert plan["group"] == [{"name": "pen", "keeps": "market lambs"}, {"name": "hens", "keeps": "hens", "head": 34}]
    assert plan["farm"]["morning"] == "05:30"


def test_a_plan_that_grew_is_taken_into_the_book(book: Book, folder: Path) -> None:
    """New rows and changed keys; what was counted in the chat since, and all that the file leaves out, stays."""
    assert take_plan(book, folder, TUESDAY) == []
    plan = tomllib.loads((folder / "farm.toml").read_text(encoding="utf-8"), parse_float=Decimal)
    plan["ship"]["min"], plan["group"][1]["head"] = 43, 99
    plan["group"].append({"name": "top paddock", "keeps": "ewes", "head": 12})
    (folder / "farm.toml").write_text(tomli_w.dumps(plan), encoding="utf-8")
    assert sorted(take_plan(book, folder, TUESDAY)) == ["group top paddock", "ship"]
    farm = fold(book).farm
    assert (farm.plan.ship.min, farm.plan.farm.morning.isoformat()) == (Decimal(43), "05:30:00")
    assert (farm.heads["hens"], farm.heads["top paddock"]) == (34, 12)
    assert take_plan(book, folder, TUESDAY) == []
    plan["group"].append({"name": "Pen"})
    (folder / "farm.toml").write_text(tomli_w.dumps(plan), encoding="utf-8")
    with pytest.raises(PlanMistakes):
        take_plan(book, folder, TUESDAY)


def test_animals_and_weights_as_they_stand(folder: Path) -> None:
    """By today's tags, with the corrected weight in place of the wrong one."""
    assert [(a["tag"], a["dam"], a["group"], a["status"]) for a in _rows(folder / "animals.csv")] == [
        ("0101", "", "pen", "here"), ("202", "0101", "pen", "here"),
    ]  # fmt: skip
    assert [tuple(w.values()) for w in _rows(folder / "weights.csv")] == [
        ("0101", "2026-04-20", "21.50"), ("0101", "2026-05-05", "25.50"),
    ]  # fmt: skip


def test_a_book_made_from_it_is_the_same_book(book: Book, folder: Path, tmp_path: Path) -> None:
    """Entries and their numbers, farm, open questions, what is owed, said and kept: all the same, and exported again
    the same bytes."""
    with Book.open(tmp_path / "again.book", patience=0) as again:
        load_folder(again, folder, TUESDAY + timedelta(days=30))
        assert list(again.entries()) == list(book.entries())
        first, second = fold(book), fold(again)
        assert (second.farm, second.withdrawn, second.facts) == (first.farm, first.withdrawn, first.facts)
        assert again.open_asks("Una") == book.open_asks("Una")
        assert again.asked(1) == book.asked(1)
        assert not again.settle(1, "28.5")
        assert again.owed() == book.owed()
        assert again.said("owner", "run_out milk") == book.said("owner", "run_out milk")
        assert again.kept("context owner") == {"group": "pen"}
        assert again.named("owner", "m5") == book.named("owner", "m5")
        assert list(again.recorded("owner")) == list(book.recorded("owner"))
        assert again.silent() == book.silent()
        assert again.seen(1299)
        assert again.seen(1100)  # of those the chat's server may bring again
        export(again, tmp_path / "twice")
    for name in ("farm.toml", "animals.csv", "weights.csv", "entries.jsonl"):
        assert (tmp_path / "twice" / name).read_bytes() == (folder / name).read_bytes()


def test_both_books_go_on_alike(book: Book, folder: Path, tmp_path: Path) -> None:
    """A message told to both gets the same number and makes the same farm."""
    with Book.open(None) as again:
        import_(again, folder)
        for one in (book, again):
            message = one.hear("owner", TUESDAY + timedelta(days=2), "202 30")
            told = one.append(message, [e.Weight(on=TODAY, tag="202", weight=Decimal(30), unit="kg")])
            assert [(t.seq, t.heard.id) for t in told] == [(13, 11)]
            assert one.ask("owner", TUESDAY, None, {"why": "?"}) == 3
        assert fold(again).farm == fold(book).farm


def test_without_the_entries_the_folder_is_a_farm_plan(folder: Path) -> None:
    """farm.toml and the csv files alone load as any farm folder does, with what stands."""
    (folder / "entries.jsonl").unlink()
    with Book.open(None) as fresh:
        load_folder(fresh, folder, TUESDAY)
        farm = fold(fresh).farm
    assert [w.weight for w in farm.animals["0101"].weighings] == [Decimal("21.50"), Decimal("25.50")]
    assert farm.head("hens") == 34
    assert load(folder).plan["ship"]["min"] == 42


def test_export_while_the_bot_writes(book: Book, tmp_path: Path) -> None:
    """Another process exports what was committed, while a message is being written."""
    with book.block():
        book.append(book.hear("owner", TUESDAY, "half told"), [e.Note(on=TODAY, text="half told")])
        with Book.open(tmp_path / "sallow.book", write=False) as beside:
            export(beside, tmp_path / "out")
    assert "half told" not in (tmp_path / "out" / "entries.jsonl").read_text(encoding="utf-8")


def test_export_of_a_closed_book(book: Book, tmp_path: Path) -> None:
    """Nobody need have it open."""
    book.close()
    with Book.open(tmp_path / "sallow.book", write=False) as beside:
        export(beside, tmp_path / "out")
    assert len(_lines(tmp_path / "out")) > 12


def test_a_weight_in_the_other_unit_has_an_end(book: Book, tmp_path: Path) -> None:
    """Weighed in pounds on a farm of kilograms: weights.csv shows grams, the entry the pounds."""
    message = book.hear("owner", TUESDAY, "0101 61 lb")
    book.append(message, [e.Weight(on=TODAY, tag="0101", weight=Decimal(61), unit="lb")])
    export(book, tmp_path / "out")
    assert _rows(tmp_path / "out" / "weights.csv")[-1]["weight"] == "27.669"  # 61 x 0.45359237, by hand
    assert '"weight": 61, "unit": "lb"' in (tmp_path / "out" / "entries.jsonl").read_text(encoding="utf-8")


def test_the_plain_lines_of_the_contract_are_enough(tmp_path: Path) -> None:
    """A file with nothing but time, sender, words and entry makes a book, too."""
    whole = {"kind": "plan", "on": "2026-05-04", "set": PLAN.plan}
    count = {"kind": "head_count", "on": "2026-05-05", "group": "hens", "head": 35}
    lines = [
        {"at": "2026-05-04T07:10:00+01:00", "from": "plan", "words": "", "entry": whole},
        {"at": "2026-05-05T07:10:00+01:00", "from": "owner", "words": "35 hens", "entry": count},
    ]
    (tmp_path / "entries.jsonl").write_text("\n".join(json.dumps(line, default=float) for line in lines) + "\n")
    with Book.open(None) as book:
        load_folder(book, tmp_path, TUESDAY)
        assert fold(book).farm.head("hens") == 35
        assert [t.heard.id for t in book.entries()] == [1, 2]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("{", "entries.jsonl, line 1: is no JSON object; a line of an export was expected"),
        ("[1]", "entries.jsonl, line 1: is no JSON object; a line of an export was expected"),
        ('{"music": {"title": "x"}}', "entries.jsonl, line 1: music: no such line in an export"),
        ('{"asks": {"id": "x"}}', "entries.jsonl, line 1: asks: not as an export writes it"),
        (
            '{"at": "2026-05-04T07:10:00", "from": "owner", "words": "x"}',
            "entries.jsonl, line 1: not as an export writes it (a time without its zone)",
        ),
        (
            '{"at": "2026-05-04T07:10:00Z", "from": "owner", "words": "x", "entry": {"kind": "song"}}',
            "entries.jsonl, line 1: not as an export writes it ('song' is no kind of entry)",
        ),
        (
            '{"at": "2026-05-04T07:10:00Z", "from": "owner", "words": "x", "withdrawn": true,'
            ' "entry": {"kind": "undo", "on": "2026-05-04"}}',
            "entries.jsonl, entry 1: is marked as withdrawn, but nothing takes it back",
        ),
    ],
)  # fmt: skip
def test_a_spoilt_file_is_told_and_nothing_is_written(folder: Path, line: str, said: str) -> None:
    """Line and reason, and the book stays empty."""
    (folder / "entries.jsonl").write_text(line + "\n", encoding="utf-8")
    with Book.open(None) as again:
        with pytest.raises(PlanMistakes) as mistakes:
            import_(again, folder)
        assert mistakes.value.mistakes == [said]
        assert again.count() == 0
        assert again.silent() == []


def test_a_file_that_lost_its_end_is_noticed(folder: Path) -> None:
    """Cut off before the undo, what it had withdrawn is marked but nothing takes it back."""
    path = folder / "entries.jsonl"
    path.write_text("\n".join(path.read_text(encoding="utf-8").splitlines()[:9]), encoding="utf-8")
    with Book.open(None) as again, pytest.raises(PlanMistakes, match="entry 9: is marked as withdrawn"):
        import_(again, folder)


def test_a_file_that_cannot_be_written_leaves_the_old_ones(book: Book, folder: Path) -> None:
    """Where a file cannot be made, the whole old ones stay and no pieces lie about."""
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    (folder / "entries.jsonl.part").mkdir()
    book.append(book.hear("owner", TUESDAY, "0101 30"), [e.Weight(on=TODAY, tag="0101", weight=Decimal(30), unit="kg")])
    with pytest.raises(OSError, match="directory"):
        export(book, folder)
    (folder / "entries.jsonl.part").rmdir()
    assert sorted(path.name for path in folder.iterdir()) == sorted(before)
    assert (folder / "entries.jsonl").read_bytes() == before["entries.jsonl"]


def test_a_reading_of_the_facts(book: Book) -> None:
    """The edited message counts from the first one's moment, told a day later."""
    last = list(book.entries())[-1]
    assert fact(last).moment == TUESDAY
    assert last.heard.at == TUESDAY + timedelta(days=1)
