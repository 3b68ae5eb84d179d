"""What all tests share: a flag that writes the talks anew, and python-telegram-bot's durations as timedeltas."""

import os

import pytest

os.environ.setdefault("PTB_TIMEDELTA", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--talks-anew", action="store_true", help="write what the bot says into tests/talks anew")
