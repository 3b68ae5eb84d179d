"""A last look at animals a row has read, before its entries are taken: what the row may have overheard.

A row looks for the words that make a stretch its own. It can miss that what was counted or lost is no animal ("moved 4
gates", "lost my phone in pen 1"), or that words are about one only of the animals named ("gave 2401 oxy, 2402
limping"). What is held back here is offered in shorter stretches, and else asked about. Denials are in `bot.denied`.
"""

import re
from collections.abc import Sequence
from itertools import pairwise

from bot.fact import Ask, Choice
from bot.slots import Piece
from bot.verbs import CLASSES, STRONG
from bot.words.found import CAUTIONS
from rules import entries as e
from rules.farm import Farm

_ANIMALS = {
    "lamb", "lambs", "ewe", "ewes", "ram", "rams", "tup", "tups", "wether", "wethers", "hogget", "hoggets",
    "hogg", "hoggs", "gimmer", "gimmers", "hen", "hens", "sheep", "head", "hd", "animals", "culls", "boys",
    "girls", "lads", "ladies", "singles", "twins", "triplets", "males", "females", "yows", "yowes", "yoes",
    "shearling", "shearlings", "pets", "orphans", "calves", "chicks", "pullets", "cockerels", "stores",
    "weaners", "youngsters", "newborns", "bummers", "bottles", "finishers", "growers", "keepers",
    "replacements", "mothers", "mums", "moms",
}  # fmt: skip
_LINKS = {
    "a", "an", "the", "of", "em", "them", "these", "those", "from", "to", "in", "into", "on", "onto", "off",
    "out", "at", "for", "and", "n", "w", "with", "more", "other", "others", "last", "first", "all", "both",
    "each", "every", "too", "also", "then", "up", "down", "over", "my", "our", "his", "her", "their", "its",
    "i", "we", "he", "she", "it", "they", "as", "well", "now", "just", "was", "were", "is", "are", "had",
    "has", "have", "got", "this", "that", "by", "per", "sent", "went", "gone", "away", "only", "about",
    "around", "number", "tag", "tags", "no", "same", "ones", "one", "so", "plus", "again", "back",
}  # fmt: skip
_SIZES = {
    "fat", "good", "big", "old", "young", "heavy", "light", "nice", "small", "wee", "finished", "best",
    "cull", "fresh", "ready", "top", "tail", "store", "bottle", "market", "pet", "breeding", "mixed",
    "black", "cross", "spare", "poor", "little",
}  # fmt: skip
_DOINGS = frozenset({
    "dose", "die", "weaned", "docked", "castrated", "shorn", "housed", "pulled", "ship", "sell", "move",
    "cull", "foster",
})  # fmt: skip
_OF_ANIMALS = (e.Dose, e.Stage, e.Move, e.Loss, e.Cull, e.Ship)


def overheard(stretch: Sequence[Piece], entries: Sequence[e.Entry], farm: Farm) -> bool:
    """Whether a row must not have these entries of a stretch."""
    told = [x for x in entries if isinstance(x, _OF_ANIMALS)]
    if any(isinstance(x, e.Note) and len(x.tags) > 1 for x in entries) and any(map(_doings, _parts(stretch))):
        return True  # "lost 2432, 2409 limping"
    if not told:
        return False
    if any(isinstance(x, e.Loss) for x in told) and (_lost_a_thing(stretch) or _came_through(stretch)):
        return True
    if any(isinstance(x, e.Stage) and x.stage == "castrated" for x in told) and _cut_itself(stretch):
        return True
    if _planned(stretch) or any(_of_no_animal(stretch, x, farm) for x in told):
        return True
    return _of_one_only(stretch, told)


def _of_no_animal(stretch: Sequence[Piece], entry: e.About, farm: Farm) -> bool:
    """Whether what was counted is no animal ("moved 4 gates"), or more than the farm could have."""
    if entry.head is None:
        return False
    here = farm.head(entry.group) if entry.group else sum(map(farm.head, [g.name for g in farm.plan.group]))
    if entry.head > 2 * here + 10:
        return True
    counts = [n for n, p in enumerate(stretch) if p.kind == "num" and p.value == entry.head]
    return any(stretch[n].money or _thing(stretch[n + 1 : n + 3]) for n in counts)


