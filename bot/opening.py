"""A supplier's hours as a farmer says them ("mon to fri 8 to 5, sat till noon, closed holidays") and back into words.

In between they are OpenStreetMap opening_hours, as the plan keeps them; `bot.hours` turns those into days. What is not
plainly the hours of a week is not understood: no day and no hour is made up.
"""

import re
from dataclasses import dataclass, field
from datetime import time
from itertools import pairwise

from bot.hours import hours_problem

_WEEK = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
_SPOKEN = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_HOLIDAYS = r"(?:on )?(?:all )?(?:the )?(?:public |bank |stat |statutory |federal |legal )?(?:holidays?|hols?)|ph"
_TOKEN = re.compile(
    r"(?P<week>every ?day|daily|7 days(?: a week| a wk)?|seven days(?: a week)?|all week)"
    r"|(?P<workdays>weekdays?|m ?(?:-|to) ?f(?![a-z]))|(?P<weekend>weekends?)"
    rf"|(?P<holidays>(?:{_HOLIDAYS})\b)"
    r"|(?P<day>mon(?:day)?s?|tues?(?:day)?s?|weds?|wednesdays?|thurs?(?:day)?s?|thu|fri(?:day)?s?|"
    r"sat(?:urday)?s?|sun(?:day)?s?)(?![a-z])"
    r"|(?P<shut>closed|shut|off|not open|except|bar|but not|never)(?![a-z])"
    r"|(?P<noon>12 noon|noon|midday|12 midnight|midnight)(?![a-z])"
    r"|(?P<hour>\d{1,2})(?:[:.h]?(?P<min>[0-5]\d))?(?!\d) ?(?P<pm>[ap]\.?m\b\.?|[ap]\b)?"
    r"|(?P<to>-|(?:to|till?|until|thru|through)(?![a-z]))"
    r"|(?P<sep>[,;.\n]|and(?![a-z])|&|\+)"
    r"|(?P<rest>(?:its|it'?s|they'?re|theyre|theyare|it is|they are|is|are|opens?|from|on|the|at|hours?|only|they|we|"
    r"always|usually|every|o'?clock|for|all)(?![a-z])|:)",
    re.I,
)


@dataclass
class _Group:
    """Days that go together, with the hours said of them; `shut` where they are said to be closed."""

    days: list[str] = field(default_factory=list)
    spans: list[tuple[str, str]] = field(default_factory=list)
    shut: bool = False
    times_first: bool = False  # "8 to 5 mon to fri"

    @property
    def whole(self) -> bool:
        return bool(self.days) and (self.shut or bool(self.spans))


def hours_said(text: str) -> str | None:
    """The week's hours in OpenStreetMap's way of writing; None where the text is no such thing, or leaves doubt.
    Holidays stand in it (`PH`) only where they were said."""
    if re.match(r"(?:Mo|Tu|We|Th|Fr|Sa|Su|PH)\b", text) and hours_problem(text) is None:
        return text
    if re.fullmatch(
        r"(?:open |always open |it'?s open )?(?:24 ?/ ?7|24 hours(?: a day)?|(?:day and night|round the clock))",
        text.strip(" .!").lower(),
    ):
        return "24/7"
    groups = _groups(text.lower().replace("–", "-").replace("—", "-").strip(" .!"))
    if groups is None or not any(g.spans for g in groups) or not all(g.whole for g in groups):
        return None
    week: dict[str, list[tuple[str, str]]] = {}
    for group in groups:
        for day in group.days:
            if not group.shut and (day in week and not set(week[day]).isdisjoint(group.spans)):
                return None
            week[day] = [] if group.shut else [*week.get(day, []), *group.spans]
    if any(_overlap(spans) for spans in week.values()):
        return None
    hours = _written(week)
    return hours if hours and hours_problem(hours) is None else None


def _overlap(spans: list[tuple[str, str]]) -> bool:
    ordered = sorted(spans)
    return any(a[1] > b[0] for a, b in pairwise(ordered))


