"""What the running bot writes to standard error: plain lines, never the token. What a farmer reads is not made here."""

import logging
import sys


class _Blanked(logging.Formatter):
    """Lines in which the token never stands, not even in a traceback: the chat library's own words hold it."""

    def __init__(self, token: str) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s: %(message)s")
        self._token = token

    def format(self, record: logging.LogRecord) -> str:
        return super().format(record).replace(self._token, "(token)")


def log_without(token: str) -> None:
    """Send the log to standard error, without the token and without the libraries' chatter."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_Blanked(token))
    logging.basicConfig(level=logging.INFO, handlers=[handler], force=True)
    for chatty in ("httpx", "httpcore", "apscheduler", "telegram"):
        logging.getLogger(chatty).setLevel(logging.WARNING)
