"""Several deaths close together in one group, and nothing else: what they died of is for the vet."""

from math import ceil

from rules.days import Moment
from rules.farm import Farm
from rules.findings import Losses

WITHIN, SHORT = 7, 3  # days
SEVERAL, FEW = 3, 2  # head: in a week; and of a small group within three days
SMALL = 30  # head
SHARE = 0.02  # of a large group: single losses of a big lambing are no alarm
FRESH = 1  # days after the last death in which it is still urgent


def losses(farm: Farm, moment: Moment) -> list[Losses]:
    """Groups that lost three head within a week, or two within three days where fewer than thirty are kept.

    Why: deaths that come together are poison, clostridia, pneumonia or worse, and the next is hours away; the vet is
    called, not the bot. In a large group it takes two in a hundred, as a big lambing loses one now and then.
    All figures: common practice, no source. `act` up to the day after the last death, then `know` until the week is
    over.
    """
    recent: dict[str, list[tuple[int, int]]] = {}
    for on, group, head in farm.losses:
        ago = (moment.today - on).days
        if group and 0 <= ago < WITHIN:
            recent.setdefault(group, []).append((ago, head))
    found = []
    for group in sorted(recent):
        deaths = sorted(recent[group])
        dead = sum(head for _, head in deaths)
        kept = farm.head(group) + sum(1 for lamb in farm.untagged if lamb.group == group) + dead
        days = deaths[-1][0] - deaths[0][0] + 1
        close = max(sum(h for ago, h in deaths if first <= ago < first + SHORT) for first, _ in deaths)
        if dead >= max(SEVERAL, ceil(SHARE * kept)) or (kept < SMALL and close >= FEW):
            level = "act" if deaths[0][0] <= FRESH else "know"
            found.append(Losses(level=level, due=moment.today, group=group, head=dead, days=days))
    return found
