"""Rows about eggs: gathered, a day for each count."""

import re
from itertools import pairwise

from bot.fact import Ask, Choice, Doubt, Fact, Found, harmless
from bot.phrases.row import Row
from bot.slots import Piece
from rules import doubt
from rules.entries import Eggs, Entry

# An egg told with one of these was not gathered, or is not there any more.
_NOT_GATHERED = {"ate", "eaten", "eat", "used", "gave away", "given", "hatched", "set", "to"}


def eggs(fact: Fact) -> Found:
    """Eggs gathered; a day may be named for each count."""
    hens = fact.plan.group and [g.name for g in fact.plan.group if g.keeps == "hens"]
    about_eggs = fact.has("eggs") or "eggs" in fact.carried
    gave = [name for n, name in fact.named("group") if name in (hens or ()) and _laid(fact, n)]
    if not about_eggs and not (gave and fact.says("gave us", "gave", "give us", "give", "laid", "lay")):
        return None
    if (
        fact.named("item")
        or any(p.is_("sell") and p.text in ("sold", "selling") for p in fact.pieces)
        or fact.has("price")
    ):
        return None
    if fact.vague() is not None and not fact.nums():
        return Ask("How many eggs?")
    if re.search(r"\bno eggs\b|\bnot an egg\b", fact.text) and not fact.nums():
        return [Eggs(on=fact.on(), count=0, group=gave[0] if gave else None)]
    if re.search(r"\b(?:store|shop|her hens|his hens|short|dropped)\b|\bgave (?!us|me)|\bleft laying\b", fact.text):
        return None
    if fact.has("die", "spoil", "wish", "ask") or (fact.word("we", "for") and fact.word("have")):
        return None
    spoilt = re.search(r"\b(?:broken|cracked|smashed|bad|rotten|old) eggs?\b", fact.text)
    if spoilt or fact.says(*_NOT_GATHERED):
        return None
    if any(p.unit in ("tray", "box", "carton", "crate") for _, p in fact.nums()):
        return Ask("How many eggs is that?")
    said = [(n, p) for n, p in fact.nums() if not harmless(fact.pieces, n)]  # "8 eggs, 20 below this morning"
    nums = [(n, p) for n, p in said if p.unit in (None, "dozen", "each") and not p.money and not p.per]
    if not nums or nums != said:
        return None
    fact.use_named("group")
    group = gave[0] if gave else None
    days = [n for n, p in enumerate(fact.pieces) if p.day and p.day.names_day]
    order = sorted([*(n for n, _ in nums), *days])
    if len(nums) > 1 and len(days) == len(nums) and all((n in days) != (m in days) for n, m in pairwise(order)):
        found: list[Entry] = []
        for (n, p), d in zip(nums, days, strict=True):
            one = Fact([fact.pieces[d]], fact.said, fact.farm)
            found.append(Eggs(on=one.on(), count=_count(p), group=group))
            fact.use(n)
        return found
    if re.search(r"\b(?:broke\w*|crack\w*|smash\w*|soft|shell\w*|rotten)\b", fact.text):
        return Ask("How many good eggs in all?")
    if len(days) == 2 and len(nums) == 3 and (split := _by_day(fact, nums, days, group)):
        return split
    if len(days) > 1:
        return Ask("How many eggs on which day?")
    total, on = _together(fact, nums), fact.on()
    if total is None:
        both = len(nums) == 2 and fact.pieces[nums[0][0] + 1].text in ("or", "maybe", "to", "-")
        choices = tuple(Choice(p.text, (Eggs(on=on, count=_count(p), group=group),)) for _, p in nums)
        return Ask("How many eggs?", choices) if both else None
    fact.use(*(n for n, _ in nums))
    hens_here = sum(fact.farm.head(g) for g in hens or ())
    if doubt.too_many_eggs(total, hens_here):
        raise Doubt(f"{total} eggs from {hens_here} hens? How many was it?", (
            Choice(f"{total // 10}", (Eggs(on=on, count=total // 10, group=group),)),
            Choice(f"really {total}", (Eggs(on=on, count=total, group=group),)),
        ))  # fmt: skip
    return [Eggs(on=on, count=total, group=group)]


def _by_day(fact: Fact, nums: list[tuple[int, Piece]], days: list[int], group: str | None) -> list[Entry] | None:
    """ "2 dozen and 7 today, 28 yesterday": a day for each count, one of which has a dozen and a few over."""
    parts = [[x for x in nums if low < x[0] < high] for low, high in ((-1, days[0]), (days[0], days[1] + 1))]
    totals = [_together(fact, part) for part in parts]
    if any(t is None for t in totals):
        return None
    fact.use(*(n for n, _ in nums))
    on = [Fact([fact.pieces[d]], fact.said, fact.farm).on() for d in days]
    return [Eggs(on=o, count=t or 0, group=group) for o, t in zip(on, totals, strict=True)]


def _laid(fact: Fact, n: int) -> bool:
    """Whether the hens are said to have laid: "hens gave us 31", "from the hens"."""
    after, before = fact.pieces[n + 1 : n + 3], [p.text for p in fact.pieces[max(0, n - 2) : n]]
    laid_ = any(
        p.text in ("gave us", "gave", "laid", "layed", "have", "did", "gave me") or p.kind == "num" for p in after
    )
    return laid_ or "from" in before or "off" in before


def _count(p: Piece) -> int:
    return int(p.number * (12 if p.unit == "dozen" else 1))


def _together(fact: Fact, nums: list[tuple[int, Piece]]) -> int | None:
    """One count: "29", "2 dozen and 4"."""
    if len(nums) == 1:
        return _count(nums[0][1])
    if len(nums) == 2 and nums[0][1].unit == "dozen" and nums[1][1].unit in (None, "each"):
        return _count(nums[0][1]) + int(nums[1][1].number)
    return None


ROWS = (Row("eggs", "Eggs gathered.", ("29 eggs", "eggs yest 30, today 28"), eggs, ("eggs",)),)