def _groups(text: str) -> list[_Group] | None:
    """The text as groups of days with their hours; None where a word of it is not understood."""
    tokens = _tokens(text)
    if tokens is None:
        return None
    groups, at, last = [_Group()], 0, ""
    while at < len(tokens):
        kind, value = tokens[at]
        group, begun = groups[-1], at
        if kind == "days":
            days, at = _days(tokens, at)
            if group.whole and last != "days":
                groups.append(_Group())
            groups[-1].days += [d for d in days if d not in groups[-1].days]
        elif kind == "shut" and group.days and not group.spans:
            group.shut = True  # "sunday closed"
        elif kind == "shut":
            groups.append(_Group(shut=True))
        elif kind == "sep":
            kind = "" if group.whole and (value == "," or group.times_first) else last
        else:
            span, at = _span(tokens, at, groups)
            if span is None or (group.shut and last):
                return None
            if group.whole and not last:
                groups.append(_Group())
            groups[-1].times_first = groups[-1].times_first or not groups[-1].days
            groups[-1].spans.append(span)
        last = kind
        at += at == begun
    return _joined([g for g in groups if g.days or g.spans or g.shut])


def _joined(groups: list[_Group]) -> list[_Group]:
    """Days after a comma that have no hours of their own go with the ones before ("8 to 5 mon, tue, wed")."""
    joined: list[_Group] = []
    for group in groups:
        if joined and not group.whole and group.days and (joined[-1].times_first or joined[-1].shut):
            joined[-1].days += group.days
        elif joined and not group.days and group.spans and joined[-1].spans:
            joined[-1].spans += group.spans
        else:
            joined.append(group)
    return joined


def _tokens(text: str) -> list[tuple[str, str]] | None:
    found: list[tuple[str, str]] = []
    at = 0
    while at < len(text):
        if text[at] == " ":
            at += 1
            continue
        m = _TOKEN.match(text, at)
        if m is None or m.end() == at:
            return None
        at = m.end()
        kind = m.lastgroup or ""
        if m["week"]:
            found.append(("days", "Mo-Su"))
        elif m["workdays"]:
            found.append(("days", "Mo-Fr"))
        elif m["weekend"]:
            found.append(("days", "Sa-Su"))
        elif m["holidays"]:
            found.append(("days", "PH"))
        elif m["day"]:
            found.append(("days", m["day"][:2].title()))
        elif m["shut"]:
            found.append(("shut", ""))
        elif m["noon"]:
            found.append(("time", "24:00" if "mid" in m["noon"] and "night" in m["noon"] else "12:00"))
        elif m["hour"]:
            found.append(("time", f"{m['hour']}:{m['min'] or '00'}{(m['pm'] or '')[:1]}"))
        elif m["to"]:
            found.append(("to", ""))
        elif m["sep"]:
            found.append(("sep", "and" if m["sep"] in ("and", "&", "+") else ","))
        else:
            assert kind == "rest"
    return found


def _days(tokens: list[tuple[str, str]], at: int) -> tuple[list[str], int]:
    """The days named at a place ("mon to fri"), and the place after them."""
    first = tokens[at][1]
    if "-" in first:
        first, _, last = first.partition("-")
        return _run(first, last), at + 1
    if at + 2 < len(tokens) and tokens[at + 1][0] == "to" and tokens[at + 2][0] == "days":
        last = tokens[at + 2][1]
        if first in _WEEK and last in _WEEK:
            return _run(first, last), at + 3
    return [first], at + 1


def _run(first: str, last: str) -> list[str]:
    start = _WEEK.index(first)
    size = (_WEEK.index(last) - start) % 7 + 1
    return [_WEEK[(start + n) % 7] for n in range(size)]


def _span(tokens: list[tuple[str, str]], at: int, groups: list[_Group]) -> tuple[tuple[str, str] | None, int]:
    """From when till when, and the place after it. "till noon" begins when the days before begin."""
    if tokens[at][0] == "to":
        before = next((g.spans[0][0] for g in reversed(groups) if g.spans), None)
        if before is None or at + 1 >= len(tokens) or tokens[at + 1][0] != "time":
            return None, at
        return _hours(before, tokens[at + 1][1]), at + 2
    if at + 2 < len(tokens) and tokens[at + 1][0] == "to" and tokens[at + 2][0] == "time":
        return _hours(tokens[at][1], tokens[at + 2][1]), at + 3
    return None, at


