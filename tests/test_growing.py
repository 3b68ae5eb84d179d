"""The plan grown by chat: what changes it, what must not, and that it travels, is taken back, and keeps its names."""

from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.book import Book
from bot.conversation import hear
from bot.desk import Desk, Heard, open_desk
from bot.files import export, load_folder
from bot.opening import hours_in_words, hours_said
from bot.phrases.growing import planned
from bot.plan_check import plan_mistakes
from bot.plan_shape import said
from bot.reading import Ask, Nothing, Reading, Record, read
from bot.settle import meant
from bot.when import local
from bot.words.kept import echo
from rules import stores
from rules.entries import PlanSet
from tests.test_reading import AT, FARM, farm_of

HERE = Path(__file__).parent
NOW = local(datetime.fromisoformat(AT), "America/Chicago")
OPENED = datetime.fromisoformat("2026-08-01T00:00:00-05:00")

# Hours as farmers say them, and as the plan keeps them (OpenStreetMap opening_hours).
HOURS = {
    "mon to fri 8 to 5, sat till noon, closed holidays": "Mo-Fr 08:00-17:00; Sa 08:00-12:00; PH off",
    "Mon-Fri 7:30-5, Sat 8-12": "Mo-Fr 07:30-17:00; Sa 08:00-12:00",
    "weekdays 8 to 5:30 and sat 9 till 1, shut sundays and bank holidays": "Mo-Fr 08:00-17:30; Sa 09:00-13:00; PH off",
    "8 to 5 mon to fri, 9 to 12 saturday": "Mo-Fr 08:00-17:00; Sa 09:00-12:00",
    "every day 8 to 6 except sunday": "Mo-Sa 08:00-18:00",
    "mon to fri 8 to 12 and 1 to 5": "Mo-Fr 08:00-12:00,13:00-17:00",
    "mon, wed, fri 9 to 4": "Mo,We,Fr 09:00-16:00",
    "monday to thursday 0830-1700, friday 0830-1500": "Mo-Th 08:30-17:00; Fr 08:30-15:00",
    "7 days a week 7am to 9pm": "Mo-Su 07:00-21:00",
    "open mon - sat 7.30am - 5.30pm, shut bank hols": "Mo-Sa 07:30-17:30; PH off",
    "8-5 mon-fri and 9-12 sat": "Mo-Fr 08:00-17:00; Sa 09:00-12:00",
    "8 to 5 mon, tue, wed": "Mo-We 08:00-17:00",
    "closed sun and mon, tue to sat 9 to 5": "Tu-Sa 09:00-17:00",
    "tue to sat 9-5, sun and mon closed, bank holidays 10 to 2": "Tu-Sa 09:00-17:00; PH 10:00-14:00",
}
# No days, no hours, two hours that may be morning or night, days with two sets of hours, words that are no hours.
NO_HOURS = ("8 to 5", "mon-fri 8-5, sat", "mon to sun 6 to 10", "mon-fri 8-5 except wed 8-12",
            "mon to fri", "closed sundays", "mon to fri 7 to 9", "8 to 5 mon to fri sat 9 to 12",
            "mon to fri 8 to 5 apart from lunch", "mon to fri 25 to 5", "", "whenever he is in")  # fmt: skip


@pytest.mark.parametrize("words", HOURS)
def test_hours_in_a_farmers_words(words: str) -> None:
    assert hours_said(words) == HOURS[words]
    assert hours_said(words.upper()) == HOURS[words]
    assert hours_said(hours_in_words(HOURS[words])) == HOURS[words]


@pytest.mark.parametrize("words", NO_HOURS)
def test_what_leaves_doubt_is_no_hours(words: str) -> None:
    assert hours_said(words) is None


def of(text: str, it: tuple[str, str] | None = None) -> Reading:
    return read(text, NOW, farm_of(FARM), it)


