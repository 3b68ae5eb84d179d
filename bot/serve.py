"""The farm's chat over Telegram: the only module that knows the chat service. It carries messages, and judges none.

Three tasks share one thread and one book. One takes updates in: what a message told, the number of its update and the
reply owed are committed together before the next poll tells the server that we have it, so `kill -9` loses nothing and
an update that comes again changes nothing. One sends what the book owes, in order for each chat, and marks it sent
afterwards, so a reply may come twice but never not at all. One is the alarm clock of the timetable. The library's own
polling loop is not used: it confirms updates before they are dealt with.
"""

import asyncio
import logging
import os
import re
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from apscheduler.schedulers.asyncio import AsyncIOScheduler
from telegram import Bot, CallbackQuery, Chat, InlineKeyboardButton, InlineKeyboardMarkup, Message, Update, User
from telegram.error import BadRequest, ChatMigrated, Conflict, Forbidden, InvalidToken, RetryAfter, TelegramError
from telegram.request import HTTPXRequest

from bot import when
from bot.book import Book, BookTrouble, Owed
from bot.conversation import hear
from bot.desk import Desk, File, Heard, Page, file_of, open_desk
from bot.log import log_without
from bot.timetable import knock, next_knock
from bot.words import chat as words
from rules.plan import Person
from rules.records import from_data

API_BASE = "https://api.telegram.org/bot"
KINDS = ["message", "edited_message", "callback_query"]
POLL_SECONDS = 50
SLOW_SECONDS = 30.0  # a barn's line: five seconds, the library's own patience, would send many a message twice
STOPPING_SECONDS = 0.5  # for a message on its way when the stop comes: else the next start sends it again
LONGEST_PAUSE = 30.0  # between tries, while the line is down
LONGEST_SLEEP = timedelta(minutes=1)  # of the alarm clock: a machine's clock may be set, or stand still while it sleeps
# After a week of silence the service numbers its updates anew, maybe lower, and would take an old offset for "I have
# those". Everything is confirmed by then, so after this many empty polls (half a day) no offset is given.
EMPTY_POLLS = 900
LONGEST_CAPTION = 1024  # of a picture or file
LONGEST_TEXT = 4096  # of a message, counted in UTF-16 units as the service does
UNREADABLE = ("voice", "audio", "video", "video_note", "photo", "document", "location", "contact")  # not chatter

os.environ.setdefault("PTB_TIMEDELTA", "1")  # else asking how long to wait is a deprecation warning, or an error
log = logging.getLogger("tethera")


class Unserved(Exception):
    """The bot cannot run at all; the text says in a sentence what to do."""


@dataclass
class _Line:
    """What the three tasks share. `owed` is set when the book may owe a message."""

    bot: Bot
    book: Book
    desk: Desk
    alarm: AsyncIOScheduler
    owed: asyncio.Event = field(default_factory=asyncio.Event)
    strangers: set[int] = field(default_factory=set)  # chats told of in the log, once each
    album: str | None = None
    stopping: bool = False

    def now(self) -> datetime:
        return when.now(self.desk.farm.plan.farm.timezone)

    def groups(self) -> list[int]:
        """The group chats that an owner has let in."""
        return list(self.book.kept("groups") or ())

    def person(self, chat: Chat, user: User | None) -> Person | None:
        """Whose words they are: in a private chat its owner's, in a group that was let in its writer's."""
        if chat.type == "private":
            return self.with_chat(chat.id)
        return self.with_chat(user.id) if user and chat.id in self.groups() else None

    def with_chat(self, number: int) -> Person | None:
        return next((p for p in self.desk.farm.plan.person if p.telegram == number), None)

    def place(self, owed: Owed) -> int | None:
        """The chat a message goes to: the group it answers, else the person's own."""
        group = (self.book.kept("places") or {}).get(str(owed.id))
        return group or next((p.telegram for p in self.desk.farm.plan.person if p.name == owed.person), None)

    @contextmanager
    def answering_in(self, chat: Chat) -> Iterator[None]:
        """The replies that come to be owed inside go to that chat, where it is a group."""
        if chat.type == "private":
            yield
            return
        with self.book.block():
            before = {owed.id for owed in self.book.owed()}
            yield
            places = {k: v for k, v in (self.book.kept("places") or {}).items() if int(k) in before}
            places |= {
                str(owed.id): chat.id for owed in self.book.owed() if owed.id not in before and owed.cause == "reply"
            }
            self.book.keep("places", places)


