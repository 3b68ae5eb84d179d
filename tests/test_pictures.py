"""Pictures: the same figures as the words beside them, the same bytes for the same book, and none that costs a word."""

import io
import json
import struct
import sys
import tempfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from bot import papers
from bot.asking import findings_for
from bot.book import Book
from bot.conversation import hear
from bot.desk import Desk, Heard, Out, file_of, open_desk
from bot.files import load_folder
from bot.pictures import frame, growth, loads, stock, yard
from bot.reading import Question
from bot.replay import replay
from bot.terminal import talk
from rules import series
from rules.days import Moment
from rules.findings import Coming, Growth, Ready, RunOut, Season
from rules.grain import bin_contents

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
    assert said["text"].startswith("2401: about 115.8 lb")


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
    assert "115.8 lb today (103 to 129)" in words
    assert "115.8 lb today, 103 to 129" in written(figure)
    assert "ship 110" in written(figure)


def found(desk: Desk, question: Question) -> tuple[Any, Moment]:
    m = desk.moment(NOW)
    return findings_for(question, desk.farm, m), m


def test_the_ready_calendar_begins_with_what_the_words_say(desk: Desk) -> None:
    (x,), m = found(desk, Question("ready"))
    ahead = series.ready_ahead(desk.farm, m, x)
    assert [r.sale for r in ahead] == [date(2026, 9, 2) + timedelta(7 * n) for n in range(6)]
    with frame.style():
        text = written(loads.by_sale(ahead, desk.farm, m))
    words = say(desk, "how many ready").text
    assert f"{x.now} ready now" in words
    assert text.startswith(f"Ready for sale: {x.now} now")
    assert f"{ahead[1].low} to {ahead[1].high}" in text or f"\n{ahead[1].low}" in text


def test_the_weeks_add_up_to_all_that_are_asked_of(desk: Desk) -> None:
    growing, m = found(desk, Question("when_ready", group="pen 1"))
    with frame.style():
        figure = loads.by_week("pen 1", [], growing, m.today)
    heads = [int(t.get_text()) for t in figure.axes[0].texts if t.get_text().isdigit()]
    assert sum(heads) == len(growing) == 12
    assert say(desk, "when will pen 1 be ready").text.startswith(f"{heads[0]} of 12")


def test_the_economics_of_a_load_are_those_of_the_words(desk: Desk) -> None:
    at = datetime.fromisoformat("2026-08-10T07:00:00-05:00")
    with Book.open(None) as book:
        load_folder(book, FARM, datetime.fromisoformat("2026-08-01T00:00:00-05:00"))
        early = open_desk(book)
        m = early.moment(at)
        (x,) = [r for r in findings_for(Question("ship_plan"), early.farm, m) if isinstance(r, Ready)]
        words = hear(early, Heard(at, "owner", "ship or wait"))[0].text
        with frame.style():
            text = written(loads.economics(x, series.freight(early.farm.plan.ship, 12), early.farm, m))
    assert x.per_head_now is not None
    assert x.per_head_wait is not None
    assert f"${x.per_head_now:.2f}" in text
    assert f"${x.per_head_wait:.2f}" in text
    saved = f"waiting saves ${x.per_head_wait - x.per_head_now:.2f} a head"
    assert saved in words
    assert saved in text


def test_the_season_is_drawn_as_it_is_said(desk: Desk) -> None:
    say(desk, "shipped 2412 and 2410")
    say(desk, "sold 2 at 2.50 a lb, mean 112")
    out = say(desk, "sales as a chart")
    (x,) = [s for s in found(desk, Question("shipped"))[0] if isinstance(s, Season)]
    with frame.style():
        text = written(loads.shipped(x, desk.farm.shipments, desk.farm, desk.moment(NOW)))
    assert "2 head this year" in out.text
    assert "Shipped this year: 2" in text
    for figure in ("mean 112 lb", "$235 a head after freight", "$45.00"):  # 2.50 x 112 less 90 shared by two
        assert figure in out.text
        assert figure in text
    assert file_of(desk, out.page, out.at) is not None


