"""A farm folder loads whole or not at all, and every mistake in it is told with its place and what was expected."""

import tomllib
from collections.abc import Callable
from copy import deepcopy
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.book import Book, fold, load_plan
from bot.plan import PlanMistakes, load
from bot.plan_check import plan_mistakes, tidied
from rules.plan import plan_from

WHOLE = """
[farm]
name = "Sallow Hill"
country = "CA"
subdivision = "MB"
timezone = "America/Winnipeg"
weight = "lb"
currency = "CAD"
morning = 06:00:00
evening = "9:30"

[ship]
min = 110
max = 130
sales = ["Wednesday", "saturday"]
load_min = 8
load_full = 24
trip_cost = 130.0
keep_cost = 0.10
price = [{ from = 80, per = 2.30 }, { from = 110, per = 2.45 }]

[[person]]
name = "Una"
role = "owner"
telegram = 1001

[[group]]
name = "Nursery"
also = ["bottles"]
keeps = "bottle lambs"
[[group]]
name = "hens"
keeps = "hens"
head = 36

[[supplier]]
name = "Fell Feeds"
also = ["the mill"]
hours = "Mo-Fr 07:30-17:00; Sa 08:00-12:00; PH off"
order_before = "14:00"
lead_days = 1

[[item]]
name = "milk"
unit = "bags"
holds = "25 lb"
supplier = "the mill"
feeds = [{ group = "nursery", per_head_day = "0.5 lb" }]
order_min = "2 bags"
order_step = "50 lb"
store_max = "1 ton"
keeps_days = 180
service = 0.98
[[item]]
name = "iodine"
unit = "bottle"

[[product]]
name = "booster"
dose = "2 mL"
withdrawal_days = 21

[[kit]]
for = "lambing"
needs = [{ item = "iodine", amount = "1 bottle", per = "group" }]

[[stage_plan]]
for = "bottle lambs"
creep = 14
weaned = 40

[[dose_plan]]
name = "bottle lambs"
for = "bottle lambs"
steps = [
  { product = "booster", step = "first", before = "creep", days = [7, 0] },
  { product = "booster", step = "second", after = "first", days = [21, 28], before = "weaned" },
]

[[bin]]
name = "bin 1"
crop = "barley"
capacity = "4000 bu"

[[crop]]
name = "barley"
test_weight = 48
dry = 14.8

[[field]]
name = "home field"
area = "38 ac"
"""
ANIMALS = """tag,eid,sex,born,dam,group,birth_weight,birth_type,status
0101,,ewe,2023-03-01,,,,,sold
0202,982000123456789,ram,2026-04-19,0101,bottles,9.5,2,here

B 7,,,,,hens,,,
"""
WEIGHTS = "tag,on,weight\n0202,2026-05-01,21.50\nb 7,2026-05-02,4\n"
FARM = '[farm]\nname = "Sallow Hill"\ncountry = "IE"\ntimezone = "Europe/Dublin"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Path]:
    """Writes a farm folder of these texts."""

    def write(plan: str = FARM, animals: str | None = None, weights: str | None = None) -> Path:
        for name, text in (("farm.toml", plan), ("animals.csv", animals), ("weights.csv", weights)):
            if text is not None:
                (tmp_path / name).write_text(text, encoding="utf-8")
        return tmp_path

    return write


def _mistakes(folder: Path) -> list[str]:
    with pytest.raises(PlanMistakes) as found:
        load(folder)
    return found.value.mistakes


# -- what loads


def test_a_whole_farm_loads(folder: Callable[..., Path]) -> None:
    """Every table of the plan, the animals and the weights, in the farm's own names and one spelling."""
    found = load(folder(WHOLE, ANIMALS, WEIGHTS))
    assert found.plan["farm"]["morning"] == "06:00"
    assert found.plan["farm"]["evening"] == "09:30"
    assert found.plan["ship"]["sales"] == ["wednesday", "saturday"]
    assert found.plan["ship"]["keep_cost"] == Decimal("0.10")
    milk = found.plan["item"][0]
    assert (milk["unit"], milk["supplier"], milk["feeds"][0]["group"]) == ("bag", "Fell Feeds", "Nursery")
    assert found.animals == (
        {"tag": "0101", "sex": "ewe", "born": date(2023, 3, 1), "status": "sold"},
        {
            "tag": "0202", "eid": "982000123456789", "sex": "ram", "born": date(2026, 4, 19), "dam": "0101",
            "group": "Nursery", "birth_weight": Decimal("9.5"), "birth_type": 2, "status": "here",
        },
        {"tag": "B 7", "group": "hens"},
    )  # fmt: skip
    assert found.weights == (
        {"tag": "0202", "on": date(2026, 5, 1), "weight": Decimal("21.50")},
        {"tag": "B 7", "on": date(2026, 5, 2), "weight": Decimal(4)},
    )


