"""Rows that take the whole message about jobs: a reminder asked for, once or again and again, and a job done or dropped."""

import itertools
import re
from dataclasses import replace
from datetime import date, time, timedelta
from itertools import pairwise

from bot.fact import Ask, Choice, Fact, Found, which_day
from bot.phrases.doses import doubt_unknown
from bot.verbs import STRONG
from rules.days import WEEKDAYS
from rules.entries import Done, Remind
from rules.jobs import turn_after

_REMIND = re.compile(
    r"^(?:hey |please |pls |can you |could you |will you |ok |also |and |oh )*"
    r"(?:(?:re)?mind (?:me|us)|remind (?P<who>(?!me\b|us\b)\S+)(?= )|set a reminder|dont let me forget"
    r"|don't let me forget|reminder|nudge me|give (?:me|us) a (?:shout|nudge)|jog my memory|buzz me|ping me|prompt me"
    r"|poke me)\b(?P<rest>.*)$",
    re.S,
)
_COUNTS = {"other": 2, "second": 2, "two": 2, "couple of": 2, "three": 3, "third": 3, "four": 4, "six": 6}
_UNITS = {
    "day": "days", "morning": "days", "evening": "days", "night": "days", "week": "weeks", "fortnight": "fortnights",
    "month": "months",
}  # fmt: skip
_EVERY = re.compile(
    rf"\b(?:every|each) (?:(?P<count>{'|'.join(_COUNTS)}|\d+) )?(?P<unit>{'|'.join(_UNITS)})s?\b"
    r"|\b(?P<ly>daily|weekly|fortnightly|monthly)\b"
)
_LY = {"daily": "1 days", "weekly": "7 days", "fortnightly": "14 days", "monthly": "1 months"}
_OF_MONTH = re.compile(
    r"\b(?:on )?(?:the )?(?P<day>\d+|first|last)(?:st|nd|rd|th)?(?: day)? of (?:every|each|the) month\b"
    r"|\b(?:every |each )?month end\b|\b(?:at )?(?:the )?end of (?:every|each|the) month\b"
    r"|\b(?:every|each) month (?:on )?the (?P<then>\d+|first|last)(?:st|nd|rd|th)?(?: day)?\b"
    r"|\bmonthly (?:on )?the (?P<ly>\d+|first|last)(?:st|nd|rd|th)?(?: day)?\b"
)


def remind(fact: Fact) -> Found:
    """A reminder asked for: by day or time, by animal or group, once or repeated, for whoever asks or somebody named."""
    if not fact.has("remind"):
        return None
    text = fact.text
    if fact.pieces[0].day is not None:  # "a week on friday mind me to ..."
        text = " ".join(p.text for p in fact.pieces[1:])
    tail = re.match(r"(.{6,}?)[ ,.]+(?:remind|mind) (?:me|us)(?: (?:on|abt it|about it|of it))?\b([^,]{0,20})$", text)
    if tail and not fact.nums() and not re.search(r"\d", tail[1]):  # "sort the trough, remind us thursday"
        text = f"remind me {tail[1]}"
    found = _REMIND.match(text)
    if not found or re.match(r"remind me (?:what|how|when|which|who)\b", text):
        return None
    who = None
    if found["who"]:
        who = next((name for p in fact.pieces for name in p.names.get("person", ()) if p.text == found["who"]), None)
        if who is None or not re.search(r"\b(?:to|about|abt)\b", found["rest"]):
            return None
    clock, hour = _clock(fact)
    every, until, text = _every(fact, text)
    phrases = [p for p in fact.pieces if p.day and p.day.names_day and p.day.lead not in _UNTIL]
    if every is None and (any(p.day and p.day.form == "vague" for p in phrases) or (not phrases and clock is None)):
        if (
            not phrases
            and not any(p.kind == "num" for p in fact.pieces)
            and not re.search(r"\bto\b|\babt\b|\babout\b", text)
        ):
            return None
        return _when(fact, who)
    due = _first(fact, every, clock)
    job = _about(fact, due, hour, who)
    day = _of_month(text) if every == "1 months" else None
    return [replace(
        job, time=clock.strftime("%H:%M") if clock else None, every=every, until=until,
        of_month=day if day and day > 28 else None,
    )]  # fmt: skip