def _thing(after: Sequence[Piece]) -> bool:
    """Whether the words after a number name something that is no animal."""
    if not after or not _content(after[0]) or after[0].classes:
        return False
    return not (len(after) > 1 and (after[1].text in _ANIMALS or "group" in after[1].names))


def _content(p: Piece) -> bool:
    """Whether a word says something of its own: no link between others, no animal, no size of one."""
    return (
        p.kind == "word"
        and p.text.replace(" ", "").isalpha()
        and not p.unit
        and p.text not in _LINKS | _ANIMALS | _SIZES
    )


def _of_one_only(stretch: Sequence[Piece], told: Sequence[e.About]) -> bool:
    """Whether, of several animals named, one stands after a break with words, or a doing, of its own."""
    if all(len(x.tags) < 2 for x in told):
        return False
    if any(_animal(p) and _seen_on_it(stretch, n) for n, p in enumerate(stretch)):
        return True
    parts = [part for part in _parts(stretch) if any(map(_animal, part))]
    doings = [frozenset(c for p in part for c in p.classes) & _DOINGS for part in parts]
    plain = list(map(_doings, parts))
    same = all(x.tags == told[0].tags for x in told)
    for n, (part, done) in enumerate(zip(parts[1:], doings[1:], strict=True)):
        before, done_before = parts[n], doings[n]
        if done and done_before and not done & done_before:
            if same and (len(told) > 1 or (plain[n] and plain[n + 1])):
                return True
        elif plain[n + 1] and not done_before and _ails(before):
            return True  # "2409 limping, weaned 2431"
        elif not done and _own_words(part) and not (_animal(before[-1]) and not _ails(part)):
            return True
    return False


def _doings(part: Sequence[Piece]) -> frozenset[str]:
    """What is plainly done in a part: by words that are not of many kinds, as "had" and "put" are."""
    return frozenset(c for p in part if len(p.classes) <= 2 for c in p.classes) & _DOINGS


def _own_words(part: Sequence[Piece]) -> bool:
    """Whether it has words that no list of animals has. What comes after "for" is a reason for all of them."""
    reason = next((n for n, p in enumerate(part) if p.text in ("for", "because", "cos", "except", "but")), len(part))
    return any(map(_content, part[:reason]))


def _seen_on_it(stretch: Sequence[Piece], n: int) -> bool:
    """Whether an animal is said to ail in the same breath ("gave 2401 oxy 2402 is limping")."""
    after = stretch[n + 1 : n + 3]
    return len(after) == 2 and after[0].text in ("is", "was", "has", "looks", "seems", "still") and after[1].is_("sick")


def _ails(part: Sequence[Piece]) -> bool:
    """Whether what is seen on an animal stands right behind it."""
    return any(_animal(p) and _content(q) and q.is_("sick") for p, q in pairwise(part))


def _parts(stretch: Sequence[Piece]) -> list[list[Piece]]:
    """A stretch at its commas and ands, some of which were left out of it."""
    parts: list[list[Piece]] = []
    end = -1
    for p in stretch:
        if p.kind == "sep":
            continue
        if p.start == end and parts:
            parts[-1].append(p)
        else:
            parts.append([p])
        end = p.end
    return parts


def _animal(p: Piece) -> bool:
    return p.kind == "tag" or (p.kind == "num" and bool(p.tags))


def _planned(stretch: Sequence[Piece]) -> bool:
    """Whether it is as likely still to come: "weaning 2431 friday"."""
    day = any(p.day and p.day.form == "weekday" and not p.day.behind for p in stretch)
    return day and any(p.text.endswith("ing") and p.classes & _DOINGS for p in stretch)


def _came_through(stretch: Sequence[Piece]) -> bool:
    """Whether it did not die: "nearly died", "is gone lame"."""
    return any(
        (p.text in ("nearly", "almost") and q.is_("die")) or (p.text in ("is gone", "gone") and q.is_("sick"))
        for p, q in pairwise(stretch)
    )


def _cut_itself(stretch: Sequence[Piece]) -> bool:
    """Whether a cut is a wound: "cut his leg", "cut on the wire"."""
    for n, p in enumerate(stretch):
        after = stretch[n + 1 : n + 4]
        if p.text == "cut" and any(q.is_("sick") or q.text in ("wire", "fence", "himself") for q in after):
            return True
    return False