def test_a_name_a_country_and_a_timezone_are_enough(folder: Callable[..., Path]) -> None:
    """All else can be told later by chat."""
    found = load(folder())
    assert plan_from(found.plan).farm.name == "Sallow Hill"
    assert (found.animals, found.weights) == ((), ())


def test_a_country_of_which_no_holidays_are_known_loads(folder: Callable[..., Path]) -> None:
    """The Falklands are in ISO 3166-1 and keep sheep; whether holidays are known of them is no mistake of the plan.
    Ireland's provinces are in ISO 3166-2, and have no holidays of their own."""
    falklands = FARM.replace('"IE"', '"FK"').replace("Europe/Dublin", "Atlantic/Stanley")
    assert load(folder(falklands)).plan["farm"]["country"] == "FK"
    assert load(folder(FARM + 'subdivision = "C"\n')).plan["farm"]["subdivision"] == "C"


def test_a_file_from_a_spreadsheet_loads(folder: Callable[..., Path]) -> None:
    """With the byte order mark, line ends and capitals that some programs and people write."""
    where = folder(FARM, "\ufeffTag,eid,sex,birth_type\r\n0101,,Ewe,Twin\r\n")
    assert load(where).animals == ({"tag": "0101", "sex": "ewe", "birth_type": 2},)


def test_ten_thousand_animals_load(folder: Callable[..., Path]) -> None:
    """A large flock goes into the book and is folded, each in its group."""
    plan = FARM + '[[group]]\nname = "hill"\nkeeps = "ewes"\n[[group]]\nname = "pen"\nkeeps = "market lambs"\n'
    rows = "".join(f"{n},{'hill' if n % 2 else 'pen'},2026-05-04\n" for n in range(10_000, 20_000))
    found = load(folder(plan, "tag,group,born\n" + rows))
    with Book.open(None) as book:
        load_plan(book, found, datetime(2026, 5, 5, 7, tzinfo=UTC))
        farm = fold(book).farm
    assert farm.head("pen") == 5000
    assert farm.feeding["pen"][-1][1] == 5000
    assert farm.feeding["hill"][-1][1] == 0  # lambs at foot, a day old


# -- mistakes of the plan


def _cases(section: str) -> list[Any]:
    """(what is written, the sentence that tells it) from plan_mistakes.txt."""
    text = (Path(__file__).parent / "plan_mistakes.txt").read_text(encoding="utf-8")
    cases = text.split(f"== {section}\n")[1].split("\n== ")[0].split("\n---\n")
    return [pytest.param(*case.strip("\n").split("\n=> "), id=case.split("=> ")[1][:60].strip()) for case in cases]


@pytest.mark.parametrize(("more", "said"), _cases("rows"))
def test_a_mistake_is_told_in_farm_words(folder: Callable[..., Path], more: str, said: str) -> None:
    """Table and row, the value, and what was expected or meant."""
    assert f"farm.toml, {said}" in _mistakes(folder(f"{FARM}{more}\n"))


STEP = """
[[product]]
name = "p"
[[dose_plan]]
name = "d"
for = "ewes"
steps = [{{ product = "p", step = "a", {} }}, {{ product = "p", {} }}]
"""


@pytest.mark.parametrize(("step", "said"), _cases("steps"))
def test_a_dose_step_that_cannot_be(folder: Callable[..., Path], step: str, said: str) -> None:
    """Windows run forward in time, and count from events there are: an earlier step, not the step itself."""
    good = 'step = "b", after = "a", days = [21, 28]'
    assert _mistakes(folder(FARM + STEP.format(step, good))) == [f"farm.toml, [[dose_plan]] {said}"]


