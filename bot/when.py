"""The one place for time: asks the clock, knows the farm's zone, reads day words and turns moments into words.

Day and time words are cut out of a message first (`found`); what they mean is worked out afterwards (`Phrase.days`),
because "sat" is the last Saturday for something done and the next one for something to come. Weekdays, ordinals, times
and slang are exact code of our own; month names, full dates and "3 days ago" go to dateparser, which never sees a
number that could be a tag or a weight. Calendar work without words is in `rules.days`.
"""

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import Any, TypeAlias
from zoneinfo import ZoneInfo

from rules.days import WEEKDAYS, coming, last

EVENING = time(20)
_WD = r"(?P<{}>mon(?:day)?|tue(?:s(?:day)?)?|wed(?:s|nes(?:day)?|nsday)?|thu(?:rs?(?:day)?)?|fri(?:day)?|sat(?:urday)?|sun(?:day)?)"
_MONTH = r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)"
_COUNT = r"(?:\d{1,2}|an?\b|one|two|three|four|five|six|seven|eight|nine|ten|twelve|a couple(?: of)?|couple(?: of)?)"
_SPAN = r"(?:days?|d|weeks?|wks?|w|months?|mos?|fortnights?)"
_PART = r"(?P<{}>night|nite|morning|mornin|morn|am|afternoon|arvo|evening|eve|pm|lunch ?time|noon)"
_YESTERDAY = r"(?:y[ea]?s?te?[ru]{0,2}d[ea]?y|yday|yest|yester?day|yesterdy|yestrdy|ystday)"
_TOMORROW = r"(?:tomm?orr?ow|tomm?orow|tmrw|tmr|tmrow|tmoz|tomoz|tomo|2moro|2mrw|tmw)"
_TODAY = r"(?:today|tdy|2day|todays|tonight|tonite|2nite|2night)"
_HOUR = r"(?P<s_hour>one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)"
_MINUTE = r"(?P<s_minute>five|ten|fifteen|twenty five|twenty|thirty five|thirty|forty five|forty|fifty five|fifty)"
_LEAD = r"(?:(?P<lead>last|this past|past|this coming|coming|this|next|by|til|till|until|before|b4|for|from|since|on|every|due|after)\s+)?"

