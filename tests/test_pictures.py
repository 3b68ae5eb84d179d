"""Pictures: the same figures as the words beside them, the same bytes for the same book, and none that costs a word."""

import io
import json
import struct
import sys
import tempfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from bot import papers
from bot.asking import findings_for
from bot.book import Book
from bot.conversation import hear
from bot.desk import Desk, Heard, Out, file_of, open_desk
from bot.files import load_folder
from bot.pictures import frame, growth, stock
from bot.reading import Question
from bot.replay import replay
from bot.terminal import talk
from rules import series
from rules.findings import Growth, RunOut

FARM = Path(__file__).parent / "talks" / "farm"
TOLD = [
    ("2026-08-24T07:00:00-05:00", "9 bags milk left"),
    ("2026-08-30T07:00:00-05:00", "6 bags milk left"),
]
NOW = datetime.fromisoformat("2026-09-02T07:00:00-05:00")  # the Wednesday before Labor Day


@pytest.fixture
def desk() -> Iterator[Desk]:
    """Quarry Hill, with its milk counted twice."""
    with Book.open(None) as book:
        load_folder(book, FARM, datetime.fromisoformat("2026-08-01T00:00:00-05:00"))
        opened = open_desk(book)
        for at, text in TOLD:
            hear(opened, Heard(datetime.fromisoformat(at), "owner", text))
        yield opened


def say(desk: Desk, text: str) -> Out:
    (out,) = hear(desk, Heard(NOW, "owner", text))
    return out