def _lost_a_thing(stretch: Sequence[Piece]) -> bool:
    """Whether it was no animal that was lost: "lost my phone in pen 1", "lost the gate key, 2401 got out"."""
    for n, p in enumerate(stretch):
        if p.text != "lost" or (n and (_animal(stretch[n - 1]) or "group" in stretch[n - 1].names)):
            continue
        after = next((q for q in stretch[n + 1 :] if q.text not in _LINKS | _SIZES), None)
        if after is not None and _content(after) and not after.classes and STRONG.get(after.text) is None:
            return True
    return False


# -- what no row looks at, though it turns the telling over

# Words before an animal, a number or a field that take it out of what is told.
_EXCEPT = re.compile(
    r"\b(?:but|except|excepting|bar|apart from|other than|less|minus|leaving out|left|skip|skipped|miss|missed|but not|keep|kept"
    r"|save|saved|spared|over|under|above|below|instead of|like|same as|beside|behind|by|lost by|killed by|vet saved|not)(?: for| just| only| the| number)*$"
)
# Words behind an animal that take it out again.
_LEFT_OUT = re.compile(
    r"^(?:got |was |were |is )?(?:missed|skipped|refused|rejected|sent back|behind|away from|escaped|stays|stayed|not done|still to do)\b"
)
_UNSURE = re.compile(
    r"\b(?:could'?ve|would'?ve|should'?ve|tried to|trying to|tries to|try to|supposed to|needs to|has to be|have to be|unless|i think"
    r"|thinks|reckons?|i guess|pretend|playing|as if(?! (?:he|she|it|they) (?:was|were) (?:her|his) own)|accidentally|by mistake|scratch that|no wait|wait no|oops)\b"
)
_ASKED = re.compile(
    r"^(?:did (?:\S+ ){1,3}(?:get|have|go|ship|make|lamb)\b|has \S+ (?:been|had)\b|who \w+|is \d+ \d+|was it\b|should (?:i|we)\b)"
)
_SOME = re.compile(
    r"\b(?:half|most|rest|part of|some of|end of|heavy|light|big|bigger|biggest|small|smaller|older|oldest|younger|youngest|ones"
    r"|over \d+|under \d+|ran out|all but)\b"
)  # a part of a group, which one is not known
_SEXES = re.compile(r"\b(?:ram lambs|ewe lambs|males|females|wethers)\b")
_NO_DEATH = re.compile(
    r"\blost (?:some |his |her |its |their |a lot of |more )*(?:weight|condition|wool|tooth|teeth|eye|appetite|lambs?|twins?|track|count|sight|\d+ (?:lb|kg))\b"
    r"|\blost (?:a|an|one of|both)\b.*\b(?:tooth|eye|lambs?|twins?|off|from|of)\b|\blost both\b|\b(?:half|playing|looks?|looking|thought|was he|near|nearly) (?:\S+ )?(?:was |is )?dead\b"
    r"|\bdead (?:lame|weight|on(?! (?:her|his|its|their) (?:back|side))|tired|quiet|keen|slow|calm|set|straight|level|end|easy)\b|\b(?:lambs?|twins?|twin) (?:off|of|from|out of|to)\b"
    r"|\b(?:her|his|its) (?:lambs?|twins?)\b|\bfound (?:him|her|it|them)\b|\bcant find\b|\bfor an hour\b|\bgot into\b|\bof embarrassment\b|\bkidding\b|\blol\b|\bjok(?:e|ing)\b|\beveryone (?:ok|fine|safe)\b"
)
_SEVERAL_TIMES = re.compile(
    r"\b(?:twice|for \d+ days|\d+ days in a row|daily|yesterday (?:and )?today|today (?:and )?yesterday|both days|three times)\b"
)


