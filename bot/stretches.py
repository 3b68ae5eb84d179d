"""A message's sentences, chunks and stretches, and what the words of one say of it before any row looks: a heading, a
wish, a list, what heads another fact, what may be passed over.

Nothing is read here; `bot.reading` asks these questions of the pieces it holds.
"""

import re
from collections.abc import Sequence

from bot.fact import harmless, words_of
from bot.phrases import questions
from bot.phrases.row import Row
from bot.slots import Piece
from bot.verbs import STRONG

CONJUNCTIONS = ("before", "after", "until", "till", "when", "once")
OF_ANIMALS = (
    "dose", "ship", "sell", "die", "weaned", "docked", "castrated", "shorn", "pulled", "cull", "move", "foster",
)  # fmt: skip


def days_held(stretch: Sequence[Piece]) -> int | None:
    """The days that a stretch says an animal is held, where it says nothing else."""
    nums = [p for p in stretch if p.kind == "num"]
    about = re.search(
        r"\b(?:label|tub|box|tin|packet|drum|can) (?:says|said|is)\b"
        r"|\b(?:before|hold|held|holding|withdrawal|withhold|meat|clear|go|ship)\b",
        words_of(stretch),
    )
    of_what = any(p.kind in ("name", "tag") and "supplier" not in p.names for p in stretch)
    if of_what or len(nums) != 1 or nums[0].unit or nums[0].value is None:
        return None
    days = re.search(rf"\b{nums[0].text} days?\b", words_of(stretch))
    return int(nums[0].value) if about and days and nums[0].value == int(nums[0].value) else None


WAS_BEFORE = re.compile(r"(?:it |there |they |she |he )?(?:was|were|had) [\d.]+(?: (?:before|last|\w+day|time|week))*")


def begins_fact(chunk: Sequence[Piece], n: int) -> bool:
    """Whether a new fact can begin at a piece though nothing stands before it: an animal, an amount, a doing."""
    p = chunk[n]
    if p.kind in ("tag", "name") or (p.kind == "num" and not p.money and not p.per and not harmless(chunk, n)):
        return chunk[n - 1].kind != "word" or chunk[n - 1].text not in _LEADING
    return p.text in STRONG or p.text in ("i", "we", "got", "gave", "fed", "used", "opened", "moved", "put", "have")


# Words that belong to what comes after them.
_LEADING = {
    "of", "to", "into", "in", "on", "at", "for", "from", "off", "onto", "with", "w", "by", "the", "a", "an", "my",
    "our", "avg", "average", "averaged", "is", "was", "weighed", "weighs", "about", "and", "per", "x", "no", "not",
    "number", "tag", "out of", "up to", "down to", "gave", "fed", "moved", "shipped", "sold", "lost", "got", "all",
    "both", "than", "or",
}  # fmt: skip


def reminder_at(sentence: Sequence[Piece]) -> int | None:
    """Where a reminder begins behind something told: "129 lame, remind me wed to look at him"."""
    at = next(
        (n for n, p in enumerate(sentence) if n and p.is_("remind") and p.text.endswith(("me", "us", "reminder"))), None
    )
    return at if at and any(p.kind in ("num", "tag", "name") for p in sentence[:at]) else None


def inside(sentence: Sequence[Piece], day: Piece) -> bool:
    """Whether a day ends the first of several facts: "lost 2 last night, 22 eggs" dates only the one."""
    at = next(n for n, p in enumerate(sentence) if p is day)
    told = any(p.kind in ("num", "tag", "name") for p in sentence[:at])
    if told and any(p.kind == "sep" for p in sentence[:at]):
        return True  # see _dated_alike
    return told and at + 1 < len(sentence) and sentence[at + 1].kind == "sep" and any(
        p.kind in ("num", "tag", "name") for p in sentence[at + 1 :]
    )  # fmt: skip


def only_names(stretch: Sequence[Piece]) -> bool:
    """Whether there is no number, no animal and no doing in it: "no milk in the moms"."""
    strong = any(STRONG.get(p.text) in OF_ANIMALS for p in stretch) or any(p.kind == "vague" for p in stretch)
    nums = any(p.kind in ("num", "tag") and not harmless(stretch, n) for n, p in enumerate(stretch))
    doing = any(
        p.is_("weaned", "creep", "housed", "sick", "rams", "move", "docked", "castrated", "shorn", "pulled")
        for p in stretch
    )
    groups = doing and any("group" in p.names for p in stretch)
    if any("product" in p.names for p in stretch) and not wished(stretch):
        return False
    if any("item" in p.names for p in stretch) and any(p.kind == "word" and p.text.endswith("ed") for p in stretch):
        return False  # "ordered milk and cancelled the creep"
    return not strong and not nums and not groups and not any(p.text == "instead" for p in stretch)


