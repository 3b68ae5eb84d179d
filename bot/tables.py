"""Answers as tables: what a sheet prints and a file holds. Plain rows, made from the findings and the farm as it
stands; `bot.papers` says which question gets which."""

import csv as comma
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import TypeAlias

from bot.asking import market
from bot.reading import Question
from bot.words import say
from rules import entries as e
from rules import findings as f
from rules import gains
from rules.days import Moment, day_of
from rules.farm import Animal, Farm
from rules.grain import bin_contents
from rules.laying import hens_kept
from rules.treatments import treatments

Cell: TypeAlias = "str | int | Decimal | date | None"
Row: TypeAlias = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """Rows of one kind, under a name where there are several kinds."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """`ticked`: a box before each row, to tick on paper; `write`: columns of it to write in."""

    title: str
    columns: tuple[str, ...]
    parts: tuple[Part, ...]
    said: tuple[str, ...] = ()
    ticked: bool = False
    write: tuple[str, ...] = ()

    @property
    def empty(self) -> bool:
        return not any(part.rows for part in self.parts)


Make: TypeAlias = Callable[[Question, Sequence[f.Finding], Farm, Moment], Table]


def csv(table: Table) -> bytes:
    """The table as comma-separated values, days as 2026-08-11; the mark at its start tells spreadsheets that it is
    UTF-8."""
    out = io.StringIO()
    writer = comma.writer(out)
    several = len(table.parts) > 1
    writer.writerow((("part",) if several else ()) + table.columns)
    for part in table.parts:
        for row in part.rows:
            writer.writerow([*((part.name,) if several else ()), *map(_written, row)])
    return out.getvalue().encode("utf-8-sig")


def _written(cell: Cell) -> str:
    if isinstance(cell, Decimal):
        return say.number(cell, 3)
    if isinstance(cell, str) and cell[:1] in ("=", "+", "@"):
        return f"'{cell}"  # else a spreadsheet would reckon with someone's note
    return "" if cell is None else str(cell)


def _one(title: str, columns: tuple[str, ...], rows: Iterable[Row], said: tuple[str, ...] = ()) -> Table:
    return Table(title, columns, (Part("", tuple(rows)),), said)


def _wanted(q: Question, farm: Farm) -> list[Animal]:
    """The animals a question is about: the one, the group's, or all that are for sale."""
    if q.tag:
        return [a for a in (farm.animals.get(farm.now_tagged(q.tag)),) if a]
    return market(farm, q.group)


# -- the load