def turned_over(stretch: Sequence[Piece], entries: Sequence[e.Entry], farm: Farm) -> bool:
    """Whether something stands in a stretch that a row passed over and that takes back, narrows or doubts what it read:
    an exception, an attempt, a question, a part of a group, another man's sheep. It is asked about then."""
    text = " ".join(p.text for p in stretch)
    words = " ".join(p.text for p in stretch if p.kind != "name")
    animals = [x for x in entries if isinstance(x, (*_OF_ANIMALS, e.Sale, e.Weight, e.Lambing))]
    last = max((n for n, p in enumerate(stretch) if p.kind in ("num", "tag")), default=len(stretch))
    said_first = " ".join(p.text for p in stretch[: last + 1])
    whole = any(isinstance(x, e.Loss | e.Cull) for x in entries)
    heard = all(isinstance(x, e.SaleDay | e.MarketPrice) for x in entries)  # from others, always
    if (_UNSURE.search(text if whole else said_first) or "unless" in text) and not (
        heard or any(isinstance(x, e.Correct | e.Remind | e.Note) for x in entries)
    ):
        return True
    if heard:
        return False
    if any(p.is_("whose") and _owned(stretch, n) for n, p in enumerate(stretch)) or _stranger(stretch):
        return True
    if animals and (_ASKED.match(text) or _after_its_group(stretch, entries)):
        return True
    groups = {x.group for x in entries if isinstance(x, _OF_ANIMALS) and x.group}
    told = {
        t for x in entries for t in (*getattr(x, "tags", ()), getattr(x, "tag", None), getattr(x, "dam", None)) if t
    }
    counts = {
        v
        for x in entries
        if isinstance(x, (*_OF_ANIMALS, e.Fieldwork))
        for v in (getattr(x, "head", None), getattr(x, "area", None))
        if v is not None
    }
    for n, p in enumerate(stretch):
        mine = (_animal(p) and set(p.tags) & told) or (p.kind == "num" and p.value in counts)
        mine = mine or bool(groups & set(p.names.get("group", ())))
        if mine and _EXCEPT.search(" ".join(q.text for q in stretch[max(0, n - 4) : n])):
            return True
        if mine and _LEFT_OUT.match(" ".join(q.text for q in stretch[n + 1 : n + 5])):
            return True
    for x in entries:
        if isinstance(x, _OF_ANIMALS) and (
            x.head == 0 or (x.group and x.head is None and not x.tags and _a_part(x, words, stretch))
        ):
            return True
        if isinstance(x, e.Loss) and (_NO_DEATH.search(text) or _killer(stretch)):
            return True
        if isinstance(x, e.Dose) and (_SEVERAL_TIMES.search(text) or (x.unit == "dose" and (x.amount or 0) > 2)):
            return True
        if isinstance(x, e.Dose | e.Move | e.Stage) and any(
            p.text == "lost" and _animal(q) for p, q in pairwise(stretch)
        ):
            return True
        if isinstance(x, e.Note) and any(p.text in ("lost", "died") for p in stretch):
            return True
        if isinstance(x, e.Dose) and any(p.text in ("lambed", "twins", "triplets", "single") for p in stretch):
            return True
        if isinstance(x, e.Lambing) and len(entries) == 1 and _LITTER_OPEN.search(text) and not _dead_told(x):
            return True
    return _of_others(text, stretch, entries)


_OTHER_STOCK = re.compile(r"(?:calf|calves|cattle|cow|cows|dairy|beef|pig|pigs|sow|hog|horse|goat|poultry)(?:'s|s')?")


def for_other_stock(stretch: Sequence[Piece], entries: Sequence[e.Entry], farm: Farm) -> Ask | None:
    """Asked where what came or is there was made for other stock than the item is: calf milk is no lamb milk, and its
    copper may kill."""
    for x in entries:
        if isinstance(x, e.Received | e.OnHand | e.Used | e.Ordered) and (item := farm.plan.item_named(x.item)):
            own = " ".join((item.name, *item.also)).lower().split()
            for p, q in pairwise(stretch):
                if item.name in q.names.get("item", ()) and _OTHER_STOCK.fullmatch(p.text) and p.text not in own:
                    why = f'Is "{p.text} {q.text}" your {item.name}? {CAUTIONS["copper"]}'
                    return Ask(why, (Choice(f"it is {item.name}", tuple(entries)), Choice("no")))
    return None


_SUBJECTS = {
    "dad", "mum", "mom", "grandad", "grandpa", "granny", "nana", "vet", "shearer", "shearers", "scanner", "boss", "missus", "wife",
    "husband", "kids", "lads", "finally", "managed", "quick", "update", "note", "today", "weighing", "good", "morning", "evening",
    "righto", "reporting", "new", "last", "old", "poor", "another", "big", "little", "wee", "bloody", "damn", "hey", "yip", "yep",
}  # fmt: skip
_DOING_OF_OTHERS = {"sell", "die", "hold", "come", "ship", "shorn", "lambed", "move", "weaned", "docked"}


