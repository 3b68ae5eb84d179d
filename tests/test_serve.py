"""The bot on the chat service's stand-in: what a farmer sends is kept once, and what the bot owes arrives."""

import asyncio
import importlib.util
import json
import logging
import os
import signal
import subprocess
import sys
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from chat_server import LONG_WAIT, TOKEN, ChatServer, Sent
from hypothesis import given
from hypothesis import strategies as st

from bot import serve as serving
from bot import when
from bot.book import Book, fold
from bot.conversation import hear
from bot.desk import Heard, open_desk
from bot.files import load_folder
from bot.log import log_without
from bot.serve import Unserved, cut, serve
from bot.words.chat import NOT_DRAWN

ROOT = Path(__file__).parent.parent
OWNER, HELPER, YARD, STRANGER = 1001, 1002, -100777, 6666
NOW = datetime(2026, 8, 11, 12, 10, tzinfo=UTC)  # a Tuesday, ten past seven in the morning on the farm
PLAN = """
[farm]
name = "Low Rigg"
country = "US"
subdivision = "WI"
timezone = "America/Chicago"
weight = "lb"
[[person]]
name = "owner"
role = "owner"
telegram = 1001
[[person]]
name = "hand"
role = "helper"
telegram = 1002
[[group]]
name = "pen 1"
keeps = "market lambs"
[[item]]
name = "hay"
unit = "bale"
"""
ANIMALS = "tag,sex,born,group\n2641,ram,2026-03-01,pen 1\n2655,ewe,2026-03-02,pen 1\n2660,ram,2026-03-04,pen 1\n"
WEIGHTS = "tag,on,weight\n2641,2026-08-02,98\n2655,2026-08-02,95\n2660,2026-08-02,100\n"


@pytest.fixture
def server() -> Iterator[ChatServer]:
    with ChatServer(clock=NOW.timestamp, chats={YARD: "supergroup", -5: "group"}) as running:
        yield running


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    folder = tmp_path / "plan"
    folder.mkdir()
    (folder / "farm.toml").write_text(PLAN)
    (folder / "animals.csv").write_text(ANIMALS)
    (folder / "weights.csv").write_text(WEIGHTS)
    return folder


@pytest.fixture
def book(farm: Path, tmp_path: Path) -> Iterator[Book]:
    with Book.open(tmp_path / "my.book") as opened:
        load_folder(opened, farm, NOW - timedelta(minutes=1))
        yield opened


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """A still clock, no alarm, and no pauses: how long the bot would have waited is only written down."""
    noted: list[float] = []
    seconds = serving._seconds

    def no_pause(wrong: Exception, tries: int) -> float:
        noted.append(seconds(wrong, tries))
        return 0.0

    monkeypatch.setattr(serving, "_seconds", no_pause)
    monkeypatch.setattr(serving, "_wake", lambda line, at: None)
    monkeypatch.setattr(when, "now", lambda zone: when.local(NOW, zone))
    return noted


@asynccontextmanager
async def running(book: Book, server: ChatServer) -> AsyncIterator[asyncio.Task[None]]:
    """The bot, from start to stop."""
    task = asyncio.create_task(serve(book, TOKEN, server.base))
    try:
        yield task
    finally:
        task.cancel()
        await asyncio.wait_for(task, LONG_WAIT)


async def soon(call: Callable[..., Any], *args: Any) -> Any:
    """Wait for the server without holding up the bot, which shares this thread."""
    return await asyncio.to_thread(call, *args)


async def deal_with(server: ChatServer, update: dict[str, Any]) -> None:
    await soon(server.wait_confirmed, update)


def weights_of(book: Book, tag: str = "2641") -> list[Decimal]:
    """The weights of an animal as they stand, after those of the farm folder."""
    return [w.weight for w in fold(book).farm.animals[tag].weighings][1:]


def told(book: Book) -> int:
    return sum(1 for t in book.entries() if t.heard.by != "plan")


# -- messages


async def test_a_weight_is_kept_and_answered(book: Book, server: ChatServer, waits: list[float]) -> None:
    async with running(book, server):
        server.say(OWNER, "2641 108")
        (reply,) = await soon(server.wait_sent, 1)
    assert reply.chat == OWNER
    assert reply.text.startswith("2641 108")
    assert weights_of(book) == [108]
    assert not book.owed()


