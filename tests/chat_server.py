"""A stand-in for the chat service's Bot API, for tests and benches: standard library only, one process, nothing kept.

It does what the real one does where a bot can lose or double a message: long poll, confirmation by offset, the same
update again, edits, pressed buttons, files both ways, refusals, flood control, an answer that never arrives. It checks
nothing a bot sends beyond its token and Telegram's own limits, and knows nothing of farms.
"""

import json
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from email.parser import BytesParser
from email.policy import HTTP
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

TOKEN = "12345:stand-in-token-for-tests"
LONG_WAIT = 20.0  # seconds a test waits for something that must come; reached only when it fails

Update = dict[str, Any]
Files = dict[str, tuple[str, bytes]]  # the part's name: (file name, content)


@dataclass
class Sent:
    """A message the bot sent, as the chat shows it."""

    method: str
    chat: int
    message: int
    text: str
    buttons: list[tuple[str, str]]  # (what pressing sends, label)
    file: tuple[str, bytes] | None = None


@dataclass
class Failure:
    """What the next call of a method meets: an error code; without one the call is done, but its answer never comes."""

    code: int | None
    description: str = "failed on purpose"
    retry_after: int | None = None


@dataclass
class ChatServer:
    """`with ChatServer() as server:` listens on a free port; `server.base` is the address to give to the bot."""

    clock: Callable[[], float] = time.time
    sent: list[Sent] = field(default_factory=list)
    calls: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    confirmed: int = 0  # the highest update the bot has said it has
    idle: bool = False  # the bot waits for news, and there is none
    chats: dict[int, str] = field(default_factory=dict)  # chats that are not private: their type

    def __post_init__(self) -> None:
        self._changed = threading.Condition()
        self._waiting: list[Update] = []
        self._again: list[Update] = []
        self._failures: dict[str, deque[Failure]] = {}
        self._next = 1000
        self._message = 0
        self._poll = 0
        self._files: dict[str, bytes] = {}
        self._stopped = False

    def __enter__(self) -> "ChatServer":
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self))
        self._server.daemon_threads = True
        self.base = f"http://127.0.0.1:{self._server.server_address[1]}/bot"
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02})
        self._thread.start()
        return self

    def __exit__(self, *exc: object) -> None:
        with self._changed:
            self._stopped = True
            self._changed.notify_all()
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    # -- what people do

    def say(self, person: int, text: str | None, chat: int | None = None, **more: Any) -> Update:
        """Someone writes. `more`: further parts of the message (photo, caption, sticker ...)."""
        with self._changed:
            message = self._incoming(person, chat or person, text, self._new_message()) | more
            return self._deliver({"message": message})

    def edit(self, update: Update, text: str) -> Update:
        """The sender edits the message of that update."""
        with self._changed:
            first = update["message"]
            edited = {**first, "text": text, "edit_date": int(self.clock())}
            return self._deliver({"edited_message": edited})

    def press(self, person: int, sent: Sent, press: str) -> Update:
        """Someone presses a button under a message the bot sent."""
        with self._changed:
            message = self._incoming(0, sent.chat, sent.text, sent.message)
            rows = [[{"text": label, "callback_data": data}] for data, label in sent.buttons]
            if rows:
                message["reply_markup"] = {"inline_keyboard": rows}
            query = {
                "id": str(self._next),
                "from": _user(person),
                "chat_instance": "1",
                "data": press,
                "message": message,
            }
            return self._deliver({"callback_query": query})

    def again(self, update: Update) -> None:
        """Deliver an update once more, confirmed or not."""
        with self._changed:
            self._again.append(update)
            self._changed.notify_all()

    def fail(self, method: str, code: int | None, description: str = "failed on purpose", *, times: int = 1,
             retry_after: int | None = None) -> None:  # fmt: skip
        """The next `times` calls of a method fail; see Failure."""
        with self._changed:
            failure = Failure(code, description, retry_after)
            self._failures.setdefault(method, deque()).extend([failure] * times)

    def mend(self) -> None:
        """Nothing fails any more."""
        with self._changed:
            self._failures.clear()

    # -- what a test waits for

    def wait(self, until: Callable[["ChatServer"], Any], what: str = "") -> Any:
        """Wait until that is true of this server, and give it back. AssertionError where it does not become so."""
        with self._changed:
            result = self._changed.wait_for(lambda: until(self), LONG_WAIT)
        assert result, f"waited in vain for {what or until}; sent last: {[s.text for s in self.sent[-5:]]}"
        return result

    def wait_sent(self, count: int, to: int | None = None) -> list[Sent]:
        """The messages sent (to a chat), as soon as there are that many."""
        self.wait(lambda s: len(s.sent_to(to)) >= count, f"{count} messages")
        return self.sent_to(to)

    def wait_confirmed(self, update: Update) -> None:
        """Until the bot has told that it has this update: it came with an earlier answer, so it was dealt with."""
        self.wait(lambda s: s.confirmed >= update["update_id"], "the confirmation")

    def sent_to(self, chat: int | None) -> list[Sent]:
        return [s for s in self.sent if chat in (None, s.chat)]

    def called(self, method: str) -> list[dict[str, Any]]:
        return [fields for name, fields in self.calls if name == method]

    # -- the service's side

    def _new_message(self) -> int:
        self._message += 1
        return self._message

    def _incoming(self, person: int, chat: int, text: str | None, message: int) -> dict[str, Any]:
        kind = self.chats.get(chat, "private")
        place = {"id": chat, "type": kind, **({"first_name": "P"} if kind == "private" else {"title": "G"})}
        known = {"message_id": message, "date": int(self.clock()), "chat": place, "from": _user(person)}
        return known if text is None else known | {"text": text}

    def _deliver(self, update: Update) -> Update:
        update = {"update_id": self._next, **update}
        self._next += 1
        self._waiting.append(update)
        self.idle = False  # from now on, not only once the bot's waiting call has woken
        self._changed.notify_all()
        return update

    def answer(
        self, method: str, fields: dict[str, Any], files: dict[str, tuple[str, bytes]]
    ) -> tuple[int, Any] | None:
        """(status, result or description) of a call; None where its answer gets lost on the way."""
        with self._changed:
            self.calls.append((method, fields))
            queued = self._failures.get(method)
            failure = queued.popleft() if queued else None
            if failure and failure.code is not None:
                self._changed.notify_all()
                return failure.code, failure
            try:
                reply = self._do(method, fields, files)
            except (KeyError, ValueError) as wrong:
                reply = 400, Failure(400, f"Bad Request: {wrong}")
            self._changed.notify_all()
            return None if failure else reply

    def _do(self, method: str, fields: dict[str, Any], files: Files) -> tuple[int, Any]:
        if method == "getMe":
            return 200, {"id": 12345, "is_bot": True, "first_name": "Stand-in", "username": "standinbot"}
        if method == "getUpdates":
            return self._updates(int(fields.get("offset") or 0), float(fields.get("timeout") or 0))
        if method in ("sendMessage", "sendPhoto", "sendDocument"):
            return 200, self._send(method, fields, files)
        if method in (
            "answerCallbackQuery",
            "editMessageReplyMarkup",
            "sendChatAction",
            "deleteWebhook",
            "setMyCommands",
        ):
            return 200, True
        if method == "getFile":
            return 200, {"file_id": fields["file_id"], "file_unique_id": "u", "file_path": f"files/{fields['file_id']}"}
        return 404, Failure(404, "Not Found")

    def _updates(self, offset: int, timeout: float) -> tuple[int, Any]:
        self._waiting = [u for u in self._waiting if u["update_id"] >= offset]
        self.confirmed = max(self.confirmed, offset - 1)
        self._poll = mine = self._poll + 1
        self.idle = not (self._waiting or self._again)
        self._changed.notify_all()
        self._changed.wait_for(lambda: self._waiting or self._again or self._stopped or self._poll != mine, timeout)
        if self._poll != mine:
            return 409, Failure(409, "Conflict: terminated by other getUpdates request")
        self.idle = False
        again, self._again = self._again, []
        return 200, again + self._waiting[:100]

    def _send(self, method: str, fields: dict[str, Any], files: Files) -> dict[str, Any]:
        text = fields.get("text") or fields.get("caption") or ""
        if len(text.encode("utf-16-le")) // 2 > (4096 if method == "sendMessage" else 1024):
            raise ValueError("message is too long")
        if method == "sendMessage" and not text.strip():
            raise ValueError("message text is empty")
        rows = json.loads(fields["reply_markup"])["inline_keyboard"] if fields.get("reply_markup") else []
        buttons = [(b["callback_data"], b["text"]) for row in rows for b in row]
        if any(not 1 <= len(data.encode()) <= 64 for data, _ in buttons):
            raise ValueError("BUTTON_DATA_INVALID")
        chat = int(fields["chat_id"])
        message = self._incoming(0, chat, text, self._new_message())
        self.sent.append(Sent(method, chat, message["message_id"], text, buttons, next(iter(files.values()), None)))
        return message

    def file(self, name: str) -> bytes | None:
        return self._files.get(name)

    def keep_file(self, file_id: str, content: bytes) -> str:
        """A file that people can send; its id."""
        self._files[f"files/{file_id}"] = content
        return file_id


