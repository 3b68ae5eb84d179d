"""Rows that take the whole message: undo, corrections, suppliers shut or open, told of a product; jobs in `jobs`."""

import re
from datetime import timedelta
from decimal import Decimal

from bot.fact import Ask, Doubt, Fact, Found, which_day
from bot.phrases import jobs
from bot.phrases.doses import unknown_tag
from rules.doubt import fits
from rules.entries import Closed, Correct, Entry, Open, Product, Undo

_UNDO = re.compile(
    r"(?:(?:ok|no|nah|naw|nope|oops|sorry|wait|ah|hang on|hold on|please|pls|actually|nope|damn|shoot|crap|hey|can you|could you|just)[ ,.!]*)*"
    r"(?:undo|scrub|scratch|delete|take (?:that|it|out|back|off|the)|remove|forget|cancel|scrap|wipe|strike|ignore|bin|that was wrong|thats wrong|that's wrong|drop)"
    r"(?: *(?:take|that was|was|wrong|that|it|this|the|my|what|i|just|last|one|ones|entered|logged|two|three|four|2|3|4|1|message|messages|msg|msgs|they|were|entry|entries|sent|said|told you|twice|farm|text|texts|thing|things|all|back|please|pls|out|put|down|in|did|weight|weights|few|couple|of|you|mistake|typo|sorry|thanks|ta|again|both|a|now|there|latest|previous|first|put in|ive|youve|got|recorded|meant nothing|wrote|typed|,|!|\.))*[ .!]*"
)
_COUNT = {"two": 2, "2": 2, "both": 2, "couple": 2, "three": 3, "3": 3, "four": 4, "4": 4}


def whole(fact: Fact) -> Found:
    """What the message is as a whole; None where it is none of these; an empty list where it only says nothing."""
    for build in (undo, jobs.drop, jobs.remind, correct, product_told, shut, jobs.done):
        got = build(fact)
        if got is not None:
            return got
    return None


def of_sentence(fact: Fact) -> Found:
    """The same for one sentence of several: a correction, a product told of, a supplier shut."""
    for build in (jobs.remind, correct, product_told, shut):
        got = build(fact)
        if got is not None:
            return got
    return None


def undo(fact: Fact) -> Found:
    text = fact.text
    plain = re.sub(r"\s+", " ", text)
    if not fact.has("undo") and "wrong" not in plain:
        return None
    bare = not any(p.kind in ("num", "tag", "name", "day", "vague") for p in fact.pieces)
    if bare and fact.word("undo", "scratch that") and len(fact.pieces) <= 12:
        return [Undo(on=fact.said.date())]
    if any((p.tags and p.full and len(p.text) >= 3) or p.kind == "name" or p.unit for p in fact.pieces):
        return None
    if not _UNDO.fullmatch(re.sub(r" ?(?:it|that|they) (?:was|were) (?:meant )?for .*|,? wrong \w+$", "", plain)):
        return None
    if plain in ("forget it", "bin", "drop", "cancel", "scratch", "wipe", "strike", "ignore", "remove"):
        return None
    count = next((_COUNT[w] for w in plain.split() if w in _COUNT), None)
    for _, p in fact.nums():
        if p.value is not None and 2 <= p.value <= 9:
            count = int(p.value)
    return [Undo(on=fact.said.date(), count=count)]


_CORRECT = re.compile(
    r"\bshould(?:a| have| of)? (?:be|been|read|say)\b|\bshd be\b|\bshould be\b|\bnot\b|\binstead of\b|\bfix\b|\bcorrect|\boops\b|\bmeant\b|"
    r"\btypo\b|\bwrong\b|\bisnt\b|\bwasnt\b|\bis not\b|\bwas not\b|\bchange (?:that|\d+|it)\b|\bsupposed to be\b|\bmake that\b|\brather than\b|\bactually\b"
)