def to_sort(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """The list to sort by: who rides, who is a little away, who stays and why; by pen, so that one walk does it."""
    x = next(x for x in findings if isinstance(x, f.Ready))
    unit = farm.plan.farm.weight
    sale = x.sale or m.today
    held = {h.tag: h for h in x.held}
    ride = x.tags or tuple(a.tag for a in market(farm, q.group) if _there(a, farm) and a.tag not in held)
    expected = {g.tag: g.weight for g in gains.growth(farm, m, [*ride, *x.close, *held], sale)}

    def rows(tags: Iterable[str], why: Callable[[str], str]) -> tuple[Row, ...]:
        animals = (farm.animals[t] for t in tags if t in farm.animals)
        some = [a for a in animals if not q.group or a.group == q.group]
        return tuple(
            (a.tag, a.group, *_last(a), expected.get(a.tag), why(a.tag))
            for a in sorted(some, key=lambda a: (a.group or "", a.tag))
        )

    going = "To ship" if x.tags else "Ready by weight"
    parts = [Part(going, rows(ride, lambda t: "would go over by waiting" if t in x.heavy else ""))]
    parts.append(Part("A little away", rows(x.close, lambda t: _short(farm.animals[t], farm))))
    parts.append(Part("Stay: held", rows(held, lambda t: _stays(held[t], m))))
    parts.append(Part("Culls that can ride", rows(x.fill, lambda t: "cull")))
    title = f"List to sort by, sale {say.day(sale, m.today)}" if x.sale else "List to sort by"
    ship = farm.plan.ship
    said = tuple(f"{name} {say.weight(w, farm)}" for name, w in (("Ship from", ship.min), ("Top", ship.max)) if w)
    columns = ("tag", "pen", f"last {unit}", "weighed", f"at sale {unit}", "note")
    return Table(title, columns, tuple(p for p in parts if p.rows or p.name == going), ("  ".join(said),), ticked=True)


def _there(a: Animal, farm: Farm) -> bool:
    least = farm.plan.ship.min
    return least is not None and bool(a.weighings) and a.weighings[-1].weight >= least


def _last(a: Animal) -> tuple[Decimal | None, date | None]:
    return (a.weighings[-1].weight, a.weighings[-1].on) if a.weighings else (None, None)


def _short(a: Animal, farm: Farm) -> str:
    least, last = farm.plan.ship.min, _last(a)[0]
    return f"{say.number(least - last, 1)} to go" if least is not None and last is not None and last < least else ""


def _stays(h: f.Hold, m: Moment) -> str:
    until = f"till {say.day(h.until, m.today)}" if h.until else "till told"
    return h.why if h.why and not h.product else f"{h.product or ''} {until}".strip()


def to_weigh(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """A line for each animal to weigh, with its last weight and room for the new one."""
    unit = farm.plan.farm.weight
    animals = sorted(_wanted(q, farm), key=lambda a: (a.group or "", a.tag))
    found = {g.tag: g for g in findings if isinstance(g, f.Growth)}
    pens: dict[str, list[Row]] = {}
    for a in animals:
        gain = say.gain(g.gain, farm) if (g := found.get(a.tag)) and g.gain is not None else None
        pens.setdefault(a.group or "", []).append((a.tag, a.sex, *_last(a), gain, None, None))
    columns = ("tag", "sex", f"last {unit}", "weighed", "gain", f"now {unit}", "note")
    parts = tuple(Part(pen, tuple(rows)) for pen, rows in pens.items())
    return Table("Weigh list", columns, parts, ticked=True, write=columns[-2:])


def weights(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """Every weighing of the animals asked about, those that left too where none is named."""
    named = q.tag or q.group
    animals = _wanted(q, farm) if named else [farm.animals[t] for t in sorted(farm.animals)]
    unit = farm.plan.farm.weight
    rows = [
        (a.tag, a.eid, a.group, a.sex, a.born, w.on, w.weight, unit) for a in animals for w in a.weighings
    ]  # fmt: skip
    return _one("Weights", ("tag", "eid", "group", "sex", "born", "weighed", "weight", "unit"), rows)


def went(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """Loads and sales: a line for each animal where the tags were told, else for the load."""
    rows: list[Row] = []
    loads = [(x.on, x.head, x.tags, x.group, x.to, x.sale) for x in farm.shipments]
    loads += [(s.on, s.head or len(s.tags), s.tags, s.group, s.to, s) for s in farm.sales if s.what is None]
    for on, head, tags, group, to, sale in sorted(loads, key=lambda x: (x[0], x[2])):
        price = (sale.price, sale.per, sale.total, sale.mean_weight, sale.unit) if sale else (None,) * 5
        for tag in tags or (None,):
            a = farm.animals.get(tag) if tag else None
            last = (a.weighings[-1].weight, farm.plan.farm.weight) if a and a.weighings else (None, None)
            rows.append((on, tag, 1 if tag else head, a.group if a else group, to, *last, head, *price))
    columns = ("date", "tag", "head", "group", "to", "last weight", "weight unit", "load head", "price", "per",
               "load total", "load mean weight", "unit")  # fmt: skip
    return _one("Shipped and sold", columns, rows)


# -- doses


def due(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """What is due: a line for each animal to dose, and for each job."""
    doses, jobs = [], []
    for x in findings:
        if isinstance(x, f.DoseDue) and (x.level != "know" or not _any_now(findings)):
            row = farm.plan.product_named(x.product)
            for who in x.tags or (f"{x.head or ''} {x.group or ''}".strip(),):
                animal = farm.animals.get(who)
                pen = animal.group if animal else x.group
                doses.append((who, pen, f"{x.product}, {x.step}", row.dose if row else None, x.from_, x.to))
        if isinstance(x, f.JobDue):
            jobs.append((say.tags(x.tags) or x.tag or x.group, None, x.text, None, None, x.due and day_of(x.due)))
    parts = [Part("Doses", tuple(sorted(doses, key=lambda r: (r[5], str(r[1]), str(r[0])))))]
    parts += [Part("Jobs", tuple(jobs))] if jobs else []
    columns = ("who", "pen", "what", "dose", "from", "to")
    return Table("Due", columns, tuple(parts), ("Label and vet decide doses and holds.",), ticked=True)


def _any_now(findings: Sequence[f.Finding]) -> bool:
    return any(isinstance(x, f.DoseDue) and x.level != "know" for x in findings)


_RECORD = ("date", "animal", "eid", "group", "head", "product", "amount", "unit", "label dose", "reason", "route",
           "batch", "given by", "withdrawal days", "may ship from", "egg days", "eggs from")  # fmt: skip


def record(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """The treatment record, as an inspector reads it."""
    rows = [
        (x.on, x.tag, x.eid, x.group, x.head, x.product, x.amount, x.unit, x.label, x.reason, x.route, x.batch, x.by,
         x.days, x.until, x.egg_days, x.eggs_from)
        for x in treatments(farm, q.tag, q.group, q.product)
    ]  # fmt: skip
    return _one("Treatment record", _RECORD, rows)


def record_to_print(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """What holds animals back now, and the treatment record below it, in as many columns as a page takes."""
    holds = [x for x in findings if isinstance(x, f.Withdrawal)]
    held = [(x.given, x.tag or x.group, x.product, None, None, x.days, x.until or "ask the vet") for x in holds]
    given: list[Row] = []
    for t in treatments(farm, q.tag, q.group, q.product):
        dose = f"{say.number(t.amount)} {t.unit or ''}".strip() if t.amount is not None else t.label
        dose = f"{dose or ''} {t.route or ''}".strip()
        given.append((t.on, t.tag or f"{t.head} {t.group}", t.product, dose, t.reason, t.days, t.until or "not told"))
    columns = ("date", "animal", "product", "dose, route", "for", "days", "may ship from")
    parts = (Part("Held now", tuple(held)), Part("Given", tuple(given)))
    return Table("Treatment record", columns, parts, ("Label and vet decide doses and holds.",))


# -- stores, land, the rest


def to_order(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """One list for each supplier, ready to read out on the phone."""
    orders = [x for x in findings if isinstance(x, f.RunOut) and (x.order_amount or x.level != "know")]
    much = {x.item: say.amount(x.order_amount, x.unit) for x in orders if x.order_amount}
    parts = []
    for supplier in dict.fromkeys(x.supplier for x in orders):
        rows = tuple(
            (x.item, much.get(x.item), x.order_by and x.order_by.date(), x.runs_out)
            for x in orders
            if x.supplier == supplier
        )
        parts.append(Part(supplier or "anywhere", rows))
    return Table("To order", ("item", "amount", "order by", "runs out"), tuple(parts) or (Part("", ()),), ticked=True)


def to_count(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """What the book thinks is there, and room for what is."""
    rows = [
        (x.item, say.about(x.on_hand, x.unit), x.counted, x.runs_out, None)
        for x in sorted((x for x in findings if isinstance(x, f.RunOut)), key=lambda x: x.item)
    ]  # fmt: skip
    columns = ("item", "by the book", "last count", "runs out", "counted")
    return replace(_one("Stores", columns, rows), ticked=True, write=columns[-1:])


def moved(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """All that was told of the stores."""
    rows: list[Row] = []
    for item in farm.plan.item:
        if q.item in (None, item.name) and q.supplier in (None, item.supplier):
            for x in farm.stock.get(item.name, ()):
                what = x.how or {"on_hand": "counted", "used": "fed"}.get(x.what, x.what)
                rows.append((x.on, item.name, what, x.amount, item.unit, x.group, x.who or x.supplier, x.cost))
    columns = ("date", "item", "what", "amount", "unit", "group", "who", "cost")
    return _one("Stores", columns, sorted(rows, key=lambda r: str(r[0])))


def eggs(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    hens = farm.keeping("hens")
    rows: list[Row] = []
    for x in farm.eggs:
        group = x.group or (hens[0] if len(hens) == 1 else None)
        if q.group in (None, group):
            rows.append((x.on, group, x.count, hens_kept(farm, group, x.on) if group else None))
    return _one("Eggs", ("date", "group", "eggs", "hens"), rows)


def bins(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    found = [b for b in bin_contents(farm) if q.bin in (None, b.bin) and (not q.crop or b.crop == q.crop)]
    rows = [(b.bin, b.crop, b.amount, b.room, b.unit, b.measured) for b in found]
    return _one("Bins", ("bin", "crop", "in it", "room", "unit", "measured"), rows)


def loads(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    found: list[e.Load] = [x for x in farm.loads if q.crop in (None, x.crop)]
    rows = [(x.on, x.crop, x.amount, x.unit, x.moisture, x.field, x.to) for x in found]
    return _one("Loads of grain", ("date", "crop", "amount", "unit", "moisture %", "field", "to"), rows)


def heads(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """The animals that are here."""
    here = sorted((a for a in farm.animals.values() if a.here and q.group in (None, a.group)),
                  key=lambda a: (a.group or "", a.tag))  # fmt: skip
    rows: list[Row] = [(a.group, a.tag, 1, a.eid, a.sex, a.born, a.dam) for a in here]
    rows += [
        (g, None, n, None, None, None, None) for g, n in farm.heads.items() if n and q.group in (None, g)
    ]  # fmt: skip
    return _one("Animals", ("group", "tag", "head", "eid", "sex", "born", "dam"), rows)


def lambing(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    rows = [(x.group, x.head, x.from_, x.peak, x.to, x.lambs) for x in findings if isinstance(x, f.LambingDue)]
    return _one("Lambing", ("group", "ewes", "from", "most about", "to", "lambs"), rows)


def story(q: Question, findings: Sequence[f.Finding], farm: Farm, m: Moment) -> Table:
    """One page on an animal, for the vet or a buyer: all that the book has of it, day by day."""
    a = farm.animals[farm.now_tagged(q.tag or "")]
    rows: list[tuple[date, str, str]] = [(w.on, "weighed", say.weight(w.weight, farm)) for w in a.weighings]
    for d in a.doses:
        dose = f", {say.number(d.amount)} {d.unit or ''}".rstrip() if d.amount is not None else ""
        rows.append((d.on, "given", f"{d.product}{dose}" + (f" for {d.for_}" if d.for_ else "")))
    rows += [(on, stage, "") for stage, on in a.stages] + [(on, "noted", text) for on, text in a.notes]
    rows += [(on, "lambed", str(count)) for on, count in a.lambed]
    rows += [(a.born, "born", say.weight(a.birth_weight, farm) if a.birth_weight is not None else "")] if a.born else []
    rows += [(a.gone, a.status, "")] if a.gone else []
    said = [f"{a.sex or 'sheep'}, {a.group or 'no group'}, {a.status}" + (f", out of {a.dam}" if a.dam else "")]
    said += [f"may not ship before {say.day(x.until, m.today)}: {x.product}" if x.until else f"held: {x.product}"
             for x in findings if isinstance(x, f.Withdrawal)]  # fmt: skip
    return _one(a.tag, ("date", "what", ""), sorted(rows), tuple(said))