def _about(fact: Fact, due: date, hour: int | None, who: str | None) -> Remind:
    """What is to be done, and to which animal or group."""
    found = fact.tags()
    doubt_unknown(fact, found, new=False)
    tags = [t for _, t in found]
    groups = list(dict.fromkeys(g for _, g in fact.named("group")))
    return Remind(
        on=fact.said.date(), text=_what(fact, hour, who)[:120] or "reminder", due=due, tag=tags[0] if tags else None,
        group=groups[0] if groups and not tags else None, who=who,
    )  # fmt: skip


def _when(fact: Fact, who: str | None) -> Ask:
    """A reminder without a day: the two likeliest."""
    job = _about(fact, fact.said.date() + timedelta(1), None, who)
    week = replace(job, due=fact.said.date() + timedelta(7))
    return Ask(f"When should I remind {who or 'you'}?", (Choice("tomorrow", (job,)), Choice("in a week", (week,))))


_UNTIL = ("till", "til", "until")


def _clock(fact: Fact) -> tuple[time | None, int | None]:
    """The hour said, and the place of a bare one ("at 4"), which is the next such hour of the day."""
    at = any(p.text == "at" and q.kind == "num" for p, q in pairwise(fact.pieces))  # "in the morning at 8"
    clock = next(
        (p.day.clock for p in fact.pieces if p.day and p.day.clock and not (at and p.day.form == "part")), None
    )
    said = next((p.text for p in fact.pieces if p.day and p.day.clock), "")
    if clock is not None and 1 <= clock.hour <= 6 and not re.search(r"am\b|morning|a\.m|\b0\d", said):
        clock = clock.replace(hour=clock.hour + 12)  # nobody is reminded at half four in the night unasked
    for n, p in enumerate(fact.pieces):
        bare = p.kind == "num" and p.unit is None and n > 0 and fact.pieces[n - 1].text == "at"
        if clock is None and bare and p.value is not None and p.value == int(p.value) and 1 <= p.value <= 12:
            h = int(p.value)
            days = [q.day for q in fact.pieces if q.day and q.day.names_day]
            today = not days or days[0].offset == 0
            early = any(p.day and p.day.form == "part" and "morning" in p.text for p in fact.pieces)
            fact.use(n)
            return time(h + 12 if h < 12 and not early and (h <= 6 or (today and h <= fact.said.hour)) else h), n
    return clock, None


def _every(fact: Fact, text: str) -> tuple[str | None, date | None, str]:
    """(how often it comes round, the last day of it, the words without that)."""
    until = next(
        (d[0] for p in fact.pieces
         if p.day and p.day.lead in _UNTIL and len(d := p.day.days(fact.said, True, fact.plan.farm.country)) == 1),
        None,
    )  # fmt: skip
    if _of_month(text) is not None:
        return "1 months", until, text
    if any(p.day and p.day.form == "weekday" and p.day.lead == "every" for p in fact.pieces):
        named = [p.day.weekday for p in fact.pieces if p.day and p.day.form == "weekday" and p.day.lead not in _UNTIL]
        return " ".join(WEEKDAYS[n] for n in sorted({d for d in named if d is not None})), until, text
    found = _EVERY.search(text)
    if found is None:
        return None, None, text
    if found["ly"]:
        return _LY[found["ly"]], until, text
    said = found["count"]
    fact.use(*(n for n, p in fact.nums() if p.text == said))
    count = 1 if said is None else _COUNTS[said] if said in _COUNTS else max(1, int(said))
    unit = _UNITS[found["unit"]]
    days = {"days": 1, "weeks": 7, "fortnights": 14}.get(unit)
    return (f"{count * days} days" if days else f"{count} months"), until, text