async def serve(book: Book, token: str, api_base: str = API_BASE) -> None:
    """Run until SIGTERM or SIGINT. `api_base` is the service's address without the token, ending in "/bot".
    Raises Unserved where it cannot run, BookTrouble where the book cannot be read."""
    log_without(token)
    line = _Line(_bot(token, api_base.rstrip("/")), book, open_desk(book), AsyncIOScheduler(timezone="UTC"))
    loop = asyncio.get_running_loop()
    work = asyncio.create_task(_work(line))
    for sign in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(sign, work.cancel)
    try:
        await work
    except asyncio.CancelledError:
        log.info("Stopped.")
    except (Unserved, BookTrouble):
        raise
    except Exception:
        log.exception("Stopped by something unexpected.")  # told here, where the token is blanked
        raise Unserved("The bot stopped by something unexpected: see the lines above.") from None
    finally:
        for sign in (signal.SIGTERM, signal.SIGINT):
            loop.remove_signal_handler(sign)


def _bot(token: str, api_base: str) -> Bot:
    if not re.fullmatch(r"[\w:-]+", token, re.ASCII):
        raise Unserved("This is no token: it looks like 123456:letters-and-digits, on one line; check the token file.")
    if not re.fullmatch(r"https?://\S+/bot", api_base):
        raise Unserved("The API address must be a URL that ends in /bot, such as http://127.0.0.1:8081/bot.")
    return Bot(
        token,
        base_url=api_base,
        base_file_url=api_base.removesuffix("/bot") + "/file/bot",
        request=HTTPXRequest(8, SLOW_SECONDS, SLOW_SECONDS, SLOW_SECONDS, SLOW_SECONDS),
        get_updates_request=HTTPXRequest(1, SLOW_SECONDS, SLOW_SECONDS, SLOW_SECONDS, SLOW_SECONDS),
    )


async def _work(line: _Line) -> None:
    """The three tasks, until one fails or this one is cancelled."""
    line.alarm.start()
    reason: Exception | None = None
    try:
        await _check(line)  # what fell due while nobody ran; from here on the alarm clock calls it
        await _connect(line.bot)
        if not any(person.telegram for person in line.desk.farm.plan.person):
            log.warning("The farm plan has no chat numbers: nobody is heard. Write to the bot, and yours shows here.")
        log.info("Connected. Listening.")
        async with asyncio.TaskGroup() as tasks:
            tasks.create_task(_listen(line, tasks))
            tasks.create_task(_send_owed(line, tasks))
    except* (InvalidToken, BookTrouble) as wrong:
        reason = wrong.exceptions[0]
    finally:
        line.alarm.shutdown(wait=False)
        await line.bot.shutdown()
    if isinstance(reason, InvalidToken):  # its own words hold the token
        raise Unserved("The chat service does not know this token: check TETHERA_TOKEN or the token file.")
    if reason:
        raise reason


async def _connect(bot: Bot) -> None:
    """Ask the service who we are, for ever: the line is often down when a machine starts."""
    tries = 0
    while True:
        try:
            return await bot.initialize()
        except InvalidToken:
            raise
        except TelegramError as wrong:
            tries += 1
            await _pause(wrong, tries, "reach the chat service")


async def _pause(wrong: Exception, tries: int, aim: str) -> None:
    """Wait before trying again: as long as the service says, else longer each time. Told once, then rarely."""
    if tries in (1, 10) or tries % 100 == 0:
        log.warning("Could not %s (%s); trying again.", aim, wrong)
    await asyncio.sleep(_seconds(wrong, tries))


def _seconds(wrong: Exception, tries: int) -> float:
    wait = wrong.retry_after if isinstance(wrong, RetryAfter) else min(LONGEST_PAUSE, 0.5 * 2 ** min(tries, 10))
    return wait.total_seconds() if isinstance(wait, timedelta) else wait


# -- in


