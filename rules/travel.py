"""Which animals may travel: not held by a withdrawal, lame, ill or near lambing; and the floor they need on the way.

Label, vet and local rules decide; this only keeps in mind what was told and what is published.
"""

import re
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import numpy as np

from rules.breeding import first_due
from rules.days import Moment
from rules.farm import Animal, Farm
from rules.findings import Hold, Room
from rules.herd import herd, market
from rules.sales import next_sale
from rules.withdrawal import held as withheld

NOTED_DAYS = 42  # a note of an animal lame or ill holds it so long, if nobody says it is better
NEAR_LAMBING = 15  # days before the due date: nine tenths of a gestation are over
HEAVY_KG = 55.0  # live weight from which the law asks more floor
SOME = 12  # the heaviest, whose weight counts where none is ready

_ILL = re.compile(
    r"\b(lame\w*|limp\w*|hobbl\w*|foot ?rot|sore (foot|feet|mouth|leg)|(three|3) legs|broken leg|swollen|abscess\w*"
    r"|scour\w*|diarrh\w*|the runs|runny|cough\w*|pneumonia|wheez\w*|snotty|breathing (hard|heavy|fast)|sick(ly)?"
    r"|ill(?!-)|poorly|off (his |her |its )?(feed|food|grub)|(stopped|quit) (eating|drinking|sucking)"
    r"|(not|isn'?t|won'?t) (eat\w*|drink\w*|suck\w*|well|right|himself|herself|itself)|dull|droop\w*|listless"
    r"|letharg\w*|fever\w*|(a|high) temperature|bloat\w*|orf|pink ?eye|blind|fly ?strike|maggots|prolapse\w*|injur\w*"
    r"|wound\w*|bleeding|stagger\w*|circling|can'?t (get up|stand|walk))\b"
)
_BETTER = re.compile(
    r"\b(better(?! (get|watch|check|call|keep|look|see|have|pull|treat|give))|recovered|cleared( up)?|healed|mended"
    r"|over it|gone(?=( now)?\W*$)|no longer|no more|(not|isn'?t) \w+ any ?more|stopped (limping|coughing|scouring)"
    r"|all clear|back to normal|(sound|fit|well) again|no sign of)\b"
)
_WELL = re.compile(r"\b(ok|okay|fine|sound|fit|healthy|normal|eating|(is|all|doing|looks?|quite) well)\b")
_DOUBT = re.compile(
    r"\b(still|not (any )?(better|sound|fit|fine|ok|okay|well|good|right|recovered)|no better|worse|bit|little)\b"
)


def unfit(animal: Animal, on: date) -> str | None:
    """The words of a note that say an animal is lame or ill, and none after them that it is better; None: fit."""
    why = None
    for noted, text in animal.notes:
        said = text.lower()
        ill, doubt = _ILL.search(said), _DOUBT.search(said)
        if not doubt and (_BETTER.search(said) or (not ill and _WELL.search(said))):
            why = None
        elif (ill or (why and doubt)) and (on - noted).days <= NOTED_DAYS:
            why = text
    return why


def hold(farm: Farm, animal: Animal, on: date) -> Hold | None:
    """Why an animal may not ride that day: a withdrawal not over, or noted lame or ill; None: it may."""
    if (found := withheld(farm, animal, on)) is not None:
        return found
    why = unfit(animal, on)
    return Hold(tag=animal.tag, why=why) if why else None


def near_lambing(farm: Farm, animal: Animal, on: date) -> bool:
    """Whether it is a ewe too near lambing to travel: she lambed within a week, or her group is due within a tenth of a
    gestation or lambing and she has not (Regulation (EC) 1/2005, Annex I ch. I; from memory)."""
    if animal.sex != "ewe" or not animal.group:
        return False
    if animal.lambed and (on - animal.lambed[-1][0]).days <= 7:
        return True
    due = first_due(farm, animal.group)
    lambed = due is not None and any((due - day).days <= NEAR_LAMBING for day, _ in animal.lambed)
    return due is not None and not lambed and -NOTED_DAYS <= (due - on).days <= NEAR_LAMBING


def room(farm: Farm, moment: Moment, space: float | None) -> Room | None:
    """How many of those the next load would take find room on a floor of so many square metres, shorn and in fleece.

    By weight: area = k W^0.67, k 0.021 to stand, 0.026 to lie down, a quarter more in full fleece (Sheep lose balance
    when loosely packed, 2010), never less than the law gives the weight (Regulation (EC) 1/2005, Annex I ch. VII: 0.20
    m2 to 55 kg, 0.30 above, in fleece 0.30 and 0.40). Rounded down, always. Without a floor: only the area a head.
    """
    animals = [a for a in market(farm) if a.weighings or a.born]
    growing = herd(farm, moment.today)
    if growing is None or not animals:
        return None
    weights = growing.weights([a.tag for a in animals], next_sale(farm, moment) or moment.today)[0]
    least = float(farm.plan.ship.min or 0)
    going = weights[weights >= least] if (weights >= least).any() else np.sort(weights)[-SOME:]
    mean = float(going.mean())
    kilos = mean * growing.unit
    stand, lie = (max(k * kilos**0.67, 0.30 if kilos > HEAVY_KG else 0.20) for k in (0.021, 0.026))
    fleece = max(1.25 * lie, 0.40 if kilos > HEAVY_KG else 0.30)
    heads = None if space is None else tuple(int(space / each) for each in (stand, lie, fleece))
    areas = tuple(_said(each, "0.01") for each in (stand, lie, fleece))
    return Room(level="know", weight=_said(mean, "0.1"), space=areas, heads=heads)


def _said(value: float, step: str) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal(step), ROUND_HALF_UP)