CHANGES: dict[str, list[tuple[str, str | None, dict[str, Any]]]] = {
    "new item beet pulp, 50 lb bags, from the mill": [
        ("item", "beet pulp", {"unit": "bag", "holds": "50 lb", "supplier": "Hollow Feed"})
    ],
    "New item: Beet Pulp, 50lb bags from Ridge": [
        ("item", "Beet Pulp", {"unit": "bag", "holds": "50 lb", "supplier": "Ridge"}), ("supplier", "Ridge", {}),
    ],
    "add an item called soda, sacks of 25 kg": [("item", "soda", {"unit": "bag", "holds": "25 kg"})],
    "new group called Spring ewes, ewes, 40 head": [("group", "Spring ewes", {"keeps": "ewes", "head": 40})],
    "add a pen Top Shed for bottle lambs": [("group", "Top Shed", {"keeps": "bottle lambs"})],
    "new pen 4, market lambs": [("group", "pen 4", {"keeps": "market lambs"})],
    "new supplier Ridge, mon to fri 8 to 5, closed holidays, delivers next day, orders before 2pm": [
        ("supplier", "Ridge", {"hours": "Mo-Fr 08:00-17:00; PH off", "lead_days": 1, "order_before": "14:00"})
    ],
    "hollow feed hours are mon to fri 7 to 4, closed holidays": [
        ("supplier", "Hollow Feed", {"hours": "Mo-Fr 07:00-16:00; PH off"})
    ],
    "the mill delivers in 2 days": [("supplier", "Hollow Feed", {"lead_days": 2})],
    "orders to the mill must be in by noon": [("supplier", "Hollow Feed", {"order_before": "12:00"})],
    "new product Pour-on, dose 1 ml per 10 kg, withdrawal 28 days": [
        ("product", "Pour-on", {"dose": "1 mL per 10 kg", "withdrawal_days": 28})
    ],
    "new person Sam, helper, chat 12345678": [("person", "Sam", {"role": "helper", "telegram": 12345678})],
    "new bin 4, 5000 bu, corn": [("bin", "bin 4", {"capacity": "5000 bu", "crop": "corn"})],
    "new field Long Acre, 12 acres": [("field", "Long Acre", {"area": "12 ac"})],
    "new crop barley, test weight 48": [("crop", "barley", {"test_weight": 48})],
    "we sell wednesdays and fridays": [("ship", None, {"sales": ["wednesday", "friday"]})],
    "sale day is tuesday": [("ship", None, {"sales": ["tuesday"]})],
    "ship at 105 to 130": [("ship", None, {"min": 105, "max": 130})],
    "we call milk formula": [("item", "milk", {"also": ["milk powder", "formula"]})],
    "call the milk powder 'formula'": [("item", "milk", {"also": ["milk powder", "formula"]})],
    "formula means milk powder": [("item", "milk", {"also": ["milk powder", "formula"]})],
    "rename pen 1 to top pen": [("group", "pen 1", {"name": "top pen"})],
    "a bale of hay is 40 lb": [("item", "hay", {"holds": "40 lb"})],
    "hollow feed closed saturdays": [("supplier", "Hollow Feed", {"hours": "Mo-Fr 07:30-17:00; PH off"})],
    "new supplier: Walkers, open mon - sat 7.30am - 5.30pm, shut bank hols": [
        ("supplier", "Walkers", {"hours": "Mo-Sa 07:30-17:30; PH off"})
    ],
    "new pen 7 and new pen 8": [("group", "pen 7", {}), ("group", "pen 8", {})],
    "new pen 7 market lambs": [("group", "pen 7", {"keeps": "market lambs"})],
    "new stock item ear tags, boxes of 100": [("item", "ear tags", {"unit": "box", "holds": "100 each"})],
    "add oats as a new item, 20 kg bags": [("item", "oats", {"unit": "bag", "holds": "20 kg"})],
    "new item corn gluten - 50# bags from the mill": [
        ("item", "corn gluten", {"unit": "bag", "holds": "50 lb", "supplier": "Hollow Feed"})
    ],
    "milk is called formula here": [("item", "milk", {"also": ["milk powder", "formula"]})],
    "pen 1 should be called top pen": [("group", "pen 1", {"name": "top pen"})],
    "we sell wednesdays and ship at 105 to 130": [
        ("ship", None, {"sales": ["wednesday"]}), ("ship", None, {"min": 105, "max": 130}),
    ],
    "new group Hoggs, replacements, 22 head and new item oats, bags": [
        ("group", "Hoggs", {"keeps": "replacements", "head": 22}), ("item", "oats", {"unit": "bag"}),
    ],
    "a full load is 24 head": [("ship", None, {"load_full": 24})],
    "less than 6 isn't worth the drive": [("ship", None, {"load_min": 6})],
    "a trip to the mart costs $90": [("ship", None, {"trip_cost": 90})],
    "keep costs 0.5 a head a day": [("ship", None, {"keep_cost": Decimal("0.5")})],
    "the smallest order of milk is 6 bags": [("item", "milk", {"order_min": "6 bag"})],
    "we have room for 40 bags of milk": [("item", "milk", {"store_max": "40 bag"})],
    "milk keeps 60 days": [("item", "milk", {"keeps_days": 60})],
    "oxy keeps 28 days once opened": [("product", "oxytetracycline", {"opened_days": 28})],
    "we wean bottle lambs at 6 weeks": [("stage_plan", "bottle lambs", {"weaned": 42})],
    "lambing kit: 1 bottle cdt per group": [
        ("kit", "lambing", {"needs": [{"item": "cdt", "amount": "1 bottle", "per": "group"}]})
    ],
    "our state is MN": [("farm", None, {"subdivision": "MN"})],
    "hay is for the ewes": [("item", "hay", {"feeds": [{"group": "ewes"}]})],
    "dose plan lamb vaccine for lambs at foot: cdt 28 to 42 days old, cdt 3 to 4 weeks after the first": [
        ("dose_plan", "lamb vaccine", {"for": "lambs at foot", "steps": [
            {"product": "cdt", "step": "first", "after": "birth", "days": [28, 42]},
            {"product": "cdt", "step": "second", "after": "first", "days": [21, 28]},
        ]})
    ],
    "new dose plan ewe booster for ewes: cdt 4 to 6 weeks before lambing": [
        ("dose_plan", "ewe booster", {"for": "ewes", "steps": [
            {"product": "cdt", "step": "first", "before": "lambing", "days": [42, 28]}
        ]})
    ],
}  # fmt: skip


