"""What-ifs and reckonings asked for: another load, another mating, gains and weights set side by side.

Supposing is asking: nothing here makes an entry. A supposition that names more than it accounts for is not read.
"""

import re
from decimal import Decimal

from bot.fact import Fact, Question
from bot.phrases.breeding import ewes_meant
from bot.when import month_ahead

_IF = re.compile(
    r"^(?:so |ok |and |hey |hmm |but )*(?:what if|what happens if|what about if|how about if|if|supposing|suppose|say if"
    r"|what does it do if|how would it look if)\b"
)
_MATED = re.compile(r"\b(?:rams?|tups?|bucks?|synch?\w*|sponges?|sponged|inserts?|cidrs?)\b")
_SYNCED = re.compile(r"\b(?:synch?\w*|sponges?|sponged|inserts?|cidrs?)\b")
_SPAN = r"(?:(\d+)|an?|another|one)(?: more)? (week|day)s?"
_WAIT = re.compile(rf"\b(?:wait|waited|hold|held|hold off|leave|left|keep|kept)\b.*?\b{_SPAN}")
_STAY = re.compile(rf"\b(?:stay|stayed|left|leave|keep|kept|only|for|(?:rams?|tups?) in)\b.*?\b{_SPAN}")
_INSTEAD = re.compile(r"\b(?:instead of|not|rather than) (\d+)(?: (week|day)s?)?")
_OVER = re.compile(r"\b(?:over|above|past|heavier than|more than|at least) (\d+(?:\.\d+)?)")
_GO = re.compile(r"\b(?:go|went|ship|shipped|send|sent|sell|sold|haul|hauled|load|loaded|take|took|run)\b")
_SPLIT = {
    "sex": r"\bby sex\b|\brams? (?:and|vs|versus|against|or) ewes?\b|\bewes? (?:and|vs|versus|against|or) rams?\b",
    "litter": r"\bby (?:birth type|litter|type of birth)\b|\bsingles?\b.*\btwins?\b|\btwins?\b.*\b(?:singles?|triplets?)\b",
    "dam": r"\bby (?:dam|ewe|mother)s?\b|\b(?:which|what|best|worst) (?:ewes?|dams?|mothers?)\b.*\b(?:gain|grow|rear|wean)",
    "group": r"\bby (?:group|pen|mob)s?\b",
}
_ADJUSTED = re.compile(r"\b(?:adjusted|corrected|age.?corrected)\b.*\bweights?\b|\bweights? (?:adjusted|corrected)\b")
_COMING = re.compile(
    r"\bready (?:each|every|per|by the|a) week\b|\bweek by week\b|\b(?:each|every|per) week\b.*\bready\b"
    r"|\b(?:what|how many|which) loads\b.*\b(?:make|come|coming|ahead|this (?:year|season|fall|autumn|winter|spring))\b"
    r"|\bloads? ahead\b|\bready calendar\b|\bcalendar\b.*\b(?:lambs|ready|loads)\b"
)
_SIZE = re.compile(
    r"\b(\d+(?:\.\d+)?) ?(?:ft|foot|feet|m|metres?|meters?)? ?(?:by|x|\*) ?(\d+(?:\.\d+)?) ?(ft|foot|feet|m|metres?|meters?)?\b"
)
_AREA = re.compile(r"\b(\d+(?:\.\d+)?) ?(?:(sq|square) ?(ft|foot|feet|m|metres?|meters?)|(m) ?2|(ft) ?2)\b")
_FITS = re.compile(
    r"\bhow many\b.*\b(?:fit|carry|hold|squeeze|get in|room)\b|\bfloor space\b|\broom\b.*\b(?:trailer|truck|lorry|float)\b"
)
_GOES = re.compile(
    r"^(?:so |and |ok )*(?:where|which bin)\b.*\b(?:go|goes|put|fit|fits|store|dump|haul|take|unload|room)\b"
)
_SEASON = re.compile(
    r"\bfreight\b.*\b(?:head|lamb|load)\b|\bhow did we do (?:this|last|so far)\b|\b(?:this|the) season so far\b"
    r"|\bseasons? (?:numbers|figures|totals?|summary)\b|\bdays to market\b"
)
FOOT = Decimal("0.3048")  # m