def only_tags(stretch: Sequence[Piece], named: set[str | None]) -> bool:
    """Whether all that is left over are animals of which something was read elsewhere in the message."""
    left = [p for n, p in enumerate(stretch) if p.kind in ("num", "tag", "name", "vague") and not harmless(stretch, n)]
    but = ("not", "skip", "skipped", "missed", "except", "bar", "kept", "keep")
    strong = any(STRONG.get(p.text) in OF_ANIMALS or p.text in but for p in stretch)
    strong = strong or any(p.is_("cull") for p in stretch)
    return bool(left) and not strong and all(p.tags and p.tags[0] in named for p in left)


def sentences_of(cut: Sequence[Piece]) -> list[tuple[Sequence[Piece], bool]]:
    """The message at its line and sentence ends; with each, whether it was asked."""
    found: list[tuple[Sequence[Piece], bool]] = []
    start = 0
    for n, p in enumerate([*cut, Piece("sep", "\n", 0, 0)]):
        asked = p.kind == "word" and p.text == "?"
        ends = asked or (p.kind == "sep" and p.text in ("\n", ".", "!", ";"))
        told = not ends and any(q.kind in ("num", "tag") for q in cut[start:n])
        if told and questions.begins(cut[n : n + 3]):
            found.append((cut[start:n], False))
            start = n
        if ends:
            if cut[start:n]:
                found.append((cut[start:n], asked))
            start = n + 1
    return found


def chunks_of(sentence: Sequence[Piece]) -> list[Sequence[Piece]]:
    """A sentence at its commas and ands, but not inside a list of animals or bare numbers."""
    chunks: list[Sequence[Piece]] = []
    start = 0
    for n, p in enumerate(sentence):
        if p.kind != "sep" and not _turns(sentence, n):
            continue
        before, after = sentence[n - 1] if n else None, sentence[n + 1] if n + 1 < len(sentence) else None
        beyond = sentence[n + 2] if n + 2 < len(sentence) else None
        other = beyond is not None and (beyond.is_("eggs") or bool({"item", "crop", "product"} & set(beyond.names)))
        if before and after and listed(before) and listed(after) and not other:
            continue
        if sentence[start:n]:
            chunks.append(sentence[start:n])
        start = n + 1
    if sentence[start:]:
        chunks.append(sentence[start:])
    return chunks


def _turns(sentence: Sequence[Piece], n: int) -> bool:
    """Whether a "but" begins something else: not "all of pen 1 but 2641"."""
    if sentence[n].text != "but" or not any(q.kind in ("num", "name", "tag") for q in sentence[n:]):
        return False
    return not any(q.text in ("all", "every", "everything", "everyone", "whole", "lot") for q in sentence[:n])


def listed(p: Piece) -> bool:
    return p.kind == "tag" or (p.kind == "num" and p.unit is None and not p.money and not p.percent)


_SCALES = {
    "scaled",
    "wts", "weights", "weights:", ":", "-", "the", "weighed", "scales", "scale", "over", "across", "through", "on",
    "got", "of", "put", "ran", "run", "all", "last", "head", "mob", "whole", "we", "i", "some", "more", "first",
}  # fmt: skip


def only_weighed(stretch: Sequence[Piece]) -> bool:
    """Whether it says that some were weighed, and none of them yet: "ran 3 ewes over the scale while they were in"."""
    said = re.search(r"\b(?:weighed|weighing|weights|wts|(?:over|across|on|through) the scales?)\b", words_of(stretch))
    nums = [p for p in stretch if p.kind in ("num", "tag")]
    alone = all(p.kind == "num" and p.unit in (None, "head") and not p.full and p.number < 100 for p in nums)
    names = {table for p in stretch for table in p.names}
    return bool(said) and len(nums) < 2 and alone and names <= {"group", "person"}


def heading(stretch: Sequence[Piece]) -> str | None:
    """The group that a line alone names ("pen 1 wts", "4 of the tail on the scales"): what follows is about it; ""
    where it only says that some were weighed."""
    names = [p for p in stretch if p.kind == "name"]
    words = [p.text for p in stretch if p.kind in ("word", "vague")]
    counts = [p for p in stretch if p.kind == "num"]
    scaled = {"scales", "scale", "over"} & set(words)
    animals = any(p.kind == "tag" or p.unit or (p.tags and p.full) for p in stretch)
    if animals or set(words) - _SCALES or len(counts) > 1:
        return None
    if counts and not (scaled and set(words) & {"got", "put", "ran", "run", "weighed"}):
        return None
    of_it = scaled or set(words) <= _SCALES - {"on", "got", "put"}
    if of_it and len(names) == 1 and set(names[0].names) == {"group"}:
        return names[0].named("group")
    dated = any(p.day and p.day.names_day for p in stretch) and {"wts", "weights", "weighed", "scaled"} & set(words)
    return "" if not names and ((scaled and counts) or dated) else None