@pytest.mark.parametrize("text", CHANGES)
def test_what_changes_the_plan(text: str) -> None:
    got = of(text)
    assert isinstance(got, Record), got
    assert [(x.table, x.name, dict(x.set)) for x in got.entries if isinstance(x, PlanSet)] == CHANGES[text]
    assert len(got.entries) == len(CHANGES[text])


@pytest.mark.parametrize("text", CHANGES)
def test_what_is_said_of_a_change_gives_that_change_back(text: str) -> None:
    """The words in which the bot says it back are read as the same again."""
    got = of(text)
    assert isinstance(got, Record)
    echoed = ". ".join(echo(x, farm_of(FARM), NOW.date()) for x in got.entries)
    again = of(echoed)
    assert isinstance(again, Record), echoed
    whole = [x for x in again.entries if isinstance(x, PlanSet) and x.set]
    assert whole == [x for x in got.entries if isinstance(x, PlanSet) and x.set], echoed


def test_it_is_what_was_just_spoken_of() -> None:
    got = of("we call it starter", ("item", "hay"))
    assert isinstance(got, Record)
    assert [(x.table, x.name, dict(x.set)) for x in got.entries if isinstance(x, PlanSet)] == [
        ("item", "hay", {"also": ["starter"]})
    ]
    assert isinstance(of("we call it starter"), Nothing)


