"""Speed as ratios within one run: reading, replies as the book grows, checks. `.venv/bin/python ops/bench.py`

Printed, never asserted: machines differ, ratios hold. What is compared stands in each line.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from statistics import mean
from time import perf_counter_ns

import dateparser
import simplejson

from bot.book import Book
from bot.checks import RULES, found_by
from bot.conversation import hear
from bot.desk import Desk, Heard, open_desk
from bot.files import load_folder
from bot.reading import read
from bot.when import local
from rules import entries as e
from rules.farm import Farm

ROOT = Path(__file__).resolve().parent.parent
GOLD = ROOT / "tests" / "readings" / "rimu"
NOON = datetime(2026, 10, 20, 12, tzinfo=UTC)


def took(work: Callable[[], object], times: int = 1) -> float:
    """Nanoseconds of one call, the mean of several."""
    start = perf_counter_ns()
    for _ in range(times):
        work()
    return (perf_counter_ns() - start) / times


def desk_of(animals: int, days: int = 0) -> Desk:
    """A farm of so many lambs in one pen, with so many days of weights, counts and eggs told."""
    book = Book.open(None)
    plan = {
        "farm": {"name": "x", "country": "NZ", "timezone": "Pacific/Auckland", "weight": "kg"},
        "ship": {"min": 42, "max": 50, "sales": ["tuesday"]},
        "group": [{"name": "top mob", "keeps": "market lambs"}, {"name": "hens", "keeps": "hens", "head": 30}],
        "item": [{"name": f"feed {n}", "unit": "bag"} for n in range(40)],
    }
    on = NOON.date() - timedelta(days=days + 1)
    told: list[e.Entry] = [e.PlanSet(on=on, set=plan)]
    told += [
        e.AnimalSet(on=on, tag=str(10000 + n), group="top mob", born=on - timedelta(days=n % 30), sex="wether")
        for n in range(animals)
    ]
    for day in range(days):
        when = on + timedelta(days=day)
        tags = [str(10000 + (day * 10 + k) % animals) for k in range(10)]
        told += [e.Weight(on=when, tag=tag, weight=Decimal("30.5"), unit="kg") for tag in tags]
        told += [e.Eggs(on=when, count=25), e.OnHand(on=when, item=f"feed {day % 40}", amount=Decimal(9), unit="bag")]
    with book.block():
        book.append(book.hear("plan", NOON - timedelta(days=90), ""), told)
    return open_desk(book)


def messages() -> Iterable[tuple[str, datetime]]:
    for line in (GOLD / "gold.jsonl").read_text(encoding="utf-8").splitlines():
        told = simplejson.loads(line)
        yield told["text"], datetime.fromisoformat(told["at"])


def reading() -> None:
    """Prints what reading costs beside a bare parse of a day phrase."""
    with Book.open(None) as book:
        load_folder(book, GOLD, NOON)
        farm: Farm = open_desk(book).farm
    base = [datetime(2026, 8, n % 28 + 1) for n in range(200)]  # noqa: DTZ001  (dateparser takes naive bases)
    parse = mean(
        took(lambda d=d, p=p: dateparser.parse(p, languages=["en"], settings={"RELATIVE_BASE": d}))
        for d, p in zip(base, ["aug 3", "last tuesday"] * 100, strict=True)
    )
    told = [(text, local(at, farm.plan.farm.timezone)) for text, at in messages()]
    for text, at in told:
        read(text, at, farm)
    costs = sorted(took(lambda t=text, a=at: read(t, a, farm)) for text, at in told)
    most = costs[int(len(costs) * 0.99)] / parse
    print(f"a message read, by a bare parse of a day: mean {mean(costs) / parse:.2f}, 99 of 100 under {most:.2f}")


def tell(desk: Desk, second: int) -> None:
    hear(desk, Heard(NOON + timedelta(seconds=second), "owner", "10041 30.5"))


def growing() -> None:
    """Prints how reading and replying grow with the flock and the book."""
    small, large = desk_of(100), desk_of(10_000)
    here = local(NOON, "Pacific/Auckland")
    for what, text in (("as it should be", "10041 5"), ("doubted", "10041 30.5"), ("of a tag mistyped", "20041 5")):
        costs = []
        for farm in (small.farm, large.farm):
            read(text, here, farm)
            costs.append(took(lambda f=farm, t=text: read(t, here, f), 300))
        print(f"a weight {what} read, 10,000 animals by 100: {costs[1] / costs[0]:.2f}")
    lines = [f"{10000 + n} 30.5" for n in range(100)] * 2
    whole = took(lambda: read("\n".join(lines), here, small.farm), 3)
    single = sum(took(lambda t=t: read(t, here, small.farm)) for t in lines)
    print(f"a list of 200 weights by 200 single ones: {whole / single:.2f}")
    costs = []
    for days in (20, 400):
        desk = desk_of(300, days)
        n = iter(range(10**6))
        costs.append(took(lambda d=desk, n=n: tell(d, next(n)), 60))
    print(f"a weight recorded and answered, a book of 4,800 entries by one of 240: {costs[1] / costs[0]:.2f}")
    desk = desk_of(1000, 60)
    m = desk.moment(NOON)
    list(found_by(RULES, desk.farm, m))
    look = took(lambda: list(found_by(RULES, desk.farm, m)), 10)
    n = iter(range(10**6))
    told = took(lambda: tell(desk, next(n)), 30)
    print(f"all checks, 1,000 animals, 40 items, by a message recorded: {look / told:.2f} ({look / 1e6:.1f} ms here)")


if __name__ == "__main__":
    reading()
    growing()