def test_a_step_named_twice(folder: Callable[..., Path]) -> None:
    """ "After the first" must mean one step."""
    first, again = 'before = "lambing", days = [42, 28]', 'step = "a", after = "a", days = [21, 28]'
    said = 'farm.toml, [[dose_plan]] d, steps 2: step = "a": an earlier step has this name'
    assert _mistakes(folder(FARM + STEP.format(first, again))) == [said]


@pytest.mark.parametrize(("line", "said"), _cases("farm"))
def test_a_place_that_is_none(folder: Callable[..., Path], line: str, said: str) -> None:
    """Country, part, zone and times are looked up, not believed."""
    key = line.split(" ")[0]
    kept = [x for x in FARM.splitlines() if not x.startswith(key)]
    assert _mistakes(folder("\n".join([*kept, line]))) == [f"farm.toml, {said}"]


@pytest.mark.parametrize(
    ("country", "part", "meant"),
    [
        ("CA", "Mb", "did you mean MB?"),
        ("US", "US-WI", "did you mean WI?"),
        ("GB", "XX", "expected one like ENG, NIR, SCT, WLS"),
    ],
)
def test_a_part_of_a_country_that_is_none(folder: Callable[..., Path], country: str, part: str, meant: str) -> None:
    """A part whose holidays would not be found is told, with the one that was meant."""
    said = f'farm.toml, [farm]: subdivision = "{part}": not a part of {country} in ISO 3166-2; {meant}'
    assert _mistakes(folder(FARM.replace('"IE"', f'"{country}"') + f'subdivision = "{part}"\n')) == [said]


def test_opening_hours_that_cannot_be_read(folder: Callable[..., Path]) -> None:
    """Hours as people write them are not yet hours."""
    (said,) = _mistakes(folder(FARM + '[[supplier]]\nname = "mill"\nhours = "Monday 8am"\n'))
    assert said.startswith('farm.toml, [[supplier]] mill: hours = "Monday 8am": ')
    assert "\n" not in said


def test_every_mistake_is_told_at_once(folder: Callable[..., Path]) -> None:
    """Of all three files, in the order of the files."""
    plan = FARM.replace('"IE"', '"XX"') + '[[group]]\nname = "pen"\nkeps = "hens"\n'
    animals = "tag,group\n1,pan\n2,pen\n2,pen\n"
    said = _mistakes(folder(plan, animals, "tag,on,weight\n9,2026-05-01,20\n1,yesterday,20\n"))
    assert said == [
        'farm.toml, [[group]] pen: keps = "hens": no such key; did you mean keeps?',
        'farm.toml, [farm]: country = "XX": expected the two letters of ISO 3166-1, like IE, GB or US',
        'animals.csv, line 2: group = "pan": there is no such [[group]]; did you mean pen?',
        'animals.csv, line 4: tag = "2": another line has this tag',
        'weights.csv, line 2: tag = "9": animals.csv has no such animal',
        'weights.csv, line 3: on = "yesterday": expected a date like 2026-04-19',
    ]


# -- mistakes of the csv files


@pytest.mark.parametrize(("animals", "said"), _cases("animals"))
def test_a_line_of_animals_that_is_wrong(folder: Callable[..., Path], animals: str, said: str) -> None:
    """With its line, the value, and what was expected."""
    assert _mistakes(folder(FARM, animals + "\n")) == [f"animals.csv, {said}"]


def test_a_table_with_other_separators(folder: Callable[..., Path]) -> None:
    """The whole header is told once, with what was expected; its lines are not gone through."""
    said = _mistakes(folder(FARM, "tag;sex\n1;ewe\n"))
    columns = "tag,eid,sex,born,dam,group,birth_weight,birth_type,status"
    assert said == [
        f'animals.csv, line 1: "tag;sex": no such column; expected {columns}',
        f"animals.csv, line 1: column tag is missing; expected {columns}",
    ]