NO_CHANGE = (
    "need a new pen for ewes", "should we add a pen for the ewes", "new phone who dis", "got a new truck",
    "call the vet", "call the mill tomorrow", "we call it a day", "the meeting is called off", "add milk to the list",
    "new feed came today",
    "add a pen gate to the list", "call me", "sold wednesday", "we sell on wednesday", "the mill is open monday",
    "might rename pen 1 to top pen", "what are the mill's hours", "if we add a pen it will be for hens",
    "we call him Fred",
    "new barn cat", "new owners next door", "our county is big", "shipping weight is 12 lb", "call it 5",
    "my dose is 5 ml", "the trip cost me 400 bucks", "hay is good for 5 days",
    "weaned 2431 at 60 days", "no room for 40 bags of milk",
    "new owner at the feed store",
    "new field of study", "bea is a good helper", "i'll call hollow feed monday", "we get milk from the shop tomorrow",
)  # fmt: skip


@pytest.mark.parametrize("text", NO_CHANGE)
def test_what_only_looks_like_a_change_changes_nothing(text: str) -> None:
    got = of(text)
    assert not isinstance(got, Record) or not any(isinstance(x, PlanSet) for x in got.entries)


ASKED = {
    "12 bags of beet pulp": "new item", "gave 2404 wormaway": "new product", "moved 2404 to the far pen": "new group",
    "moved 4 lambs from pen 1 to pen 9": "new group", "dose plan for nursery: wormaway at 30 days old": "new product",
    "ridge hours are mon to fri 8 to 5": "new supplier", "we get hay from Dave": "new supplier",
    "Bob is a helper": "yes",
    "new pen hillside": "yes", "call the ewes home": "yes", "pen 1 keeps replacements": "yes",
    "withdrawal 28 days": "meloxicam",
    "new item oats and barley": "yes", "weaned pen 9": "new group", "bin 4 at 900 bu": "new bin",
}  # fmt: skip


@pytest.mark.parametrize("text", ASKED)
def test_what_is_new_or_in_doubt_is_asked(text: str) -> None:
    got = of(text)
    assert isinstance(got, Ask)
    assert ASKED[text] in [c.label for c in got.choices]


def test_a_new_row_beside_a_weight_is_read_too() -> None:
    got = of("2404 112, new item oats")
    assert isinstance(got, Record)
    assert sorted(x.kind for x in got.entries) == ["plan", "weight"]


@pytest.mark.parametrize("text", ["rename pen 1 to nursery", "we call milk hay", "new item milk, 50 lb bags"])
def test_a_name_two_things_would_have_is_asked(text: str) -> None:
    assert isinstance(of(text), Ask)


def test_what_else_the_message_tells_is_read_with_the_new_plan() -> None:
    got = of("new item beet pulp, 50 lb bags. got 12 bags of beet pulp")
    assert isinstance(got, Record)
    assert [x.kind for x in got.entries] == ["plan", "received"]


STRONG = ["new", "add", "item", "pen", "supplier", "product", "dose plan", "for", "called", "we call", "rename", "to",
          "hours", "are", "mon", "to fri", "8", "5", "50 lb", "bags", "milk", "pen 1", "the mill", ",", ":", "'x'",
          "28 days", "withdrawal", "is", "helper", "from", "ship at", "105", "we sell", "tuesdays", "40 head", "it",
          "?"]  # fmt: skip


@given(st.lists(st.sampled_from(STRONG), max_size=12))
@settings(max_examples=300, deadline=None)
def test_no_heap_of_the_plans_words_raises_or_breaks_the_plan(words: list[str]) -> None:
    """Whatever is made of them, the plan that results is one that a file could hold."""
    got = meant(read(" ".join(words), NOW, farm_of(FARM), ("item", "milk")), farm_of(FARM))
    if isinstance(got, Record):
        assert plan_mistakes(said(planned(farm_of(FARM), got.entries).plan_data)) == []


