"""A run of weights in the alley: who is weighing, and the sum of it when it is done or has paused."""

import re
from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.desk import Desk, Out
from bot.words import found, kept
from rules import entries as e
from rules import loads
from rules.weighing import weighed

PAUSE = timedelta(minutes=20)  # so long after the last weight, a run of weights is summed up
RUN = 3  # weights that make a run
DONE = re.compile(
    r"(?:all |we'?re |i'?m |ok |that'?s )*(?:done|finished|the lot|it|all)(?: weighing| with weights)?[.!]*"
)


def in_run(desk: Desk, who: str, at: datetime, entries: Sequence[e.Entry]) -> None:
    """Remember who is weighing, and the run of tags so far."""
    tags = [x.tag for x in entries if isinstance(x, e.Weight) and x.on == at.date()]
    if tags:
        run = desk.book.kept(f"weighing:{who}")
        before = run["tags"] if run and at - datetime.fromisoformat(run["at"]) <= PAUSE else []
        desk.book.keep(f"weighing:{who}", {"at": at.isoformat(), "tags": list(dict.fromkeys([*before, *tags]))})


def summed_up(desk: Desk, who: str, at: datetime, cause: str) -> Out | None:
    """The sum of somebody's run of weights, said once; None where there is no run."""
    run = desk.book.kept(f"weighing:{who}")
    if not run or len(run["tags"]) < RUN:
        return None
    m = desk.moment(at)
    desk.book.keep(f"weighing:{who}", None)
    found_ = weighed(desk.farm, m, [desk.farm.now_tagged(t) for t in run["tags"]])
    if found_ is None:
        return None
    findings = list(loads.ready(desk.farm, m))[:1]
    lines = [kept.weighing(found_, desk.farm, m.today), *(found.advice(x, desk.farm, m) for x in findings)]
    return Out(at, who, cause, "\n".join(filter(None, lines)), findings=tuple(findings))


def run_ends(desk: Desk) -> dict[str, datetime]:
    """When each open run of weights is taken to be over."""
    runs = {p.name: run for p in desk.people() if (run := desk.book.kept(f"weighing:{p.name}"))}
    return {who: datetime.fromisoformat(r["at"]) + PAUSE for who, r in runs.items() if len(r["tags"]) >= RUN}
