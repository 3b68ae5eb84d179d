"""Rows about money: animals and things sold, prices heard, sale days."""

import re
from datetime import date, timedelta
from decimal import Decimal

from bot.fact import Ask, Choice, Doubt, Fact, Found
from bot.phrases.row import Row
from bot.slots import Piece
from rules.days import WEEKDAYS
from rules.entries import MarketPrice, Sale, SaleDay, Ship

_WEIGHT_UNITS = ("lb", "kg", "cwt")


def _price(fact: Fact) -> tuple[int, Piece] | None:
    """The number that is a price: with a money sign, "a lb", or after "at" or "@" with pence."""
    marked = [(n, p) for n, p in fact.nums() if p.per != "total" and (p.money or p.per)]
    if marked:
        return marked[0]
    for n, p in fact.nums():
        before = fact.pieces[n - 1].text if n else ""
        if (
            before in ("at", "@", "for", "made", "brought", "bringing", "fetched", "was", "were", "is", "making")
            and p.value is not None
            and "." in p.text
            and p.value < 20
            and p.per != "total"
        ):
            return n, p
    return None


def _per(fact: Fact, n: int, p: Piece) -> tuple[Decimal, str | None]:
    """(price, per): the unit after "a", or written behind the price ("2.44 lb")."""
    value = p.value or Decimal(0)
    if p.spelled and value > 25 and (p.per in ("lb", "kg")):
        value /= 100  # "two forty eight a pound"
    if p.per == "each":
        return value, "head"
    if p.per and p.per != "total":
        return value, p.per
    if p.unit in _WEIGHT_UNITS and p.value is not None and p.value < 20:
        return value, p.unit
    after = fact.pieces[n + 1].text if n + 1 < len(fact.pieces) else ""
    if after in ("lb", "kg", "head", "hd"):
        return value, {"hd": "head"}.get(after, after)
    return value, None


