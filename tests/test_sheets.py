"""Sheets and files: what an inspector, a buyer or a pair of cold hands needs is on them, as the book has it."""

import csv
import io
import os
import re
import subprocess
import sys
import zlib
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from barn import animal, at, barn, dose

from bot import tables
from bot.asking import findings_for
from bot.book import Book
from bot.conversation import hear
from bot.desk import Desk, File, Heard, Out, file_of, open_desk
from bot.files import load_folder
from bot.pictures import sheet
from bot.reading import Question
from rules import entries as e
from rules.findings import Ready
from rules.treatments import treatments

ROOT = Path(__file__).parent.parent
FARM = ROOT / "tests" / "talks" / "farm"
NOW = datetime.fromisoformat("2026-08-10T07:00:00-05:00")


@pytest.fixture
def desk() -> Iterator[Desk]:
    with Book.open(None) as book:
        load_folder(book, FARM, datetime.fromisoformat("2026-08-01T00:00:00-05:00"))
        yield open_desk(book)


def say(desk: Desk, text: str, when: datetime = NOW) -> Out:
    (out,) = hear(desk, Heard(when, "owner", text))
    return out


def got(desk: Desk, text: str) -> File:
    out = say(desk, text)
    file = file_of(desk, out.page, out.at)
    assert file is not None, out.text
    return file


def rows(file: File) -> list[dict[str, str]]:
    assert file.kind == "text/csv"
    return list(csv.DictReader(io.StringIO(file.content.decode("utf-8-sig"))))


