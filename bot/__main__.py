"""The commands: read, replay, chat, serve, plan, export, backup, demo. Each opens what it needs and hands over."""

import argparse
import logging
import os
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from bot.book import Book, BookTrouble
from bot.files import export, load_folder, take_plan
from bot.plan import PlanMistakes

BEFORE_ALL = datetime(1970, 1, 1, tzinfo=UTC)  # a plan is told before anything that `read` and `replay` are given
DEMO = Path(__file__).resolve().parent.parent / "demo_farm"


def _filled(book: Book, farm: Path | None, at: datetime) -> Book:
    """The book, with the farm folder loaded where it was empty."""
    if book.count() == 0:
        if farm is None:
            raise BookTrouble(book.path, "it is empty", "Name a farm folder to fill it from: --farm DIR")
        load_folder(book, farm, at)
    return book


def _read(args: argparse.Namespace) -> None:
    import simplejson

    from bot.conversation import understand
    from bot.desk import open_desk
    from bot.shown import line, reading_data
    from bot.when import local

    with Book.open(None) as book:
        farm = open_desk(_filled(book, args.farm, BEFORE_ALL)).farm
        for text in sys.stdin:
            try:
                data = simplejson.loads(text)
                said = local(datetime.fromisoformat(data["at"]), farm.plan.farm.timezone)
                words = str(data["text"])
            except (ValueError, TypeError, KeyError, RecursionError):
                print(line({"error": "no JSON object with text and at"}), flush=True)
                continue
            print(line(reading_data(understand(words, said, farm))), flush=True)


def _replay(args: argparse.Namespace) -> None:
    from bot.desk import open_desk
    from bot.replay import replay

    with Book.open(args.book) as book:
        replay(open_desk(_filled(book, args.farm, BEFORE_ALL)), sys.stdin, sys.stdout)


def _chat(args: argparse.Namespace) -> None:
    from bot.desk import open_desk
    from bot.terminal import talk
    from bot.timetable import knock
    from bot.when import now

    with Book.open(args.book) as book:
        desk = open_desk(_filled(book, args.farm, now("UTC")))
        clock = _clock(desk.farm.plan.farm.timezone)
        knock(desk, clock())
        talk(desk, clock)


def _clock(zone: str) -> Callable[[], datetime]:
    from bot.when import now

    return lambda: now(zone)


def _demo(args: argparse.Namespace) -> None:
    from bot.demo import demo

    demo(DEMO)


def _serve(args: argparse.Namespace) -> None:
    import asyncio

    from bot.serve import API_BASE, Unserved, serve
    from bot.when import now

    token = os.environ.get("TETHERA_TOKEN", "").strip()
    if args.token_file:
        token = args.token_file.read_text().strip()
    if not token:
        raise SystemExit("The bot's token is needed: in the environment variable TETHERA_TOKEN, or --token-file FILE.")
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    with Book.open(args.book) as book:
        try:
            asyncio.run(serve(_filled(book, args.farm, now("UTC")), token, args.api_base or API_BASE))
        except Unserved as wrong:
            raise SystemExit(str(wrong)) from None


def _plan(args: argparse.Namespace) -> None:
    from bot.when import now

    with Book.open(args.book) as book:
        taken = take_plan(_filled(book, args.farm, now("UTC")), args.farm, now("UTC"))
    print("Taken into the book: " + ", ".join(taken) + "." if taken else "Nothing new for the book.")


def _export(args: argparse.Namespace) -> None:
    with Book.open(args.book, write=False) as book:
        export(book, args.to)


def _backup(args: argparse.Namespace) -> None:
    with Book.open(args.book, write=False) as book:
        book.backup(args.to)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="tethera", description="A chat-bot assistant for mixed farms.")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[argparse.Namespace], None], about: str, farm: bool, book: str) -> None:
        sub = commands.add_parser(name, help=about, description=about)
        if farm:
            sub.add_argument(
                "--farm", type=Path, metavar="DIR", required=name in ("read", "plan"), help="the farm plan's folder"
            )
        if book:
            sub.add_argument("--book", type=Path, metavar="FILE", required=book == "needed", help="the farm's book")
        if name == "serve":
            sub.add_argument("--token-file", type=Path, metavar="FILE", help="a file that holds the bot's token")
            sub.add_argument("--api-base", metavar="URL", help="another chat service address, ending in /bot")
        if name in ("export", "backup"):
            sub.add_argument("--to", type=Path, metavar="PATH", required=True, help="where to write")
        sub.set_defaults(run=run)

    command("read", _read, "Say what messages (JSON lines) would record; record nothing.", True, "")
    command("replay", _replay, "Play messages (JSON lines in time order) through the bot.", True, "maybe")
    command("chat", _chat, "Talk in the terminal.", True, "maybe")
    command("serve", _serve, "Run the chat bot.", True, "needed")
    command("plan", _plan, "Take what is new in a farm plan into a book in use; stop the bot before.", True, "needed")
    command("export", _export, "Write the whole book as a farm folder.", False, "needed")
    command("backup", _backup, "Copy the book while it is in use, checked.", False, "needed")
    command("demo", _demo, "Talk to a fresh copy of the demo farm, on its own morning.", False, "")
    return parser


def main() -> None:
    """Run one command. What is wrong outside the program is said in plain sentences, exit status 1."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: many threads on small matrices only wait
    args = _parser().parse_args()
    try:
        args.run(args)
    except PlanMistakes as wrong:
        sys.exit("\n".join(wrong.mistakes))
    except UnicodeDecodeError:
        sys.exit("A file that should be text is not: is it the right one?")
    except (BookTrouble, OSError) as wrong:
        if isinstance(wrong, BrokenPipeError):
            sys.stderr.close()
            sys.exit(0)
        sys.exit(str(wrong))
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    main()