def sale(fact: Fact) -> Found:
    """Animals sold at a price; without one it is a load that left."""
    priced = any(p.per in ("lb", "kg", "head", "each", "cwt") for _, p in fact.nums())
    went = (
        "brought",
        "got",
        "brot",
        *(("gone", "went", "away", "off") if priced else ()),
        *(("came",) if re.search(r"\bcame to\b|\bche(?:ck|que) came\b", fact.text) else ()),
    )
    words = [p for p in fact.pieces if p.is_("sell") or p.text in went]
    if not words and "sell" in fact.carried and fact.named("item") and any(p.per for _, p in fact.nums()):
        return _things(fact)
    if not words or (
        fact.has("dose", "lambed", "order") and not any(p.text in ("sold", "made", "brought") for p in words)
    ):
        return None
    sold = any(p.text in ("sold", "selt", "flogged") and not p.mended for p in words)
    if fact.mentions("item", "crop", "bin") or fact.has("eggs"):
        return _things(fact) if sold else None
    if "eggs" in fact.carried and any(p.unit in (None, "dozen") for _, p in fact.amounts()) and sold:
        return _things(fact)
    if fact.says("bringing", "making", "heard", "market", "trade", "prices", "price") and not sold:
        return None
    if fact.vague() is not None and sold and not fact.nums():
        return Ask("How many, and at what price?")
    price = _price(fact)
    groups = fact.named("group")
    if price is not None:
        fact.use(price[0])
    mean = _mean(fact)
    if mean is not None:
        fact.use(mean[0])
    tags = fact.tags()
    fact.which_of(tags)
    total = next(((n, p) for n, p in fact.nums() if p.per == "total"), None)
    if total is not None:
        fact.use(total[0])
    for n, _ in fact.nums():  # "38 to 42 kg": what they weighed, roughly
        span = [q.text for q in fact.pieces[n + 1 : n + 2]]
        if span in (["to"], ["-"]) and n + 2 < len(fact.pieces) and fact.pieces[n + 2].unit in ("kg", "lb"):
            fact.use(n, n + 2)
    heads = [(n, p) for n, p in fact.nums() if p.unit in (None, "head") and not p.money and not p.per]
    heads = [(n, p) for n, p in heads if n not in {m for m, _ in tags} and p.value is not None and p.value % 1 == 0]
    one = re.search(r"\b(?:a|one|1) (?:cull |old |fat )?(?:ewe|ram|tup|lamb|wether|hogget|gimmer|buck)\b", fact.text)
    if one and price and not tags and not heads:
        head: int | None = 1
    elif not tags and len(heads) != 1:
        two = len(heads) == 2 and sold and price is None
        return _two_numbers(fact, heads) if two else None
    else:
        head = int(heads[0][1].value or 0) if heads and not tags else None
    if not sold and (not (price or total) or fact.ranges):
        return None  # "110 to 130 lambs brought 2.55" is what was paid for a weight
    counted = not tags or (len(heads) == 1 and heads[0][1].value == len(tags))
    fact.use(*(n for n, _ in heads[:1] if counted), *(n for n, _ in tags), *(n for n, _ in groups))
    named = tuple(sorted({t for _, t in tags}))
    on = fact.on()
    if price is None and total is None:
        group = groups[0][1] if len(groups) == 1 and head else None
        return [Ship(on=on, head=head, tags=named, group=group)] if sold else None
    value, per = _per(fact, *price) if price else (None, None)
    unit = fact.plan.farm.weight
    if per is None and value is not None:
        if total is None and (fact.word("each", "apiece") or value > 25):
            if value > 25 and not fact.word("each", "apiece", "head") and price and not price[1].money:
                return _each_or_pound(fact, head, named, value)
            per = "head" if fact.word("each", "apiece", "head") else None
        if per is None and value < 20:
            per = unit
        if per is None:
            return _each_or_pound(fact, head, named, value)
    scaled = [(n, p) for n, p in fact.nums() if p.unit in ("kg", "lb") and not p.money and not p.per]
    if mean is None and (head or len(named)) == 1 and len(scaled) == 1:  # "a cull tup, 94 kilo at 1.80 a kilo"
        mean = scaled[0]
        fact.use(mean[0])
    mean_weight = mean[1].value if mean else None
    return [Sale(
        on=on, head=head, tags=named, price=value, per=per, total=total[1].value if total else None,
        mean_weight=mean_weight, unit=(mean[1].unit or unit) if mean else None,
    )]  # fmt: skip


def _two_numbers(fact: Fact, heads: list[tuple[int, Piece]]) -> Found:
    """ "sold 10 at 245": a head, or a weight?"""
    (n, a), (m, b) = heads
    fact.use(n, m)
    return _each_or_pound(fact, int(a.value or 0), (), b.value or Decimal(0))


def _each_or_pound(fact: Fact, head: int | None, tags: tuple[str, ...], value: Decimal) -> Ask:
    on, unit = fact.on(), fact.plan.farm.weight
    by_weight = value / 100 if value > 20 else value
    choices = (
        Choice(f"{value:f} a head", (Sale(on=on, head=head, tags=tags, price=value, per="head"),)),
        Choice(f"{by_weight:f} a {unit}", (Sale(on=on, head=head, tags=tags, price=by_weight, per=unit),)),
        Choice(f"{value:f} in all", (Sale(on=on, head=head, tags=tags, total=value),)),
    )
    return Ask(f"{value:f} a head, or {by_weight:f} a {unit}?", choices)


def _mean(fact: Fact) -> tuple[int, Piece] | None:
    """The mean weight: after "avg", or a bare weight that is no head count."""
    fits = [(n, p) for n, p in fact.nums() if p.unit in (None, "kg", "lb") and not p.per and not p.money]
    for n, p in fits:
        if any(q.is_("average") for q in fact.pieces[max(0, n - 3) : n]):
            return n, p
    for n, p in fits:
        near = fact.pieces[n + 1 : n + (3 if p.unit else 2)]
        if any(q.is_("average") for q in near):
            return n, p
    return None