async def test_an_update_that_comes_again_is_kept_once(book: Book, server: ChatServer, waits: list[float]) -> None:
    async with running(book, server):
        update = server.say(OWNER, "2641 108")
        server.again(update)
        await deal_with(server, update)
        server.again(update)
        await deal_with(server, server.say(OWNER, "2655 99"))
        await soon(server.wait_sent, 2)
    assert weights_of(book) == [108]
    async with running(book, server):  # the server has lost track: another start, the same update
        server.again(update)
        await deal_with(server, server.say(OWNER, "2660 104"))
        await soon(server.wait_sent, 3)
    assert told(book) == 3
    assert len(server.sent) == 3


async def test_messages_are_answered_in_order(book: Book, server: ChatServer, waits: list[float]) -> None:
    for tag in ("2641", "2655", "2660"):
        server.say(OWNER, f"{tag} 104")
    server.say(HELPER, "12 bales of hay left")
    async with running(book, server):
        await soon(server.wait_sent, 4)
    assert [s.text[:4] for s in server.sent_to(OWNER)] == ["2641", "2655", "2660"]
    assert len(server.sent_to(HELPER)) == 1


async def test_an_edited_message_stands_in_place_of_the_first(
    book: Book, server: ChatServer, waits: list[float]
) -> None:
    async with running(book, server):
        first = server.say(OWNER, "2641 104")
        server.edit(first, "2641 108")
        await soon(server.wait_sent, 2)
    assert weights_of(book) == [108]


async def test_a_caption_is_read_as_a_message(book: Book, server: ChatServer, waits: list[float]) -> None:
    photo = [{"file_id": "p", "file_unique_id": "p", "width": 1, "height": 1}]
    async with running(book, server):
        server.say(OWNER, None, caption="2641 108", photo=photo)
        await soon(server.wait_sent, 1)
    assert weights_of(book) == [108]


async def test_a_voice_is_not_kept_and_said_so_once(book: Book, server: ChatServer, waits: list[float]) -> None:
    voice = {"file_id": "v", "file_unique_id": "v", "duration": 3}
    async with running(book, server):
        update = server.say(OWNER, None, voice=voice)
        server.again(update)
        await deal_with(server, server.say(OWNER, None, sticker={**voice, "width": 1, "height": 1, "is_animated": False,
                                                                "is_video": False, "type": "regular"}))  # fmt: skip
        server.say(OWNER, "2641 108")
        await soon(server.wait_sent, 2)
    assert server.sent[0].text == "Not kept: I can only read text. Please type it."
    assert len(server.sent) == 2


async def test_an_album_is_spoken_of_once(book: Book, server: ChatServer, waits: list[float]) -> None:
    photo = [{"file_id": "p", "file_unique_id": "p", "width": 1, "height": 1}]
    async with running(book, server):
        for _ in range(3):
            server.say(OWNER, None, photo=photo, media_group_id="7")
        server.say(OWNER, "2641 108")
        await soon(server.wait_sent, 2)
    assert len(server.sent) == 2


# -- questions and buttons


async def test_a_choice_counts_once_and_its_buttons_go(book: Book, server: ChatServer, waits: list[float]) -> None:
    async with running(book, server):
        server.say(OWNER, "2641 1080")
        (question,) = await soon(server.wait_sent, 1)
        press = next(press for press, label in question.buttons if label.startswith("108"))
        server.press(OWNER, question, press)
        await soon(server.wait, lambda s: s.called("editMessageReplyMarkup"), "the buttons to go")
        server.press(OWNER, question, press)
        await soon(server.wait, lambda s: len(s.called("answerCallbackQuery")) == 2, "both answers")
    assert weights_of(book) == [108]
    assert "reply_markup" not in server.called("editMessageReplyMarkup")[0]


async def test_a_question_answered_in_words_is_settled_for_its_buttons(
    book: Book, server: ChatServer, waits: list[float]
) -> None:
    """Words, then the button of the same question, then an edit of what was asked about: one fact stands."""
    async with running(book, server):
        first = server.say(OWNER, "hay 5")
        (asked,) = await soon(server.wait_sent, 1)
        server.say(OWNER, "no, came")
        await soon(server.wait_sent, 2)
        server.press(OWNER, asked, asked.buttons[0][0])
        await soon(server.wait_sent, 3)
        server.edit(first, "got 6 bales of hay")
        await soon(server.wait_sent, 4)
    assert [(f.what, f.amount) for f in fold(book).farm.stock["hay"]] == [("received", 6)]


