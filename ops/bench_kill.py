"""Kill the running bot again and again while a farm writes to it, and count what was lost or kept twice.

    .venv/bin/python -P ops/bench_kill.py [--kills 100] [--seed 1]

A real `python -m bot serve` talks to the tests' stand-in of the chat service. Three people weigh, edit, and answer the
bot's questions; updates come again, answers get lost, the service refuses now and then; and `kill -9` falls at random
moments. Then the book is read: each animal must hold exactly the weight that was told last. Nothing here judges words.
"""

import argparse
import itertools
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from chat_server import LONG_WAIT, TOKEN, ChatServer, Sent  # noqa: E402  (the tests' folder is no package)

from bot.book import Book, fold  # noqa: E402

PEOPLE = {1001: "owner", 1002: "family", 1003: "helper"}
FARM = """[farm]
name = "Bench"
country = "IE"
timezone = "Europe/Dublin"
weight = "kg"
[[group]]
name = "pen 1"
keeps = "ewes"
"""


@dataclass
class Figures:
    """What was done, and what became of it. `lost` and `doubled` count weights, `unanswered` messages."""

    kills: int = 0
    messages: int = 0
    edits: int = 0
    presses: int = 0
    delivered_again: int = 0
    lost: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)
    unanswered: list[str] = field(default_factory=list)
    replies: int = 0
    replies_again: int = 0


class Farm:
    """The people, what they have told, and what the book must hold because of it."""

    def __init__(self, server: ChatServer, rng: random.Random) -> None:
        self.server, self.rng = server, rng
        self.figures = Figures()
        self.weights: dict[str, str] = {}  # tag: its weight as told last
        self.doubts: dict[str, tuple[int, str]] = {}  # tag: who must say which weight was meant, and which it was
        self.told: list[tuple[int, str, dict[str, Any]]] = []  # plain weighings: who, tag, update
        self.asked_of: dict[str, int] = {}
        self.tags = iter(tags())

    def act(self) -> None:
        """One more thing that somebody does, or that goes wrong on the line."""
        kind = self.rng.choices(("weigh", "doubt", "edit", "again", "lose", "refuse"), (10, 3, 3, 3, 1, 1))[0]
        person = self.rng.choice(list(PEOPLE))
        weight = f"{self.rng.randint(450, 799) / 10:.1f}"
        if kind in ("weigh", "doubt"):
            tag = str(next(self.tags))
            self.asked_of[tag] = person
            self.figures.messages += 1
            if kind == "doubt":  # a point that slipped: the bot must ask
                self.doubts[tag] = (person, weight)
                self.server.say(person, f"{tag} {weight.replace('.', '')}")
            else:
                self.weights[tag] = weight
                self.told.append((person, tag, self.server.say(person, f"{tag} {weight}")))
        elif kind == "edit" and self.told:
            _, tag, update = self.told.pop(self.rng.randrange(len(self.told)))
            self.weights[tag] = weight
            self.figures.edits += 1
            self.server.edit(update, f"{tag} {weight}")
        elif kind == "again" and self.told:
            self.figures.delivered_again += 1
            self.server.again(self.rng.choice(self.told)[2])
        elif kind == "lose":
            self.server.fail("sendMessage", None)
        elif kind == "refuse":
            self.server.fail(self.rng.choice(("sendMessage", "getUpdates")), 502)

    def answer(self, chance: float) -> None:
        """Press the right button under some of the questions that have come, now and then twice."""
        for tag, (person, weight) in list(self.doubts.items()):
            question = self.question(tag)
            if question is None or self.rng.random() > chance:
                continue
            press = _press(question, weight)
            del self.doubts[tag]
            self.weights[tag] = weight
            for _ in range(self.rng.choice((1, 1, 2))):
                self.figures.presses += 1
                self.server.press(person, question, press)

    def question(self, tag: str) -> Sent | None:
        """What the bot asked about a doubtful weight, once it has come."""
        asked = self.server.sent_to(self.doubts[tag][0])
        return next((s for s in asked if s.buttons and tag in s.text), None)

    def unanswered(self) -> list[str]:
        return [t for t, person in self.asked_of.items() if not any(t in s.text for s in self.server.sent_to(person))]

    def judge(self, path: Path) -> Figures:
        """Compare the book and the chats with what was told."""
        figures = self.figures
        with Book.open(path, write=False) as book:
            animals = fold(book).farm.animals
        for tag, weight in self.weights.items():
            held = [w.weight for w in animals[tag].weighings][1:]
            if Decimal(weight) not in held:
                figures.lost.append(f"{tag} {weight}: {[*map(str, held)]}")
            elif len(held) > 1:
                figures.doubled.append(f"{tag} {weight}: {[*map(str, held)]}")
        figures.unanswered = self.unanswered()
        texts = Counter((s.chat, s.text) for s in self.server.sent)
        figures.replies = len(texts)
        figures.replies_again = sum(texts.values()) - len(texts)
        return figures