def size_of(png: bytes) -> tuple[int, int]:
    """Width and height of a PNG whose every part has its right check sum."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    place, kinds = 8, []
    while place < len(png):
        (length,) = struct.unpack(">I", png[place : place + 4])
        kind, data = png[place + 4 : place + 8], png[place + 8 : place + 8 + length]
        assert struct.unpack(">I", png[place + 8 + length : place + 12 + length]) == (zlib.crc32(kind + data),)
        kinds.append(kind)
        place += 12 + length
    assert (kinds[0], kinds[-1]) == (b"IHDR", b"IEND")
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def written(figure: Any) -> str:
    """All that stands on a picture."""
    texts = [t.get_text() for t in figure.texts]
    for ax in figure.axes:
        texts += [t.get_text() for t in (*ax.texts, *ax.get_xticklabels(), *ax.get_yticklabels())]
    return "\n".join(texts)


ASKED = ["growth chart of pen 1", "graph of 2401", "how long will the milk last, as a chart"]


@pytest.mark.parametrize("text", ASKED)
def test_a_picture_goes_with_the_words_and_is_the_same_again(desk: Desk, text: str) -> None:
    out = say(desk, text)
    first, second = file_of(desk, out.page, out.at), file_of(desk, out.page, out.at)
    assert first is not None
    assert first == second
    assert (first.kind, first.name[-4:]) == ("image/png", ".png")
    assert size_of(first.content) == (1080, 1350)
    assert 10_000 < len(first.content) < 1_000_000


@pytest.mark.parametrize("text", ASKED)
def test_a_picture_sent_late_shows_the_farm_as_it_was_asked_of(desk: Desk, text: str) -> None:
    out = say(desk, text)
    first = file_of(desk, out.page, out.at)
    say(desk, "2401 131")
    say(desk, "1 bag of milk left")
    assert file_of(desk, out.page, out.at) == first
    later = file_of(desk, say(desk, text).page, out.at)
    assert later is not None
    assert later != first


def test_replay_tells_of_the_picture_beside_the_words() -> None:
    out = io.StringIO()
    with Book.open(None) as book:
        load_folder(book, FARM, datetime.fromisoformat("2026-08-01T00:00:00-05:00"))
        desk = open_desk(book)
        replay(desk, [f'{{"at": "{NOW.isoformat()}", "from": "owner", "text": "graph of 2401"}}'], out)
        picture = file_of(desk, say(desk, "graph of 2401").page, NOW)
    (said,) = [row for row in map(json.loads, out.getvalue().splitlines()) if row.get("cause") == "reply"]
    assert picture is not None
    assert said["file"] == {
        "name": "growth-2401-2026-09-02.png", "type": "image/png", "bytes": len(picture.content),
    }  # fmt: skip
    assert said["text"].startswith("2401: about 115.6 lb")


def test_the_terminal_puts_it_in_a_file_and_says_where(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(sys, "stdin", io.StringIO("graph of 2401\n"))
    talk(desk, lambda: NOW)
    *_, place = capsys.readouterr().out.split()
    assert size_of(Path(place).read_bytes()) == (1080, 1350)


def test_the_stock_picture_says_what_the_words_say(desk: Desk) -> None:
    m = desk.moment(NOW)
    (x,) = [f for f in findings_for(Question("lasts", item="milk"), desk.farm, m) if isinstance(f, RunOut)]
    item = desk.farm.plan.item_named("milk")
    assert item is not None
    level = series.level(desk.farm, item, m, x.runs_out)
    assert level is not None
    assert float(x.on_hand) == pytest.approx(level.expected[0], abs=0.006)
    assert level.low[0] < level.expected[0] < level.high[0]
    assert x.stock_out is not None
    gone = next(t for t, n in zip(level.ahead, level.expected, strict=True) if n <= 0)
    assert gone.date() == x.runs_out
    assert {date(2026, 9, 6), date(2026, 9, 7)} <= set(level.shut)  # Sunday and Labor Day
    with frame.style():
        text = written(stock.stock(x, level, m))
    words = say(desk, "how long will the milk last").text
    assert "milk 4.5 bags" in words
    assert "milk: 4.5 bags" in text
    assert "about Fri 11 Sep" in words
    assert "about Fri 11 Sep" in text
    assert "order by 14:00 Fri 4 Sep" in text


def test_the_growth_picture_says_what_the_words_say(desk: Desk) -> None:
    m = desk.moment(NOW)
    (x,) = [f for f in findings_for(Question("growth", tag="2401"), desk.farm, m) if isinstance(f, Growth)]
    course = series.course(desk.farm, m, ["2401"], date(2026, 9, 20))
    assert course is not None
    with frame.style():
        figure = growth.one(x, desk.farm.animals["2401"], course, desk.farm, m.today)
    weighed, ahead = figure.axes[0].lines[:2]
    assert list(weighed.get_ydata()) == [93.0, 102.3]
    day = list(ahead.get_xdata()).index(x.on.toordinal())
    assert float(ahead.get_ydata()[day]) == pytest.approx(float(x.weight), abs=0.051)
    words = say(desk, "how is 2401 growing").text
    assert "115.6 lb today (104 to 127)" in words
    assert "115.6 lb today, 104 to 127" in written(figure)
    assert "ship 110" in written(figure)


def test_where_nothing_can_be_drawn_words_say_what_is_missing(desk: Desk) -> None:
    out = say(desk, "how much hay is left, as a chart")
    assert out.page is None
    assert out.text.endswith("No picture yet: nobody has counted it.")


def test_a_fault_of_ours_in_a_picture_never_costs_the_words(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*args: Any) -> Any:
        raise ZeroDivisionError

    words = say(desk, "how long will the milk last, as a chart").text
    monkeypatch.setattr(frame, "picture", broken)
    out = say(desk, "how long will the milk last, as a chart")
    assert out.text == words
    assert file_of(desk, out.page, out.at) is None
    monkeypatch.setitem(papers._CHARTS, "lasts", broken)
    out = say(desk, "how long will the milk last, as a chart")
    assert out.text.startswith(words)
    assert out.page is None


def test_signs_that_the_letters_lack_and_money_signs_are_no_trouble() -> None:
    assert frame.plain("ewes \U0001f411 £ € é ½ – 木") == "ewes £ € é ½ –"
    with frame.style():
        figure, _ = frame.picture("$12 a head, $14 \U0001f411 later", ["a $5 b $6"])
    assert "$12 a head, $14" in written(figure)
    assert size_of(frame.png(lambda: frame.picture("$1 and $2_a^b")[0])) == (1080, 1350)