async def test_only_the_choices_of_the_settled_question_go(book: Book, server: ChatServer, waits: list[float]) -> None:
    with book.block():
        first = book.ask("owner", NOW, None, {"matter": "one", "choices": [{"label": "later", "say": "Later then."}]})
        other = book.ask("owner", NOW, None, {"matter": "two", "choices": [{"label": "dosed"}, {"label": "later"}]})
    buttons = [(f"{first}.0", "later"), (f"{other}.0", "dosed"), (f"{other}.1", "later")]
    async with running(book, server):
        server.press(OWNER, Sent("sendMessage", OWNER, 7, "Order milk. Dose 3.", buttons), f"{first}.0")
        await soon(server.wait, lambda s: s.called("editMessageReplyMarkup"), "the buttons to go")
    (call,) = server.called("editMessageReplyMarkup")
    left = [button["callback_data"] for row in json.loads(call["reply_markup"])["inline_keyboard"] for button in row]
    assert left == [f"{other}.0", f"{other}.1"]


async def test_an_open_question_survives_a_restart(book: Book, server: ChatServer, waits: list[float]) -> None:
    async with running(book, server):
        server.say(OWNER, "2641 1080")
        (question,) = await soon(server.wait_sent, 1)
    async with running(book, server):
        press = next(press for press, label in question.buttons if label.startswith("108"))
        server.press(OWNER, question, press)
        await soon(server.wait_sent, 2)
    assert weights_of(book) == [108]


async def test_a_stranger_presses_nothing(book: Book, server: ChatServer, waits: list[float]) -> None:
    async with running(book, server):
        server.say(OWNER, "2641 1080")
        (question,) = await soon(server.wait_sent, 1)
        elsewhere = Sent("sendMessage", STRANGER, question.message, "", question.buttons)
        await deal_with(server, server.press(STRANGER, elsewhere, question.buttons[0][0]))
        await deal_with(server, server.say(OWNER, "thanks"))
    assert weights_of(book) == []
    assert not server.called("answerCallbackQuery")


# -- who is heard


@pytest.mark.parametrize(("person", "chat"), [(STRANGER, STRANGER), (OWNER, -5), (STRANGER, -5)])
async def test_a_stranger_learns_and_changes_nothing(
    book: Book, server: ChatServer, waits: list[float], person: int, chat: int
) -> None:
    """A group that is not in the plan is a stranger, even when the owner writes in it."""
    async with running(book, server):
        for text in ("2641 108", "/start", "how many ready"):
            update = server.say(person, text, chat)
        server.edit(update, "2641 109")
        await deal_with(
            server, server.say(person, None, chat, voice={"file_id": "v", "file_unique_id": "v", "duration": 1})
        )
        await deal_with(server, server.say(OWNER, "ok"))
    assert told(book) == 0
    assert not [s for s in server.sent if s.chat in (STRANGER, -5)]


async def test_a_group_that_the_owner_let_in_is_answered_there(
    book: Book, server: ChatServer, waits: list[float]
) -> None:
    async with running(book, server):
        server.say(OWNER, "/letin", YARD)
        server.say(HELPER, "2641 108", YARD)
        server.say(STRANGER, "2655 108", YARD)
        server.say(HELPER, "2660 104")
        _, reply = await soon(server.wait_sent, 2, YARD)
        (own,) = await soon(server.wait_sent, 1, HELPER)
    assert (reply.text[:8], own.text[:8]) == ("2641 108", "2660 104")
    assert weights_of(book, "2655") == []
    async with running(book, server):  # it stays let in over a restart, until it is let out
        server.say(HELPER, "2641 109", YARD)
        await soon(server.wait_sent, 3, YARD)
        server.say(OWNER, "/letout", YARD)
        await deal_with(server, server.say(HELPER, "2660 105", YARD))
    assert weights_of(book) == [108, 109]
    assert weights_of(book, "2660") == [104]


async def test_a_helper_lets_no_group_in(book: Book, server: ChatServer, waits: list[float]) -> None:
    async with running(book, server):
        server.say(HELPER, "/letin", YARD)
        await deal_with(server, server.say(OWNER, "2641 108", YARD))
        await deal_with(server, server.say(OWNER, "thanks"))
    assert not server.sent_to(YARD)
    assert weights_of(book) == []