def _stranger(stretch: Sequence[Piece]) -> bool:
    """Whether somebody whom the plan does not name did it ("Bill lost 12 ewes"), and it is not said to be with us."""
    first = stretch[0]
    unknown = (
        first.kind == "word" and first.text.isalpha() and len(first.text) >= 3 and not first.classes and not first.unit
    )
    known = first.text in CLASSES or first.text in _SUBJECTS | _LINKS | _ANIMALS | _SIZES
    does = len(stretch) > 1 and (bool(stretch[1].classes & _DOING_OF_OTHERS) or stretch[1].text == "down")
    ours = any(p.text in ("us", "me", "our", "my", "we", "i") for p in stretch)
    return unknown and not known and does and not ours


def _after_its_group(stretch: Sequence[Piece], entries: Sequence[e.Entry]) -> bool:
    """Whether an animal stands behind the group that others went to, with a way of its own: "2641 to pen 1 2646 down"."""
    to = [getattr(x, "to", None) or x.group for x in entries if isinstance(x, e.Move | e.RamsIn)]
    at = next((n for n, p in enumerate(stretch) if set(p.names.get("group", ())) & set(to)), None)
    if at is None:
        return False
    ways = ("down", "up", "back", "with", "in", "out", "to")
    return any(_animal(p) and q.text in ways for p, q in pairwise(stretch[at + 1 :]))


def _owned(stretch: Sequence[Piece], n: int) -> bool:
    """Whether what somebody owns is an animal, a number or something of the farm's."""
    return any(_animal(q) or q.kind in ("num", "name") or q.text in _ANIMALS for q in stretch[n + 1 : n + 3])


def _a_part(entry: e.About, words: str, stretch: Sequence[Piece]) -> bool:
    """Whether only some of a group are meant, and it is not said which."""
    sexes = not (isinstance(entry, e.Stage) and entry.stage == "castrated") and bool(_SEXES.search(words))
    beside = any("group" in p.names and "group" in q.names for p, q in pairwise(stretch) if p.end == q.start)
    return sexes or bool(_SOME.search(words)) or beside


def _killer(stretch: Sequence[Piece]) -> bool:
    """Whether one animal killed the other: "Duke killed 112"."""
    return any(p.text in ("killed", "got killed") and n and _animal(stretch[n - 1]) and n + 1 < len(stretch) and _animal(stretch[n + 1])
               for n, p in enumerate(stretch))  # fmt: skip


_LITTER_OPEN = re.compile(r"\bpulled (?:twins|triplets|a lamb)\b|\bboth (?:had|have|lambed)\b|\b\d (?:alive|live)\b")


def _dead_told(entry: e.Lambing) -> bool:
    return any(b.alive is False for b in entry.born)


_TO_OTHERS = re.compile(
    r"\b(?:delivered|brought|dropped|took)\b.*\bto (?!us\b|me\b|the\b|our\b|my\b|a\b|be\b|\d)[a-z]+|\bbrought (?!in\b|home\b|back\b|us\b|me\b|the\b|over\b|out\b|up\b)[a-z]+ (?:\d|a\b)|\bnext door\b|\bwrong farm\b|\bfor someone\b"
    r"|\b(?:said|says|told me) they (?:have|had|got)\b|\bat the (?:co-op|coop|mill|store|shop)\b"
)


def _of_others(text: str, stretch: Sequence[Piece], entries: Sequence[e.Entry]) -> bool:
    """Whether it is a store that somebody else has, or that went to somebody else."""
    first = next((n for n, p in enumerate(stretch) if "supplier" in p.names), None)
    for x in entries:
        if isinstance(x, e.OnHand) and (first is not None or _TO_OTHERS.search(text)):
            return True
        if isinstance(x, e.Received) and x.how is None and _TO_OTHERS.search(text):
            return True
        if (
            isinstance(x, e.Received)
            and first in (0, 1)
            and any(p.text in ("got", "has", "have", "bought") for p in stretch[first + 1 : first + 3])
        ):
            return True
        if isinstance(x, e.Used) and x.unit == "dose" and x.group:
            return True  # given, or used up?
        if isinstance(x, e.Used) and re.search(r"\b(?:a|per|each|every) (?:day|week|head)\b|\beach to\b", text):
            return True
        if isinstance(x, e.OnHand) and re.search(r"\bleft but\b|\bhalf gone\b|\bbut i used\b|\bsoon\b", text):
            return True
    return False
