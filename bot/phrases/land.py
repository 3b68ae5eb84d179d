"""Rows about land and bins: loads, levels, grain moved, work in a field."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

from bot.fact import Ask, Choice, Doubt, Fact, Found
from bot.phrases.row import Row
from rules.entries import BinLevel, BinMove, Entry, Fieldwork, Load
from rules.units import amount, convert

_GRAIN_UNITS = ("bu", "lb", "kg", "t", "ton", "cwt")


def _crop(fact: Fact) -> str | None:
    return fact.one("crop")


def load(fact: Fact) -> Found:
    """A load of grain: what, how much, how wet, from which field, into which bin. Several weights are several loads."""
    percents = [(n, p) for n, p in fact.nums() if p.percent]
    worded = fact.has("load") and any(p.text not in ("bin",) for p in fact.pieces if p.is_("load"))
    crops = fact.named("crop")
    hauled = fact.named("field") and any(p.unit in _GRAIN_UNITS for _, p in fact.nums()) and not fact.has("fieldwork")
    if not (crops and (percents or worded or hauled or any(p.text == "moisture" for p in fact.pieces))):
        return None
    if fact.has("sell", "price", "order") and not worded:
        return None
    crop = _crop(fact)
    field, to = fact.one("field"), _to(fact)
    fact.use_named("bin", "field", "person")
    amounts = [(n, p) for n, p in fact.amounts() if p.unit in _GRAIN_UNITS]
    for n, p in fact.amounts() if amounts else ():  # "5.8 tonne at 16.9 and 6.1 at 16.5"
        if (
            p.unit is None
            and [q.text for q in fact.pieces[n + 1 : n + 2]] == ["at"]
            and fact.pieces[n - 1].text != "at"
        ):
            amounts.append((n, replace(p, unit=amounts[0][1].unit)))
    wet = list(percents)
    for n, p in fact.amounts():  # "12.6 moisture", "51200# 18.1": a bare number under 45 beside a load is its moisture
        said = any(q.text in ("moisture", "moist", "wet") for q in fact.pieces[n + 1 : n + 2]) or any(
            q.text in ("moisture", "at", "wet") for q in fact.pieces[max(0, n - 1) : n]
        )
        if p.unit is None and p.value is not None and 5 <= p.value <= 45 and (said or ("." in p.text and amounts)):
            wet.append((n, p))
    counts = [
        (n, p) for n, p in fact.amounts() if (n, p) not in amounts and (n, p) not in wet and p.unit in (None, "each")
    ]
    if not amounts:
        if worded and (wet or counts):
            return Ask("How much was the load, in pounds, bushels or tonnes?")
        return None
    if len(wet) not in (0, len(amounts)) or len(counts) > 1:
        return None
    if counts and counts[0][1].value != len(amounts):
        return None
    fact.use(*(n for n, _ in (*amounts, *wet, *counts)))
    on = fact.on()
    wet.sort()
    entries: list[Entry] = []
    for k, (_, p) in enumerate(amounts):
        moisture = wet[k][1].value if wet else None
        entries.append(Load(on=on, crop=crop, amount=p.value, unit=p.unit, moisture=moisture, field=field, to=to))
    return entries


def _to(fact: Fact) -> str | None:
    bins = fact.named("bin")
    return bins[-1][1] if len(bins) == 1 else None


_MOVED = (
    "took", "taken", "augered", "augured", "augerd", "moved", "shifted", "transferred", "ran", "emptied", "swapped",
    "turned", "tipped", "put",
)  # fmt: skip


def bin_move(fact: Fact) -> Found:
    """Grain moved between bins, out of one or into one."""
    if not fact.says(*_MOVED) or fact.has("hold"):
        return None
    bins = fact.named("bin")
    amounts = [(n, p) for n, p in fact.amounts() if p.unit in _GRAIN_UNITS]
    if not bins or len(amounts) != 1:
        return None
    source = to = None
    for n, name in bins:
        before = [p.text for p in fact.pieces[max(0, n - 3) : n]]
        if any(w in ("from", "out of", "out", "outa", "off", "of") for w in before[-2:]) and source is None:
            source = name
        elif any(w in ("to", "into", "over to", "in", "up to", "onto") for w in before):
            to = name
    fact.use(*(n for n, _ in bins), *(n for n, _ in fact.named("group")), amounts[0][0])
    if source is None and to is not None and len(bins) == 2:
        source = next(name for _, name in bins if name != to)
    if source is None and re.search(r"\b(?:from|out of|outa) (?:the |a )?(?:big |other )?bin\b", fact.text):
        crop_in = {b.name: b.crop for b in fact.plan.bin}
        holds = {name for name, crop in crop_in.items() if name != to and crop == crop_in.get(to or "")}
        if len(holds) != 1:
            raise Doubt("Out of which bin?", (Choice(b.name) for b in fact.plan.bin if b.name != to))
        source = next(iter(holds))
    if to is None and source is not None:  # "outa bin 2 into 1": the other bin by its number alone
        to = _by_number(fact, source)
    if (source is None and to is None) or (source == to and source is not None):
        return None
    crop = _crop(fact)
    p = amounts[0][1]
    return [BinMove(on=fact.on(), from_=source, to=to, amount=p.value or Decimal(0), unit=p.unit or "", crop=crop)]


def _by_number(fact: Fact, source: str) -> str | None:
    stem = source.rsplit(" ", 1)[0]
    for n, p in fact.nums():
        before = fact.pieces[n - 1].text if n else ""
        name = f"{stem} {p.text}"
        if before in ("into", "to", "in") and any(b.name == name for b in fact.plan.bin):
            fact.use(n)
            return name
    return None


_SHARES = (
    ("(?:two|2) thirds?", Decimal(2) / 3), ("(?:three|3) quarters?", Decimal("0.75")), ("third", Decimal(1) / 3),
    ("quarter", Decimal("0.25")), ("half", Decimal("0.5")),
)  # fmt: skip


def bin_level(fact: Fact) -> Found:
    """How much is in a bin."""
    bins = fact.named("bin")
    if len({b for _, b in bins}) != 1 or fact.has("load", "price", "sell") or fact.has("ask"):
        return None
    if any(p.text in _MOVED or p.is_("outof") for p in fact.pieces) and not fact.has("hold"):
        return None
    if fact.word("temp", "temperature", "degrees", "moisture", "moist", "mc", "test", "tests", "tested"):
        return None
    if len(fact.pieces) > 14 or re.search(r"\d (?:ft|feet|foot|inches)\b|\d/\d", fact.text):
        return None
    name = bins[0][1]
    row = next(b for b in fact.plan.bin if b.name == name)
    capacity = amount(row.capacity) if row.capacity else None
    part = fact.says("half", "full", "third", "quarter")
    amounts = [(n, p) for n, p in fact.amounts() if p.unit in (None, *_GRAIN_UNITS)]
    fact.use_named("bin")
    crop = _crop(fact)
    if any(p.text == "empty" for p in fact.pieces) and not amounts and capacity:
        return [BinLevel(on=fact.on(), bin=name, amount=Decimal(0), unit=capacity.unit, crop=crop)]
    shares = [share for words, share in _SHARES if re.search(rf"\b{words}\b", fact.text)]
    if (part and not amounts) or shares or fact.vague():
        fact.use(*(n for n, _ in amounts), *(n for n, p in enumerate(fact.pieces) if p.kind == "vague"))
        worth = Decimal(round(capacity.value * shares[0])) if capacity and shares else None
        level = (
            BinLevel(on=fact.on(), bin=name, amount=worth, unit=capacity.unit, crop=crop)
            if worth and capacity
            else None
        )
        return Ask(f"How much is in {name}?", (Choice(f"{worth:f} {level.unit}", (level,)),) if level else ())
    if len(amounts) != 1 or amounts[0][1].value is None:
        return None
    n, p = amounts[0]
    fact.use(n)
    unit = p.unit or (capacity.unit if capacity else None)
    if unit is None or p.value is None:
        return None
    if p.unit is None and "." in p.text and 5 <= p.value <= 40:
        raise Doubt(f"{p.text} {unit} in {name}, or {p.text} % moisture?")
    if capacity is not None and _over(fact, p.value, unit, capacity.value, capacity.unit):
        raise Doubt(f"{name} holds {row.capacity}. {p.text} {unit}?")
    return [BinLevel(on=fact.on(), bin=name, amount=p.value, unit=unit, crop=crop)]


def _over(fact: Fact, value: Decimal, unit: str, most: Decimal, most_unit: str) -> bool:
    try:
        return bool(convert(value, unit, most_unit, fact.plan.farm.country) > most)
    except ValueError:
        return False


_WORK_ALONE = (
    "plowed", "ploughed", "disked", "sprayed", "drilled", "planted", "combined", "mowed", "baled", "sowed", "harvested",
)  # fmt: skip


_SPREAD = {"muck", "manure", "slurry", "fert"}


def fieldwork(fact: Fact) -> Found:
    """Work done in a field."""
    words = [p for p in fact.pieces if p.is_("fieldwork")]
    if not words or any(p.unit in ("bag", "bottle", "head", "gal", "L") for _, p in fact.nums()):
        return None
    if fact.has("lambed", "dose", "ship", "hold", "sell", "shorn") and not fact.named("field"):
        return None
    fields = {f for _, f in fact.named("field")}
    alone = words[0].text in (*_WORK_ALONE, "rolled", "harrowed", "limed", "raked")
    if alone and not fields and fact.land and fact.word("it"):
        return [Fieldwork(on=fact.on(), field=fact.land, work=_work(fact, words[0].text))]  # "sowed it, and rolled it"
    if not fields and any(p.names.get("item") and not p.names.get("field") for p in fact.pieces):
        return None
    areas = [(n, p) for n, p in fact.nums() if p.unit in ("ac", "ha")]
    if not fields:
        bare = [(n, p) for n, p in fact.nums() if p.unit is None and not p.tags]
        if words[0].text in _WORK_ALONE and (areas or (bare and len(fact.pieces) <= 3)) and fact.plan.field:
            n, p = (areas or bare)[0]
            fact.use(n)
            unit = p.unit or _area_unit(fact)
            on = fact.on()
            choices = [
                Choice(f.name, (Fieldwork(on=on, field=f.name, work=words[0].text, area=p.value, unit=unit),))
                for f in fact.plan.field[:4]
            ]
            return Ask(f"{p.text} {unit} of which field?", tuple(choices))
        return None
    work = _work(fact, words[0].text)
    fact.use(*(n for n, p in enumerate(fact.pieces) if p.kind == "name"))
    on = fact.on()
    doings = [n for n, p in enumerate(fact.pieces) if p.is_("fieldwork") and p.text not in _SPREAD]
    if len(doings) > 1 and any(p.kind in ("name", "num") for p in fact.pieces[doings[0] : doings[-1]]):
        return None
    if len(fields) > 1 and len({p.text for p in words} - _SPREAD) > 1:
        return None  # each is told by itself
    if len(fields) > 1 and areas:
        return _each_field(fact, work, on)
    if len(areas) > 1:
        return None
    fact.use(*(n for n, _ in areas), *(n for n, p in fact.nums() if p.unit in ("t", "kg", "ton", "cwt", "lb")))
    names = list(dict.fromkeys(f for p in fact.pieces for f in p.names.get("field", ())[:1]))
    area = areas[0][1] if areas else None
    value, said = (area.value, area.unit) if area else (None, None)
    return [Fieldwork(on=on, field=f, work=work, area=value, unit=said) for f in names]


def _each_field(fact: Fact, work: str, on: date) -> Found:
    """ "mowed long acre and 6 acre of church field": an area belongs to the field just behind it."""
    found: list[Entry] = []
    for n, p in enumerate(fact.pieces):
        for name in p.names.get("field", ())[:1]:
            near = [q for q in fact.pieces[max(0, n - 3) : n] if q.unit in ("ac", "ha")]
            fact.use(*(m for m, q in enumerate(fact.pieces) if q in near[-1:]))
            area, unit = (near[-1].value, near[-1].unit) if near else (None, None)
            found.append(Fieldwork(on=on, field=name, work=work, area=area, unit=unit))
    return found


def _area_unit(fact: Fact) -> str:
    told = [amount(f.area).unit for f in fact.plan.field if f.area]
    return told[0] if told else "ac" if fact.plan.farm.country in ("US", "CA", "GB") else "ha"


def _work(fact: Fact, word: str) -> str:
    """The work, with what was spread, sown or cut."""
    if word in _SPREAD:
        return f"spread {word}"
    at = next(n for n, p in enumerate(fact.pieces) if p.is_("fieldwork"))
    after = [p.text for p in fact.pieces[at + 1 : at + 2] if p.text in {*_SPREAD, "lime", "fertiliser", "fertilizer"}]
    return " ".join([word, *after])


ROWS = (
    Row("load", "A load of grain.", ("load of corn 58240 lb 17.8% off back forty to bin 1",), load, ("load",), ("load of corn in bin 1, 16.9",)),
    Row("bin_move", "Grain moved.", ("moved 300 bu corn out of bin 1",), bin_move, ("augered",), (), ("move",)),
    Row("bin_level", "What is in a bin.", ("bin 1 2200 bu", "bin 1 is at 900 bu corn"), bin_level, ("bin",), ("bin 1 about half",)),
    Row("fieldwork", "Work in a field.", ("sprayed the back forty", "disked 20 ac of back forty"), fieldwork, ("fieldwork",)),
)  # fmt: skip
