"""Never run out: findings of the stores, with edges worked out by hand, and textbook safety stock."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal

import numpy as np
import pytest

from rules import entries as e
from rules import stores
from rules.days import Moment, Opening
from rules.farm import Farm
from rules.use import Herd, Spread, Use, use_of
from tests.barn import ZONE, animal, at, barn

MONDAY = date(2026, 4, 27)  # the week before the first Monday of May


def milk_plan(**more: object) -> dict[str, object]:
    return {
        "group": [{"name": "nursery", "keeps": "bottle lambs"}],
        "item": [{
            "name": "milk", "unit": "bag", "holds": "20 kg", "supplier": "co-op",
            "feeds": [{"group": "nursery", "per_head_day": "0.4 kg"}], **more,
        }],
        "supplier": [{"name": "co-op", "hours": "Mo-Fr 09:00-17:00", "order_before": "12:00", "lead_days": 1}],
    }  # fmt: skip


def shut(*days: date, weeks: int = 8) -> dict[str, object]:
    """The co-op's openings on weekdays from two weeks back, but for these days."""
    start = MONDAY - timedelta(days=14)
    open_ = [d for d in (start + timedelta(n) for n in range(7 * weeks)) if d.weekday() < 5 and d not in days]
    nine, five = time(9), time(17)
    hours = [Opening(datetime.combine(d, nine, ZONE), datetime.combine(d, five, ZONE)) for d in open_]
    return {"openings": {"co-op": tuple(hours)}, "closures": {"co-op": dict.fromkeys(days, "May Day")}}


def lambs(count: int) -> list[e.AnimalSet]:
    return [animal(f"B{n}", "nursery", date(2026, 4, 1)) for n in range(count)]


def bags(day: date, amount: str) -> e.OnHand:
    return e.OnHand(on=day, item="milk", amount=Decimal(amount), unit="bag")


def the(farm: Farm, m: Moment) -> stores.RunOut:
    return next(x for x in stores.run_out(farm, m) if x.item == "milk")


def test_milk_that_ends_over_the_bank_holiday_is_said_while_it_can_be_ordered() -> None:
    """Twenty lambs, 3.5 bags on Wednesday noon, gone about Sunday. The co-op is shut Saturday to Monday, so the order
    must be in by Thursday noon to come on Friday."""
    told = [bags(MONDAY - timedelta(9), "9"), bags(MONDAY - timedelta(2), "6"), bags(MONDAY + timedelta(2), "3.5")]
    farm = barn(milk_plan(), *lambs(20), *told)
    found = the(farm, at(MONDAY + timedelta(3), 6, **shut(MONDAY + timedelta(7))))
    assert found.order_by == datetime(2026, 4, 30, 12, tzinfo=ZONE)  # Thursday, before the cut-off
    assert found.arrives == date(2026, 5, 1)
    assert found.level == "act"
    assert found.closed == (date(2026, 5, 2), date(2026, 5, 3), date(2026, 5, 4))
    assert found.because == ("May Day",)
    assert found.order_amount is not None
    assert found.order_amount == int(found.order_amount) >= 2


def test_plenty_is_known_and_no_more() -> None:
    """Twenty bags for five lambs ask for nothing."""
    farm = barn(milk_plan(), *lambs(5), bags(MONDAY, "20"))
    assert the(farm, at(MONDAY, 18, **shut())).level == "know"


def test_too_late_is_said_plainly() -> None:
    """Half a bag on the Saturday of the long weekend: no order arrives in time."""
    farm = barn(milk_plan(), *lambs(20), bags(MONDAY + timedelta(5), "0.5"))
    found = the(farm, at(MONDAY + timedelta(5), 13, **shut(MONDAY + timedelta(7))))
    assert found.missed
    assert found.level == "act"
    assert found.arrives == date(2026, 5, 6)  # open again on Tuesday, one open day to deliver


def test_what_is_on_its_way_and_lasts_silences_the_alarm() -> None:
    """Twelve bags ordered for Friday are enough; one is not."""
    order = e.Ordered(on=MONDAY + timedelta(3), item="milk", amount=Decimal(12), unit="bag", due=MONDAY + timedelta(4))
    told = [*lambs(20), bags(MONDAY - timedelta(5), "6"), bags(MONDAY + timedelta(2), "2.5")]
    m = at(MONDAY + timedelta(3), 13, **shut(MONDAY + timedelta(7)))
    assert the(barn(milk_plan(), *told, order), m).level == "know"
    short = e.Ordered(on=order.on, item="milk", amount=Decimal(1), unit="bag", due=order.due)
    assert the(barn(milk_plan(), *told, short), m).level != "know"