# -- a bad line


async def test_what_was_owed_goes_out_at_the_next_start(book: Book, server: ChatServer, waits: list[float]) -> None:
    with book.block():
        book.owe("owner", NOW, "scheduled", {"text": "Order 4 milk by 14:00."})
    async with running(book, server):
        await soon(server.wait_sent, 1)
    async with running(book, server):
        server.say(OWNER, "2641 108")
        await soon(server.wait_sent, 2)
    assert server.sent[0].text == "Order 4 milk by 14:00."
    assert len(server.sent) == 2


async def test_flood_control_is_waited_out(book: Book, server: ChatServer, waits: list[float]) -> None:
    server.fail("sendMessage", 429, "Too Many Requests", retry_after=17, times=2)
    async with running(book, server):
        server.say(OWNER, "2641 108")
        server.say(OWNER, "2655 99")
        await soon(server.wait_sent, 2)
    assert waits == [17.0, 17.0]
    assert [s.text[:4] for s in server.sent] == ["2641", "2655"]


async def test_a_line_that_fails_is_tried_again_each_time_later(
    book: Book, server: ChatServer, waits: list[float]
) -> None:
    server.fail("getMe", 502, times=2)
    server.fail("getUpdates", 502, times=2)
    server.fail("sendMessage", 502, times=3)
    async with running(book, server):
        server.say(OWNER, "2641 108")
        await soon(server.wait_sent, 1)
    assert waits == [1.0, 2.0, 1.0, 2.0, 1.0, 2.0, 4.0]
    assert weights_of(book) == [108]


async def test_a_reply_whose_receipt_was_lost_is_sent_again(book: Book, server: ChatServer, waits: list[float]) -> None:
    server.fail("sendMessage", None)
    async with running(book, server):
        server.say(OWNER, "2641 108")
        first, again = await soon(server.wait_sent, 2)
    assert first.text == again.text
    assert weights_of(book) == [108]


async def test_who_shut_the_bot_out_holds_up_nobody(book: Book, server: ChatServer, waits: list[float]) -> None:
    server.fail("sendMessage", 403, "Forbidden: bot was blocked by the user")
    async with running(book, server):
        server.say(OWNER, "2641 104")
        await soon(server.wait, lambda s: s.called("sendMessage"), "the refusal")
        server.say(OWNER, "2655 99")
        (reply,) = await soon(server.wait_sent, 1)
    assert reply.text.startswith("2655")
    assert weights_of(book) == [104]
    assert not book.owed()


async def test_a_chat_that_waits_holds_up_no_other(
    book: Book, server: ChatServer, waits: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "_seconds", lambda wrong, tries: 3600.0)
    server.fail("sendMessage", 429, "Too Many Requests", retry_after=3600)
    async with running(book, server):
        server.say(OWNER, "2641 104")
        await soon(server.wait, lambda s: s.called("sendMessage"), "the refusal")
        server.say(HELPER, "2655 99")
        await soon(server.wait_sent, 1, HELPER)
    assert [o.person for o in book.owed()] == ["owner"]


# -- the surroundings


async def test_a_full_disk_is_told_and_the_rest_goes_on_when_mended(
    book: Book, server: ChatServer, waits: list[float]
) -> None:
    async with running(book, server):
        pages = book._db.execute("pragma page_count").fetchone()[0]
        book._db.execute(f"pragma max_page_count = {pages}")
        long = "2641 looks poorly, " + "and so on " * 1000
        await deal_with(server, server.say(OWNER, long))
        await soon(server.wait_sent, 1)
        book._db.execute("pragma max_page_count = 100000")
        server.say(OWNER, "2641 108")
        await soon(server.wait_sent, 2)
    assert server.sent[0].text.startswith("Not kept: the disk is full.")
    assert weights_of(book) == [108]


async def test_what_was_neither_kept_nor_told_stays_with_the_server(
    book: Book, server: ChatServer, waits: list[float]
) -> None:
    async with running(book, server):
        pages = book._db.execute("pragma page_count").fetchone()[0]
        book._db.execute(f"pragma max_page_count = {pages}")
        server.fail("sendMessage", 502)
        update = server.say(OWNER, "2641 looks poorly, " + "and so on " * 1000)
        await soon(server.wait, lambda s: s.called("sendMessage"), "the failure")
        book._db.execute("pragma max_page_count = 100000")
        await deal_with(server, update)
    assert len(list(book.entries())) > 0
    assert told(book) == 1


