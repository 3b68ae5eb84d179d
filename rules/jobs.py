"""What is to be done: reminders as they were told, and creep and weaning by the ages of the plan.

Doses are in `rules.doses`, feed in `rules.stores`. A job stays until it is done; nothing here decides how often that
is said.
"""

from calendar import monthrange
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from rules import entries as e
from rules.days import WEEKDAYS, Moment
from rules.farm import Animal, Farm, Lamb
from rules.findings import JobDue
from rules.plan import StagePlan
from rules.sales import next_sale
from rules.units import convert
from rules.withdrawal import hold_after

# A bottle lamb of 9 kg that eats 250 g of concentrate on three days running can be weaned (Teagasc, Artificial rearing
# of lambs, Irish Farmers Journal; at least 10 kg and 250 g in the Reaseheath College trial, The Scottish Farmer).
WEANING_KG = Decimal(9)
LOAD_DAYS = 2  # before a sale: when its load is made up
AHEAD_DAYS = 7  # a stage is foreseen so long before its age (common practice, no source)
DOINGS = {"creep": "start creep", "weaned": "wean"}


def job_due(farm: Farm, moment: Moment) -> list[JobDue]:
    """Reminders, and lambs that reach the age at which the plan foresees creep or weaning.

    Why: what is in a head at five in the morning is gone by six. A reminder with a time is `act` from that time on that
    day; otherwise one for today or an earlier day is `soon`, as it can wait for the next morning; later ones are
    `know`. Of a repeated one only the last turn stands: yesterday's round of the water is not owed any more. One about
    an animal that is gone is dropped. Which of a pen had a dose told by head is asked before a sale that its hold would
    reach. Age is only when to look: for bottle lambs `light` names those last weighed under 9 kg, and a lamb should eat
    250 g a day before its milk stops (sources above).
    """
    jobs = [_reminder(farm, seq, job, moment) for seq, job in farm.reminders.items()]
    found = [*(x for x in jobs if x is not None), *_stages(farm, moment), *_untold(farm, moment)]
    return sorted((x for x in found if not farm.waved_off(x.key)), key=lambda x: (_start(x.due, moment), x.key))


def _start(due: date | datetime | None, moment: Moment) -> datetime:
    if isinstance(due, datetime):
        return due
    return datetime.combine(due or moment.today, time(0), moment.now.tzinfo)


def _reminder(farm: Farm, seq: int, job: e.Remind, moment: Moment) -> JobDue | None:
    animal = farm.animals.get(farm.now_tagged(job.tag)) if job.tag else None
    day = turn(job, moment.today)
    if day is None or (animal and not animal.here) or (job.tags and not any(_here(farm, t) for t in job.tags)):
        return None
    due: date | datetime = day
    if job.time:
        due = datetime.combine(day, time.fromisoformat(job.time), moment.now.tzinfo)
    now = isinstance(due, datetime) and day == moment.today and due <= moment.now
    return JobDue(
        level="act" if now else "soon" if day <= moment.today else "know", due=due, text=job.text,
        tag=animal.tag if animal else job.tag, group=job.group, seq=seq, turn=day if job.every else None, who=job.who,
        product=job.product, tags=tuple(farm.now_tagged(t) for t in job.tags if _here(farm, t)),
    )  # fmt: skip


def _untold(farm: Farm, moment: Moment) -> list[JobDue]:
    """Doses told by head that hold a whole pen back from a sale in the next days: which had it is asked before."""
    sale = next_sale(farm, moment) if farm.unnamed else None
    if sale is None or (sale - moment.today).days > LOAD_DAYS:
        return []
    pens = farm.keeping("market lambs", "bottle lambs")
    found = []
    for u in farm.unnamed:
        free = hold_after(farm, u.what or "", u.on)
        if u.kind == "dose" and u.group in pens and (free is None or free > sale):
            text = f"tell me which {u.head} of {u.group} had {u.what}, or none of it can go"
            found.append(JobDue(level="soon", due=sale, text=text, group=u.group))
    return found


def _here(farm: Farm, tag: str) -> bool:
    animal = farm.animals.get(farm.now_tagged(tag))
    return animal is not None and animal.here


# -- jobs that come round


def turn(job: e.Remind, today: date) -> date | None:
    """The day of a job that stands on a day: the last turn up to it, or the first where none has come; None: over."""
    if not job.every or job.due >= today:
        return job.due
    if job.until and job.until < today:
        return None
    day, then = job.due, turn_after(job, job.due)
    while then is not None and then <= today:
        day, then = then, turn_after(job, then)
    return day


def turn_after(job: e.Remind, day: date) -> date | None:
    """The first turn of a job after a day, or None where there is no more."""
    if day < job.due:
        return job.due
    count, _, unit = (job.every or "").partition(" ")
    then: date | None
    if unit in ("days", "months") and not (count.isdigit() and int(count)):
        return None
    if unit == "days":
        then = day + timedelta(int(count) - (day - job.due).days % int(count))
    elif unit == "months":
        months = (day.year - job.due.year) * 12 + day.month - job.due.month
        nexts = (_up(months, int(count)) + n * int(count) for n in range(2))
        then = next(x for n in nexts if (x := _months_on(job.due, n, job.of_month)) > day)
    else:
        week = [day + timedelta(n) for n in range(1, 8)]
        then = next((x for x in week if WEEKDAYS[x.weekday()] in (job.every or "").split()), None)
    return then if then is None or job.until is None or then <= job.until else None


def _up(months: int, step: int) -> int:
    return -(-months // step) * step


def _months_on(day: date, months: int, of_month: int | None) -> date:
    """The same day some months later (or `of_month`), or the last of a shorter month."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(of_month or day.day, monthrange(year, month + 1)[1]))


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
                if stage == "creep" and plan and plan.weaned is not None and _of_age(lamb, plan.weaned, moment.today):
                    continue  # it is to be weaned now
                if due and due <= moment.today + timedelta(AHEAD_DAYS) and not _had(farm, lamb, stage):
                    lots.setdefault((stage, group.name, due <= moment.today), []).append((due, lamb))
    return [_stage_due(farm, *key, lots[key]) for key in sorted(lots)]


def _of_age(lamb: Animal | Lamb, age: int, today: date) -> bool:
    return lamb.born is not None and (today - lamb.born).days >= age


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
        tags=tuple(a.tag for a in animals), light=light, stage=stage,
    )  # fmt: skip