_WORDS = re.compile(
    "|".join(
        (
            r"(?P<iso>\d{4}-\d{2}-\d{2})\b",
            rf"(?P<before>(?:the )?day before {_YESTERDAY})\b",
            rf"(?P<after>(?:the )?day after {_TOMORROW})\b",
            rf"(?:(?P<named_lead>by|til|till|until|before|from|for|on|since|after)\s+)?(?P<named>(?:{_WD.format('md1')}\.?,? (?:the )?)?"
            rf"(?:{_MONTH}\.? (?:the )?\d{{1,2}}(?:st|nd|rd|th)?(?:,? \d{{4}})?(?!\d|[.:]\d|[/%])"
            rf"|(?:the )?(?<![\d.])\d{{1,2}}(?:st|nd|rd|th)?(?: of)? {_MONTH}(?! (?:be|have|not|need|want|go|just|well)\b)(?: \d{{4}}(?! \d))?))\b",
            rf"(?P<ago>{_COUNT} ?{_SPAN} (?:ago|back))\b",
            rf"(?P<ahead>(?:in|within) {_COUNT} ?{_SPAN}(?: time)?|(?!a day from){_COUNT} ?{_SPAN} (?:from (?:now|today)|hence))\b",
            rf"(?P<week_on>a week on {_WD.format('wo1')}|{_WD.format('wo2')} week)\b(?!end)",
            rf"{_LEAD}{_WD.format('wd')}\b\.?(?: (?:the )?(?P<wd_day>\d{{1,2}})(?P<wd_th>st|nd|rd|th))?(?: {_PART.format('wd_part')}\b)?",
            r"(?P<last_night>last (?:night|nite|evening|eve))\b",
            rf"(?P<yesterday>{_YESTERDAY})(?: {_PART.format('y_part')})?\b",
            rf"(?P<tomorrow>(?:(?P<t_lead>by|til|till|until|before) )?{_TOMORROW})(?: {_PART.format('t_part')})?\b",
            rf"(?P<today>{_TODAY}|this (?:am|pm|morning|mornin|morn|afternoon|arvo|evening|eve|lunch ?time)|overnight|just now)\b",
            r"(?P<weekend>(?P<we_lead>last|this past|this|this coming|the|next|over the|by the|on the) weekend)\b",
            r"(?P<vague>(?:(?:some ?time|earlier|late|later|early|any ?time) )?(?:in |by )?(?:last|this|next|the other) (?:week|month|day|year|season|spring|summer|autumn|fall|winter)|a few (?:days|weeks) ago|the other (?:day|night)"
            r"|(?:by )?(?:the )?end of (?:the |this |next )?(?:week|month)|sometime|a while (?:ago|back)|one of these days|(?:a bit )?later|soonish)\b",
            r"(?P<ordinal>(?:(?P<o_lead>the|on the|on|by the|by|til the|till the|until the|from the|thru|thru the|through|to the|before the|of the) )?"
            r"(?<![\d.])(?P<o_day>\d{1,2})(?:st|nd|rd|th))\b(?! (?:dose|shot|cut|cutting|lamb|load|time|one|crop|round|set|litter|calf|week|day))",
            r"(?P<slash>(?<![\d./$£€])\d{1,2}/\d{1,2}(?:/\d{2,4})?)(?![\d./])\b",
            r"(?P<clock>(?:(?:at|by|til|till|before|around|about) )?(?:(?<![\d.:/])\d{1,2}(?::\d{2})? ?(?:am|pm|a\.m\.?|p\.m\.?|o'?clock)|(?<![\d.:/])(?:[01]?\d|2[0-3]):[0-5]\d"
            r"|noon|midday|midnight|half past (?:\d{1,2}|[a-z]+)))\b(?:,? in the (?P<c_part>morning|afternoon|evening)\b)?",
            rf"(?P<spoken>(?:(?:at|by|til|till|before|around|about) )?{_HOUR}(?: (?:oh |o )?{_MINUTE})?(?: ?(?P<s_half>am|pm|a\.m\.?|p\.m\.?)|,? in the (?P<s_part>morning|afternoon|evening)))\b",
            r"(?P<part>(?:first thing )?in the (?:morning|evening|afternoon)|first thing|at night|before bed|at dark|at sunset|at dusk|at dawn|at lunch(?: ?time)?|lunchtime|nowish)\b",
        )
    )
)
_NOT_SAT = re.compile(r"\s*(?:down|up|out|there|around|back|on|in|beside|by)\b")
_NOT_SUN = re.compile(r"\s*(?:hat|hats|burn|up|set|rise|shine|is|was|came|out|shining|dried|block)\b")
_HOLIDAY = re.compile(
    r"\b(?:(?P<lead>by|til|till|until|before|thru|through|past|over|after|on|for|from|since) )?(?P<name>(?:christmas|xmas) eve|(?:christmas|xmas)(?: day)?|boxing day"
    r"|new year'?s?(?: day| eve)?|easter monday|easter|good friday|thanks ?giving(?: day)?|labou?r day|memorial day|independence day|fourth of july"
    r"|canada day|victoria day|anzac(?: day)?|waitangi(?: day)?|matariki|australia day|(?:king|queen)'?s birthday|(?:(?:summer |august |may )bank holiday|bank holiday(?: monday)?)"
    r"|(?:st |saint )?(?:andrew|patrick|paddy|stephen|brigid|david|george)'?s?(?: day)|hogmanay|halloween|family day|civic holiday"
    r"|easter sunday|may day|remembrance day|heritage day|melbourne cup(?: day)?|cup day|juneteenth|veterans day|presidents'? day|columbus day|mlk day)(?: weekend)?\b"
)
_IN_HOLIDAYS = (
    "day",
    "mas",
    "easter",
    "year",
    "thanks",
    "anz",
    "mata",
    "hogm",
    "civic",
    "cup",
    "juneteenth",
    "halloween",
)  # none of these: no holiday is named
_NUMBERS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
            "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "fifteen": 15, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50}  # fmt: skip