def test_numbers_left_over_are_asked_about() -> None:
    got = of("new item beet pulp. 50 lb something")
    assert isinstance(got, Ask)
    assert [len(c.entries) for c in got.choices] == [1, 0]


# -- in a conversation


def begun(book: Book) -> Desk:
    load_folder(book, HERE / "talks" / "three_lines", OPENED)
    return open_desk(book)


def tell(desk: Desk, *words: str, who: str = "owner") -> None:
    """Messages, or with > the button that is to be pressed in the last question."""
    for text in words:
        if text.startswith(">"):
            asked = desk.book.open_asks(who)[-1]
            labels = [c["label"] for c in asked.ask["choices"]]
            hear(desk, Heard(NOW, who, press=f"{asked.id}.{labels.index(text[1:])}"))
        else:
            hear(desk, Heard(NOW, who, text))


GROWN = (
    "12 bags of beet pulp", ">new item", ">left", "50 lb", "Ridge", ">new supplier",
    "mon to fri 8 to 5, sat till noon", ">shut", ">next day", "2pm", "new group Spring ewes, ewes, 40 head",
    "gave the spring ewes wormaway", ">new product", "28 days", "5 ml", "rename spring ewes to hill ewes",
    "new person Sam, helper", "bought 2 ewes 701 702 into hill ewes", "new pen 3, bottle lambs", "701 had twins",
)  # fmt: skip


def test_a_farm_grows_from_three_lines() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        tell(desk, *GROWN)
        plan, farm = desk.farm.plan, desk.farm
        assert plan.item_named("beet pulp") is not None
        assert (plan.item[0].unit, plan.item[0].holds, plan.item[0].supplier) == ("bag", "50 lb", "Ridge")
        assert plan.supplier[0].hours == "Mo-Fr 08:00-17:00; Sa 08:00-12:00; PH off"
        assert (plan.supplier[0].lead_days, str(plan.supplier[0].order_before)) == (1, "14:00:00")
        assert (plan.product[0].withdrawal_days, plan.product[0].dose) == (28, "5 mL")
        assert farm.head("hill ewes") == 42
        assert farm.group_doses["hill ewes"][0].product == "wormaway"
        assert [f.amount for f in farm.stock["beet pulp"]] == [12]
        assert [p.role for p in plan.person] == ["helper", "owner"]
        assert farm.animals["701"].group == "hill ewes"


def test_the_grown_plan_travels(tmp_path: Path) -> None:
    """Exported and loaded, the farm is the same; and the plan file alone loads to the same plan."""
    with Book.open(None) as book, Book.open(None) as second, Book.open(None) as third:
        desk = begun(book)
        tell(desk, *GROWN)
        export(book, tmp_path)
        load_folder(second, tmp_path, OPENED)
        assert open_desk(second).farm == desk.farm
        (tmp_path / "entries.jsonl").unlink()
        load_folder(third, tmp_path, OPENED)
        again = open_desk(third).farm
        assert again.plan.item == desk.farm.plan.item
        assert again.plan.supplier == desk.farm.plan.supplier
        assert again.plan.product == desk.farm.plan.product
        assert [g.name for g in again.plan.group] == ["hill ewes", "pen 3"]
        assert again.head("hill ewes") == 42


def test_the_flock_and_the_stores_of_a_farm_that_has_named_none_yet() -> None:
    """An animal by tag, an empty store, a pen by number: each is asked about, and then what was told is kept."""
    with Book.open(None) as book:
        desk = begun(book)
        tell(desk, "2641 48", ">new animal", "no milk left", ">new item", "bag", "skip", "skip", "weaned pen 1")
        assert [w.weight for w in desk.farm.animals["2641"].weighings] == [48]
        assert [(f.what, f.amount) for f in desk.farm.stock["milk"]] == [("on_hand", 0)]
        assert desk.farm.plan.item[0].unit == "bag"
        tell(desk, ">new group", ">skip", "2642 47.5", ">new, pen 1")
        assert [a.tag for a in desk.farm.in_group("pen 1")] == ["2642"]
        assert desk.farm.group_stages["pen 1"][0][0] == "weaned"


