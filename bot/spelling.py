"""How a message is written, made plain: case and quotes, dialect, barn shorthand, slips of the thumb, dates run together.

A table and a list of patterns, in order; what any of it means is for `bot.slots` and the rows. A word that a farm's own
names begin with is never touched.
"""

import re
from collections.abc import Callable, Container

from bot.numbers import ONES, TENS
from bot.slips import meant

_MONTHS = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?"
    r"|nov(?:ember)?|dec(?:ember)?)\b"
)
_TILL = r"(?:-|to|thru|through|through to|till|til|until)"
_HOURS = {
    word: n + 1
    for n, word in enumerate(
        ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
    )
}
_ORDINALS = {
    word: n + 1
    for n, word in enumerate((
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
        "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth", "seventeenth", "eighteenth", "nineteenth",
        "twentieth",
    ))
}  # fmt: skip
_NTH = "|".join(_ORDINALS)

# A word as it is written, and as it is meant: Scots and northern, text shorthand, and slips seen more than once.
_MEANT = {
    word: meant
    for meant, words in {
        "one": "yin", "two": "twa", "dead": "deid ded", "from": "fae frae frm frum", "to": "tae", "out": "oot", "no": "nae",
        "gave": "gied gev", "give": "gie", "put": "pit", "down": "doon", "over": "ower", "have": "hae huv hv hav", "all": "aw",
        "just": "jist", "was": "wis wuz", "with": "wi", "my": "ma", "you": "ye u", "didnt": "didnae", "cant": "cannae",
        "dont": "dinnae", "of": "o", "couple of": "coupla", "couple": "cpl", "out of": "outa outta", "morning": "mornin mornn",
        "doing": "daein", "do": "dae", "any": "ony", "good": "guid", "head": "heid hed", "house": "hoose", "away": "awa",
        "many": "mony menny meny", "now": "noo", "long": "lang", "about": "aboot", "couldnt": "couldnae", "taken": "taen",
        "wouldnt": "wouldnae", "wasnt": "wasnae", "isnt": "isnae", "havent": "havenae", "instead": "insteid insted",
        "boxing": "boxin", "anything": "onythin", "holding": "hudin", "jagged": "jaggit", "what have": "whatve what've",
        "empty": "mt", "yesterday": "yestrday yest y'day yesterdy yestday", "today": "tday", "before": "befor", "average": "avrg avrage averige",
        "night": "nite", "again": "agin agen", "hold": "hud haud", "next": "nxt", "week": "wk", "their": "thier", "much": "mutch",
        "when": "whn wen", "what": "wat wot", "each": "eech", "loads": "lodes", "took": "tuk", "are": "r", "lambs": "lams lmbs", "lamb": "lam lmb",
        "dropped": "dropt", "cut": "cuttd cutt", "left": "lft", "open": "opn", "which": "wich", "bags": "bgs", "bag": "bg", "bales": "bls bails", "got": "gt",
        "sold": "selt", "had twins": "twinned", "had triplets": "tripletted", "moved": "mv mvd mooved muved", "bedded": "beded", "housed": "housd", "sent": "snt", "ordered": "ordrd orderd",
        "delivered": "delvd delivrd dlvrd", "weighed": "wghd weighd wayed weigd", "vaccinated": "vaxd vaxed vaxxed", "shipped": "shpd shiped",
        "drenched": "drnchd", "counted": "cntd", "bought": "bort", "arrived": "arived", "lambed": "lamd",
        "putting": "puttin", "jabbed": "jabd", "weaned": "weend", "brought": "brung brot", "diesel": "deezel", "tomorrow": "tomoro",
        "coming": "cumming", "gonna": "gona", "enough": "enuf", "sponges": "sponjes", "sunday": "sundy", "monday": "mondy", "tuesday": "tusday", "wednesday": "wensday wedensday", "thursday": "thurday thersday",
        "friday": "fridy", "saturday": "saterday",
    }.items()
    for word in words.split()
}  # fmt: skip


def _nth(n: int) -> str:
    return f"{n}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(n, 'th') }"


def _past(found: re.Match[str]) -> str:
    return found[1] + ("d" if found[1].endswith("e") else "ed")