_FRACTIONS = ("1/2", "1/3", "2/3", "1/4", "3/4", "1/8", "1/10")
LONG_AGO = 120  # days: a day and month said of something done is hardly further back (no source)


def now(zone: str) -> datetime:
    """The present moment in a farm's timezone."""
    return datetime.now(ZoneInfo(zone))


def local(moment: datetime, zone: str) -> datetime:
    """A moment by a farm's clock. A naive one is taken as the farm's own."""
    return moment.replace(tzinfo=ZoneInfo(zone)) if moment.tzinfo is None else moment.astimezone(ZoneInfo(zone))


def happened(on: date, said: datetime) -> datetime:
    """The moment (UTC) a fact counts from: its message's own where told on its day, else 20:00 local of `on`."""
    return (said if on == said.date() else datetime.combine(on, EVENING, said.tzinfo)).astimezone(UTC)


def daily(at: time, zone: str, after: datetime) -> datetime:
    """The next moment after `after` at which the farm's clock shows `at`: once a day, clock changes or not."""
    day = after.astimezone(ZoneInfo(zone)).date()
    while True:
        moment = datetime.combine(day, at, ZoneInfo(zone))
        if moment.astimezone(UTC) > after.astimezone(UTC):  # in UTC, as one zone's walls compare without their offset
            return moment.astimezone(UTC).astimezone(ZoneInfo(zone))
        day += timedelta(days=1)


_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip


def month_ahead(text: str, today: date) -> date | None:
    """The first day of a month named in plain ("in march"), the next one to come; today's month counts from today."""
    names = "|".join(f"{m[:3]}(?:{m[3:]})?" for m in _MONTHS)
    hit = re.search(rf"\b(?:in|from|for|start of|beginning of|early|mid|late) ({names}|sept)\b(?! \d)", text)
    if hit is None:
        return None
    month = next(n for n, m in enumerate(_MONTHS, 1) if m.startswith(hit[1][:3]))
    if month == today.month:
        return today
    return date(today.year + (month < today.month), month, 1)


_AHEAD = ("coming", "this coming", "next", "by", "til", "till", "until", "due", "before", "b4", "every")