def test_an_item_without_a_unit_is_counted_in_what_it_is_first_told_in() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        tell(desk, "new item nuts", "20 bags of nuts left", "used 2 nuts")
        assert desk.farm.plan.item[0].unit == "bag"
        assert [f.amount for f in desk.farm.stock["nuts"]] == [20, 2]
        tell(desk, "new item hay", "40 hay left", "hay comes in 20 kg bales", "fed 40 kg hay")
        assert [f.amount for f in desk.farm.stock["hay"]] == [40, 2]


def test_undo_takes_a_new_item_back() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        before = desk.farm.copy()
        tell(desk, "new item beet pulp, 50 lb bags, from Ridge")
        assert desk.farm.plan.item
        tell(desk, "undo")
        assert desk.farm.plan == before.plan


def test_what_was_told_under_the_old_name_goes_with_the_new_one() -> None:
    """A renamed item keeps its stock and its last amount can be corrected; renamed back, all is as it was."""
    with Book.open(None) as book:
        desk = begun(book)
        tell(desk, "new item beet pulp, 50 lb bags", "12 bags beet pulp left")
        before = desk.farm.copy()
        tell(desk, "rename beet pulp to pulp nuts", "make that 13 bags of pulp nuts")
        assert [f.amount for f in desk.farm.stock["pulp nuts"]] == [13]
        assert "beet pulp" not in desk.farm.stock
        tell(desk, "undo", "rename pulp nuts to beet pulp")
        assert desk.farm.stock == before.stock


def test_the_animals_of_a_renamed_pen_are_in_it() -> None:
    """Those that the farm folder listed, and those moved there since; a group's heads told anew are a count."""
    with Book.open(None) as book:
        load_folder(book, HERE / FARM, OPENED)
        desk = open_desk(book)
        listed = [a.tag for a in desk.farm.in_group("pen 1")]
        tell(desk, "2431 up to pen 1", "rename pen 1 to top pen", "2432 up to top pen", "group hens: 25 head")
        assert sorted([*listed, "2431", "2432"]) == [a.tag for a in desk.farm.in_group("top pen")]
        assert desk.farm.in_group("pen 1") == []
        assert desk.farm.plan.item[0].feeds[0].group == "nursery"
        assert (desk.farm.head("hens"), desk.farm.plan.group[3].head) == (25, 30)


def test_a_ration_told_makes_a_group_an_eater_and_a_holiday_is_seen_coming() -> None:
    """22 lambs at 0.4 kg a day eat 8.8 kg: two 25 kg bags on Thursday 3 September last to Tuesday, the shop opens on
    Tuesday and delivers on Wednesday, Monday is Labor Day: to be ordered by Friday."""
    with Book.open(None) as book:
        desk = begun(book)
        now = local(datetime.fromisoformat("2026-09-03T07:00:00-05:00"), "America/Chicago")
        for text in (
            "new item milk replacer, 25 kg bags", "new pen Nursery, bottle lambs, 22 head",
            "new supplier Ridge, mon to fri 8 to 5, closed holidays, delivers next day",
            "milk replacer comes from Ridge",
            "nursery gets 0.4 kg milk replacer a head a day", "2 bags milk replacer left",
        ):  # fmt: skip
            hear(desk, Heard(now, "owner", text))
        found = next(x for x in stores.run_out(desk.farm, desk.moment(now)) if x.item == "milk replacer")
        assert found.per_day == Decimal("0.352")
        assert found.order_by is not None
        assert found.order_by.date() <= date(2026, 9, 4)
        assert found.level != "know"