async def test_a_mistake_of_ours_is_told_and_nobody_else_waits(
    book: Book, server: ChatServer, waits: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    hear = serving.hear

    def stumble(desk: Any, heard: Any) -> Any:
        if "2641" in heard.text:
            raise ZeroDivisionError
        return hear(desk, heard)

    monkeypatch.setattr(serving, "hear", stumble)
    async with running(book, server):
        server.say(OWNER, "2641 108")
        server.say(OWNER, "2655 99")
        await soon(server.wait_sent, 2)
    assert sorted(s.text.split(":")[0] for s in server.sent)[1] == "Not kept"
    assert weights_of(book, "2655") == [99]


async def test_a_wrong_token_ends_in_a_sentence_without_it(
    book: Book, server: ChatServer, waits: list[float], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(Unserved, match="does not know this token: check TETHERA_TOKEN") as wrong:
        await serve(book, "999:not-the-right-one", server.base)
    assert "not-the-right-one" not in str(wrong.value) + capsys.readouterr().err


@pytest.mark.parametrize(("token", "base"), [("two words", "http://127.0.0.1:1/bot"), ("1:a", "http://127.0.0.1:1")])
async def test_what_is_no_token_or_address_is_said_before_anything_is_sent(book: Book, token: str, base: str) -> None:
    with pytest.raises(Unserved):
        await serve(book, token, base)


async def test_a_second_bot_on_the_token_is_told_to_owners(book: Book, server: ChatServer, waits: list[float]) -> None:
    server.fail("getUpdates", 409, "Conflict: terminated by other getUpdates request", times=6)
    async with running(book, server):
        server.say(OWNER, "2641 108")
        first, _ = await soon(server.wait_sent, 2)
    assert first.text.startswith("A second bot runs on my token")
    assert not server.sent_to(HELPER)


def test_the_token_never_stands_in_the_log(capsys: pytest.CaptureFixture[str]) -> None:
    log_without(TOKEN)
    try:
        raise ValueError(f"http://x/bot{TOKEN}/getMe")
    except ValueError:
        logging.getLogger("httpx").exception("calling %s", TOKEN)
    assert TOKEN not in capsys.readouterr().err


# -- the alarm clock


async def test_a_check_that_falls_due_while_running_is_made_and_said(
    book: Book, server: ChatServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    due = [when.now("America/Chicago") + timedelta(milliseconds=100)]

    def knock(desk: Any, now: datetime) -> list[str]:
        if not due or now < due[0]:
            return []
        due.clear()
        with book.block():
            book.owe("owner", now, "scheduled", {"text": "Order 4 milk by 14:00."})
        return ["one"]

    monkeypatch.setattr(serving, "knock", knock)
    monkeypatch.setattr(serving, "next_knock", lambda desk, after: due[0] if due else after + timedelta(days=1))
    async with running(book, server):
        (said,) = await soon(server.wait_sent, 1)
    assert said.text == "Order 4 milk by 14:00."


# -- long texts


@given(st.text(st.sampled_from("ab \n🐑é"), max_size=300), st.integers(4, 40))
def test_a_text_is_cut_within_the_limit_and_loses_only_spaces(text: str, longest: int) -> None:
    pieces = cut(text, longest)
    assert all(len(p.encode("utf-16-le")) // 2 <= longest for p in pieces)
    assert "".join("".join(pieces).split()) == "".join(text.split())


def test_a_text_is_cut_after_a_line_else_after_a_word() -> None:
    assert cut("one two\nthree four", 10) == ["one two", "three four"]
    assert cut("one two three", 9) == ["one two", "three"]
    assert cut("abcdefgh", 5) == ["abcde", "fgh"]


async def test_the_buttons_stand_under_the_last_piece(book: Book, server: ChatServer, waits: list[float]) -> None:
    with book.block():
        button = {"press": "1", "label": "more"}
        book.owe("owner", NOW, "scheduled", {"text": "a line of many\n" * 500, "buttons": [button]})
    async with running(book, server):
        first, last = await soon(server.wait_sent, 2)
    assert (first.buttons, last.buttons) == ([], [("1", "more")])


# -- pictures and files

CHART = "growth chart of pen 1"


async def test_a_picture_goes_out_with_the_words_under_it(book: Book, server: ChatServer, waits: list[float]) -> None:
    async with running(book, server):
        server.say(OWNER, CHART)
        (sent,) = await soon(server.wait_sent, 1)
    assert sent.method == "sendPhoto"
    assert sent.text.startswith("pen 1:")
    assert sent.file is not None
    assert sent.file[0].startswith("growth-pen-1")
    assert sent.file[1].startswith(b"\x89PNG")
    assert not book.owed()


async def test_a_file_goes_out_as_a_document(book: Book, server: ChatServer, waits: list[float]) -> None:
    async with running(book, server):
        server.say(OWNER, "weights as a file")
        (sent,) = await soon(server.wait_sent, 1)
    assert sent.method == "sendDocument"
    assert sent.file is not None
    assert sent.file[0].endswith(".csv")
    assert b"2641,,pen 1,ram,2026-03-01,2026-08-02,98,lb" in sent.file[1]
    assert "3 lines" in sent.text


async def test_a_picture_that_was_owed_when_the_power_went_is_sent(
    book: Book, server: ChatServer, waits: list[float]
) -> None:
    hear(open_desk(book), Heard(NOW, "owner", CHART))
    hear(open_desk(book), Heard(NOW, "owner", "2641 108"))
    async with running(book, server):
        first, second = await soon(server.wait_sent, 2)
    assert (first.method, second.method) == ("sendPhoto", "sendMessage")


async def test_words_too_long_for_a_picture_come_after_it(
    book: Book, server: ChatServer, waits: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "LONGEST_CAPTION", 20)
    async with running(book, server):
        server.say(OWNER, CHART)
        first, second = await soon(server.wait_sent, 2)
    assert (first.method, first.text) == ("sendPhoto", "")
    assert second.method == "sendMessage"
    assert second.text.startswith("pen 1:")


async def test_a_picture_the_service_refuses_does_not_take_the_words_with_it(
    book: Book, server: ChatServer, waits: list[float]
) -> None:
    server.fail("sendPhoto", 400)
    async with running(book, server):
        server.say(OWNER, CHART)
        (sent,) = await soon(server.wait_sent, 1)
    assert sent.method == "sendMessage"
    assert sent.text.startswith("pen 1:")
    assert sent.text.endswith(NOT_DRAWN)


async def test_a_picture_that_cannot_be_made_does_not_take_the_words_with_it(
    book: Book, server: ChatServer, waits: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "file_of", lambda desk, page, at: None)
    async with running(book, server):
        server.say(OWNER, CHART)
        (sent,) = await soon(server.wait_sent, 1)
    assert (sent.method, sent.text.endswith(NOT_DRAWN)) == ("sendMessage", True)


# -- the process


def start(farm: Path, book: Path, server: ChatServer) -> "subprocess.Popen[bytes]":
    command = [sys.executable, "-P", "-m", "bot", "serve", "--farm", farm, "--book", book, "--api-base", server.base]
    return subprocess.Popen(command, env={**os.environ, "TETHERA_TOKEN": TOKEN}, stderr=subprocess.DEVNULL)


@pytest.mark.parametrize("sign", [signal.SIGTERM, signal.SIGINT])
def test_it_stops_when_told_to(farm: Path, tmp_path: Path, server: ChatServer, sign: signal.Signals) -> None:
    process = start(farm, tmp_path / "a.book", server)
    try:
        server.say(OWNER, "2641 108")
        server.wait_sent(1)
        process.send_signal(sign)
        assert process.wait(LONG_WAIT) == 0
    finally:
        process.kill()
        process.wait()


def test_nothing_is_lost_or_doubled_when_it_is_killed(tmp_path: Path) -> None:
    """A short run of ops/bench_kill.py; the seed picks what is told, and after which call to the service it dies."""
    spec = importlib.util.spec_from_file_location("bench_kill", ROOT / "ops/bench_kill.py")
    assert spec
    assert spec.loader
    bench = importlib.util.module_from_spec(spec)
    sys.modules["bench_kill"] = bench  # its dataclass looks itself up there
    spec.loader.exec_module(bench)
    figures = bench.trial(tmp_path, kills=4, seed=7)
    assert (figures.lost, figures.doubled, figures.unanswered) == ([], [], [])
    assert figures.kills == 4
    assert min(figures.messages, figures.edits, figures.presses, figures.delivered_again) > 0