def _hours(start: str, end: str) -> tuple[str, str] | None:
    """Two hours of the clock, said or not said to be before noon: a shop opens in the morning, or right after noon."""
    a, b = clock_said(start), clock_said(end, late=True)
    if a is None or b is None:
        return None
    if _either_half(start) and a < "06:00":  # "1 to 5" is after noon
        a = f"{int(a[:2]) + 12:02}{a[2:]}"
    if end[-1] not in "ap" and b <= a and int(b[:2]) < 12:
        b = f"{int(b[:2]) + 12:02}{b[2:]}"
    if _either_half(start) and _either_half(end) and ("09:00" <= b < "11:00" or (b == "11:00" and a < "08:00")):
        return None  # "7 to 9", "6 to 10": in the morning, or at night?
    return (a, b) if a < b else None


def _either_half(text: str) -> bool:
    """Whether an hour may be of either half of the day: neither "am" nor "pm", and not written as "08:00"."""
    return text[-1] not in "ap" and not text.startswith("0")


def clock_said(text: str, late: bool = False) -> str | None:
    """An hour as "HH:MM"; "2pm", "noon", "14:00", "8.30". None for no hour of the day; midnight only as an end."""
    text = text.strip().lower()
    if text in ("noon", "midday", "12 noon"):
        return "12:00"
    found = re.fullmatch(r"(\d{1,2})(?:[:.]?([0-5]\d))? ?([ap])?(?:\.?m\.?)?", text)
    if not found:
        return None
    hour, minute = int(found[1]), int(found[2] or 0)
    if found[3] and not 1 <= hour <= 12:
        return None
    if found[3]:
        hour = hour % 12 + (12 if found[3] == "p" else 0)
    if (hour, minute) == (24, 0) and late:
        return "24:00"
    return f"{hour:02}:{minute:02}" if hour < 24 else None


def _written(week: dict[str, list[tuple[str, str]]]) -> str:
    """Rules of days with the same hours, in the week's order; holidays last, as later rules win."""
    rules: list[str] = []
    days = [d for d in _WEEK if week.get(d)]
    while days:
        spans = week[days[0]]
        same = [d for d in days if week[d] == spans]
        rules.append(f"{_listed(same)} {','.join(f'{a}-{b}' for a, b in sorted(spans))}")
        days = [d for d in days if d not in same]
    if "PH" in week:
        rules.append("PH off" if not week["PH"] else "PH " + ",".join(f"{a}-{b}" for a, b in week["PH"]))
    return "; ".join(rules)


def _listed(days: list[str]) -> str:
    """Days of the week as runs: "Mo-We,Fr"."""
    runs: list[list[str]] = []
    for day in days:
        if runs and _WEEK.index(day) == _WEEK.index(runs[-1][-1]) + 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    return ",".join(run[0] if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


def hours_in_words(hours: str) -> str:
    """Hours of the plan as one would text them; what was written in another way is left as it is."""
    said = []
    for rule in hours.split("; "):
        days, _, spans = rule.partition(" ")
        if not re.fullmatch(r"(?:(?:Mo|Tu|We|Th|Fr|Sa|Su|PH)[-,]?)+", days) or not re.fullmatch(r"off|[\d:,-]+", spans):
            return hours
        for short, long in (*zip(_WEEK, _SPOKEN, strict=True), ("PH", "holidays")):
            days = days.replace(short, long)
        said.append(f"closed {days}" if spans == "off" else f"{days} {spans.replace(',', ' and ')}")
    return ", ".join(said)


def time_said(text: str) -> time | None:
    """An hour by which something must be done: "2pm", "noon", "14:00"; a bare 1 to 5 is after noon."""
    found = clock_said(text)
    if found is None:
        return None
    hour = int(found[:2])
    bare = re.fullmatch(r"\d(?:[:.]\d\d)?", text.strip())
    return time(hour + 12 if bare and 1 <= hour <= 5 else hour, int(found[3:]))