async def _listen(line: _Line, tasks: asyncio.TaskGroup) -> None:
    """Take updates in, one after another, each committed before the next poll says that we have it."""
    offset: int | None = None
    tries = empty = 0
    while True:
        try:
            updates = await line.bot.get_updates(offset=offset, timeout=POLL_SECONDS, allowed_updates=KINDS)
        except InvalidToken:
            raise
        except TelegramError as wrong:
            tries += 1
            if isinstance(wrong, Conflict) and tries == 3 and "webhook" not in str(wrong):
                _tell_of_twin(line)
            await _pause(wrong, tries, "fetch messages")
            continue
        empty = 0 if updates else empty + 1
        if empty > EMPTY_POLLS:
            offset = None
        for update in updates:
            if not await _take(line, tasks, update):
                tries += 1
                await asyncio.sleep(min(LONGEST_PAUSE, tries))
                break
            offset = max(offset or 0, update.update_id + 1)
        else:
            tries = 0


async def _take(line: _Line, tasks: asyncio.TaskGroup, update: Update) -> bool:
    """Deal with one update. False where it must stay with the server: nothing was kept, and nobody could be told."""
    user, press = update.effective_user, update.callback_query
    chat = update.effective_chat or (Chat(user.id, "private") if user else None)  # an old button comes without one
    if chat is None:
        return True
    try:
        owed = _let_in_or_out(line, update, chat, user)
        person = line.person(chat, user)
        if person and not owed:
            with line.answering_in(chat):
                owed = _keep(line, update, person.name, chat)
    except Exception as wrong:
        log.error("A message was not kept.", exc_info=wrong)
        return await _not_kept(line, chat.id, wrong)
    if person is None and not owed:
        _ignored(line, chat)
    if owed:
        line.owed.set()
    if person:
        _set_alarm(line)  # also without a reply: a reminder was set, or a run of weights goes on
    if person and press is not None:
        tasks.create_task(_pressed(press, owed))
    return True


def _ignored(line: _Line, chat: Chat) -> None:
    """Tell whoever runs the bot of a stranger's chat, once, with the number to put into the plan if it is none."""
    if chat.id not in line.strangers and len(line.strangers) < 1000:
        line.strangers.add(chat.id)
        log.warning("Ignored chat %s (%s): it belongs to nobody in the farm plan.", chat.id, chat.type)


def _keep(line: _Line, update: Update, who: str, chat: Chat) -> bool:
    """Commit what an update tells and the reply to it. Whether a reply is owed."""
    press, message = update.callback_query, update.effective_message
    if press is not None:
        return bool(hear(line.desk, Heard(line.now(), who, press=press.data or "", update=update.update_id)))
    if message is None:
        return False
    text = message.text or message.caption
    if text is None:
        return _unreadable(line, update.update_id, who, message)
    edited = update.edited_message is not None
    at = (message.edit_date if edited else None) or message.date
    name = f"{chat.id}/{message.message_id}"  # numbers are only unique in a chat
    return bool(hear(line.desk, Heard(at, who, _plain(text), name, edited, update=update.update_id)))


def _let_in_or_out(line: _Line, update: Update, chat: Chat, user: User | None) -> bool:
    """An owner lets a group in with /letin, written in it, and out again with /letout. Whether this was one of them."""
    command = re.match(r"/let(in|out)\b", (update.message and update.message.text) or "")
    owner = line.with_chat(user.id) if user else None
    if not command or chat.type == "private" or owner is None or owner.role != "owner":
        return False
    groups = [group for group in line.groups() if group != chat.id]
    with line.answering_in(chat):
        if not line.book.seen(update.update_id):
            line.book.keep("groups", [*groups, chat.id] if command[1] == "in" else groups)
            said = words.LET_IN if command[1] == "in" else words.LET_OUT
            line.book.owe(owner.name, line.now(), "reply", {"text": said})
    return True


def _plain(text: str) -> str:
    """A command of the chat program as the word it stands for: "/undo@our_bot" is undo, "/start" asks for help."""
    command = re.match(r"/(\w+)(?:@\w+)?", text)
    if not command:
        return text
    word = "help" if command[1].lower() == "start" else command[1]
    return word + text[command.end() :]