def _user(person: int) -> dict[str, Any]:
    return {"id": person, "is_bot": person == 0, "first_name": "P"}


def _handler(server: ChatServer) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def handle(self) -> None:
            with suppress(ConnectionError):  # the bot was killed amid a request
                super().handle()

        def do_GET(self) -> None:
            self._take()

        def do_POST(self) -> None:
            self._take()

        def _take(self) -> None:
            where = urlsplit(self.path)
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            if where.path.startswith(f"/file/bot{TOKEN}/"):
                content = server.file(unquote(where.path.removeprefix(f"/file/bot{TOKEN}/")))
                return self._write(200 if content is not None else 404, content or b"")
            if not where.path.startswith(f"/bot{TOKEN}/"):
                return self._json(401, Failure(401, "Unauthorized"))
            fields = {k: v[0] for k, v in parse_qs(where.query).items()}
            fields, files = _fields(fields, self.headers.get("Content-Type") or "", body)
            reply = server.answer(where.path.rsplit("/", 1)[1], fields, files)
            if reply is None:
                self.close_connection = True
                return None
            return self._json(*reply)

        def _json(self, status: int, result: Any) -> None:
            if isinstance(result, Failure):
                told: dict[str, Any] = {"ok": False, "error_code": status, "description": result.description}
                if result.retry_after is not None:
                    told["parameters"] = {"retry_after": result.retry_after}
            else:
                told = {"ok": True, "result": result}
            self._write(status, json.dumps(told).encode())

        def _write(self, status: int, content: bytes) -> None:
            try:
                self.send_response(status)
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(content)))
                self.end_headers()
                self.wfile.write(content)
            except OSError:  # the bot was killed while it waited
                self.close_connection = True

        def log_message(self, format: str, *args: Any) -> None:
            pass

    return Handler


def _fields(fields: dict[str, Any], kind: str, body: bytes) -> tuple[dict[str, Any], Files]:
    """What a call says, and the files it carries, from any of the three forms the real service takes."""
    files: Files = {}
    if kind.startswith("application/json"):
        return fields | json.loads(body or b"{}"), files
    if not kind.startswith("multipart/form-data"):
        return fields | {k: v[0] for k, v in parse_qs(body.decode(), keep_blank_values=True).items()}, files
    whole = BytesParser(policy=HTTP).parsebytes(b"Content-Type: " + kind.encode() + b"\r\n\r\n" + body)
    for part in whole.iter_parts():
        name = str(part.get_param("name", header="content-disposition"))
        content = part.get_payload(decode=True)
        if part.get_filename() is not None:
            files[name] = (str(part.get_filename()), content)
        else:
            fields[name] = content.decode()
    return fields, files