_PAST = {
    "having": "had", "getting": "got", "giving": "gave", "putting": "put", "taking": "took", "losing": "lost", "feeding": "fed",
    "buying": "bought", "doing": "did", "selling": "sold", "bringing": "brought", "sending": "sent", "shearing": "sheared",
    "going": "went", "making": "made", "coming": "came", "finding": "found", "paying": "paid", "lending": "lent", "cutting": "cut",
    "scanning": "scanned", "dropping": "dropped", "shipping": "shipped", "jabbing": "jabbed", "spreading": "spread",
}  # fmt: skip


def _after(found: re.Match[str]) -> str:
    """ "is after weighing 421" is "weighed 421"."""
    stem = found[1][:-3]
    return " " * found[0].startswith("'") + (
        _PAST.get(found[1]) or stem + ("d" if stem.endswith(("v", "s")) or stem[-2:] in ("ed", "id") else "ed")
    )


_SMALL = {
    **ONES,
    **TENS,
    **{f"{t}{sep}{o}": TENS[t] + ONES[o] for t in TENS for o in ONES if 0 < ONES[o] < 10 for sep in " -"},
}
_NUM = "|".join(sorted(_SMALL, key=len, reverse=True))


def _value(words: str) -> int:
    return int(words) if words.isdigit() else _SMALL[words]


def _priced(found: re.Match[str]) -> str:
    """ "three dollars thirty eight a kilo", "five fifteen a bushel"."""
    whole, part = _value(found["whole"]), _value(found["part"])
    return f"{whole}.{part:02d} {found['money'] or ''}{found['rest'] or ''}"


_DAYS = {"day": "today", "nicht": "tonight", "morn": "tomorrow"}

# In this order. What they make is what people say in other words, never a guess at what they mean.
_PATTERNS: tuple[tuple[str, str | Callable[[re.Match[str]], str]], ...] = (
    (r"\b(?:straight|right) (?:away|off)\b", "at once"),
    (r"(?<=[a-z] )2 (?=(?:get|do|be|go|buy|see|pick)\b)", "to "),
    (r"\b2 (?:d|da|the)\b(?= [a-z])", "to the"),
    (r"\b(?:gave|paid) ([£$€]?[\d.,]+) for (?:him|her|it|them)\b", r"cost $\1"),
    (r"\bhelped (?:\w+ )?(vaccinate|drench|inject|treat|worm|wean|dock|weigh|move|shift|load)\b", _past),
    (r"\bhad (?:us|me|him|them) (?:to )?give\b", "gave"),
    (r"\bhad to (chuck|bin|dump|throw|give|order|borrow|cull|move|pull|open|buy)\b",
     lambda m: {"bin": "binned", "throw": "threw", "give": "gave", "buy": "bought"}.get(m[1]) or _past(m)),
    (r"(?:\b(?:is|was|were|are|am|been|be)|'s|'re|'m|(?<=\bewe)|(?<=\bhes)|(?<=\bshes)) after (?:just )?([a-z]+ing)\b", _after),
    (rf"\b(?P<whole>{_NUM}|\d+) (?P<money>dollars?|euros?|pounds?|quid|bucks)(?: and|,)? (?P<part>{_NUM}|\d\d)(?: ?(?:cents?|pence|p|c)\b)?"
     r"(?P<rest> (?:a|an|per|each|apiece|for)\b.*|$)", _priced),
    (rf"\b(?P<whole>{_NUM})(?P<money>) (?P<part>{_NUM})(?P<rest> (?:a|an|per) (?:bushel|pound|kilo|dozen|litre|lb|kg|bu|head)\b)", _priced),
    (r"\bsum of\b", "some of"),
    (r"\bin store\b(?! ?\d)", "in stock"),
    (r"\bon a bottle\b", "on the bottle"),
    (r"\b(?:bought|took) (.{3,40}) off (?:me|us)\b", r"sold \1"),
    (rf"\b(at|about|by|around) half (?:past )?({'|'.join(_HOURS)})\b", lambda m: f"{m[1]} {_HOURS[m[2]]}:30"),
    (r"\b(at|about|by|around) half (?:past )?(\d\d?)\b(?![:.])", r"\1 \2:30"),
    (r"\b(?:to|too) (?=oh [a-z])", "two "),  # as a phone hears a tag
    (rf"\b({_NTH}) (?:of )?(?={_MONTHS})", lambda m: f"{_nth(_ORDINALS[m[1]])} of "),
    (rf"\b({_MONTHS}) (?:the )?({_NTH})\b", lambda m: f"{m[1]} {_ORDINALS[m[2]]}"),
    (rf"\b(to|till|until|by|through|past) the (?=\d\d?(?:st|nd|rd|th) (?:of )?{_MONTHS})", r"\1 "),
    (rf"(?<=\d )({_TILL}) (?:the )?({_NTH})\b", lambda m: f"{m[1]} {_ORDINALS[m[2]]}"),  # "september 5 through the seventh"
    (rf"\b(\d\d?)(?:st|nd|rd|th)? ?{_TILL} ?(?:the )?(\d\d?)(?:st|nd|rd|th)? (?:of )?({_MONTHS})", r"\1 \3 to \2 \3"),
    (rf"\b({_MONTHS}) (\d\d?)(?:st|nd|rd|th)? ?{_TILL} ?(?:the )?(\d\d?)(?:st|nd|rd|th)?\b(?! ?[a-z%])", r"\1 \2 to \1 \3"),
    (rf"\b({_MONTHS}) (\d\d?)(?:st|nd|rd|th)? ?(?:and|&) ?(?:the )?(\d\d?)(?:st|nd|rd|th)?\b(?! ?[a-z%])", r"\1 \2 and \1 \3"),
    (r"\bthe (day|nicht|morn)\b(?!s? before)", lambda m: _DAYS[m[1]]),
    (r"\bnicht\b", "night"),
    (r"\b(?:do|have|has|is|are|did)(?:n't|nt) (?:have |got |get )?(?:any|a) (?=\w+(?: \w+)? (?:left|eggs)\b)", "no "),
    (r"(?<=[a-z\d%#]) an (?=\d|(?:an?|half) |[b-gj-np-tv-z]\w)", " and "),  # "an" before no vowel
    (r"(?<=\d)'s\b", "s"),
)  # fmt: skip
_COMPILED = tuple((re.compile(pattern), instead) for pattern, instead in _PATTERNS)
_WORD = re.compile(r"(?<![a-z0-9])[a-z']+(?![a-z0-9])")