def correct(fact: Fact) -> Found:
    """The last weight of an animal, or the last amount of an item, was wrong."""
    text = fact.text
    typed = re.search(r"\b(?:put|typed|sent|wrote|entered|texted|said) .*\bas \S+ .*\b(?:it was|its|should)\b", text)
    typed = typed or re.search(
        r"\b(?:put|typed|sent|wrote|entered|texted)(?: down| in)? \S+ for .*\b(?:its|it was|should|meant)\b", text
    )
    if not (typed or _CORRECT.search(text)) or (fact.has("dose", "lambed", "order") and not fact.has("correct")):
        return None
    if re.search(
        r"\bnot (?:sure|yet|ready|a|eating|right|doing|much|many|great|good|bad|open|here|in|coming|going|gonna|him|her|worth|today|too|so|as|the|even|there|at|moving|well)\b",
        text,
    ):
        return None
    if re.search(r"\bwrong (?:farm|place|kind|house|address|door)\b", text):
        return None
    if re.search(r"\b(?:by (?:now|then|\w+day)|should be (?:about|around|abt|near|close|over|at least))\b", text):
        return None  # what it ought to weigh, not what it did
    nums = [(n, p) for n, p in fact.nums() if not p.money and not p.percent]
    if not nums:
        return None
    tags = fact.tags()
    heads = [(n, t) for n, t in tags if len(fact.pieces[n].text) >= 3]
    first = heads[0] if heads else None
    values = [(n, p) for n, p in nums if first is None or n != first[0]]
    if first is None:
        unknown = [(n, p) for n, p in nums if fact.looks_like_tag(p)]
        if unknown and len(nums) >= 2 and fact.has("correct"):
            raise unknown_tag(fact, unknown[0][1], [], new=False)
        return _item(fact, values, text)
    if any(p.unit not in (None, "kg", "lb") for _, p in values) or any(
        "item" in p.names or "product" in p.names for p in fact.pieces
    ):
        return None
    right, was = _right_and_was(fact, values, text)
    if right is None or len(values) > 2:
        return None
    size = len(fact.pieces[first[0]].text)
    if any(p.full and len(p.text) >= size for _, p in values) or (
        size < 4 and len(right.text) == size and right.text.isdigit()
    ):
        raise Doubt("Which animal, and what should it be?")  # "meant 2651 not 2641", "typed 121 should be 112"
    unit = fact.plan.farm.weight
    animal, weight = fact.farm.animals[first[1]], right.value
    if right.full and (weight is None or not fits(animal, weight, right.unit or unit, fact.said.date(), fact.farm)):
        raise Doubt(f"{first[1]} or {right.text}: whose weight was wrong, and what is it?")
    fact.use(*(n for n, _ in values), first[0])
    entry = Correct(
        on=fact.said.date(), tag=first[1], weight=right.value, unit=right.unit or unit, was=was.value if was else None
    )
    return _only(fact, entry)


def _only(fact: Fact, entry: Entry) -> Found:
    fact.use(*(n for n, p in enumerate(fact.pieces) if p.kind == "name" and set(p.names) <= {"group", "person"}))
    return [entry] if not fact.left() else None


_SHOULD_BE = (
    "should be", "shd be", "should have been", "its", "is", "it was", "was", "make that", "meant", "to",
    "should of been", "shoulda been",
)  # fmt: skip


def _right_and_was(fact: Fact, values: list, text: str):  # type: ignore[no-untyped-def,type-arg]
    """(what is right, what was wrong) by where "not", "instead of", "was", "should be" stand."""
    if len(values) == 1:
        n, p = values[0]
        before = [q.text for q in fact.pieces[max(0, n - 2) : n]]
        if any(w in ("not", "isnt", "wasnt") for w in before) and not fact.word("fix"):
            return None, None
        return p, None
    if len(values) != 2:
        return None, None
    (n, a), (m, b) = values
    between = [q.text for q in fact.pieces[n + 1 : m]]
    before = [q.text for q in fact.pieces[max(0, n - 3) : n]]
    if any(w in ("not", "instead of", "rather than", "instead") for w in between):
        return a, b
    if any(w in ("isnt", "wasnt", "not", "isn't") for w in before) or any(w in _SHOULD_BE for w in between):
        return b, a
    return None, None


