"""What must be asked once something was recorded: which of a group it was, withdrawal days nobody told, colostrum.

Each is kept in the book as an open question, so it survives a restart, is put once, and the answer counts once. Two of
them are answered in words ("28 days", "501 503 504"); those words mean nothing while nothing of the kind was asked.
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from bot.book import Asked
from bot.desk import Button, Desk, Heard
from bot.fact import Doubt, Fact
from bot.slots import pieces
from bot.words import chat
from rules import entries as e
from rules.beasts import of_the_lambs
from rules.farm import Farm, Unnamed
from rules.records import as_data

_DAYS = re.compile(
    r"(?:(?:its|it's|it is|thats|that's|about|label|vet|they|the label|the vet|says?|said|on|has|is)[ :]+)*"
    r"(?P<days>\d{1,3}|none|nil|zero|no withdrawal)(?P<unit> ?(?:d|days?))?"
    r"(?: (?:withdrawal|withhold|hold|meat|for meat|it says|on the label|(?:the )?(?:label|vet) says?"
    r"|says? the (?:label|vet)))*[ .!]*"
)
_AGE = re.compile(
    r"(?:(?:it is|its|it's|they are|they're|theyre|about|abt|all|roughly) )*(\d{1,3}) ?(d|days?|w|wks?|weeks?|months?)"
    r"(?: old)?[ .!]*"
)
BARE = timedelta(hours=1)  # so long after the question a number alone answers it
_FILLERS = {"it", "was", "were", "they", "the", "ones", "those", "them", "tags", "tag", "are", "is", "and", "that", ":"}


def asked_with(desk: Desk, heard: Heard, entries: Sequence[e.Entry]) -> tuple[list[str], list[Button]]:
    """The questions that go with what was just written, in words, and the buttons of those that have some."""
    last = [desk.fold.told[n].entry for n in sorted(desk.fold.told)[-8:]]
    # a product new on the plan is asked for its days with the rest of its row
    new = {x.name for x in last if isinstance(x, e.PlanSet) and x.table == "product"}
    lines: list[str] = []
    buttons: list[Button] = []
    for entry in entries:
        if isinstance(entry, e.Dose) and entry.product not in new:
            lines += _days_wanted(desk, heard, entry)
        if isinstance(entry, e.Dose | e.Ship | e.Loss | e.Move) and (u := _unnamed(desk.farm, entry)):
            desk.book.ask(heard.who, heard.at, None, {"matter": f"which {u.seq}", "choices": [], "which": u.seq})
            lines.append(chat.which_had(u, entry, desk.farm, heard.at.date()))
        if isinstance(entry, e.Arrived) and entry.tags and entry.born is None and _from_birth(desk.farm, entry.tags):
            asked = {"matter": f"age of {' '.join(entry.tags)}", "choices": [], "age_of": list(entry.tags)}
            desk.book.ask(heard.who, heard.at, None, asked)
            lines.append(chat.age_wanted(entry.tags))
        if isinstance(entry, e.Stage) and entry.stage == "pulled" and entry.tags and entry.colostrum is None:
            had = [replace(entry, colostrum=said) for said in (True, False)]
            choices = [
                {"label": label, "entries": [as_data(x)], "as_told": True}
                for label, x in zip(("had it", "had none"), had, strict=True)
            ]
            number = desk.book.ask(
                heard.who, heard.at, None, {"matter": f"colostrum of {' '.join(entry.tags)}", "choices": choices}
            )
            buttons += [Button(f"{number}.{n}", str(c["label"])) for n, c in enumerate(choices)]
    return lines, buttons


def _unnamed(farm: Farm, entry: e.Dose | e.Ship | e.Loss | e.Move) -> Unnamed | None:
    """The head count this entry has just told of a tagged group, still without tags."""
    told = [u for u in farm.unnamed if (u.kind, u.head, u.on) == (entry.kind, entry.head, entry.on)]
    fits = [u for u in told if entry.head is not None and u.group == (entry.group or "")]
    if isinstance(entry, e.Dose) and entry.group:  # lambs at foot without tags have none to tell
        lambs = {d.seq for d in of_the_lambs(farm, entry.group, entry.on)}
        fits = [u for u in fits if u.seq not in lambs]
    return max(fits, key=lambda u: u.seq, default=None)


def _days_wanted(desk: Desk, heard: Heard, entry: e.Dose) -> list[str]:
    """Asked once for a product; who asks, and who answers, is for all."""
    row = desk.farm.plan.product_named(entry.product)
    if row is None or row.withdrawal_days is not None or entry.withdrawal_days is not None:
        return []
    key = f"days of {entry.product}"
    if desk.book.kept(key):
        return []
    desk.book.keep(key, heard.at.isoformat())
    desk.book.ask(heard.who, heard.at, None, {"matter": key, "choices": [], "days_of": entry.product})
    return [chat.days_wanted(entry.product)]


def answered_in_words(desk: Desk, heard: Heard) -> tuple[Asked, list[e.Entry]] | None:
    """The open question that these words answer, and what they tell; None where they are a message like any other."""
    open_ = desk.book.open_asks(heard.who)
    for asked in reversed(open_):
        if product := asked.ask.get("days_of"):
            told = days_said(heard.text, just_asked=asked is open_[-1] and heard.at - asked.at <= BARE)
            if told is not None:
                return asked, [e.Product(on=heard.at.date(), product=product, withdrawal_days=told)]
        if (bought := asked.ask.get("age_of")) and (days := age_said(heard.text)) is not None:
            on = heard.at.date()
            return asked, [e.Tagged(on=on, tag=tag, born=on - timedelta(days)) for tag in bought]
        if seq := asked.ask.get("which"):
            u = next((u for u in desk.farm.unnamed if u.seq == seq), None)
            tags = tags_alone(heard.text, heard.at, desk.farm) if u else ()
            if u and tags and len(tags) <= u.head and all(desk.farm.animals[t].here for t in tags):
                told_by = desk.fold.told[seq].entry
                return asked, [replace(told_by, tags=tags, group=None, head=None)]  # type: ignore[call-arg]
    return None


def days_said(text: str, just_asked: bool) -> int | None:
    """The withdrawal days that words tell in answer to the question; a number alone, or none, only where it was just
    put."""
    found = _DAYS.fullmatch(text.lower().strip())
    if not found or not (found["unit"] or just_asked):
        return None
    return int(found["days"]) if found["days"].isdigit() else 0


def age_said(text: str) -> int | None:
    """An age in days, where the words say nothing else."""
    found = _AGE.fullmatch(text.lower().strip())
    return int(found[1]) * {"d": 1, "w": 7, "m": 30}[found[2][0]] if found else None


def _from_birth(farm: Farm, tags: Sequence[str]) -> bool:
    """Whether a plan for these animals counts from birth, and nobody has said when that was."""
    groups = [farm.plan.group_named(a.group) for t in tags if (a := farm.animals.get(t)) and a.group and not a.born]
    keeps = {g.keeps for g in groups if g}
    steps = [(plan.for_, step) for plan in farm.plan.dose_plan for step in plan.steps]
    return any(for_ in keeps and "birth" in (step.after, step.before) for for_, step in steps)


def tags_alone(text: str, said: datetime, farm: Farm) -> tuple[str, ...]:
    """The animals a message names, sorted, where it says nothing else; none where it does."""
    cut = pieces(text[:1000], said, farm)
    fact = Fact(cut, said, farm)
    try:
        tags = fact.tags()
    except Doubt:
        return ()
    fact.use(*(n for n, _ in tags))
    rest = [p for n, p in enumerate(cut) if n not in fact.used and p.kind != "sep" and p.text not in _FILLERS]
    return () if rest else tuple(sorted({t for _, t in tags}))