def foreign(row: Row, stretch: Sequence[Piece]) -> bool:
    """Whether a doing of another kind stands in it, which this row would leave untold."""
    return any(STRONG[p.text] not in (*row.classes, *row.beside) for p in stretch if p.text in STRONG)


def either_of(stretch: Sequence[Piece]) -> bool:
    """Whether it leaves open which of two: "217 or 219"."""
    return any(
        p.text == "or" and listed(stretch[n - 1]) and listed(stretch[n + 1])
        for n, p in enumerate(stretch) if 0 < n < len(stretch) - 1
    )  # fmt: skip


def wished(stretch: Sequence[Piece]) -> bool:
    """Whether a wish, a plan or a "not" comes before what would be told, or it is for a day to come."""
    ahead = any(
        p.day and p.day.names_day and (p.day.offset > 0 or p.day.lead in ("coming", "this coming")) for p in stretch
    )
    if ahead and not any(p.is_("order", "closed", "open", "ration", "sell", "hold") for p in stretch):
        return True
    if _STILL_TO_DO.search(words_of(stretch)) and not any(p.kind == "num" for p in stretch):
        return True
    if any(p.text == "if" and not _by_the_way(stretch, n) for n, p in enumerate(stretch)):
        return True
    for n, p in enumerate(stretch):
        if p.is_("late"):
            return False
        if n <= 2 and p.text in _OTHERS:
            return True  # what happened on another farm
        if p.text in CONJUNCTIONS and any(
            q.text in STRONG or q.is_("sell") or "product" in q.names for q in stretch[:n]
        ):
            return False  # "housed the hoggets before the storm", "extra sale thursday before the break"
        if p.is_("wish"):
            return True
        if p.kind in ("num", "tag"):
            return False
    return False


_STILL_TO_DO = re.compile(
    r"\b(?:only|just) leaves\b|\bleaves (?:only|just|us with)\b"
    r"|\b(?:left|still|yet) to (?:do|go|shear|clip|wean|dose|drench|jab)\b|\bonly (?:the )?\w+ left\b"
)
_OTHERS = ("neighbor", "neighbors", "neighbour", "neighbours", "neighbor's", "theirs", "somebody", "someone")


def _by_the_way(stretch: Sequence[Piece], n: int) -> bool:
    """Whether an "if" only offers what was told: "3 bags left if anyone wants it"."""
    after = stretch[n + 1].text if n + 1 < len(stretch) else ""
    offered = after in ("anyone", "anybody", "someone", "you", "needed", "required", "thats", "interested", "wanted")
    return offered and not any(p.kind in ("num", "tag", "name") for p in stretch[n:])


_STOCK = {"ewes", "lambs", "hoggets", "wethers", "rams", "tups", "hens", "pullets", "gimmers", "sheep"}


def _next(stretch: Sequence[Piece], n: int) -> str:
    return stretch[n + 1].text if n + 1 < len(stretch) else ""


def farm_meant(stretch: Sequence[Piece]) -> bool:
    """Whether the farm is plainly meant: an animal in full, or a number beside a farm name."""
    if wished(stretch):
        return False
    sure = len(stretch) <= 4 or any(p.text in STRONG or p.unit in ("lb", "kg", "mL") for p in stretch)
    tags = any(
        p.kind == "tag" or (p.kind == "num" and p.full and (len(p.text) >= 4 or (sure and len(p.text) >= 3)))
        for p in stretch
    )
    land = any(p.is_("fieldwork", "load", "augered", "bin") for p in stretch)
    names = [
        p
        for p in stretch
        if p.kind == "name" and not p.mended and (land or set(p.names) & {"item", "product", "group", "bin"})
    ]
    nums = [n for n, p in enumerate(stretch) if p.kind == "num" and not harmless(stretch, n)]
    said = any(p.classes for p in stretch)
    if any("product" in p.names for p in names) and (tags or any("group" in p.names for p in names)):
        return True
    if any(p.text in STRONG for p in stretch) and (tags or names or nums):
        return True
    counted = any(stretch[n].unit in ("head", "bag", "bale") or _next(stretch, n) in _STOCK for n in nums)
    if counted and len(stretch) <= 6:
        return True
    vague = any(p.kind == "vague" for p in stretch)
    return (tags and (said or len(nums) > 1)) or (bool(names) and (bool(nums) or vague))