def _unreadable(line: _Line, update: int, who: str, message: Message) -> bool:
    """A picture or a voice without words: say once that it is not kept (an album counts once). A sticker is chatter."""
    again = message.media_group_id is not None and message.media_group_id == line.album
    line.album = message.media_group_id
    if again or message.edit_date or not any(getattr(message, kind) for kind in UNREADABLE):
        return False
    with line.book.block():
        if line.book.seen(update):
            return False
        line.book.owe(who, line.now(), "reply", {"text": words.TEXT_ONLY})
    return True


async def _not_kept(line: _Line, chat: int, wrong: Exception) -> bool:
    """Tell the sender that the message was not kept. False where that could not be told."""
    line.desk = open_desk(line.book)  # nothing of it may linger in what the desk remembers
    why = wrong.why if isinstance(wrong, BookTrouble) else None
    try:
        await line.bot.send_message(chat, words.not_kept(f"{why}.") if why else words.broken())
    except (Forbidden, BadRequest):
        return not why  # whoever shut us out must not hold up the others
    except InvalidToken:
        raise
    except TelegramError as failed:
        log.warning("Could not tell so either (%s): the message stays with the server.", failed)
        return False
    return True


async def _pressed(press: CallbackQuery, counted: bool) -> None:
    """Stop the button's clock and, where the press counted, take away the choices of the question that it settled. A
    courtesy: it may fail, as a choice counts once however often it is pressed."""
    try:
        await press.answer()
        shown = press.message.reply_markup if isinstance(press.message, Message) else None
        if counted and shown:
            question = str(press.data).partition(".")[0] + "."
            rows = [[b for b in row if not str(b.callback_data).startswith(question)] for row in shown.inline_keyboard]
            rest = [row for row in rows if row]
            await press.edit_message_reply_markup(InlineKeyboardMarkup(rest) if rest else None)
    except TelegramError as wrong:
        log.debug("A press was not acknowledged (%s).", wrong)


def _tell_of_twin(line: _Line) -> None:
    """Two bots on one token take each other's messages away: owners must know. (Restarts may overlap for a moment, so
    this is for the third refusal.)"""
    log.error("A second bot fetches with this token: stop one of them, or messages go to the wrong book.")
    for person in line.desk.farm.plan.person:
        if person.role == "owner":
            line.book.owe(person.name, line.now(), "scheduled", {"text": words.TWIN})
    line.owed.set()


# -- out


async def _send_owed(line: _Line, tasks: asyncio.TaskGroup) -> None:
    """Send what the book owes, to all people side by side, so that one chat that is slow holds up no other."""
    busy: set[str] = set()
    while True:
        line.owed.clear()
        for person in dict.fromkeys(owed.person for owed in line.book.owed()):
            if person not in busy:
                busy.add(person)
                tasks.create_task(_send_to(line, person, busy))
        await line.owed.wait()


