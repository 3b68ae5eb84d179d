"""What stands for the farm week by week: suppliers' hours and deliveries, sale days and ship weights, the scale's unit.

Each reader takes one sentence in full, with the strong words for it, or has nothing to say to it. A single day on which a
supplier is shut is no matter of the plan (`bot.phrases.talk`).
"""

import re
from datetime import date
from decimal import Decimal

from bot.fact import Ask, Found
from bot.opening import hours_in_words, hours_said, time_said
from bot.phrases.details import LEADS, It, Reader, Set, in_full, known, lead_said, new_name, new_to_me, set_
from rules.days import WEEKDAYS
from rules.entries import Entry
from rules.plan import Plan
from rules.units import convert, unit_named

# -- suppliers

_WHO = r"(?:the )?(?P<who>[\w&.'\- ]{1,40}?)"


def _supplier_of(text: str, plan: Plan, it: It) -> str | None:
    if text.lower() in ("it", "they", "there", "them") and it and it[0] == "supplier":
        return it[1]
    found = known(plan, text, "supplier")
    return found[1] if found else None


def _hours(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "Ridge hours are mon to fri 8 to 5", "the mill is always open weekdays 8 to 5"."""
    found = in_full(
        text,
        rf"{_WHO}(?:'s)? (?:new |opening |open |usual )?(?:hours|times)(?: are| is| have)?(?: now)?(?: changed)?(?: to)?:? (?P<hours>.+)",
        rf"(?:opening |open |new )?hours (?:at|of|for) {_WHO}(?: are| is|:) (?P<hours>.+)",
        rf"{_WHO} (?:is |are )?(?:usually|always|normally|now)? ?open (?:from )?(?P<hours>.+)",
    )
    if not found:
        hours = hours_said(text) if it and it[0] == "supplier" else None  # "new supplier Ridge. mon to fri 8 to 5"
        return [set_(on, "supplier", it[1], hours=hours)] if it and hours else None
    strong = re.search(r"\b(?:hours|usually|always|normally)\b", text, re.I)
    hours = hours_said(found["hours"])
    weekly = re.search(
        r"\bweekdays\b|\bevery ?day\b|\b(?:sun|mon|tues|wednes|thurs|fri|satur)days\b|\bmon\w* ?(?:-|to|thru|through|till) ?(?:fri|sat|sun)",
        text,
        re.I,
    )
    who = _supplier_of(found["who"], plan, it)
    if hours is None:
        asked = who is not None and re.search(r"\bhours\b", text) and re.search(r"\d", found["hours"])
        like = 'Tell me like "mon to fri 8 to 5, sat till noon, closed holidays".'
        return Ask(f"{who}: I don't follow these hours. {like}") if asked else None
    if who is not None and (strong or weekly):
        return [set_(on, "supplier", who, hours=hours)]
    name = new_name(found["who"]) if who is None and strong else None
    if name is None:
        return None
    return new_to_me(name, "supplier", [set_(on, "supplier", name, hours=hours)])


def _always_shut(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "the mill is closed on holidays", "Ridge is always shut saturdays": on top of the hours it has."""
    found = in_full(text, rf"{_WHO} (?:is |are )?(?:always |now )*(?:closed|shut)(?: on)? (?P<days>(?:all |the )*(?:public |bank )?holidays|"
        r"(?:every |on )*(?:(?:sun|mon|tues|wednes|thurs|fri|satur)days?(?:,? and |, )?)+)")  # fmt: skip
    who = _supplier_of(found["who"], plan, it) if found else None
    row = plan.supplier_named(who) if who else None
    if not found or row is None or row.hours is None:
        return None
    if "holiday" in found["days"].lower():
        return [set_(on, "supplier", row.name, hours=f"{row.hours}; PH off")] if "PH" not in row.hours else None
    days = re.findall(r"(sun|mon|tue|wed|thu|fri|sat)\w*?(?:days|day)\b", found["days"].lower())
    if not re.search(r"every|days\b", found["days"].lower()) or "day," in found["days"]:
        return None  # "closed monday" is one day
    off = f"{','.join(d[:2].title() for d in days)} off"
    before, ph, after = row.hours.partition("; PH")
    hours = f"{before}; {off}{ph}{after}"
    return [set_(on, "supplier", row.name, hours=hours_said(hours_in_words(hours)) or hours)]


def _ordering(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "Ridge delivers next day", "orders to Ridge must be in by 2pm"."""
    keys: Set = {}
    found = in_full(
        text,
        rf"{_WHO} (?P<lead>{LEADS})",
        rf"(?:lead time|delivery) (?:at|from|for|of) {_WHO} (?P<lead>(?:is |takes )?.+)",
    )
    if found and (days := lead_said(found["lead"])) is not None:
        keys["lead_days"] = days
    if not found:
        found = in_full(text, rf"(?:orders? (?:to|at|for|from|with) )?{_WHO}(?: (?:wants?|needs?|takes?|has))?(?: (?:the )?orders?)?"
                             r"(?: must be| have to be| need to be| has to be| needs to be)? (?:in )?(?:by|before) "
                             r"(?P<t>noon|midday|\d{1,2}(?:[:.]\d\d)? ?(?:[ap]\.?m\.?)?)(?: (?:for|to count)[^,]*)?")  # fmt: skip
        if found and "order" in text.lower() and (by := time_said(found["t"])):
            keys["order_before"] = f"{by:%H:%M}"
    if not found:
        found = in_full(
            text, rf"{_WHO}(?:'s)? (?:order )?cut-?off(?: time)?(?: is|:)? (?P<t>noon|[\d:.]+ ?(?:[ap]\.?m\.?)?)"
        )
        if found and (by := time_said(found["t"])):
            keys["order_before"] = f"{by:%H:%M}"
    who = _supplier_of(found["who"], plan, it) if found else None
    strong = re.search(r"orders|must be|cut-?off", text, re.I) or "lead_days" in keys
    return [set_(on, "supplier", who, **keys)] if who and keys and strong else None


# -- sales, weights, units, messages


def _sales(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "we sell wednesdays", "sale days are tue and fri"."""
    day = r"\b(?:mon|tues?|weds|wed(?:nes)?|thurs?|thu|fri|sat(?:ur)?|sun)(?:days?|s)?\b"
    listed = rf"(?P<days>(?:every |on |the )*{day}(?:(?:,| and|,? &|,? or)+ (?:on |every )?{day})*)"
    found = in_full(
        text,
        rf"(?P<we>we) (?P<also>also )?(?:sell|ship|market|go to (?:the )?(?:market|mart|sale))(?: (?:the )?(?:lambs|stock|sheep))?(?: at (?:the )?\w+)?(?: on)? {listed}",
        rf"(?:our |the )?(?:sale|market|mart|auction|shipping|ship) days?(?: is| are|:) {listed}",
        rf"(?:our |the )?(?:sales?|mart|market|auction)(?: is| are)? (?:always |on )*{listed}",
    )
    if not found:
        return None
    said = re.findall(day, found["days"], re.I)
    sure = re.search(r"\bdays?(?= (?:is|are)|:)|\bevery\b|\balways\b", text, re.I) or all(
        re.search(r"s$", d) and not in_full(d, r"tues|weds|thurs") for d in said
    )
    if not sure:
        return None
    days = [next(w for w in WEEKDAYS if w.startswith(d.lower()[:3])) for d in said]
    kept = list(plan.ship.sales) if found.groupdict().get("also") else []
    return [set_(on, "ship", None, sales=[d for d in WEEKDAYS if d in {*kept, *days}])]


def _weights(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "ship at 105 to 130", "ship weight is 42 kg"."""
    span = r"(?P<a>\d{2,3}(?:\.\d)?)(?: ?(?:lbs?|kgs?)?(?= ?(?:to|-)))?(?: ?(?:to|-|and|up to) ?(?P<b>\d{2,3}(?:\.\d)?))? ?(?P<u>lbs?|pounds?|kgs?|kilos?)?(?: live(?:weight)?)?"
    found = in_full(
        text, rf"(?:(?:we|i) )?(?P<verb>ship|sell|market)(?: them| lambs| the lambs)? (?:at|from|between) {span}"
    )
    named = in_full(
        text,
        rf"(?:our |the )?(?:ship|shipping|market|sale|finish|finishing|target|slaughter)(?:ing)? weights?(?: is| are|:)?(?: from| between| at)? {span}",
    )
    if found and found["b"] is None and not re.match(r"we|i\b", text, re.I):
        return None
    if found and found["verb"].lower() != "ship" and not found["u"]:
        return None  # "sell at 105" may be a price
    found = named or found
    if not found:
        return None
    unit, farm = unit_named(found["u"]) if found["u"] else None, plan.farm
    weights = {
        key: convert(Decimal(x), unit or farm.weight, farm.weight, farm.country).quantize(Decimal("0.1")).normalize()
        for key, x in (("min", found["a"]), ("max", found["b"])) if x
    }  # fmt: skip
    if weights["min"] < 15:  # no live weight of anything that is shipped
        return None
    if weights.get("max", weights["min"]) < weights["min"]:
        return Ask("From which weight, and up to which?")
    return [set_(on, "ship", None, **{key: _whole(value) for key, value in weights.items()})]


def _whole(value: Decimal) -> Decimal | int:
    return int(value) if value == int(value) else value


def _scale(unit: str, on: date, plan: Plan) -> list[Entry] | Ask:
    """The unit of a bare weight; the ship weights are the same afterwards."""
    ship, farm = plan.ship, plan.farm
    if unit == farm.weight:
        return Ask(f"A bare weight is in {unit} already.")
    if ship.price:
        return Ask(f"The prices of the plan are by {farm.weight}: change the unit in the plan's file.")
    turned = {
        key: _whole(convert(value, farm.weight, unit, farm.country).quantize(Decimal("0.1")))
        for key, value in (("min", ship.min), ("max", ship.max)) if value is not None
    }  # fmt: skip
    return [set_(on, "farm", None, weight=unit), *([set_(on, "ship", None, **turned)] if turned else [])]


def _of_the_farm(text: str, on: date, plan: Plan, it: It) -> Found:
    """ "we weigh in pounds", "morning message at 6:30"."""
    found = in_full(
        text, r"(?:we weigh|weigh)(?P<them> them| everything| lambs| the lambs)? in (?P<u>lbs?|pounds|kgs?|kilos)"
    )
    if found and (found["them"] or text.lower().startswith("we")):
        return _scale(str(unit_named(found["u"])), on, plan)
    found = in_full(
        text,
        r"(?:the |my )?(?P<which>morning|evening) (?:message|list|report)s? (?:at|is at|comes at|to) (?P<t>[\d:.]+ ?(?:[ap]m)?)",
    )
    which = found["which"].lower() if found else ""
    late = found and which == "evening" and re.fullmatch(r"\d(?:[:.]\d\d)?", found["t"])
    at = time_said(found["t"] + ("pm" if late else "")) if found else None
    return [set_(on, "farm", None, **{which: f"{at:%H:%M}"})] if at else None


STANDING: tuple[Reader, ...] = (_hours, _always_shut, _ordering, _sales, _weights, _of_the_farm)