@pytest.mark.parametrize(
    ("weights", "said"),
    [
        ("tag,on,weight\n1,2026-05-01,0\n", 'line 2: weight = "0": expected a weight, like 42.5'),
        ("tag,on,weight\n1,2026-05-01,\n", "line 2: weight is missing"),
        ("tag,on\n1,2026-05-01\n", "line 1: column weight is missing; expected tag,on,weight"),
        ("tag,on,weight\n1,2026-04-01,20\n", 'line 2: on = "2026-04-01": expected a day after 1 was born (2026-04-19)'),
    ],
)
def test_a_line_of_weights_that_is_wrong(folder: Callable[..., Path], weights: str, said: str) -> None:
    """A weight is of an animal there is, more than nothing, and after its birth."""
    assert _mistakes(folder(FARM, "tag,born\n1,2026-04-19\n", weights)) == [f"weights.csv, {said}"]


# -- files that cannot be read


def test_no_plan_in_the_folder(tmp_path: Path) -> None:
    """One sentence says what was looked for and where."""
    assert _mistakes(tmp_path) == [f"farm.toml: there is none in {tmp_path}"]
    assert _mistakes(tmp_path / "nowhere") == [f"farm.toml: there is none in {tmp_path / 'nowhere'}"]


def test_a_plan_that_is_no_toml(folder: Callable[..., Path]) -> None:
    """The line and column of broken syntax."""
    said = "farm.toml: not TOML as it should be: Invalid value (at line 5, column 11)"
    assert _mistakes(folder(FARM + "morning = six\n")) == [said]


@pytest.mark.parametrize("name", ["farm.toml", "animals.csv", "weights.csv"])
def test_a_file_that_is_no_text(folder: Callable[..., Path], name: str) -> None:
    """A file in another encoding, or a folder of that name."""
    where = folder(FARM, "tag\n", "tag,on,weight\n")
    (where / name).write_bytes("tag,caf\u00e9\n".encode("latin-1"))
    assert _mistakes(where) == [f"{name}: is not UTF-8 text (byte 8); save it again as UTF-8"]
    (where / name).unlink()
    (where / name).mkdir()
    assert _mistakes(where) == [f"{name}: cannot be read (Is a directory)"]


# -- whatever is written

ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 10**20) | st.sampled_from([Decimal("NaN"), Decimal("-0.5"), Decimal(3)])
    | st.sampled_from(["", "x", "25 lb", "0 kg", "99:99", "pen", "Nursery", "lambing", "wednesday"]),
    lambda inner: st.lists(inner, max_size=2)
    | st.dictionaries(st.sampled_from(["name", "from", "x"]), inner, max_size=2),
    max_leaves=4,
)  # fmt: skip


def _paths(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(p for key, v in inner for p in _paths(v, (*path, key)))]


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_a_plan_without_mistakes_makes_a_farm(data: st.DataObject) -> None:
    """Whatever stands in the place of whatever: mistakes are told, or the plan can be used; never a traceback."""
    plan = deepcopy(tomllib.loads(WHOLE, parse_float=Decimal))
    for path in data.draw(st.lists(st.sampled_from(_paths(plan)[1:]), min_size=1, max_size=2, unique=True)):
        held: Any = plan
        try:
            for key in path[:-1]:
                held = held[key]
            held[path[-1]] = data.draw(ANYTHING)
        except (KeyError, IndexError, TypeError):
            continue  # the first change took the place of the second away
    ready = tidied(plan)
    if not plan_mistakes(ready):
        made = plan_from(ready)
        for item in made.item:
            for feed in item.feeds:
                if feed.per_head_day:
                    assert made.amount_of(item, feed.per_head_day) > 0


def test_a_bare_number_of_an_item_is_in_its_unit(tmp_path: Path) -> None:
    """ "2" ear tags a ewe needs no unit; what a bag holds does."""
    (tmp_path / "farm.toml").write_text(
        '[farm]\nname = "x"\ncountry = "IE"\ntimezone = "Europe/Dublin"\n'
        '[[item]]\nname = "tags"\nunit = "each"\nstore_max = 500\n'
        '[[kit]]\nfor = "lambing"\nneeds = [{ item = "tags", amount = "2", per = "ewe" }]\n'
    )
    plan = load(tmp_path).plan
    assert plan["kit"][0]["needs"][0]["amount"] == "2 each"
    assert plan["item"][0]["store_max"] == "500 each"