def _press(question: Sent, weight: str) -> str:
    wanted = weight.removesuffix(".0")
    return next(press for press, label in question.buttons if label.split()[0].removesuffix(".0") == wanted)


def tags() -> Iterator[int]:
    """Tags whose last three digits are no weight with its point slipped, which would be another doubt."""
    return (tag for tag in itertools.count(2000) if not 400 <= tag % 1000 < 800)


def farm_folder(folder: Path, animals: int) -> Path:
    folder.mkdir()
    rows = "".join(f'[[person]]\nname = "{n}"\nrole = "{n}"\ntelegram = {t}\n' for t, n in PEOPLE.items())
    (folder / "farm.toml").write_text(FARM + rows)
    listed = list(itertools.islice(tags(), animals))
    (folder / "animals.csv").write_text("tag,sex,born,group\n" + "".join(f"{t},ewe,2023-03-01,pen 1\n" for t in listed))
    (folder / "weights.csv").write_text("tag,on,weight\n" + "".join(f"{t},2026-06-01,60\n" for t in listed))
    return folder


def trial(at: Path, kills: int, seed: int, longest_delay: float = 0.0) -> Figures:
    """Run, kill and run again in the folder `at`. A kill falls after a random number of calls to the service, or when
    the bot has nothing to do, and then up to `longest_delay` seconds later."""
    rng = random.Random(seed)
    plan, path = farm_folder(at / "plan", 16 * (kills + 1)), at / "bench.book"
    with ChatServer() as server:
        farm = Farm(server, rng)
        for _ in range(kills):
            acts = rng.randint(3, 12)
            for _ in range(acts):
                farm.act()
            with _running(plan, path, server):
                enough = len(server.calls) + rng.randint(1, acts + 4)
                server.wait(lambda s, enough=enough: len(s.calls) >= enough or s.idle, "the bot to do something")
                if longest_delay:
                    threading.Event().wait(rng.uniform(0, longest_delay))
            server.idle = False
            farm.figures.kills += 1
            farm.answer(0.7)
        server.mend()
        with _running(plan, path, server) as process:
            while farm.doubts:
                server.wait(lambda s: any(farm.question(tag) for tag in farm.doubts), "the questions")
                farm.answer(1.0)
            server.wait(lambda s: s.idle and not farm.unanswered(), "the last replies")
            process.send_signal(signal.SIGTERM)
            assert process.wait(LONG_WAIT) == 0
    return farm.judge(path)


@contextmanager
def _running(plan: Path, path: Path, server: ChatServer) -> Iterator["subprocess.Popen[bytes]"]:
    """The bot, from its start to `kill -9` where it has not ended by itself."""
    command = [sys.executable, "-P", "-m", "bot", "serve", "--farm", plan, "--book", path, "--api-base", server.base]
    with path.with_suffix(".log").open("ab") as log:
        process = subprocess.Popen(command, env={**os.environ, "TETHERA_TOKEN": TOKEN}, stdout=log, stderr=log)
    try:
        yield process
    finally:
        process.kill()
        process.wait()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    said = parser.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as at:
        figures = trial(Path(at), said.kills, said.seed, longest_delay=0.03)
    print(
        f"{figures.kills} kills in {time.monotonic() - began:.0f} s; {figures.messages} messages, "
        f"{figures.edits} edits, {figures.presses} presses, {figures.delivered_again} updates delivered again.\n"
        f"Lost {len(figures.lost)}, doubled {len(figures.doubled)}, unanswered {len(figures.unanswered)}; "
        f"{figures.replies} replies, {figures.replies_again} of them sent again."
    )
    for line in (*figures.lost, *figures.doubled, *figures.unanswered):
        print(line)
    sys.exit(bool(figures.lost or figures.doubled or figures.unanswered))


if __name__ == "__main__":
    main()