def _item(fact: Fact, values: list, text: str) -> Found:  # type: ignore[type-arg]
    """ "make that 3 bags of milk not 4", "hay should be 21 not 12"."""
    items = {name for _, name in fact.named("item")}
    if len(items) != 1 or not values or len(values) > 2:
        return None
    begins = re.match(r"(?:sorry|no|nope|oops|actually|wait|ah)\b.*\bnot \d", text)
    told = re.search(r"should|shd|oops|fix|correct|meant|typo|wrong|change|supposed|make that|miscount", text)
    turned = re.search(r"\b(?:was|were|is|are) [\d.]+ (?:\w+ )?not [\d.]+", text) and not fact.word("left", "down to")
    if not (told or begins or turned) or fact.word("counted"):
        return None
    item = fact.plan.item_named(next(iter(items)))
    right, was = _right_and_was(fact, values, text)
    if right is None or item is None:
        return None
    if (
        fact.has("come", "fed", "hold", "order")
        and was is None
        and not re.search(r"should|shd|oops|fix|correct|meant|typo|change|make that|wrong", text)
    ):
        return None
    fact.use(*(n for n, _ in values), *(n for n, _ in fact.named("item")))
    value = right.value if right.value is not None else Decimal(0)
    unit = right.unit or (was.unit if was else None) or item.unit
    return _only(fact, Correct(on=fact.said.date(), item=item.name, amount=value, unit=unit))


def product_told(fact: Fact) -> Found:
    """Told of a product's withdrawal or dose, nothing given."""
    products = {name for _, name in fact.named("product")}
    if len(products) != 1 or fact.says("gave", "given", "jabbed", "treated", "drenched", "injected"):
        return None
    text = fact.text
    days = None
    for n, p in fact.nums():
        after = [q.text for q in fact.pieces[n + 1 : n + 2]]
        if after and (after[0].startswith("day") or after[0] == "d") and p.value is not None:
            days = int(p.value)
            fact.use(n)
    if days is None and re.search(r"\b(?:no|nil|zero) (?:meat )?(?:withdrawal|withhold|hold|whp)\b", text):
        days = 0
    if days is None and (m := re.search(r"\b(\d+) days?\b", text)):
        days = int(m[1])
    if days is None and (m := re.search(r"(?:withdrawal|withhold|hold|whp)(?: period)?(?: is| of|:)? (\d+)\b", text)):
        days = int(m[1])
        fact.use(*(n for n, p in fact.nums() if p.text == m[1]))
    if days is None and re.search(r"\b(?:no|nil|zero) (?:withdrawal|withhold|hold|meat withdrawal)\b", text):
        days = 0
    dose = next(((n, p) for n, p in fact.nums() if p.unit in ("mL", "g", "tablet")), None)
    by = next(((n, p) for n, p in fact.nums() if dose and n > dose[0] and p.unit in ("kg", "lb")), None)
    if by is not None and not fact.word("per", "for", "each", "every", "a", "/"):
        return None
    about = re.search(r"withdraw|hold|whp|ship|slaughter|clear|dose|vet|label|meat|\b(?:is|has|needs) \d+ days?$", text)
    if fact.tags() or (days is None and dose is None) or not about or text.startswith(("how", "what", "when")):
        return None
    if dose is not None and days is None and "dose" not in text:
        return None
    fact.use_named("product", "person", "supplier")
    said = None
    if dose is not None:
        fact.use(dose[0])
        said = f"{dose[1].value:f} {dose[1].unit}"
        if by is not None:
            fact.use(by[0])
            said += f" per {by[1].value:f} {by[1].unit}"
    entry = Product(on=fact.said.date(), product=next(iter(products)), withdrawal_days=days, dose=said)
    return [entry] if not fact.left() else None


_ASKS = (
    "is", "is the", "are", "are the", "when", "will the", "what", "hows", "does", "do", "has", "will", "can", "any",
)  # fmt: skip