def test_the_fact_first_told_stands_on_its_own_day() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        hear(desk, Heard(NOW, "owner", "got 12 bags of beet pulp yesterday"))
        tell(desk, ">new item")
        assert [(f.on, f.amount) for f in desk.farm.stock["beet pulp"]] == [(date(2026, 8, 10), 12)]
        tell(desk, "undo")
        assert not desk.farm.stock
        assert not desk.farm.plan.item


def test_an_edit_of_the_message_leaves_the_new_item_on_the_plan() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        hear(desk, Heard(NOW, "owner", "got 12 bags of beet pulp", "a"))
        tell(desk, ">new item", "50 lb")
        hear(desk, Heard(NOW, "owner", "got 14 bags of beet pulp", "a", edit=True))
        assert [f.amount for f in desk.farm.stock["beet pulp"]] == [14]
        assert (desk.farm.plan.item[0].unit, desk.farm.plan.item[0].holds) == ("bag", "50 lb")


def test_a_choice_counts_once_and_an_open_question_survives_a_restart(tmp_path: Path) -> None:
    path = tmp_path / "farm.book"
    with Book.open(path) as book:
        desk = begun(book)
        tell(desk, "got 12 bags of beet pulp", ">new item")
        hear(desk, Heard(NOW, "owner", press="1.0"))
        assert [f.amount for f in desk.farm.stock["beet pulp"]] == [12]
    with Book.open(path) as book:
        desk = open_desk(book)
        tell(desk, "50 lb")
        assert desk.farm.plan.item[0].holds == "50 lb"


def test_what_is_not_known_is_passed_over_and_a_no_is_no_withdrawal() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        tell(
            desk, "new group Spring ewes, ewes, 40 head", "gave the spring ewes wormaway", ">new product", "no", "dunno"
        )
        assert (desk.farm.plan.product[0].withdrawal_days, desk.farm.plan.product[0].dose) == (None, None)
        assert desk.book.open_asks("owner") == []


def test_the_ship_weights_are_the_same_in_another_unit() -> None:
    """42 kg is 92.6 lb and 48 kg 105.8 lb (1 lb = 0.45359237 kg by law)."""
    with Book.open(None) as book:
        desk = begun(book)
        tell(desk, "ship at 42 to 48", "we weigh in pounds")
        assert desk.farm.plan.farm.weight == "lb"
        assert (desk.farm.plan.ship.min, desk.farm.plan.ship.max) == (Decimal("92.6"), Decimal("105.8"))


def test_two_people_answer_their_own_questions() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        tell(desk, "new person Ann, family", "new item oats, bags")
        tell(desk, "new item hay, bales", who="Ann")
        tell(desk, "40 lb", who="Ann")
        tell(desk, "50 lb")
        assert [(i.name, i.holds) for i in desk.farm.plan.item] == [("oats", "50 lb"), ("hay", "40 lb")]


def test_what_a_helper_tells_of_an_unknown_item_is_put_to_the_owner() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        tell(desk, "new person Sam, helper")
        outs = hear(desk, Heard(NOW, "Sam", "got 12 bags of oats yesterday", "a"))
        assert [out.to for out in outs] == ["Sam", "owner"]
        tell(desk, ">new item")
        assert [(f.on, f.amount) for f in desk.farm.stock["oats"]] == [(date(2026, 8, 10), 12)]


def test_helpers_do_not_change_the_plan_and_strangers_do_nothing() -> None:
    with Book.open(None) as book:
        desk = begun(book)
        tell(desk, "new person Sam, helper")
        plan = desk.farm.plan
        for who in ("Sam", "nobody"):
            tell(desk, "new item oats, 50 lb bags", "rename Sam to Samuel", "we sell wednesdays", who=who)
        tell(desk, "12 bags of oats", who="Sam")
        assert desk.farm.plan == plan
        tell(desk, "Sam is an owner", "owner is a helper", "Sam is a helper")
        assert [(p.name, p.role) for p in desk.farm.plan.person] == [("Sam", "owner"), ("owner", "helper")]