def _things(fact: Fact) -> Found:
    """Hay, grain or eggs sold."""
    eggs = fact.has("eggs") or ("eggs" in fact.carried and not fact.named("item"))
    if any(p.unit in ("tray", "box", "carton", "crate") for _, p in fact.nums()):
        return Ask("How many is that?")
    item, crop = (None, None) if eggs else (fact.one("item", use=False), fact.one("crop", use=False))
    what = "eggs" if eggs else item or crop
    fact.use_named("item", "crop", "product")
    price = _price(fact)
    if price is not None:
        fact.use(price[0])
    total = next(((n, p) for n, p in fact.nums() if p.per == "total"), None)
    if total is not None:
        fact.use(total[0])
    amounts = fact.amounts()
    if what is None or len(amounts) != 1:
        return None
    n, p = amounts[0]
    fact.use(n)
    row = fact.plan.item_named(item) if item else None
    unit = p.unit or (row.unit if row else "each" if eggs else None)
    if unit is None:
        return None
    value, per = (price[1].value, price[1].per) if price else (None, None)
    if crop and price and per is None and price[1].value is not None and price[1].value < 100:
        raise Doubt(f"{price[1].text} for each what?")
    if value is not None and per in (None, "each"):
        per = unit if per == "each" or fact.word("each", "a", "per") else None
        if per is None:
            return [Sale(on=fact.on(), what=what, amount=p.value, unit=unit, total=value)]
    return [Sale(
        on=fact.on(), what=what, amount=p.value, unit=unit, price=value, per=per, total=total[1].value if total else None,
    )]  # fmt: skip


def market(fact: Fact) -> Found:
    """A price heard, nothing sold or bought."""
    kinds = fact.says("ewes", "cull ewes", "tups", "rams", "hoggets", "hoggs", "stores")
    a_head = len(fact.nums()) == 1 and fact.nums()[0][1].per in ("head", "cwt")
    span = (
        re.search(r"^(?!.*\b(?:brought|made|fetched|got)\b).*\b\d+ (?:-|to) \d+ lambs\b", fact.text)
        and (_price(fact) is not None)
        and len(fact.nums()) == 3
    )
    heavy = span or (kinds and a_head) or fact.says("over", "under", "heavies", "heavys", "lambs", "fats", "lights")
    weighed = any(p.per in (*_WEIGHT_UNITS, *(("head", "cwt") if a_head else ())) for _, p in fact.nums())
    one = fact.nums()[0][1] if len(fact.nums()) == 1 else None
    things = fact.named("crop") or fact.named("item")
    quoted = one is not None and (one.money or bool(things and fact.says("now", "says", "today")))
    shelf = one is not None and quoted and one.per and (fact.named("item") or fact.named("crop"))
    told = fact.has("price") or "price" in fact.carried
    if not (told or span or (heavy and weighed) or shelf) or fact.says(
        "sold", "got", "bought", "ordered", "picked up", "delivered"
    ):
        return None
    if fact.tags() and not any(p.money for _, p in fact.nums()) and not any(p.per for _, p in fact.nums()):
        return None
    price = _price(fact) or _quoted(fact)
    if price is None:
        return None
    before = fact.pieces[price[0] - 1].text if price[0] else ""
    if before in ("up", "down", "by") and price[1].per is None:
        return None  # "up 5 cents" is a change, no price
    n, p = price
    fact.use(n)
    value, per = _per(fact, n, p)
    names = [q for q in fact.pieces if q.kind == "name"]
    what = next((q.named("item") or q.named("crop") for q in names if q.named("item") or q.named("crop")), None)
    what = what or next((q.text for q in fact.pieces if q.text in ("ewes", "rams", "cull ewes", "tups")), None)
    kept = {g.name: g.keeps for g in fact.plan.group}
    what = what or next((k for _, g in fact.named("group") if (k := kept.get(g)) in ("ewes", "rams")), None)
    what = {"cull ewes": "ewes", "tups": "rams"}.get(what or "", what)
    fact.use(*(m for m, q in enumerate(fact.pieces) if q.kind == "name"))
    low, high = _span(fact)
    if per is None and what is None and value < 20:
        per = fact.plan.farm.weight
    if per is None and not (p.money or what):
        return None
    return [MarketPrice(on=fact.on(), price=value, per=per, what=what, from_=low, to=high)]