@dataclass(frozen=True, slots=True)
class Phrase:
    """A day or time said in a message, at [start, end) of its text. `lead` is the word before it ("by", "coming").

    `form` is one of day (`offset` days from today), weekday, ordinal, dates (`dates` already known), slash, weekend,
    vague, clock, part. `clock` is a time of day where one was said with it.
    """

    start: int
    end: int
    text: str
    form: str
    lead: str = ""
    weekday: int | None = None
    offset: int = 0
    number: int = 0
    dates: tuple[date, ...] = ()
    clock: time | None = None

    @property
    def names_day(self) -> bool:
        return self.form not in ("clock", "part")

    @property
    def ahead(self) -> bool:
        """Whether it can only mean a day to come."""
        return self.lead in _AHEAD or (self.form in ("day", "week_on") and self.offset > 0)

    @property
    def behind(self) -> bool:
        """Whether it can only mean a day gone by."""
        return self.lead in ("last", "past", "this past", "since") or (self.form == "day" and self.offset < 0)

    def days(self, said: datetime, ahead: bool, country: str) -> tuple[date, ...]:
        """The day meant, for something to come or something done. Several: it could be each. None: no such day,
        or too vague to be one."""
        today = said.date()
        ahead = (ahead or self.ahead) and not self.behind
        match self.form:
            case "picked":
                return self.dates
            case "day" | "clock" | "part":
                return (today + timedelta(self.offset),)
            case "weekday":
                return self._weekday(today, ahead)
            case "week_on":
                return (coming(self.weekday or 0, today) + timedelta(7),)
            case "dates":
                return _side(self.dates, today, ahead)
            case "ordinal":
                return _ordinal(self.number, self.weekday, today, ahead)
            case "slash":
                return _slash(self.text, today, ahead, country)
            case "weekend":
                return self._weekend(today, ahead)
        return ()

    def near(self, today: date) -> tuple[date, ...]:
        """The two days beside one that does not exist ("31 sept"); none where it is no date."""
        found = re.search(
            rf"\b(\d{{1,2}})(?:st|nd|rd|th)?(?: of)? ({_MONTH})|({_MONTH})\.? (?:the )?(\d{{1,2}})", self.text
        )
        if not found:
            return ()
        month = "janfebmaraprmayjunjulaugsepoctnovdec".index((found[2] or found[3])[:3]) // 3 + 1
        after = date(today.year + month // 12, month % 12 + 1, 1)
        return (after - timedelta(1), after)

    def _weekday(self, today: date, ahead: bool) -> tuple[date, ...]:
        day = self.weekday or 0
        if self.lead == "next":  # "next friday" said early in the week: this one, or the one of next week
            near = coming(day, today)
            return (near,) if near.isocalendar().week != today.isocalendar().week else (near, near + timedelta(7))
        if ahead:
            return (today,) if self.lead == "by" and today.weekday() == day else (coming(day, today),)
        near = last(day, today)
        return (near - timedelta(7),) if near == today and self.lead in ("last", "past", "this past") else (near,)

    def _weekend(self, today: date, ahead: bool) -> tuple[date, ...]:
        near = coming(5, today) if today.weekday() < 5 else last(5, today)
        starts = {"next": (near, near + timedelta(7)), "last": (near - timedelta(7),)}.get(self.lead, (near,))
        if not ahead and self.lead != "next" and today.weekday() < 5:
            starts = (near - timedelta(7),)
        return tuple(day for start in starts for day in (start, start + timedelta(1)))


Made: TypeAlias = Callable[..., Phrase]


def _side(dates: tuple[date, ...], today: date, ahead: bool) -> tuple[date, ...]:
    """Of a day and month in several years, the one on the right side of today; both where that is far off."""
    if len(dates) < 2:
        return dates
    gone = [day for day in dates if day <= today]
    to_come = [day for day in dates if day >= today]
    if ahead:
        return tuple(to_come[:1])
    if gone and (today - gone[-1]).days > LONG_AGO:
        return (gone[-1], *to_come[:1])
    return tuple(gone[-1:])


def _ordinal(number: int, weekday: int | None, today: date, ahead: bool) -> tuple[date, ...]:
    """The 17th: of this month or the one beside it; with a weekday, the month in which both agree."""
    months = [
        (today.year + (today.month - 1 + step) // 12, (today.month - 1 + step) % 12 + 1) for step in range(-12, 13)
    ]
    days = [day for year, month in months if (day := _date(year, month, number)) and weekday in (None, day.weekday())]
    if ahead:
        return tuple(day for day in days if day >= today)[:1]
    return tuple(day for day in days if day <= today)[-1:]


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _slash(text: str, today: date, ahead: bool, country: str) -> tuple[date, ...]:
    """ "8/6" in the order of the country: the US puts the month first, Canada writes both (each that fits)."""
    a, b, *rest = (int(n) for n in text.split("/"))
    years = [rest[0] + (2000 if rest[0] < 100 else 0)] if rest else [today.year - 1, today.year, today.year + 1]
    orders = {"US": [(a, b)], "CA": [(a, b), (b, a)]}.get(country, [(b, a)])
    found: list[date] = []
    for month, day in orders:
        fits = tuple(d for year in years if (d := _date(year, month, day)))
        near = _side(fits, today, ahead)
        found += [d for d in near if d not in found]
    return tuple(found)


@lru_cache(maxsize=512)
def _parsed(text: str, base: date, ahead: bool) -> date | None:
    """What dateparser makes of a phrase of the kinds it was measured to be right on."""
    import dateparser  # 120 ms: only where a message needs it

    settings = {
        "RELATIVE_BASE": datetime.combine(base, time(12)),
        "PREFER_DATES_FROM": "future" if ahead else "past",
        "REQUIRE_PARTS": ["day", "month"],
        "DATE_ORDER": "YMD",
    }
    got = dateparser.parse(text, languages=["en"], settings=settings)
    return got.date() if got else None


def found(text: str, said: datetime, country: str) -> list[Phrase]:
    """The day and time words of a message (lower case), in order. Numbers beside them are left alone."""
    spans: list[Phrase] = []
    at = 0
    while hit := _WORDS.search(text, at):
        phrase = _phrase(hit, text, said) if _stands_alone(text, hit) else None
        if phrase:
            spans.append(phrase)
        at = max(hit.end(), hit.start() + 1) if phrase else _next_word(text, hit.start())
    return _with_holidays(text, said, country, spans) if any(part in text for part in _IN_HOLIDAYS) else spans


def _stands_alone(text: str, hit: re.Match[str]) -> bool:
    return hit.start() == 0 or not (text[hit.start() - 1].isalnum() or text[hit.start() - 1] in "'#$£€")


def _next_word(text: str, start: int) -> int:
    while start < len(text) and text[start].isalnum():
        start += 1
    return start + 1


def _phrase(hit: re.Match[str], text: str, said: datetime) -> Phrase | None:
    kind = next(k for k in _ORDER if hit[k])
    start, end, words = hit.start(), hit.end(), hit[0]
    today = said.date()

    def made(form: str, lead: str | None = "", **more: Any) -> Phrase:
        return Phrase(start, end, words, form, (lead or "").strip(), **more)

    match kind:
        case "iso":
            exact = _date(*(int(n) for n in words.split("-")))
            return made("dates", dates=(exact,) if exact else ())
        case "before":
            return made("day", offset=-2)
        case "after":
            return made("day", offset=2)
        case "named":
            return _named(hit, today, made)
        case "ago" | "ahead":
            return _relative(words, today, made)
        case "week_on":
            return made("week_on", weekday=_weekday_number(hit["wo1"] or hit["wo2"]), offset=7)
        case "wd":
            return _weekday_phrase(hit, text, made)
        case "last_night":
            return made("day", offset=-1)
        case "yesterday":
            return made("day", offset=-1)
        case "tomorrow":
            return made("day", hit["t_lead"], offset=1)
        case "today":
            return made("day")
        case "weekend":
            return made("weekend", {"this past": "last", "this coming": "this"}.get(hit["we_lead"], hit["we_lead"]))
        case "vague":
            return made("vague")
        case "ordinal":
            number = int(hit["o_day"])
            if not 1 <= number <= 31 or (number <= 4 and not hit["o_lead"]):
                return None
            return made("ordinal", (hit["o_lead"] or "").removesuffix(" the"), number=number)
        case "slash":
            return _slash_phrase(words, text, start, end, made)
        case "clock":
            return made("clock", clock=_clock(words, hit["c_part"]))
        case "spoken":
            minute = sum(_NUMBERS.get(word, 0) for word in (hit["s_minute"] or "").split())
            part = "evening" if (hit["s_half"] or "a")[0] == "p" else hit["s_part"] or "morning"
            return made("clock", clock=_clock(f"{_NUMBERS[hit['s_hour']]}:{minute:02}", part))
    return made("part", clock={"in the morning": time(7), "first thing": time(7)}.get(words))


_ORDER = ("iso", "before", "after", "named", "ago", "ahead", "week_on", "wd", "last_night", "yesterday", "tomorrow", "today",
          "weekend", "vague", "ordinal", "slash", "clock", "spoken", "part")  # fmt: skip


def _named(hit: re.Match[str], today: date, made: Made) -> Phrase | None:
    """A day with its month's name. Without a year: last year's, this year's and next year's."""
    words = re.sub(r"\b(?:the|of) ", "", hit["named"])
    weekday = _weekday_number(hit["md1"]) if hit["md1"] else None
    bare = words.split(" ", 1)[1] if hit["md1"] else words
    bare = bare.replace("sept ", "sep ").replace(".", "")
    years = [""] if re.search(r"\d{4}", bare) else [f" {today.year + step}" for step in (-1, 0, 1)]
    dates = tuple(day for year in years if (day := _exact(bare + year, today)))
    fits = tuple(day for day in dates if weekday in (None, day.weekday()))
    return made("dates", hit["named_lead"], dates=fits if weekday is not None and fits else dates)


def _exact(words: str, today: date) -> date | None:
    """A full date, or None where the month has no such day (dateparser would slip to another)."""
    got = _parsed(words, today, False)
    day = re.search(r"\b(\d{1,2})(?!\d)", words)
    return got if got and day and got.day == int(day[1]) else None


def _relative(words: str, today: date, made: Made) -> Phrase | None:
    plain = re.sub(r"(?:a )?couple(?: of)?", "2", words)
    plain = re.sub(
        r"(\d) ?(?:wks?|w)\b", r"\1 weeks", re.sub(r"(\d) ?d\b", r"\1 days", re.sub(r"\bwks?\b", "weeks", plain))
    )
    plain = plain.replace(" back", " ago").replace(" from today", "").replace(" from now", "").replace(" hence", "")
    plain = plain.replace(" time", "").replace("within", "in")
    ahead = not plain.endswith("ago")
    if ahead and not plain.startswith("in "):
        plain = "in " + plain
    got = _parsed(plain, today, ahead)
    return made("day", offset=(got - today).days) if got else made("vague")


def _weekday_number(word: str) -> int:
    return next(n for n, name in enumerate(WEEKDAYS) if name[:2] == word[:2])


def _weekday_phrase(hit: re.Match[str], text: str, made: Made) -> Phrase | None:
    word, lead = hit["wd"], hit["lead"]
    after = text[hit.end("wd") :]
    if not lead and ((word == "sat" and _NOT_SAT.match(after)) or (word == "sun" and _NOT_SUN.match(after))):
        return None
    if word in ("sun", "sat") and text[: hit.start("wd")].rstrip().endswith(
        (" the", " she", " he", " it", " they", " just")
    ):
        return None
    weekday = _weekday_number(word)
    if hit["wd_day"]:
        return made("ordinal", lead, weekday=weekday, number=int(hit["wd_day"]))
    return made("weekday", lead, weekday=weekday)


def _slash_phrase(words: str, text: str, start: int, end: int, made: Made) -> Phrase | None:
    """A date, unless it is a fraction ("1/2 bag", "2 1/2") or no day of any month."""
    a, b = (int(n) for n in words.split("/")[:2])
    if words in _FRACTIONS or (re.search(r"\d $", text[max(0, start - 2) : start]) and a < b and b in (2, 3, 4, 8)):
        return None
    if not (1 <= a <= 31 and 1 <= b <= 31 and min(a, b) <= 12) or text[end : end + 1] == "%":
        return None
    return made("slash")


def _clock(words: str, part: str | None) -> time | None:
    words = re.sub(r"^(?:at|by|til|till|before|around|about) ", "", words)
    if words in ("noon", "midday"):
        return time(12)
    if words == "midnight":
        return time(0)
    if words.startswith("half past "):
        past = words.removeprefix("half past ")
        number = int(past) if past.isdigit() else _NUMBERS.get(past)
        return time(number + (12 if part in ("afternoon", "evening") else 0), 30) if number and number < 12 else None
    digits = re.match(r"(\d{1,2})(?::(\d{2}))?", words)
    if not digits:
        return None
    hour, minute = int(digits[1]), int(digits[2] or 0)
    late = "p" in words or part in ("afternoon", "evening")
    if hour > 23 or minute > 59:
        return None
    if ("a" in words or late) and hour == 12:
        hour = 12 if late else 0
    elif late and hour < 12:
        hour += 12
    return time(hour, minute)


def _with_holidays(text: str, said: datetime, country: str, spans: list[Phrase]) -> list[Phrase]:
    """Public holidays said by name ("labor day"), as days."""
    for hit in _HOLIDAY.finditer(text):
        if any(s.start < hit.end() and hit.start() < s.end for s in spans if s.names_day and s.form != "weekday"):
            continue
        years = (said.year - 1, said.year, said.year + 1)
        if hit["name"].startswith("bank holiday"):  # whichever is next; where the day is said too, it says no more
            if any(s.names_day for s in spans):
                continue
            known = tuple(day for year in years for day in _bank_holidays(year, country))
        else:
            known = tuple(d for year in years if (d := _holiday(hit["name"], year, country)))
        if known or "day" in hit["name"]:  # a holiday that is none here is no plain friday: asked
            spans.append(Phrase(hit.start(), hit.end(), hit[0], "dates", hit["lead"] or "", dates=known))
    return sorted(spans, key=lambda s: s.start)


_FIXED = {"christmas": (12, 25), "xmas": (12, 25), "christmas day": (12, 25), "xmas day": (12, 25), "christmas eve": (12, 24), "xmas eve": (12, 24), "boxing day": (12, 26), "hogmanay": (12, 31), "halloween": (10, 31), "may day": (5, 1),
          "new years eve": (12, 31), "new year eve": (12, 31)}  # fmt: skip

_EASTER = {"good friday": -2, "easter": 0, "easter sunday": 0, "easter monday": 1}


@lru_cache(maxsize=16)
def _public_holidays(year: int, country: str, parts: bool = False) -> list[tuple[date, str]]:
    """The public holidays of a year by their names, in order; none where nobody has listed the country's. `parts`: those
    kept in a part of the country only as well, behind the others."""
    import holidays  # 60 ms: only where a message names one

    with suppress(NotImplementedError):
        whole = holidays.country_holidays(country, years=year)
        some = [holidays.country_holidays(country, subdiv=s, years=year) for s in whole.subdivisions if parts]
        return [*sorted(whole.items()), *sorted({x for part in some for x in part.items()})]
    return []


def _bank_holidays(year: int, country: str) -> tuple[date, ...]:
    """The public holidays of a year that are called bank holidays, or are Mondays."""
    known = _public_holidays(year, country)
    return tuple(day for day, name in known if "bank holiday" in name.lower() or day.weekday() == 0)


@lru_cache(maxsize=64)
def _holiday(name: str, year: int, country: str) -> date | None:
    """The day of a public holiday in a country, by a name people use for it."""
    plain = name.replace("'", "")
    if plain in _FIXED:
        return date(year, *_FIXED[plain])
    if plain in _EASTER:  # kept by people where it is no public holiday, too
        from dateutil.easter import easter

        sunday: date = easter(year)
        return sunday + timedelta(_EASTER[plain])
    want = {"new year": "new years", "fourth of july": "independence"}.get(plain, plain)
    want = want.replace("labour", "labor").removesuffix(" day")
    want = re.sub(r"^(?:st|saint) |s$", "", want).replace("paddy", "patrick") if want != "new years" else want
    known = ((day, re.sub("['’]", "", said.lower())) for day, said in _public_holidays(year, country, parts=True))
    return next((day for day, said in known if want in said.replace("labour", "labor")), None)
