"""What is to be done: reminders as they were told, and creep and weaning by the ages of the plan.

Doses are in `rules.doses`, feed in `rules.stores`. A job stays until it is done; nothing here decides how often that
is said.
"""

from datetime import date, datetime, time, timedelta
from decimal import Decimal

from rules import entries as e
from rules.days import Moment
from rules.farm import Animal, Farm, Lamb
from rules.findings import JobDue
from rules.plan import StagePlan
from rules.units import convert

# A bottle lamb of 9 kg that eats 250 g of concentrate on three days running can be weaned (Teagasc, Artificial rearing
# of lambs, Irish Farmers Journal; at least 10 kg and 250 g in the Reaseheath College trial, The Scottish Farmer).
WEANING_KG = Decimal(9)
AHEAD_DAYS = 7  # a stage is foreseen so long before its age (common practice, no source)
DOINGS = {"creep": "start creep", "weaned": "wean"}


def job_due(farm: Farm, moment: Moment) -> list[JobDue]:
    """Reminders, and lambs that reach the age at which the plan foresees creep or weaning.

    Why: what is in a head at five in the morning is gone by six. A reminder with a time is `act` from that time on; one
    for today `soon`; one of an earlier day `act`; later ones `know`. One about an animal that is gone is dropped. Age
    is only when to look: for bottle lambs `light` names those last weighed under 9 kg, and a lamb should eat 250 g a
    day before its milk stops (sources above).
    """
    jobs = [_reminder(farm, seq, job, moment) for seq, job in farm.reminders.items()]
    found = [*(x for x in jobs if x is not None), *_stages(farm, moment)]
    return sorted((x for x in found if not farm.waved_off(x.key)), key=lambda x: (_start(x.due, moment), x.key))


def _start(due: date | datetime | None, moment: Moment) -> datetime:
    if isinstance(due, datetime):
        return due
    return datetime.combine(due or moment.today, time(0), moment.now.tzinfo)


def _reminder(farm: Farm, seq: int, job: e.Remind, moment: Moment) -> JobDue | None:
    animal = farm.animals.get(farm.now_tagged(job.tag)) if job.tag else None
    if animal and not animal.here:
        return None
    due: date | datetime = job.due
    if job.time:
        due = datetime.combine(job.due, time.fromisoformat(job.time), moment.now.tzinfo)
    reached = due <= moment.now if isinstance(due, datetime) else job.due < moment.today
    level = "act" if reached else "soon" if job.due == moment.today else "know"
    return JobDue(
        level=level, due=due, text=job.text, tag=animal.tag if animal else job.tag, group=job.group, seq=seq
    )  # fmt: skip


# -- stages by age


def stage_plan(farm: Farm, keeps: str, at_foot: bool) -> StagePlan | None:
    """The plan's ages for what a group keeps; for lambs at foot their own row, else the ewes'."""
    rows = {row.for_: row for row in farm.plan.stage_plan}
    return (rows.get("lambs at foot") if at_foot else None) or rows.get(keeps)


def _stages(farm: Farm, moment: Moment) -> list[JobDue]:
    """For each stage and group one finding of the lambs that are of its age, and one of those soon to be.

    Due on the day the last of them came of age, so that it is said again when there are more.
    """
    lots: dict[tuple[str, str, bool], list[tuple[date, Animal | Lamb]]] = {}
    for group in farm.plan.group if farm.plan.stage_plan else ():
        young: list[Animal | Lamb] = [*farm.in_group(group.name), *(x for x in farm.untagged if x.group == group.name)]
        for lamb in young:
            at_foot = farm.at_foot(lamb, moment.today) if isinstance(lamb, Animal) else group.keeps == "ewes"
            if group.keeps == "ewes" and not at_foot:
                continue
            plan = stage_plan(farm, group.keeps, at_foot)
            for stage, age in (("creep", plan.creep), ("weaned", plan.weaned)) if plan else ():
                due = lamb.born + timedelta(age) if age is not None and lamb.born else None
                if due and due <= moment.today + timedelta(AHEAD_DAYS) and not _had(farm, lamb, stage):
                    lots.setdefault((stage, group.name, due <= moment.today), []).append((due, lamb))
    return [_stage_due(farm, *key, lots[key]) for key in sorted(lots)]


def _had(farm: Farm, lamb: Animal | Lamb, stage: str) -> bool:
    """Weaned lambs need no creep; lambs without tags go with what was told of their whole group."""
    stages = (stage, "weaned")
    if isinstance(lamb, Animal):
        return any(name in stages for name, _ in lamb.stages)
    return any(name in stages and on >= lamb.born for name, on in farm.group_stages.get(lamb.group or "", ()))


def _stage_due(farm: Farm, stage: str, group: str, reached: bool, lambs: list[tuple[date, Animal | Lamb]]) -> JobDue:
    animals = [x for _, x in lambs if isinstance(x, Animal)]
    light: tuple[str, ...] = ()
    if stage == "weaned" and group in farm.keeping("bottle lambs"):
        place = farm.plan.farm
        least = convert(WEANING_KG, "kg", place.weight, place.country)
        light = tuple(a.tag for a in animals if a.weighings and a.weighings[-1].weight < least)
    days = [day for day, _ in lambs]
    return JobDue(
        level="soon" if reached else "know", due=max(days) if reached else min(days), text=DOINGS[stage], group=group,
        tags=tuple(a.tag for a in animals), light=light,
    )  # fmt: skip