def _quoted(fact: Fact) -> tuple[int, Piece] | None:
    """The only number of a quote, bare and with pence: "market 2.52 today"."""
    nums = fact.nums()
    if len(nums) != 1 or not fact.word("market", "price", "prices", "trade", "elevator") or len(fact.pieces) > 8:
        return None
    p = nums[0][1]
    return nums[0] if "." in p.text and p.unit is None and p.value is not None and p.value < 20 else None


def _span(fact: Fact) -> tuple[Decimal | None, Decimal | None]:
    """The weights a price is for: "110-130", "over 130", "under 40"."""
    nums = [(n, p) for n, p in fact.nums() if p.unit in (None, "kg", "lb")]
    if len(nums) == 2 and fact.pieces[nums[0][0] + 1].text in ("-", "to"):
        fact.use(nums[0][0], nums[1][0])
        return nums[0][1].value, nums[1][1].value
    if len(nums) == 1:
        n, p = nums[0]
        before = [q.text for q in fact.pieces[max(0, n - 2) : n]]
        fact.use(n)
        if any(w in ("under", "below", "less", "lighter") for w in before):
            return None, p.value
        if any(w in ("over", "above", "past", "plus") for w in before):
            return p.value, None
        fact.used.discard(n)
    return None, None


def sale_day(fact: Fact) -> Found:
    """No sale on a day, or one beside the usual."""
    if not fact.says("sale", "sales", "mart", "marts", "market", "auction"):
        return None
    off = any(
        p.text in ("no", "off", "cancelled", "canceled", "not on", "isnt") or p.is_("closed") for p in fact.pieces
    )
    extra = fact.says("extra", "special", "another", "additional", "on")
    days = [p for p in fact.pieces if p.day and p.day.names_day]
    if not days or not (off or extra) or fact.nums() or (fact.has("ask", "sell") and fact.word("sold")):
        return None
    fact.use(*(n for n, p in enumerate(fact.pieces) if p.kind == "name" and "supplier" not in p.names))
    if fact.mentions("supplier"):
        return None
    if len({p.text for p in days}) > 1 or fact.word("instead", "moved"):  # off one day, on another
        raise Doubt("Which day is off, and which is on? Tell me each by itself.")
    on = _usual_day(fact) if days[0].text == "this week" and off else fact.on(ahead=True)
    return [SaleDay(on=fact.said.date(), date=on, held=not off)]


def _usual_day(fact: Fact) -> date:
    """The sale day still to come this week."""
    today = fact.said.date()
    left = [today + timedelta(n) for n in range(7 - today.weekday())]
    usual = [day for day in left if WEEKDAYS[day.weekday()] in [s.lower() for s in fact.plan.ship.sales]]
    if len(usual) != 1:
        raise Doubt("Which sale day is off?")
    return usual[0]


ROWS = (
    Row("sale", "Animals or things sold.", ("sold 14 at 2.44 a lb avg 119", "sold 40 bales hay at 6 a bale"), sale, ("sell",), ("sold some lambs", "sold 10 at 245"), ("cull", "load", "ship")),
    Row("market_price", "A price heard.", ("market was 2.52 a lb wednesday", "corn up to 4.10 a bu"), market, ("price",), (), ("cull",)),
    Row("sale_day", "A sale off, or an extra one.", ("no sale wednesday",), sale_day, ("sell",)),
)  # fmt: skip