async def _send_to(line: _Line, person: str, busy: set[str]) -> None:
    """Send all that is owed to one person, in order, each marked in the book once it is gone. An answer that does not
    come in time may mean that the message arrived: it is sent again all the same."""
    tries = out = 0  # out: how many pieces of the message at hand have gone
    pieces: list[_Piece] = []
    while not line.stopping and (owed := next((o for o in line.book.owed() if o.person == person), None)):
        try:
            if not out:
                pieces = _pieces(owed, _file(line, owed))
            for piece in pieces[out:]:
                await _send(line, owed, piece)
                out += 1
            line.book.sent(owed.id, line.now())
            tries = out = 0
        except InvalidToken:
            raise
        except (TelegramError, BookTrouble) as wrong:
            tries += 1
            await _pause(wrong, tries, f"send to {person}")
    busy.discard(person)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A part of a message that the service takes in one go: words with their buttons, or a file with them below it."""

    text: str
    buttons: InlineKeyboardMarkup | None = None
    file: File | None = None

    async def send(self, bot: Bot, chat: int) -> None:
        if self.file is None:
            await bot.send_message(chat, self.text, reply_markup=self.buttons)
            return
        send = bot.send_photo if self.file.kind.startswith("image/") else bot.send_document
        content, name = self.file.content, self.file.name
        await send(chat, content, caption=self.text or None, reply_markup=self.buttons, filename=name)


def _file(line: _Line, owed: Owed) -> File | None:
    """The picture or file that an owed message carries, drawn anew however often it is tried."""
    page = owed.payload.get("page")
    return file_of(line.desk, from_data(Page, page), owed.at) if page else None


async def _send(line: _Line, owed: Owed, piece: _Piece) -> None:
    """One piece of a message, given up where the chat service will never take it; a file it refuses must not take the
    words with it."""
    chat = line.place(owed)
    if chat is None:
        log.warning("A message to %s was dropped: the farm plan has no chat for them.", owed.person)
        return
    sending = asyncio.ensure_future(piece.send(line.bot, chat))
    try:
        await asyncio.shield(sending)
    except asyncio.CancelledError:
        line.stopping = True
        await asyncio.wait((sending,), timeout=STOPPING_SECONDS)
        if not sending.cancel():  # it went after all, and is marked before the end
            sending.result()
            return
        raise
    except (Forbidden, BadRequest, ChatMigrated) as wrong:
        if piece.file and isinstance(wrong, BadRequest):
            log.warning("A file to %s was dropped: the chat service refused it (%s).", owed.person, wrong)
            await _send(line, owed, _Piece(_with_lack(piece.text), piece.buttons))
            return
        log.warning("A message to %s was dropped: the chat service refused it (%s).", owed.person, wrong)


def _pieces(owed: Owed, file: File | None) -> list[_Piece]:
    """A message as the service takes it: a file with the words under it where they are short enough, else before
    them; long words cut, the buttons under the last piece."""
    text, buttons = owed.payload["text"], _keyboard(owed)
    if file and _units(text) <= LONGEST_CAPTION:
        return [_Piece(text, buttons, file)]
    if owed.payload.get("page") and not file:
        text = _with_lack(text)
    *first, last = cut(text)
    return [*([_Piece("", None, file)] if file else []), *map(_Piece, first), _Piece(last, buttons)]


def _with_lack(text: str) -> str:
    return f"{text}\n{words.NOT_DRAWN}".strip()


def _keyboard(owed: Owed) -> InlineKeyboardMarkup | None:
    """Two thumbs' breadth a row where the words are short, else one below the other."""
    buttons = [InlineKeyboardButton(b["label"], callback_data=b["press"]) for b in owed.payload.get("buttons", ())]
    if not buttons:
        return None
    across = 2 if max(len(b.text) for b in buttons) <= 16 else 1
    return InlineKeyboardMarkup([buttons[i : i + across] for i in range(0, len(buttons), across)])


def cut(text: str, longest: int = LONGEST_TEXT) -> list[str]:
    """A text in pieces of at most `longest` UTF-16 units, cut after a line or a word where there is one."""
    pieces = []
    while _units(text) > longest:
        end = longest
        while _units(text[:end]) > longest:
            end -= max(1, (_units(text[:end]) - longest) // 2)
        at = max(text.rfind("\n", 1, end + 1), 0) or max(text.rfind(" ", 1, end + 1), 0) or end
        pieces.append(text[:at].rstrip())
        text = text[at:].lstrip()
    return [p for p in (*pieces, text) if p] or [text]


def _units(text: str) -> int:
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


# -- the alarm clock


async def _check(line: _Line) -> None:
    """Run the scheduled checks that fell due, and set the alarm for the next one."""
    try:
        if knock(line.desk, line.now()):
            line.owed.set()
    except Exception:  # the book's disk may be full now, and mended in an hour: the clock must go on
        log.exception("The scheduled checks could not be made; trying again in a minute.")
        line.desk = open_desk(line.book)  # nothing half done may linger in what the desk remembers
        _wake(line, line.now() + LONGEST_SLEEP)
    else:
        _set_alarm(line)


def _set_alarm(line: _Line) -> None:
    now = line.now()
    try:
        due = next_knock(line.desk, now)
    except Exception:
        log.exception("When the next check falls due could not be told.")
        due = now + LONGEST_SLEEP
    _wake(line, min(due, now + LONGEST_SLEEP))


def _wake(line: _Line, at: datetime) -> None:
    line.alarm.add_job(
        _check, "date", run_date=at, args=[line], id="knock", replace_existing=True,
        misfire_grace_time=None, coalesce=True,
    )  # fmt: skip