def test_nothing_counted_and_nothing_guessed_invents_nothing() -> None:
    """Without a count there is no finding; with one count and no guess, only the amount."""
    plan = milk_plan(feeds=[])
    assert stores.run_out(barn(plan), at(MONDAY, **shut())) == []
    found = the(barn(plan, bags(MONDAY - timedelta(1), "5")), at(MONDAY, **shut()))
    assert (found.per_day, found.runs_out, found.on_hand) == (0, None, 5)


def test_counts_teach_and_lent_or_spoiled_does_not() -> None:
    """7 bags gone in a week of which 3 were lent and 2 spoiled: two were drunk in seven days."""
    plan = milk_plan(feeds=[])
    day = MONDAY - timedelta(3)
    used = [e.Used(on=day, item="milk", amount=Decimal(n), unit="bag", how=h) for n, h in ((3, "lent"), (2, "spoiled"))]
    farm = barn(plan, bags(MONDAY - timedelta(7), "10"), *used, bags(MONDAY, "3"))
    assert float(the(farm, at(MONDAY, 13, **shut())).per_day) == pytest.approx(2 / 7, rel=0.03)


def test_twice_the_use_is_said() -> None:
    """Counts that show about twice what was expected carry the old rate, so that it can be asked: a leak?"""
    told = [bags(MONDAY - timedelta(n), a) for n, a in ((16, "20"), (12, "18.5"), (8, "17"), (4, "15.5"))]
    farm = barn(milk_plan(), *lambs(20), *told, bags(MONDAY, "11.5"))
    found = the(farm, at(MONDAY, 13, **shut()))
    assert found.usual is not None
    assert found.per_day > found.usual


def test_a_gap_before_a_delivery_on_its_way_is_not_ordered_for_again() -> None:
    """A third of a bag on Thursday, twelve bags coming on Friday evening: nothing ordered now comes sooner, so the gap
    is said without an amount; it cannot wait for the next morning."""
    order = e.Ordered(on=MONDAY + timedelta(3), item="milk", amount=Decimal(12), unit="bag", due=MONDAY + timedelta(4))
    told = [*lambs(20), bags(MONDAY - timedelta(5), "6"), bags(MONDAY + timedelta(3), "0.3"), order]
    found = the(barn(milk_plan(), *told), at(MONDAY + timedelta(3), 13, **shut()))
    assert found.missed
    assert found.level == "act"
    assert found.order_amount is None
    assert found.arrives == MONDAY + timedelta(4)


def test_past_the_careful_moment_the_next_delivery_is_still_ordered() -> None:
    """A bag and a half on Wednesday afternoon, the day's cut-off gone: not surely enough, but expected to last to
    Friday, which is the first delivery one can still get, by Thursday noon."""
    told = [*lambs(20), bags(MONDAY - timedelta(5), "5"), bags(MONDAY + timedelta(2), "1.5")]
    found = the(barn(milk_plan(), *told), at(MONDAY + timedelta(2), 13, **shut()))
    assert found.order_by == datetime(2026, 4, 30, 12, tzinfo=ZONE)
    assert not found.missed
    assert found.level == "soon"


def test_an_old_count_is_asked_for_with_the_order_and_before_it() -> None:
    """Five days after the count the order of the last day asks for a new one; a fortnight after, with days to go, only
    the count is asked for."""
    farm = barn(milk_plan(), *lambs(10), bags(MONDAY - timedelta(9), "5"), bags(MONDAY - timedelta(4), "4"))
    ordering = the(farm, at(MONDAY + timedelta(9), **shut()))
    assert (ordering.level, ordering.ask_count) == ("act", True)
    assert ordering.order_amount is not None
    slow = [bags(MONDAY - timedelta(n), a) for n, a in ((30, "14.5"), (20, "12.5"), (11, "10.5"))]
    counting = the(barn(milk_plan(), *lambs(10), *slow), at(MONDAY + timedelta(8), **shut()))
    assert (counting.level, counting.ask_count, counting.order_amount) == ("soon", True, None)


def test_lambs_that_are_weaned_drink_no_more() -> None:
    """Twenty lambs of which fifteen were weaned, all still in the nursery: a quarter of the use."""
    weaned = e.Stage(on=MONDAY - timedelta(1), stage="weaned", tags=tuple(f"B{n}" for n in range(15)))
    count = bags(MONDAY - timedelta(1), "8")
    all_of_them = the(barn(milk_plan(), *lambs(20), count), at(MONDAY, **shut())).per_day
    few = the(barn(milk_plan(), *lambs(20), weaned, count), at(MONDAY, **shut())).per_day
    assert float(few) == pytest.approx(float(all_of_them) / 4, rel=0.01)