def shut(fact: Fact) -> Found:
    """A supplier shut, or open though a holiday, on some days."""
    suppliers = {name for _, name in fact.named("supplier")}
    if not suppliers and len(fact.plan.supplier) == 1 and fact.word("mill", "merchant", "merchants", "co-op", "store"):
        suppliers = {fact.plan.supplier[0].name}  # there is only one it can be
    closed = fact.has("closed") and any(p.text not in ("off",) for p in fact.pieces if p.is_("closed"))
    opened = fact.says("open", "opening", "opens")
    if len(suppliers) != 1 or not (closed or opened) or any(p.text == "?" for p in fact.pieces):
        return None
    phrases = [(n, p) for n, p in enumerate(fact.pieces) if p.day and p.day.names_day]
    if not phrases or fact.named("item"):
        return None
    first = fact.pieces[0]
    if first.text in _ASKS:
        return None
    opened = opened and not any(p.is_("closed") and "open" in p.text for p in fact.pieces)  # "they wont be open"
    if re.search(r"\b(?:not|isnt|wont be|arent) (?:closed|shut|closing)\b", fact.text):
        return Ask("Open or shut then, and which days?")
    phrases = [(n, p) for n, p in phrases if not n or fact.pieces[n - 1].text != "not"]
    if closed:  # up to where it opens again
        words = ("opening", "open again", "reopen", "reopens", "back")
        opens = (n for n, p in enumerate(fact.pieces) if p.text in words or (p.text == "open" and n > 2))
        again = next(opens, len(fact.pieces))
        phrases = [(n, p) for n, p in phrases if n < again]
    named = [(n, p) for n, p in phrases if p.day and p.day.form == "dates" and p.day.lead == "for"]
    if named and closed:  # "shut monday for labor day": the holiday says which monday
        phrases = named
    if not phrases or any(p.text.startswith("over ") for _, p in phrases):
        return Ask("Which days exactly?")
    unsure = any(
        p.is_("wish") and p.text not in ("will", "wont", "before", "after", "they'll", "itll") for p in fact.pieces
    )
    if unsure and not re.search(r"\btill?\b|\buntil\b", fact.text):
        return None
    if closed and fact.word("early", "late") and _hours(fact) is None:
        raise Doubt("Which hours is it open that day?")
    supplier = next(iter(suppliers))
    days = []
    for _, p in phrases:
        assert p.day is not None
        dates = p.day.days(fact.said, True, fact.plan.farm.country)
        if (p.day.form in ("weekend", "picked") and len(dates) == 2) or len(dates) == 1:
            days += list(dates)
        elif not dates or len(dates) > 1:
            raise which_day(fact, [p], dates, "Which days exactly?", pairs=p.day.form == "weekend")
    if len(days) > 2 and not any(p.day and "weekend" in p.text for _, p in phrases):
        and_a_day = len(phrases) == 3 and fact.word("then", "and", "also") and phrases[1][0] - phrases[0][0] <= 2
        if not and_a_day or _hours(fact):
            return Ask("Which days exactly? Tell me each stretch by itself.")
        fact.use(*range(len(fact.pieces)))
        kind, on = Closed if closed else Open, fact.said.date()
        return [kind(on=on, supplier=supplier, from_=a, to=b) for a, b in ((days[0], days[1]), (days[2], days[2]))]
    start, end = _span(fact, days)
    hours = _hours(fact)
    hour = any(p.day and p.day.clock for p in fact.pieces) or re.search(r"\b(?:clos\w+|shut\w*) at\b", fact.text)
    if closed and hours is None and hour:
        return Ask("Open from when till when that day?")
    make = Open if opened and not closed else Closed
    if make is Open and hours is None and fact.has("ask"):
        return None
    fact.use(*range(len(fact.pieces)))
    return [make(on=fact.said.date(), supplier=supplier, from_=start, to=end, hours=hours)]


def _span(fact: Fact, days):  # type: ignore[no-untyped-def]
    """First and last day; "until the 4th" runs from today, a last day said without its month follows the first."""
    start, end = days[0], days[-1]
    if len(days) == 1:
        number = next(
            ((n, p) for n, p in fact.nums() if p.unit is None and p.value is not None and p.value <= 31), None
        )
        if number is not None and fact.pieces[number[0] - 1].text in ("-", "to", "thru", "through"):
            end = start.replace(day=int(number[1].value or start.day))
            fact.use(number[0])
        lead = next((p.day.lead for p in fact.pieces if p.day and p.day.names_day and p.day.lead), "")
        if lead in ("till", "til", "until") and fact.has("closed"):
            return fact.said.date(), start - timedelta(days=1)
    if end < start:
        end = start
    holiday = next((p for p in fact.pieces if p.day and "weekend" in p.text), None)
    if holiday is not None and len(days) > 1:
        start, end = min(days), max(days)
    return min(start, end), max(start, end)


def _hours(fact: Fact) -> str | None:
    clocks = [p.day.clock for p in fact.pieces if p.day and p.day.clock]
    if len(clocks) == 2 and clocks[0] is not None and clocks[1] is not None:
        return f"{clocks[0]:%H:%M}-{clocks[1]:%H:%M}"
    return None