def _of_month(text: str) -> int | None:
    """The day of the month on which a job comes round; 31 is its last, however many it has."""
    found = _OF_MONTH.search(text)
    if found is None:
        return None
    said = found["day"] or found["then"] or found["ly"] or "last"
    return {"first": 1, "last": 31}.get(said) or max(1, min(31, int(said)))


def _first(fact: Fact, every: str | None, clock: time | None) -> date:
    """The first day of a job: the one named, else by how often it comes round."""
    today = fact.said.date()
    phrases = [p for p in fact.pieces if p.day and p.day.names_day and p.day.lead not in _UNTIL]
    early = clock is not None and clock > fact.said.time()
    if every and every.split()[0] in WEEKDAYS:
        return turn_after(Remind(on=today, text="", due=today - timedelta(7), every=every), today) or today
    if (day := _of_month(fact.text)) is not None:
        before = today.replace(day=1) - timedelta(1)
        return turn_after(Remind(on=today, text="", due=before, every="1 months", of_month=day), today) or today
    if phrases:
        dates = phrases[0].day.days(fact.said, True, fact.plan.farm.country) if phrases[0].day else ()
        if len(dates) != 1:
            weekend = phrases[0].day is not None and phrases[0].day.form == "weekend"
            raise which_day(fact, phrases[:1], dates[::2] if weekend else dates)
        return dates[0]
    if every:
        started = Remind(on=today, text="", due=today, every=every)
        return today if every == "1 days" and early else turn_after(started, today) or today
    return today if clock is None or early else today + timedelta(days=1)


def _what(fact: Fact, hour: int | None, who: str | None) -> str:
    """What is to be done, in the sender's words."""
    out = () if hour is None else (hour - 1, hour)  # "at 4"
    ends = list(itertools.accumulate(len(p.text) + 1 for p in fact.pieces))
    monthly = _OF_MONTH.search(" ".join(p.text for p in fact.pieces))
    cut = monthly.span() if monthly else (0, 0)
    words = [
        p.text for n, p in enumerate(fact.pieces)
        if p.kind != "day" and not p.is_("remind") and n not in out and not cut[0] < ends[n] - 1 <= cut[1]
    ]  # fmt: skip
    text = _EVERY.sub("", " ".join(words))
    if who is not None:
        text = re.sub(r"^\W*\S+ ", "", text)
    text = re.sub(r"\s+", " ", text).replace(" - ", "-")
    return re.sub(
        r"^(?:hey |please |pls |can you |could you |at |on |me |us |that |i need |we need |im |to |about |abt |ok |,|and |"
        r"also |: |of |from |starting |beginning |every |each |\d+ (?=(?:days?|weeks?|months?)\b)| )+",
        "", text + " ",
    ).strip(" ,.!")  # fmt: skip


_DROP = re.compile(
    r"^(?:ok |please |pls )*(?:stop remind(?:ing)? (?:me|us)|no need to remind (?:me|us)|"
    r"(?:cancel|drop|delete|remove|stop|forget) (?:the |that |my )?reminders?)\b(?: (?:to|about|abt|of|for|on))?"
    r"(?: the)?(.*)$"
)


def drop(fact: Fact) -> Found:
    """A reminder that is never to come again: "stop reminding me about the trough"."""
    found = _DROP.match(fact.text)
    if not found:
        return None
    job = _job(fact, found[1].strip())
    if job is None:
        return Ask("Which reminder?")
    return [Done(on=fact.said.date(), text=job, stop=True)]


def _job(fact: Fact, words: str) -> str | None:
    """The reminder that these words name; of none named, the only one there is."""
    jobs = list(dict.fromkeys(job.text for job in fact.farm.reminders.values()))
    if not words:
        return jobs[0] if len(jobs) == 1 else None
    said = _content(words)
    fits = [j for j in jobs if words in j or j in words]
    shared = sorted(((len(said & _content(j)), j) for j in jobs), reverse=True)
    if not fits and shared and shared[0][0] and (len(shared) < 2 or shared[1][0] < shared[0][0]):
        fits = [shared[0][1]]
    return fits[0] if len(fits) == 1 else None