def test_more_in_store_than_before_teaches_nothing() -> None:
    """A count far above the last, no delivery told: somebody forgot to tell one, and the pace stays what it was."""
    told = [bags(MONDAY - timedelta(12), "8"), bags(MONDAY - timedelta(6), "6")]
    before = the(barn(milk_plan(), *lambs(20), *told), at(MONDAY, 13, **shut())).per_day
    after = the(barn(milk_plan(), *lambs(20), *told, bags(MONDAY, "15")), at(MONDAY, 13, **shut()))
    assert float(after.per_day) == pytest.approx(float(before), rel=0.1)
    assert after.on_hand == pytest.approx(Decimal(15), abs=Decimal("0.1"))


def test_a_count_beyond_all_expectation_is_doubted() -> None:
    """A bag left of a bag a week, then three and nothing told to have come: a slip, or a delivery. What is there is
    less sure than after a count that goes with the others, and so it is counted or ordered the sooner."""
    told = [bags(MONDAY - timedelta(n), a) for n, a in ((23, "4"), (16, "3"), (9, "2"), (2, "1"))]
    m = at(MONDAY, 13, **shut())

    def unsure(*counts: e.OnHand) -> float:
        farm = barn(milk_plan(feeds=[]), *told, *counts)
        use = use_of(farm, farm.plan.item[0], m, Herd(farm, MONDAY, 30))
        assert use is not None
        return float(use.spread.ss) ** 0.5

    assert unsure(bags(MONDAY, "3")) > 2 * unsure(bags(MONDAY, "1"))


def test_a_bag_miscounted_while_one_lamb_drank_is_no_flood() -> None:
    """A bag less than counted while the first lamb alone was there, ten more since: not ten bags a day for them all."""
    first = e.Arrived(on=MONDAY - timedelta(4), tags=("B0",), group="nursery", born=MONDAY - timedelta(4))
    more = e.Arrived(on=MONDAY, tags=tuple(f"B{n}" for n in range(1, 12)), group="nursery", born=MONDAY - timedelta(2))
    farm = barn(milk_plan(), bags(MONDAY - timedelta(5), "3"), first, bags(MONDAY - timedelta(1), "2"), more)
    assert float(the(farm, at(MONDAY, 18, **shut())).per_day) < 0.4  # 12 lambs of 0.4 kg: 0.24 bag


def test_a_count_that_the_next_one_contradicts_was_a_slip() -> None:
    """Five bags, then 2.5, then 4.5 and nothing come: the middle one was miscounted, and the pace is what the others
    show, about an eighth of a bag a day."""
    counts = ((15, "6"), (11, "5.5"), (7, "5"), (4, "2.5"), (2, "4.5"))
    told = [bags(MONDAY - timedelta(n), amount) for n, amount in counts]
    found = the(barn(milk_plan(feeds=[]), *told), at(MONDAY, 13, **shut()))
    assert 0.09 < float(found.per_day) < 0.17
    assert found.on_hand == pytest.approx(Decimal("4.2"), abs=Decimal("0.3"))


def test_a_count_is_asked_for_before_it_is_too_late_to_order() -> None:
    """Counts that show now a quarter of a bag a day, now three quarters: nine days after, there may be far less than
    thought, and only a count can show it. Before the last moment to order that is asked, alone: what is there decides.
    Uncounted, it is ordered on the last day that is careful still."""
    told = [bags(MONDAY - timedelta(n), amount) for n, amount in ((12, "14"), (8, "13"), (4, "10"))]
    farm = barn(milk_plan(), *lambs(20), *told)
    known, asked, ordered = (the(farm, at(MONDAY + timedelta(n), **shut())) for n in (2, 5, 11))
    assert (known.level, known.ask_count) == ("know", None)
    assert (asked.level, asked.ask_count, asked.order_amount) == ("soon", True, None)
    assert ordered.level == "act"
    assert ordered.order_amount is not None
    assert ordered.order_by is not None
    assert ordered.order_by.date() == MONDAY + timedelta(11)


def test_a_count_shows_that_nothing_is_to_be_ordered_yet() -> None:
    """Before the order an old count is asked for; the bag and a half more than thought puts the order off."""
    told = [*lambs(20), bags(MONDAY - timedelta(6), "9"), bags(MONDAY - timedelta(2), "7.5")]
    days = (the(barn(milk_plan(), *told), at(MONDAY + timedelta(n), **shut())) for n in range(14))
    asked = next(x for x in days if x.level != "know")
    assert (asked.ask_count, asked.order_amount) == (True, None)
    assert asked.order_by is not None
    day = asked.order_by.date() - timedelta(1)
    counted = bags(day, str(asked.on_hand + Decimal("1.5")))
    assert the(barn(milk_plan(), *told, counted), at(day, 18, **shut())).level == "know"


def test_two_counts_alike_do_not_show_that_nothing_goes() -> None:
    """Two and a half bags of salt twice in three days, no ration known: less than a quarter of a bag may have gone
    between, and so it is not taken to last for ever."""
    plan = milk_plan(feeds=[])
    found = the(barn(plan, bags(MONDAY - timedelta(3), "2.5"), bags(MONDAY, "2.5")), at(MONDAY, 13, **shut()))
    assert 0 < float(found.per_day) < 0.25 / 3 * 2