def plain(text: str, own: Container[str] = (), names: tuple[str, ...] = (), tags: tuple[str, ...] = ()) -> str:
    """Lower case, straight quotes, no pictures: what a message says, whatever keyboard it came from. `own`: words that
    the farm's names and tags begin with, which are no dialect; `names`: those that a slip may mean, `tags`: so, and mended."""
    text = text.lower().replace("\r", "\n").replace("’", "'").replace("‘", "'").replace("“", '"').replace("”", '"')
    text = text.replace("–", "-").replace("—", " - ").replace("\t", " ").replace("…", " . ")
    text = re.sub(r"\b(\d{1,2})\.([0-5]\d) ?(am|pm)\b", r"\1:\2 \3", text.replace("s/b", "should be"))
    text = re.sub(r"\b2(day|nite|night|moro|moros|morrow)\b", r"to\1", re.sub(r"\bb4\b", "before", text))
    text = _WORD.sub(lambda m: m[0] if m[0] in own else _MEANT.get(m[0]) or _slip(m[0], names, tags), text)
    for pattern, instead in _COMPILED:
        text = pattern.sub(instead, text)
    if not text.isascii():
        text = re.sub("[\U0001f300-\U0001faff\u2600-\u27bf]+", " . ", text).strip(" .")
        text = "".join(c if c.isascii() or c in "£€½¼¾" else " " if not c.isalpha() else c for c in text)
    return text.strip()


def _slip(word: str, names: tuple[str, ...], tags: tuple[str, ...]) -> str:
    """A misspelt word of the trade as it is meant; a misspelt name stays for `bot.slots`, which says that it was mended."""
    near = meant(word, (*names, *tags)) if word.isalpha() else None
    return near if near and near not in names else word
