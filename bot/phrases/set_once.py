"""What is told of a farm once: the size and cost of a load, smallest orders and room, ages for stages, the lambing kit.

Each reader takes one sentence in full, with the strong words for it, or has nothing to say to it.
"""

import re
from datetime import date
from decimal import Decimal

from bot.fact import Ask, Found
from bot.phrases.details import HOLDER, MEASURE, It, Reader, Set, in_full, keeps_said, known, set_, unit_said
from rules.plan import Plan

_N = r"(?P<n>\d+(?:\.\d+)?)"
_MONEY = rf"(?:[$£€] ?)?{_N}(?: ?(?:dollars|bucks|euros?|pounds|quid))?"
# (key of [ship], how it is told)
_LOAD: tuple[tuple[str, str], ...] = (
    ("load_full", rf"(?:a |the )?full load (?:is|holds)(?: about)? {_N}(?: head| lambs)?"),
    ("load_full", rf"(?:the |our )?(?:trailer|truck|lorry|float|wagon) (?:holds|takes|fits) {_N}(?: head| lambs)"),
    ("load_min", rf"(?:the |our )?(?:smallest|least|minimum|min) load (?:is |of )?{_N}(?: head| lambs)?"),
    ("load_min", rf"(?:under|less than|fewer than) {_N}(?: head| lambs)? (?:isn'?t|is not|aren'?t) worth (?:the )?(?:drive|trip)"),
    ("trip_cost", rf"(?:a |the |each )?trip to (?:the )?(?:market|sale|mart|plant|works) costs (?:us |me )?{_MONEY}"),
    ("keep_cost", rf"keep(?:ing (?:a lamb|one|them))? costs (?:us |me )?{_MONEY} (?:a|per) (?:head|lamb),? (?:a|per) day"),
)  # fmt: skip


def _load(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "a full load is 24", "a trip costs 90"."""
    for key, pattern in _LOAD:
        if found := in_full(text, pattern):
            value = Decimal(found["n"])
            return [set_(on, "ship", None, **{key: int(value) if key.startswith("load") else value})]
    return None


_SIZED = rf"(?P<n>\d+(?:\.\d+)?) ?(?P<u>{HOLDER}|{MEASURE}|each)(?:e?s)?"
_OF_ITEM: dict[str, tuple[str, ...]] = {
    "order_min": (
        rf"(?:the )?(?:smallest|min(?:imum)?) order (?:of|for) (?P<of>.+?) is {_SIZED}",
        rf"(?P<of>.+?): smallest order {_SIZED}",
    ),
    "order_step": (rf"(?P<of>.+?) (?:comes|is sold|sells) (?:only )?in (?:lots|steps|pallets) of {_SIZED}",),
    "store_max": (rf"(?:we )?(?:have room for|can (?:only )?store)(?: at most)? {_SIZED} (?:of )?(?P<of>.+)",),
}


def _of_stock(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "the smallest order of milk is 6 bags", "we have room for 40 bags of milk", "milk keeps 60 days"."""
    for key, patterns in _OF_ITEM.items():
        for pattern in patterns:
            found = in_full(text, pattern)
            item = known(plan, found["of"], "item") if found else None
            if found and item:
                return [set_(on, "item", item[1], **{key: f"{found['n']} {unit_said(found['u'])}"})]
    found = in_full(
        text, r"(?P<of>.+?) keeps(?: for)? (?P<d>\d{1,3}) days(?P<open> (?:once|after|when) open(?:ed|ing)?)?"
    )
    if found and found["open"]:
        product = known(plan, found["of"], "product")
        return [set_(on, "product", product[1], opened_days=int(found["d"]))] if product else None
    item = known(plan, found["of"], "item") if found else None
    return [set_(on, "item", item[1], keeps_days=int(found["d"]))] if found and item else None


def _stage(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "we wean bottle lambs at 42 days", "creep for market lambs from 14 days"."""
    found = in_full(text, r"(?:we )?(?P<stage>wean|creep)(?: for)? (?:the |our )?(?P<keeps>.+?) (?:at|from) (?P<d>\d{1,3}) ?(?P<u>days?|weeks?|wks?)(?: old| of age)?")  # fmt: skip
    if not found:
        return None
    keeps = keeps_said(found["keeps"])
    group = known(plan, found["keeps"], "group")
    row = plan.group_named(group[1]) if group else None
    keeps = keeps or (row.keeps if row else None)
    if not keeps:
        return None
    days = int(found["d"]) * (7 if found["u"].lower().startswith("w") else 1)
    return [set_(on, "stage_plan", keeps, **{"weaned" if found["stage"].lower() == "wean" else "creep": days})]


def _kit(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "lambing kit: 5 mL iodine per ewe, 1 bottle colostrum per group"."""
    found = in_full(text, r"(?:the |our )?lambing kit(?: is| needs)?:? (?P<needs>.+)")
    if not found:
        return None
    needs: list[Set] = []
    for part in re.split(r"\s*[,;]\s*(?:and )?|\s+and\s+", found["needs"]):
        said = in_full(part, rf"{_SIZED} (?:of )?(?P<of>.+?)(?: (?:a|per|each|for each|for every) (?P<per>ewe|group))?")
        item = known(plan, said["of"], "item", "product") if said else None
        if not said or not item:
            return Ask(
                'I don\'t follow all of that kit. Tell me like "lambing kit: 5 ml iodine per ewe", with items I know.'
            )
        amount = f"{said['n']} {unit_said(said['u'])}"
        needs.append({"item": item[1], "amount": amount, "per": (said["per"] or "group").lower()})
    return [set_(on, "kit", "lambing", needs=needs)]


def _place(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "our state is WI", "our currency is EUR"."""
    found = re.fullmatch(
        r"(?:[Oo]ur |[Tt]he )?(?:state|province|county|subdivision|region) (?:is|:) (?P<s>[A-Z0-9]{1,3})", text
    )
    if found:
        return [set_(on, "farm", None, subdivision=found["s"])]
    found = re.fullmatch(r"(?:[Oo]ur |[Tt]he )?currency (?:is|:) (?P<c>[A-Z]{3})", text)
    return [set_(on, "farm", None, currency=found["c"])] if found else None


SET_ONCE: tuple[Reader, ...] = (_load, _of_stock, _stage, _kit, _place)