def supposed(fact: Fact, text: str) -> Question | None:
    """The what-if a stretch asks, or None."""
    if not _IF.match(text):
        return None
    if _MATED.search(text) or fact.has("rams", "synced", "inserts"):
        return _mating(fact, text)
    if fact.tags():
        return None
    days = [p for p in fact.pieces if p.day and p.day.names_day]
    if (over := _OVER.search(text)) and _GO.search(text):
        return Question(about="ship_plan", over=Decimal(over[1]))
    if wait := _WAIT.search(text):
        return Question(about="ship_plan", wait=_days(wait))
    if len(days) == 1 and _GO.search(text) and not fact.nums():
        return Question(about="ship_plan", trip=fact.due())
    return None


def _days(found: re.Match[str]) -> int:
    return int(found[1] or 1) * (7 if found[2] == "week" else 1)


def _mating(fact: Fact, text: str) -> Question | None:
    today = fact.said.date()
    stay = _STAY.search(text)
    when = month_ahead(text, today)
    if when is None and not stay:
        when = fact.due()
    synced = True if fact.has("synced", "inserts") or _SYNCED.search(text) else None
    if not (stay or when or synced):
        return None
    other = _INSTEAD.search(text)
    instead = int(other[1]) * (1 if other[2] == "day" else 7) if other else None
    return Question(
        about="mating", group=ewes_meant(fact), synced=synced, rams=when, stay=_days(stay) if stay else None,
        instead=instead,
    )  # fmt: skip


def reckoned(fact: Fact, text: str) -> Question | None:
    """Gains and weights set side by side, the weeks ahead, room on a floor: asked in so many words, or None."""
    lambs = set(fact.farm.keeping("market lambs", "bottle lambs", "replacements"))
    group = next((g for _, g in fact.named("group") if g in lambs), None)
    if _ADJUSTED.search(text):
        to = re.search(r"\b(\d+) ?(?:d|day|days)\b", text)
        return Question(about="growth", group=group, adjusted=int(to[1]) if to else 0)
    if re.search(r"\bgain|\bgrow|\bdoing\b|\bweights?\b|\brear|\bwean", text):
        split = next((name for name, pattern in _SPLIT.items() if re.search(pattern, text)), None)
        if split:
            return Question(about="growth", group=group, split=split)
    if re.search(r"\bfeed\b.*\b(?:per|a|each|for a) (?:dozen|12)\b", text):
        return Question(about="eggs")
    if _SEASON.search(text):
        return Question(about="shipped")
    field = next((name for _, name in fact.named("field")), None)
    made = re.search(r"\byields?\b|\b(?:make|made|run|ran|do|come off|came off|give|gave)\b", text)
    if field and made and (re.match(r"^(?:what|how|whats|hows)\b", text) or re.search(r"\byields?\b", text)):
        return Question(about="loads", field=field)
    if re.search(r"\byields?\b", text) and not fact.has("eggs"):
        return Question(about="loads", crop=next((c for _, c in fact.named("crop")), None), split="field")
    crop = next((name for _, name in fact.named("crop")), None)
    if crop and _GOES.search(text):
        return Question(about="bins", crop=crop, goes=True)
    if _COMING.search(text):
        return Question(about="coming", group=group)
    if _FITS.search(text) or (
        re.search(r"\btrailer|\btruck|\blorry|\bfloat\b|\bdeck\b|\bpen\b", text) and re.match(r"^how many\b", text)
    ):
        if (space := _space(text)) is not None:
            return Question(about="room", space=space)
        if re.search(r"\bfit\b|\bfloor space\b|\broom\b", text) and re.search(
            r"\btrailer|\btruck|\blorry|\bfloat\b|\bfloor space\b", text
        ):
            return Question(about="room")
    return None


def _space(text: str) -> Decimal | None:
    """A floor said in feet or metres, in square metres."""
    if size := _SIZE.search(text):
        area, unit = Decimal(size[1]) * Decimal(size[2]), size[3] or "ft"
    elif found := _AREA.search(text):
        area, unit = Decimal(found[1]), found[3] or found[4] or found[5]
    else:
        return None
    return (area * (FOOT**2 if unit.startswith("f") else 1)).quantize(Decimal("0.01"))
