"""The rest of what the bot says: doubts and their choices, help, and what went wrong. Nobody is blamed."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from bot.words import say
from rules.entries import Entry, Weight
from rules.farm import Farm, Unnamed
from rules.findings import Hold
from rules.withdrawal import hold_after


def not_kept(why: str) -> str:
    """The book could not be written."""
    return f"Not kept: {why} Send it again when that is mended; nothing else is lost."


def broken() -> str:
    """Something of ours failed: the message is not in the book."""
    return "Not kept: something went wrong on my side. Please send it again, maybe in other words."


def which_of(labels: Sequence[str]) -> str:
    """A yes that leaves open to which choice it is."""
    return f"Which one: {', '.join(labels[:-1])} or {labels[-1]}?" if len(labels) > 1 else f"{labels[0]}?"


def held_went(held: Sequence[Hold], on: date) -> str:
    """A load with held animals on it is doubted before it is written down."""
    first = held[0]
    why = first.why or f"held for {first.product}"
    if first.until is not None:
        why = f"held till {say.day(first.until, on)} ({first.product})"
    more = f" And {len(held) - 1} more are held." if len(held) > 1 else ""
    return f"{first.tag} is {why}.{more} Did {'it' if len(held) == 1 else 'they'} really go?"


def weighs_that(tag: str, weight: Decimal, unit: str) -> str:
    """A corrected weight that the animal cannot have."""
    return f"{tag} at {say.number(weight, 1)} {unit}? That is far off its others."


def last_was(old: Weight, weight: Decimal, today: date) -> str:
    """A correction whose wrong weight is old, or another than was said."""
    last = f"{say.number(old.weight, 1)} of {say.day(old.on, today)}"
    return f"{old.tag}: my last is {last}. {say.number(weight, 1)} of today, or instead of that?"


def few_free(head: int, group: str | None, free: int, held: Sequence[Hold], on: date) -> str:
    """A load told by head from animals of which fewer may go."""
    which = (f"Only {free}" if free else "None") + (f" of {group}" if group else "")
    first = held[0]
    why = f"held till {say.day(first.until, on)} ({first.product})" if first.until else first.why or "held"
    more = f", and {len(held) - 1} more" if len(held) > 1 else ""
    return f"{which} may go: {first.tag} is {why}{more}. Did {head} go?"


def days_wanted(product: str) -> str:
    """Nobody has told a product's withdrawal: asked once, and remembered."""
    return f"How many days' withdrawal has {product}? Tell me as label or vet say, like: 14 days."


def age_wanted(tags: Sequence[str]) -> str:
    """Bought in, and nobody said how old: what counts from birth cannot be foreseen."""
    return f"How old {'is it' if len(tags) == 1 else 'are they'}? Doses count from birth. Tell me, like: 6 weeks."


_DONE = {"dose": "got it", "ship": "went", "loss": "died", "move": "moved"}


def which_had(u: Unnamed, entry: Entry, farm: Farm, today: date) -> str:
    """So many of a group were told: which they were is asked for, and what holds until then is said."""
    text = f"Which {u.head} {_DONE[u.kind]}? Their tags will do."
    free = hold_after(farm, u.what or "", entry.on, getattr(entry, "withdrawal_days", None))
    if u.kind == "dose" and (free is None or free > today):
        text += f" Until then all of {u.group} is held" + (f" till {say.day(free, today)}." if free else ".")
    return text


def nothing_to_correct(name: str) -> str:
    return f"I have nothing of {name} to change. Tell me anew."


def told_by(who: str, words: str, why: str) -> str:
    """What a helper told, put to the owner, who alone can say what is new on the plan."""
    return f"{who}: {_short(words)}\n{why}"


def asked_owner(why: str, owner: str) -> str:
    """To the helper: the owner has been asked."""
    return f"{why.split('. ')[0]}. I've asked {owner}; it is kept once that is settled."


def does_not_fit(mistake: str) -> str:
    """A change of the plan that the plan's checks do not let pass."""
    return f"That does not fit: {mistake.replace('[', '').replace(']', '')}. Tell me again."


def count_anew(item: str, amount: Decimal, unit: str) -> str:
    """A count is doubted: how to tell a new one."""
    return f"How much {item} is there? Tell me, like: {say.amount(amount, unit)} {item} left."


NOTHING_TO_UNDO = "Nothing of yours to take back."
SETTLED = "That one is settled already."
NONE_OF_THESE = "Left as it was, nothing kept. Tell me again in other words."
WHICH_THEN = "Which one then? Just send its tag or name."
WEIGH_AGAIN = "Nothing kept of it. Send it when it is weighed again."
OWNERS_ONLY = "Not kept: only the owner or family change the plan. Ask them to tell me."
NO_OWNER = "Then nobody would be the owner: name another one first."
ENOUGH = "Right, that can wait."
PUT_OFF = "I'll come back to it."
NO_SHEET = "I have no sheet or file of that, only words."
NOTHING_TO_WRITE = "No sheet or file: there is nothing to put on it."
NO_PICTURE = "I have no picture of that, only words."
NO_WEIGHTS = "No picture yet: nobody has told me weights of them."
NOT_COUNTED = "No picture yet: nobody has counted it."
NO_USE = "No picture yet: nothing tells how fast it goes."
NO_SHIP_WEIGHT = "No picture yet: I don't know the ship weight."
NO_TRIP_COST = "No picture yet: what does a trip cost?"
NO_LAY = "No picture yet: it needs eggs told by day, and how many hens there are."
NOTHING_TO_DRAW = "No picture yet: nothing told to draw."
NOT_DRAWN = "The picture or file to go with this could not be made. Ask again, please."
TEXT_ONLY = "Not kept: I can only read text. Please type it."
LET_IN = "This group is let in: people of the farm plan are heard here. /letout ends it."
LET_OUT = "That group is let out: nobody is heard there any more."
TWIN = "A second bot runs on my token and takes messages away. Stop one of the two, or they go to the wrong book."


def written(title: str, lines: int) -> str:
    """What is on a sheet or in a file."""
    return f"On it: {title}, {lines} line{'' if lines == 1 else 's'}."


def undone(words: Sequence[str]) -> str:
    """What was taken back, by the words that had told it."""
    if len(words) == 1:
        return f"Taken back: {_short(words[0])}."
    return "Taken back: " + "; ".join(_short(w) for w in words) + "."


def _short(text: str) -> str:
    line = " ".join(text.split())
    return (line if len(line) <= 60 else line[:57] + "...").rstrip(".")


def edited_away() -> str:
    return "What that message had told is taken back; as it stands now I keep nothing from it."


def changed(text: str, was: str, *, same: bool, asked: bool) -> str:
    """An edited message, said anew, with what it had told before; `same`: that is what it tells now; `asked`: it is
    in doubt now."""
    if same:
        return f"As before. {text}"
    if asked:
        return f"{was} {text}".strip()
    first, *rest = text.split("\n")
    return "\n".join([" ".join(filter(None, ["Changed.", first, was])), *rest])