def pages(pdf: bytes) -> int:
    """The number of pages of a PDF whose table of contents points at what it says."""
    assert pdf.startswith(b"%PDF-1.")
    assert pdf.rstrip().endswith(b"%%EOF")
    table = int(re.findall(rb"startxref\s+(\d+)", pdf)[-1])
    assert pdf[table : table + 4] == b"xref"
    for number, place in enumerate(re.findall(rb"(\d{10}) \d{5} n", pdf[table:]), 1):
        assert pdf[int(place) :].startswith(b"%d 0 obj" % number)
    for stream in re.findall(rb"/FlateDecode[^>]*>>\s*stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        packed = zlib.decompressobj()
        packed.decompress(stream)
        assert packed.eof
    return len(re.findall(rb"/Type /Page\b", pdf))


# -- the treatment record


def test_the_record_holds_what_the_regulations_ask(desk: Desk) -> None:
    """Animal, date, drug, disease, dose, route, withdrawal, who gave it, date it may be slaughtered (Are your Treatment
    Records FDA Ready, Washington State Univ.). Oxytetracycline: 28 days in this farm's plan, so 5 August is free on
    3 September: the day itself, 28 whole days, and one."""
    say(desk, "gave 2401 oxy 5 ml sub q batch B123 for foot rot", datetime.fromisoformat("2026-08-05T18:00:00-05:00"))
    (row,) = rows(got(desk, "treatment record as a file"))
    assert {k: v for k, v in row.items() if v} == {
        "date": "2026-08-05", "animal": "2401", "group": "pen 1", "head": "1", "product": "oxytetracycline",
        "amount": "5", "unit": "mL", "reason": "foot rot", "route": "under the skin", "batch": "B123",
        "given by": "owner",
        "withdrawal days": "28", "may ship from": "2026-09-03",
    }  # fmt: skip
    assert set(row) >= {"animal", "date", "product", "reason", "amount", "unit", "route", "withdrawal days", "given by",
                        "may ship from"}  # fmt: skip


def test_days_nobody_told_stay_empty_and_nothing_is_made_up(desk: Desk) -> None:
    say(desk, "gave 2402 meloxicam")
    (row,) = rows(got(desk, "export the treatments"))
    assert (row["withdrawal days"], row["may ship from"], row["amount"], row["route"]) == ("", "", "", "")


PLAN = {
    "group": [{"name": "pen", "keeps": "market lambs"}, {"name": "hens", "keeps": "hens", "head": 40}],
    "product": [{"name": "wormer", "withdrawal_days": 0, "egg_withdrawal_days": 7, "dose": "2 mL"}],
}
DAY = date(2026, 5, 4)


def test_a_withdrawal_of_no_days_is_written_down_too() -> None:
    farm = barn(PLAN, animal("1", "pen"), dose(DAY, "wormer", tags=("1",)))
    (x,) = treatments(farm)
    assert (x.tag, x.days, x.until, x.label, x.by) == ("1", 0, date(2026, 5, 5), "2 mL", "owner")


def test_a_dose_told_by_head_stands_once_until_the_tags_are_told() -> None:
    lambs = [animal(t, "pen") for t in ("1", "2", "3")]
    told = dose(DAY, "wormer", group="pen", head=2)
    assert [(x.tag, x.head) for x in treatments(barn(PLAN, *lambs, told))] == [(None, 2)]
    named = dose(DAY, "wormer", tags=("1", "3"))
    assert [(x.tag, x.head) for x in treatments(barn(PLAN, *lambs, told, named))] == [("1", 1), ("3", 1)]


def test_a_group_dosed_whole_is_a_line_for_each_animal_and_hens_are_one_with_their_eggs() -> None:
    farm = barn(PLAN, animal("1", "pen"), animal("2", "pen"), dose(DAY, "wormer", group="pen"),
                dose(DAY, "wormer", group="hens"))  # fmt: skip
    assert [(x.tag, x.group, x.head, x.eggs_from) for x in treatments(farm)] == [
        ("1", "pen", 1, None), ("2", "pen", 1, None), (None, "hens", 40, date(2026, 5, 12)),
    ]  # fmt: skip


def test_animals_that_left_stay_in_the_record_and_what_was_asked_is_picked() -> None:
    farm = barn(PLAN, animal("1", "pen"), animal("2", "pen"), dose(DAY, "wormer", tags=("1",)),
                dose(DAY, "other", tags=("2",)), e.Ship(on=DAY, tags=("1",)))  # fmt: skip
    assert [x.tag for x in treatments(farm)] == ["1", "2"]
    assert [x.tag for x in treatments(farm, product="other")] == ["2"]
    assert [x.product for x in treatments(farm, tag="1")] == ["wormer"]


# -- other files


def test_sales_and_weights_as_files(desk: Desk) -> None:
    say(desk, "shipped 2412 and 2410")
    say(desk, "sold 2 at 2.50 a lb, mean 112")
    sold = rows(got(desk, "sales as a file"))
    assert [(r["date"], r["tag"], r["load head"], r["price"], r["per"], r["load mean weight"]) for r in sold] == [
        ("2026-08-10", "2410", "2", "2.5", "lb", "112"), ("2026-08-10", "2412", "2", "2.5", "lb", "112"),
    ]  # fmt: skip
    weighed = rows(got(desk, "weights of pen 1 as a csv"))
    assert len(weighed) == 20  # ten lambs left, weighed twice
    assert (weighed[0]["tag"], weighed[0]["weighed"], weighed[0]["weight"], weighed[0]["unit"]) == (
        "2401", "2026-07-20", "93", "lb",
    )  # fmt: skip


def test_words_that_a_spreadsheet_would_reckon_with_stay_words() -> None:
    part = tables.Part("", ((DAY, "=1+2", "a, b", Decimal("-3.50"), None),))
    written = tables.csv(tables.Table("x", ("on", "note", "more", "n", "e"), (part,)))
    assert written.decode("utf-8-sig") == 'on,note,more,n,e\r\n2026-05-04,\'=1+2,"a, b",-3.5,\r\n'


# -- sheets

SHEETS = ["print the ship list", "print the weigh list", "print what's due", "print the treatment record",
          "what have we in stock, to print", "print me one page on 2401", "how many head, to print"]  # fmt: skip


@pytest.mark.parametrize("text", SHEETS)
def test_every_sheet_is_a_page_or_more(desk: Desk, text: str) -> None:
    say(desk, "9 bags milk left")
    say(desk, "gave 2401 oxy 5 ml for foot rot")
    say(desk, "remind me friday to call the vet")
    file = got(desk, text)
    assert (file.kind, file.name[-4:]) == ("application/pdf", ".pdf")
    assert 1 <= pages(file.content) <= 3
    assert len(file.content) < 200_000
    assert got(desk, text) == file


def test_the_list_to_sort_by_names_who_rides_who_is_close_and_who_is_held(desk: Desk) -> None:
    say(desk, "gave 2412 oxy")
    m = desk.moment(NOW)
    (x,) = [r for r in findings_for(Question("ready"), desk.farm, m) if isinstance(r, Ready)]
    table = tables.to_sort(Question("ready", as_="sheet"), [x], desk.farm, m)
    parts = {part.name: [row[0] for row in part.rows] for part in table.parts}
    assert parts["Stay: held"] == ["2412"]
    assert set(x.tags) <= set(parts.get("To ship", parts.get("Ready by weight", [])))
    assert sorted(parts["A little away"]) == sorted(x.close)
    assert "2412" not in parts.get("Ready by weight", [])


def test_a_record_of_many_pages_has_its_columns_on_each_and_no_row_is_lost() -> None:
    part = tables.Part("Given", tuple((DAY, f"{n}", "white drench") for n in range(150)))
    table = tables.Table("Record", ("date", "animal", "product"), (part,))
    found = [[line for _, lines in page for line in lines] for page in sheet.pages(table)]
    assert 2 < len(found) == pages(sheet.sheet(table, "Low Rigg", NOW))
    assert all(any(line.split() == ["date", "animal", "product"] for line in page) for page in found)
    said = [line.split()[3] for page in found for line in page if line.endswith("white drench")]
    assert said == [str(n) for n in range(150)]


def test_nothing_runs_over_the_edge_of_the_page() -> None:
    """A letter of the even-spaced kind is 0.602 of its size wide (DejaVu Sans Mono: 1233 of 2048)."""
    wide = "the long shed behind the old orchard by the mill road " * 3
    part = tables.Part(wide, ((DAY, wide, wide, "1"), (None, "W" * 200, "", "2")))
    columns = ("date", "animal", "product", "what else there is to say")
    table = tables.Table(wide, columns, (part,), (wide,), ticked=True)
    (page,) = sheet.pages(table)
    longest = max(len(line) for kind, lines in page for line in lines if kind != "part")
    assert sheet.SIDE + 0.35 + longest * 0.602 * sheet.POINTS / 72 <= sheet.WIDTH - 0.5
    assert "".join("".join(lines).replace(" ", "") for kind, lines in page if kind == "row").count("W") == 200
    assert sum(sheet._high(kind, lines) for kind, lines in page) < sheet.HEIGHT - sheet.TOP - sheet.FOOT
    assert pages(sheet.sheet(table, wide, NOW)) == 1


def test_another_process_makes_the_same_bytes(desk: Desk) -> None:
    """Neither the clock nor the order of hashing gets into a sheet or a picture."""
    line = f'{{"at": "{NOW.isoformat()}", "from": "owner", "text": "TEXT"}}\n'
    told = "".join(line.replace("TEXT", t) for t in ("print the weigh list", "weights as a chart"))
    code = (
        "import sys, hashlib, datetime as d\nfrom pathlib import Path\nfrom bot.book import Book\n"
        "from bot.conversation import hear\nfrom bot.desk import *\nfrom bot.files import load_folder\n"
        "from bot.replay import parsed\nwith Book.open(None) as book:\n"
        " load_folder(book, Path(sys.argv[1]), d.datetime(2026, 8, 1, tzinfo=d.UTC))\n desk = open_desk(book)\n"
        " for line in sys.stdin:\n  for o in hear(desk, parsed(line, None)):\n"
        "   print(hashlib.sha256(file_of(desk, o.page, o.at).content).hexdigest())\n"
    )
    out = [
        subprocess.run([sys.executable, "-c", code, str(FARM)], input=told, text=True, capture_output=True, cwd=ROOT,
                       check=True, env={**os.environ, "PYTHONHASHSEED": seed}).stdout
        for seed in ("1", "2")
    ]  # fmt: skip
    assert out[0] == out[1]
    assert len(out[0].split()) == 2


def test_where_there_is_nothing_to_write_words_say_so(desk: Desk) -> None:
    out = say(desk, "treatment record as a file")
    assert out.page is None
    assert out.text.endswith("No sheet or file: there is nothing to put on it.")


def test_an_empty_barn_asks_for_nothing_it_cannot_draw() -> None:
    farm = barn({})
    for about in ("growth", "ready", "due", "withdrawal", "stock", "eggs", "bins", "loads", "shipped", "head"):
        for as_ in ("chart", "sheet", "file"):
            q = Question(about, as_=as_)
            m = at(DAY)
            from bot.papers import paper

            assert isinstance(paper(q, findings_for(q, farm, m), farm, m), str), (about, as_)
