"""What is still to be told of a new row of the plan, asked one thing at a time, and what a short answer in words says.

An answer is only taken where it is plainly one of its kind ("50 lb", "28 days", a week's hours): anything else is read as
a message of its own, and the question stays open. A label's dose and days are asked for, never offered.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any, TypeAlias

from bot.fact import Ask, Choice, Found, Wants
from bot.opening import hours_said, time_said
from bot.phrases.details import (
    AMOUNT,
    DOSE,
    HOLDER,
    MEASURE,
    OTHER_KEEPS,
    amount_said,
    fed,
    in_full,
    keeps_said,
    known,
    lead_said,
    measured,
    new_name,
    new_to_me,
    set_,
    supplier_said,
    unit_said,
)  # fmt: skip
from rules.entries import Entry, PlanSet, Product
from rules.plan import Plan
from rules.units import factor

Row: TypeAlias = dict[str, Any]
# How it is asked (with the values that stand on buttons), and what words say; None: they are no answer.
Question: TypeAlias = tuple[
    Callable[[Row, Plan], tuple[str, Sequence[tuple[str, Any]]] | None], Callable[[str, Row, Plan], Any]
]


def next_wanted(rows: Sequence[tuple[str, ...]], key: str, data: Row, plan: Plan, on: date) -> Ask | None:
    """The next thing to ask of these rows, after `key` of the first; None where all is told, or the rest can wait."""
    for n, (table, name) in enumerate(rows):
        row = next((r for r in data.get(table, []) if r.get("name") == name), None)
        keys = list(_ASKED.get(table, {}))
        for asked in keys[keys.index(key) + 1 :] if n == 0 and key in keys else keys:
            ask = _ASKED[table][asked][0](row, plan) if row is not None else None
            if ask is not None and (asked == "holidays" or row is None or asked not in row):
                choices = [Choice(label, (_told(table, name, asked, value, on, plan),)) for label, value in ask[1]]
                skip = () if asked == "unit" or len(choices) > 3 else (Choice("skip"),)
                return Ask(ask[0], (*choices, *skip), wants=Wants(tuple(rows[n:]), asked))
    return None


def _told(table: str, name: str, key: str, value: Any, on: date, plan: Plan) -> Entry:
    """An answer as an entry."""
    if table == "product":
        days, dose = (value, None) if key == "withdrawal_days" else (None, value)
        return Product(on=on, product=name, withdrawal_days=days, dose=dose)
    item = plan.item_named(name) if key == "feeds" else None
    if item is not None:
        return fed(on, item, value)
    return set_(on, table, name, **{"hours" if key == "holidays" else key: value})


def answered(text: str, wants: Wants, data: Row, plan: Plan, on: date) -> Found:
    """What words answer to a question of `next_wanted`; None where they are no answer to it."""
    table, name = wants.rows[0]
    row = next((r for r in data.get(table, []) if r.get("name") == name), None)
    words = " ".join(text.split()).strip(" .!")
    if row is None or wants.key not in _ASKED.get(table, {}) or words.endswith("?"):
        return None
    value = _ASKED[table][wants.key][1](words, row, plan)
    if value is None:
        return None
    told = [_told(table, name, wants.key, value, on, plan)]
    other = {"supplier": "supplier", "crop": "crop"}.get(wants.key)
    if other and known(plan, value, other) is None:
        return new_to_me(value, other, (set_(on, other, value), *told), wants)
    return list(told)


# -- the questions, table by table


def _amount(text: str, row: Row, plan: Plan) -> str | None:
    found = in_full(
        text, rf"(?:it |they |each |a \w+ )?(?:holds? |is |are |weighs? )?(?:about )?(?P<n>{AMOUNT})(?: each| a \w+)?"
    )
    return measured(found["n"]) if found else None


def _unit(text: str, row: Row, plan: Plan) -> str | None:
    found = in_full(text, rf"(?:in |by the )?(?P<u>{HOLDER}|{MEASURE}|each|head|dozen)(?:e?s)?")
    return unit_said(found["u"]) if found else None


def _supplier(text: str, row: Row, plan: Plan) -> str | None:
    bare = re.sub(r"^(?:we |i )?(?:(?:get|buy) (?:it |them )?)?(?:from |at )?", "", text, flags=re.I)
    said = supplier_said(plan, date.min, bare) if len(bare.split()) <= 3 and not re.search(r"\d", bare) else None
    return said[0] if said else None


def _crop(text: str, row: Row, plan: Plan) -> str | None:
    found = known(plan, text, "crop")
    return found[1] if found else new_name(text) if len(text.split()) <= 2 and text.isalpha() else None


def _ask_holds(row: Row, plan: Plan) -> tuple[str, Sequence[tuple[str, Any]]] | None:
    unit = row.get("unit", "each")
    if factor(unit, plan.farm.country) is not None:
        return None
    return f'What does a {unit} of {row["name"]} hold? Like "25 {plan.farm.weight}".', ()


def _ask_unit(row: Row, plan: Plan) -> tuple[str, Sequence[tuple[str, Any]]]:
    units = ("bag", "bale", plan.farm.weight, "each")
    return f"What do you count {row['name']} in?", [(u, u) for u in units]


def _holidays(row: Row, plan: Plan) -> tuple[str, Sequence[tuple[str, Any]]] | None:
    hours = row.get("hours")
    if hours is None or "PH" in hours:
        return None
    return f"Is {row['name']} shut on public holidays?", [("shut", f"{hours}; PH off")]


def _shut(text: str, row: Row, plan: Plan) -> str | None:
    shut = in_full(
        text,
        r"(?:yes|yep|yeah|aye)?[, ]*(?:they'?re |it'?s )?(?:shut|closed)?(?: on| all)*(?: public| bank)?(?: holidays)?",
    )
    return f"{row['hours']}; PH off" if shut and text.strip() else None


def _keeps(text: str, row: Row, plan: Plan) -> str | None:
    bare = re.sub(r"^(?:it |they )?(?:keeps? |holds? |for |is for )?(?:the |our )?", "", text.lower())
    return keeps_said(bare) or (bare if re.fullmatch(OTHER_KEEPS, bare) else None)


def _days(text: str, row: Row, plan: Plan) -> int | None:
    found = in_full(
        text,
        r"(?:it'?s |label says |the label says |withdrawal )?(?:is )?(?P<d>\d{1,3}|nil|zero)(?: ?(?:days?|d))?(?: withdrawal| meat)?",
    )
    return (int(found["d"]) if found["d"].isdigit() else 0) if found else None


def _dose(text: str, row: Row, plan: Plan) -> str | None:
    found = in_full(text, rf"(?:it'?s |dose |give )?(?:is )?{DOSE}")
    return f"{found['n']} {unit_said(found['u'])}{found['per']}" if found else None


def _lead(text: str, row: Row, plan: Plan) -> int | None:
    bare = in_full(text, r"(?:in |it takes |they take |takes )?(?:the )?(\d|\d\d)(?: (?:open |working )?days?)?")
    if bare:
        return int(bare[1])
    said = in_full(text, r"(?:the )?(?:(?:same|next|following)(?: open| working)? day|\w+ (?:open |working )?days?)")
    return lead_said(text) if said else None


def _before(text: str, row: Row, plan: Plan) -> str | None:
    by = time_said(re.sub(r"^(?:by|before|till|until) ", "", text, flags=re.I))
    return f"{by:%H:%M}" if by else None


def _role(text: str, row: Row, plan: Plan) -> str | None:
    found = in_full(text, r"(?:an? |the )?(owner|family|helper)")
    return found[1].lower() if found else None


def _chat(text: str, row: Row, plan: Plan) -> int | None:
    return int(text) if re.fullmatch(r"\d{5,15}", text) else None


def _buttons(*values: str) -> list[tuple[str, Any]]:
    return [(v, v) for v in values]


_ASKED: dict[str, dict[str, Question]] = {
    "item": {
        "unit": (_ask_unit, _unit),
        "holds": (_ask_holds, _amount),
        "supplier": (
            lambda row, plan: (f"Who do you get {row['name']} from?", _buttons(*(s.name for s in plan.supplier[:3]))),
            _supplier,
        ),
        "feeds": (
            lambda row, plan: (
                (f"Which group eats {row['name']}?", _buttons(*(g.name for g in plan.group[:3]))) if plan.group else None
            ),
            lambda text, row, plan: found[1] if (found := known(plan, text, "group")) else None,
        ),
    },
    "supplier": {
        "hours": (
            lambda row, plan: (
                f'When is {row["name"]} open? Like "mon to fri 8 to 5, sat till noon, closed holidays".', ()
            ),
            lambda text, row, plan: hours_said(text),
        ),
        "holidays": (_holidays, _shut),
        "lead_days": (
            lambda row, plan: (
                f"{row['name']}: open days from an order to its delivery?", [("same day", 0), ("next day", 1), ("2 days", 2)]
            ),
            _lead,
        ),
        "order_before": (
            lambda row, plan: (f'By what hour must {row["name"]} have an order for it to count that day? Like "2pm".', ()),
            _before,
        ),
    },
    "group": {
        "keeps": (
            lambda row, plan: (f"What does {row['name']} keep?", _buttons("market lambs", "bottle lambs", "ewes")),
            _keeps,
        ),
    },
    "product": {
        "withdrawal_days": (
            lambda row, plan: (f'What does the label of {row["name"]} say: days before slaughter? Like "28 days".', ()),
            _days,
        ),
        "dose": (lambda row, plan: (f'And the dose on the label of {row["name"]}? Like "5 ml".', ()), _dose),
    },
    "person": {
        "role": (lambda row, plan: (f"What is {row['name']} here?", _buttons("owner", "family", "helper")), _role),
        "telegram": (lambda row, plan: (f"The number of {row['name']}'s chat, so that I know it?", ()), _chat),
    },
    "bin": {
        "capacity": (lambda row, plan: (f'What does {row["name"]} hold when full? Like "5000 bu".', ()), _amount),
        "crop": (
            lambda row, plan: (f"What is in {row['name']}?", _buttons(*(c.name for c in plan.crop[:3]))),
            _crop,
        ),
    },
    "field": {
        "area": (
            lambda row, plan: (f'How big is {row["name"]}? Like "12 {"ac" if plan.farm.weight == "lb" else "ha"}".', ()),
            lambda text, row, plan: _area(text),
        ),
    },
}  # fmt: skip


def _area(text: str) -> str | None:
    found = in_full(text, r"(?:it is |it'?s )?(?P<n>\d+(?:\.\d+)?) ?(?P<u>ac|acres?|ha|hectares?)")
    return amount_said(found["n"], found["u"]) if found else None


def new_rows(entries: Sequence[Entry], plan: Plan) -> Iterator[tuple[str, str]]:
    """The rows that entries put on a plan, which has them not; the owner of a plan without people was there all along."""
    for x in entries:
        if (
            not isinstance(x, PlanSet)
            or x.table not in _ASKED
            or not x.name
            or (x.table, x.name) == ("person", "owner")
        ):
            continue
        if not any(row.name == x.name for row in getattr(plan, x.table)):
            yield x.table, x.name