def test_the_weeks_ahead_are_drawn_as_they_are_said(desk: Desk) -> None:
    out = say(desk, "how many lambs come ready each week, as a chart")
    (x,) = [c for c in found(desk, Question("coming"))[0] if isinstance(c, Coming)]
    with frame.style():
        text = written(loads.coming(x, NOW.date()))
    assert f"{x.head} in all" in out.text
    assert f"{x.head} in all" in text
    assert file_of(desk, out.page, out.at) is not None


def test_freight_is_the_trip_shared_by_those_that_ride(desk: Desk) -> None:
    """The farm's trip costs 90 and takes ten."""
    assert [str(cost) for _, cost in series.freight(desk.farm.plan.ship, 12)] == [
        "90.00", "45.00", "30.00", "22.50", "18.00", "15.00", "12.86", "11.25", "10.00", "9.00",
    ]  # fmt: skip


def test_eggs_are_drawn_a_hundred_hens_as_they_are_said(desk: Desk) -> None:
    """30 hens: 24, 27 and 21 eggs are 80, 90 and 70 a hundred hens, 80 together."""
    for day, eggs in ((31, 24), (1, 27), (2, 21)):
        month = 8 if day == 31 else 9
        at = datetime.fromisoformat(f"2026-{month:02}-{day:02}T06:50:00-05:00")
        hear(desk, Heard(at, "owner", f"{eggs} eggs"))
    out = say(desk, "eggs as a chart")
    assert "80 a 100 hens" in out.text
    days, week = (series.lay(desk.farm, NOW.date(), None, n) for n in (1, 7))
    with frame.style():
        figure = yard.eggs(["x"], days, week)
    dots, line = figure.axes[0].lines
    assert [round(float(y)) for y in dots.get_ydata()] == [80, 90, 70]
    assert round(float(line.get_ydata()[-1])) == 80
    assert file_of(desk, out.page, out.at) is not None


def test_bins_show_what_is_in_them_of_what_they_hold(desk: Desk) -> None:
    hear(desk, Heard(NOW, "owner", "bin 1 at 1200 bu"))
    out = say(desk, "bins as a chart")
    assert "1200 bu corn, room for 2800 bu" in out.text
    with frame.style():
        figure = yard.bins(bin_contents(desk.farm))
    assert "1200 bu of 4000" in written(figure)
    whole, full = figure.axes[0].patches
    assert full.get_width() / whole.get_width() == pytest.approx(0.3)


CHARTS = ["how many ready as a chart", "when will pen 1 be ready, as a chart", "ship or wait, as a picture",
          "stock as a chart", "milk as a chart", "weights as a chart", "picture of 2401"]  # fmt: skip


@pytest.mark.parametrize("text", CHARTS)
def test_every_chart_is_a_picture(desk: Desk, text: str) -> None:
    out = say(desk, text)
    file = file_of(desk, out.page, out.at)
    assert file is not None, out.text
    width, height = size_of(file.content)
    assert width == 1080
    assert 800 <= height <= 1350


LONG = "the long shed behind the old orchard by the mill road"


@pytest.mark.parametrize("name", ["x", LONG, "Ó Súilleabháin’s $$ _a^b"])
def test_names_of_any_length_stay_on_the_picture(name: str) -> None:
    rows = [frame.Row(name, "1234.5 bales, about Wed 12 Aug", float(n), high=40.0, low=1.0) for n in range(12)]
    with frame.style():
        figure = frame.bars(name * 3, [name], rows)
        figure.canvas.draw()
        renderer = figure._get_renderer()  # type: ignore[attr-defined]
        boxes = [t.get_window_extent(renderer) for t in (*figure.texts, *figure.axes[0].texts)]
    assert min(b.x0 for b in boxes) >= 0
    assert max(b.x1 for b in boxes) <= 1080


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