def test_use_that_grows_is_followed() -> None:
    """Ewes that eat a tenth more each count, the ration never told: what is expected goes on from the last, not from
    the mean."""
    plan = milk_plan(feeds=[])
    left, told = 60.0, []
    for n in range(9):
        told.append(bags(MONDAY - timedelta(4 * (8 - n)), f"{left:.1f}"))
        left -= 4 * 1.1**n
    found = the(barn(plan, *told), at(MONDAY, 13, **shut()))
    assert 1.6 < float(found.per_day) < 2.3  # 1.1^7 = 1.95 in the last stretch, 1.1^8 = 2.14 in the next; mean 1.43


def test_a_supplier_late_twice_is_expected_late() -> None:
    """Two of three deliveries came a day after they were due: the order goes in an open day earlier.
    Once is no habit."""

    def came(late: int) -> Farm:
        told: list[e.Entry] = [*lambs(20)]
        for n in range(3):
            due = MONDAY - timedelta(13 - n)
            day = due + timedelta(1 if n < late else 0)
            told += [
                e.Ordered(on=due - timedelta(1), item="milk", amount=Decimal(1), unit="bag", due=due),
                e.Received(on=day, item="milk", amount=Decimal(1), unit="bag"),
            ]
        return barn(milk_plan(), *told, bags(MONDAY - timedelta(7), "9"), bags(MONDAY, "6"))

    m = at(MONDAY, 13, **shut())
    once, twice = the(came(1), m).order_by, the(came(2), m).order_by
    assert once is not None
    assert twice is not None
    assert (once.date(), twice.date()) == (MONDAY + timedelta(4), MONDAY + timedelta(3))


def test_an_order_not_heard_of_is_late_at_closing_time() -> None:
    """Due Tuesday: not late at noon, late when the co-op has shut; gone once it came."""
    order = e.Ordered(on=MONDAY, item="milk", amount=Decimal(4), unit="bag", due=MONDAY + timedelta(1))
    farm = barn(milk_plan(), order)
    assert stores.order_late(farm, at(MONDAY + timedelta(1), 12, **shut())) == []
    late = stores.order_late(farm, at(MONDAY + timedelta(1), 17, **shut()))
    assert [(x.item, x.was_due) for x in late] == [("milk", MONDAY + timedelta(1))]
    came = e.Received(on=MONDAY + timedelta(1), item="milk", amount=Decimal(4), unit="bag")
    assert stores.order_late(barn(milk_plan(), order, came), at(MONDAY + timedelta(1), 17, **shut())) == []


def test_kit_is_checked_before_the_first_due_date() -> None:
    """Ten ewes, one tag each and a spare tube: what is short is said from a month before, by group."""
    plan = {
        "group": [{"name": "A", "keeps": "ewes", "head": 10}],
        "item": [{"name": "iodine", "unit": "bottle"}, {"name": "gloves", "unit": "each"}],
        "kit": [{"for": "lambing", "needs": [
            {"item": "iodine", "amount": "2 bottle", "per": "group"},
            {"item": "gloves", "amount": "3 each", "per": "ewe"},
        ]}],
    }  # fmt: skip
    rams = e.RamsIn(on=date(2025, 12, 10), group="A", head=10)  # first due 147 days on: 6 May (Teagasc: 147 days)
    gloves = e.OnHand(on=MONDAY, item="gloves", amount=Decimal(30), unit="each")
    short = stores.kit_short(barn(plan, rams, gloves), at(MONDAY, 18))
    assert [(x.item, x.needed, x.on_hand) for x in short] == [("iodine", 2, None)]


@pytest.mark.parametrize(
    ("a_day", "sd", "days", "z", "safety"),
    [(20.0, 4.0, 10, 1.64, 20.74), (50.0, 5.0, 1, 1.88, 9.40)],
    ids=["20 a day for 10 days, 95 %", "lead-time demand 50, risk 3 %"],
)
def test_safety_stock_is_the_textbooks(a_day: float, sd: float, days: int, z: float, safety: float) -> None:
    """Safety stock for varying demand: sd over the lead time is sd x its root (homework of a (Q, r) system,
    questionai.com: 20.74; Stevenson, Operations Management 14e, Example 8: 9.40, reorder at 59.40)."""
    sure = Spread(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    use = Use(1000.0, 1000.0, 1.0, 0.0, sure, noise=sd / a_day, drift=0.0, counted=None, known=True)
    ahead = stores.outlook(use, np.full(30, a_day), [], at(MONDAY), z)
    step = days * stores.STEPS
    assert float(ahead.expected[step] - ahead.sure[step]) == pytest.approx(safety, abs=0.02)