_SMALL = {"the", "a", "an", "to", "of", "on", "in", "and", "it", "is", "are", "was", "all", "now", "my", "for", "with"}
_ENDS = re.compile(r"(?:ed|ing|s)$")


def _content(words: str) -> set[str]:
    """The words that say something, without their endings: "checked" is "check"."""
    return {_ENDS.sub("", w) for w in re.findall(r"[\w']+", words) if w not in _SMALL}


def done(fact: Fact) -> Found:
    """A job of a reminder is done: told with a word for it, or in the job's own words ("water checked")."""
    text = fact.text
    today = fact.said.date()
    due = list(dict.fromkeys(job.text for job in fact.farm.reminders.values() if job.due <= today))
    if re.fullmatch(r"(?:ok |yes |thats |that's |all )*(?:done|did it|done it|done that)(?: now)?", text):
        if len(due) > 1:
            return Ask("Which one is done?", tuple(Choice(job, (Done(on=today, text=job),)) for job in due[:4]))
        return [Done(on=today, text=due[0])] if due else None
    found = re.match(
        r"^(?:ok |yes |right )?(?:done|did|sorted|finished)(?: with)?:? ?(?:the |that |it |all )?(.*)$", text
    )
    ticked = re.match(
        r"^(.*?),? (?:you can )?(?:tick|cross|scratch|take) (?:it|that|them|that one|that reminder) off$", text
    )
    ticked = ticked or re.match(r"^(?:done with (?:the )?)?(.+?) (?:that )?you reminded me (?:about|of)$", text)
    struck = re.match(
        r"^(.*?),? (?:thats|that is|that jobs|that job is|that ones) (?:all )?(?:done|sorted)$"
        r"|^done (?P<job>.*?),? job off the list$",
        text,
    )
    ticked = ticked or struck
    ends = ticked or re.search(r"^(.*?)(?: ,)? (?:is |are |'s )?(?:all )?(?:done|sorted|finished)(?: now)?$", text)
    if not (found or ends):
        own = [job for job in due if _content(job) and _content(job) == _content(text)]
        plain = all(p.tags for _, p in fact.nums()) and not any(p.text in STRONG or p.is_("wish") for p in fact.pieces)
        return [Done(on=today, text=own[0])] if len(own) == 1 and plain and not fact.word("?") else None
    if fact.nums() and not fact.tags():
        return None
    if fact.has("docked", "castrated", "shorn", "dose", "weigh") and any(
        p.text in ("tails", "tails done", "shearing", "docking") or p.is_("docked", "castrated", "shorn")
        for p in fact.pieces
    ):
        return None
    hit = struck or found or ends
    what = ((hit[1] or (hit["job"] if struck else "")) if hit else "").strip(" ,")
    tags = [t for _, t in fact.tags()]
    match = _job(fact, what) if what else None
    if match is None and ticked is None and not _plainly(fact, what, bool(found), text, tags):
        return None
    if any(p.names.get("item") for p in fact.pieces) and match is None:
        return None
    groups = [g for _, g in fact.named("group")]
    group = groups[0] if groups and not tags else None
    return [Done(on=today, text=match or what, tag=tags[0] if tags else None, group=group)]


def _plainly(fact: Fact, what: str, first: bool, text: str, tags: list[str]) -> bool:
    """Whether a job not in the book is meant all the same: "done the hen house", "the recheck of 2641 is done"."""
    if not len(what) > 3:
        return False
    if len(what.split()) <= 6 and (fact.word("reminder", "job") or (tags and "recheck" in what)):
        return True
    short = first and re.match(r"^(?:done|sorted|finished)\b", text) and len(what.split()) <= 4
    about = tags or fact.named("group") or re.search(r"\bthe\b", text)
    return bool(short and about and not any(p.kind == "sep" for p in fact.pieces))
