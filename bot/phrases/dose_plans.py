"""A dose plan told by chat, as vet and label gave it: products, steps, and the days from an event. Nothing is filled in.

"dose plan lamb vaccine for lambs at foot: cdt 28 to 42 days old, cdt 3 to 4 weeks after the first"
"""

import re
from datetime import date
from typing import Any

from bot.fact import Ask, Choice, Found
from bot.phrases.details import OTHER_KEEPS, keeps_said, known, new_name, set_
from rules.plan import Plan

_HEAD = re.compile(
    r"(?:(?:please|ok|and|add|make|set up)[, ]+)*(?:an? )?(?:new )?(?:dose|dosing|vaccination|vaccine) plan(?: (?:called )?(?P<name>[^:,]*?))??"
    r"(?: for (?:the |our )?(?P<keeps>[^:,]+?))?\s*(?::|,| is) *(?P<steps>.+)", re.I | re.S,
)  # fmt: skip
_STEP = re.compile(
    r"(?:then |and )*(?P<what>.+?),? (?:at |from |given )?(?P<a>\d{1,3})(?: ?(?:to|-|and) ?(?P<b>\d{1,3}))? ?(?P<u>d|days?|weeks?|wks?)"
    r"(?: (?P<old>old|of age)| (?P<way>after|before) (?:the )?(?P<event>.+?))?", re.I,
)  # fmt: skip
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth")
_NAMED = {"booster": "booster", "1st": "first", "2nd": "second", "3rd": "third", **{o: o for o in _ORDINALS}}
_EVENTS = {
    "birth": r"birth|born|being born", "lambing": r"lambing|they lamb|due date", "weaned": r"weaned|weaning",
    "housed": r"housed|housing", "pulled": r"pulled|pulling", "creep": r"creep|on creep", "docked": r"docked|docking|tailing",
    "castrated": r"castrated|castrating", "shorn": r"shorn|shearing",
}  # fmt: skip
_EXAMPLE = "dose plan lamb vaccine for lambs at foot: cdt 28 to 42 days old, cdt 3 to 4 weeks after the first"


def dose_plan(text: str, on: date, plan: Plan) -> Found:
    """A dose plan told in full; asked for again, with an example, where a part of it is not understood."""
    found = _HEAD.fullmatch(text)
    if not found:
        return None
    keeps = _kept(found["keeps"] or "", plan)
    told = _steps(found["steps"], plan)
    name = new_name(found["name"] or "") or (f"doses of {keeps}" if keeps else None)
    if keeps is None or told is None or name is None:
        return Ask(f'I don\'t follow all of that plan. Tell me like "{_EXAMPLE}".')
    steps, new = told
    entry = set_(on, "dose_plan", name, **{"for": keeps}, steps=steps)
    if not new:
        return [entry]
    more = tuple(set_(on, "product", product) for product in new)
    choices = (Choice("new product", (*more, entry)), Choice("none of these"))
    return Ask(f"{' and '.join(new)}: new to me. A new product?", choices)


def _kept(text: str, plan: Plan) -> str | None:
    """What the plan is for: a group's `keeps`, said so or by the name of a group."""
    said = text.strip().lower()
    if re.fullmatch(r"(?:suckling |young )?lambs at foot|lambs on (?:the ewes|their mothers)", said):
        return "lambs at foot"
    if keeps := keeps_said(said):
        return keeps
    group = known(plan, said, "group") if said else None
    row = plan.group_named(group[1]) if group else None
    return (row.keeps or None) if row else said if re.fullmatch(OTHER_KEEPS, said) else None


def _steps(text: str, plan: Plan) -> tuple[list[dict[str, Any]], list[str]] | None:
    """The steps, and products among them that are new; None where a step is not understood."""
    steps: list[dict[str, Any]] = []
    new: list[str] = []
    for said in re.split(r"\s*[,;]\s*(?:and |then )?|\s+then\s+|\s+and (?=\D)", text.strip(" .")):
        found = _STEP.fullmatch(said)
        if not found:
            return None
        words = found["what"].split()
        named = next((_NAMED[w.lower()] for w in words if w.lower() in _NAMED), None)
        rest = " ".join(w for w in words if w.lower() not in {*_NAMED, "the", "a"}).strip(" ()")
        product = known(plan, rest, "product") if rest else None
        what = product[1] if product else new_name(rest) if rest else steps[-1]["product"] if steps else None
        when = _window(found, steps)
        if what is None or when is None:
            return None
        if rest and not product and what not in new:
            new.append(what)
        taken = {step["step"] for step in steps}
        name = next((n for n in (named, *_ORDINALS[len(steps) :]) if n and n not in taken), what)
        steps.append({"product": what, "step": name, **when})
    return steps, new


def _window(found: re.Match[str], steps: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The days of a step and the event they are counted from: of age where none is named."""
    times = 7 if found["u"].lower().startswith("w") else 1
    days = sorted(int(d) * times for d in (found["a"], found["b"] or found["a"]))
    if found["way"] is None:
        return {"after": "birth", "days": days} if found["old"] else None
    event = found["event"].lower().strip()
    earlier = next((s["step"] for s in steps if event.startswith(s["step"])), None)
    if (
        earlier is None
        and steps
        and re.fullmatch(r"that|it|previous(?: one)?|last(?: one)?|1st|first(?: one| dose)?", event)
    ):
        earlier = steps[0 if "1st" in event or "first" in event else -1]["step"]
    name = earlier or next((e for e, pattern in _EVENTS.items() if re.fullmatch(pattern, event)), None)
    if name is None:
        return None
    way = found["way"].lower()
    return {way: name, "days": days if way == "after" else days[::-1]}
