"""Stock: every movement a sealed row, the stock their sum, a double press taken once."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from maintenance.actions import rack
from maintenance.actions.cost import set_money
from maintenance.actions.job import call_off_job, open_job
from maintenance.contents.belt_change import choices_for
from maintenance.contents.cost import job_cost
from maintenance.contents.find_belt import by_mark
from maintenance.contents.job_parts import likely_parts
from maintenance.contents.rack import Lies, lead_days, nearest, part_of, serves, stock_of
from maintenance.contents.record import summary
from maintenance.models import Cost, Job, Part, StockMove, StockPlace
from make import MONDAY, make_drive, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.drives.sections import System
from plant.models import Depot, Firm, Machine, Record, Role, User
from plant.rights import NotAllowed

ON = MONDAY.date()


@pytest.fixture
def part(depot: Depot, fitter: User) -> Part:
    return belt(depot, fitter)


@pytest.fixture
def places(depot: Depot, manager: User) -> tuple[StockPlace, StockPlace]:
    kinds = (("Main rack", StockPlace.Kind.RACK), ("Van 2", StockPlace.Kind.VAN))
    one, two = (rack.add_place(depot=depot, name=n, kind=k, by=manager) for n, k in kinds)
    return one, two


@pytest.fixture
def job(machine: Machine, fitter: User) -> Job:
    return open_job(machine=machine, kind=Job.Kind.BELT, title="Belt", at=MONDAY, by=fitter)


def belt(depot: Depot, by: User, name: str = "13A690", **more: Any) -> Part:
    given: dict[str, Any] = {"is_belt": True, "at": MONDAY, "choice": "", "section": "A"}
    if not name.startswith("A"):
        given["length_m"] = 0.690
    return rack.save_part(depot=depot, name=name, by=by, **given | more)


def total(part: Part) -> int:
    return stock_of([part], on=ON)[part.pk].total


def received(part: Part, place: StockPlace, quantity: int, by: User, **more: Any) -> Record:
    given = {"on": ON, "at": MONDAY} | more
    return rack.receive(part=part, place=place, quantity=quantity, by=by, **given)


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["receive", "move", "count", "take", "back"]),
        st.integers(0, 1), st.integers(1, 9),
    ),
    max_size=12,
)  # fmt: skip


@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(steps=STEPS)
def test_stock_is_what_a_tally_on_paper_says_whatever_came_and_went(
    part: Part, places: tuple[StockPlace, StockPlace], job: Job, fitter: User, steps: list[Any]
) -> None:
    StockMove.objects.filter(part=part).delete()
    tally, at, used = [0, 0], MONDAY, None
    for step, which, n in steps:
        at += timedelta(minutes=1)
        here, there = places[which], places[1 - which]
        common: dict[str, Any] = {"at": at, "by": fitter}
        if step == "receive":
            rack.receive(part=part, place=here, quantity=n, on=ON, **common)
            tally[which] += n
        elif step == "move":
            rack.move_stock(part=part, source=here, target=there, quantity=n, **common)
            tally[which] -= n
            tally[1 - which] += n
        elif step == "count":
            rack.count_place(place=here, counts={part.pk: n}, **common)
            tally[which] = n
        elif step == "take":
            used = (rack.take(part=part, place=here, job=job, quantity=n, **common), which)
            tally[which] -= n
        elif used is not None and used[0].kept:
            taken = rack.put_back(used=used[0], quantity=1, **common)
            used = (taken, used[1])
            tally[used[1]] += 1
    stock = stock_of([part], on=ON)[part.pk]
    counts = {each.place.pk: each.count for each in stock.places}
    assert [counts.get(place.pk, 0) for place in places] == tally


def test_a_double_press_takes_one_and_two_people_take_two(
    part: Part, places: tuple[StockPlace, StockPlace], job: Job, fitter: User, foreman: User
) -> None:
    received(part, places[0], 2, fitter)
    entry = new_id()
    for _ in range(2):
        rack.take(
            part=part, place=places[0], job=job, quantity=1, at=MONDAY, by=fitter, record_id=entry
        )
    assert (total(part), job.parts.count()) == (1, 1)
    rack.take(part=part, place=places[0], job=job, quantity=1, at=MONDAY, by=foreman)
    assert (total(part), job.parts.count()) == (0, 2)
    with pytest.raises(Refused, match="Another entry"):
        rack.take(
            part=part, place=places[0], job=job, quantity=2, at=MONDAY, by=fitter, record_id=entry
        )


def test_stock_goes_below_nothing_rather_than_hide_what_was_taken(
    part: Part, places: tuple[StockPlace, StockPlace], job: Job, fitter: User
) -> None:
    rack.take(part=part, place=places[1], job=job, quantity=2, at=MONDAY, by=fitter)
    stock = stock_of([part], on=ON)[part.pk]
    assert [each.count for each in stock.places] == [-2]
    assert stock.is_low


def test_what_is_put_back_costs_the_job_nothing(
    part: Part, places: tuple[StockPlace, StockPlace], job: Job, fitter: User, manager: User
) -> None:
    set_money(
        depot=part.depot, currency="GBP", foremen_see=False, rate=None, from_on=None, at=MONDAY,
        by=manager,
    )  # fmt: skip
    with pytest.raises(NotAllowed):
        rack.set_price(part=part, price=Decimal("8.40"), by=fitter)
    rack.set_price(part=part, price=Decimal("8.40"), by=manager)
    used = rack.take(part=part, place=places[0], job=job, quantity=3, at=MONDAY, by=fitter)
    assert Cost.objects.get(part=used).amount == Decimal("8.40")
    assert job_cost(job).total == {"GBP": Decimal("25.20")}

    entry = new_id()
    for _ in range(2):
        rack.put_back(used=used, quantity=2, at=MONDAY, by=fitter, record_id=entry)
    assert job_cost(job).total == {"GBP": Decimal("8.40")}
    with pytest.raises(Refused, match="Only 1 of it"):
        rack.put_back(used=used, quantity=2, at=MONDAY, by=fitter)


def test_nothing_is_taken_to_a_job_that_is_closed(
    part: Part, places: tuple[StockPlace, StockPlace], job: Job, fitter: User, foreman: User
) -> None:
    call_off_job(job=job, reason="Not needed", at=MONDAY, by=foreman)
    with pytest.raises(Refused, match="closed"):
        rack.take(part=part, place=places[0], job=job, quantity=1, at=MONDAY, by=fitter)


def test_each_movement_is_a_sealed_record_that_reads_well(
    part: Part, places: tuple[StockPlace, StockPlace], job: Job, fitter: User
) -> None:
    received(part, places[0], 3, fitter)
    rack.move_stock(part=part, source=places[0], target=places[1], quantity=1, at=MONDAY, by=fitter)
    used = rack.take(part=part, place=places[1], job=job, quantity=1, at=MONDAY, by=fitter)
    rack.put_back(used=used, quantity=1, at=MONDAY, by=fitter)
    rack.count_place(place=places[0], counts={part.pk: 5}, at=MONDAY, by=fitter)

    told = [summary(each) for each in Record.objects.filter(kind="stock").order_by("seq")]
    assert told == [
        "Received: 3 x 13A690 to Main rack",
        "Moved: 1 x 13A690 from Main rack to Van 2",
        f"Taken to a job: 1 x 13A690 from Van 2 for {job.number}",
        f"Put back: 1 x 13A690 to Van 2 for {job.number}",
        "Counted: 5 x 13A690, in Main rack",
    ]


def test_any_number_of_a_part_finds_it_and_a_foreman_answers_for_each(
    part: Part, fitter: User, foreman: User
) -> None:
    with pytest.raises(NotAllowed):
        rack.add_number(part=part, number="4471-B", at=MONDAY, by=fitter)
    told = rack.add_number(
        part=part, number="4471-B", note="Superseded, same size", at=MONDAY, by=foreman
    )
    assert told.approved_by == foreman
    assert list(Part.objects.matching("4471 b")) == [part]
    assert list(Part.objects.matching("13 a 690")) == [part]
    with pytest.raises(Refused, match="already"):
        rack.add_number(part=part, number="4471b", at=MONDAY, by=foreman)


def test_the_lead_time_of_a_belt_is_that_of_the_part_that_is_this_belt(
    depot: Depot, other_depot: Depot, fitter: User
) -> None:
    belt(depot, fitter, lead_days=9)
    assert lead_days(depot, "A", 0.6901) == 9
    assert lead_days(depot, "A", 0.700) is None
    assert lead_days(depot, "B", 0.690) is None
    assert lead_days(other_depot, "A", 0.690) is None


def test_a_belt_without_section_and_length_is_not_kept(depot: Depot, fitter: User) -> None:
    with pytest.raises(Refused):
        rack.save_part(depot=depot, name="Green one", is_belt=True, at=MONDAY, by=fitter)
    kept = rack.save_part(depot=depot, name="Grease", is_belt=False, at=MONDAY, by=fitter)
    assert not kept.is_belt
    with pytest.raises(Refused, match="part of that name"):
        rack.save_part(depot=depot, name="grease", is_belt=False, at=MONDAY, by=fitter)


def test_other_depots_see_counts_only_where_the_firm_shows_them_and_never_names(
    part: Part, places: tuple[StockPlace, StockPlace], other_depot: Depot, fitter: User
) -> None:
    received(part, places[0], 3, fitter)
    received(part, places[1], 4, fitter)
    stranger = make_user("Sam South", (other_depot, Role.FITTER))
    asked = [("A", 0.690)]
    assert nearest(stranger, asked) == {("A", 0.690): []}
    Firm.objects.create(pk=1, depots_seen=True)

    (lies,) = nearest(stranger, asked)["A", 0.690]
    assert lies == Lies(depot=part.depot.name, count=7)
    assert not lies.own
    assert {(mine.place, mine.count, mine.own) for mine in nearest(fitter, asked)["A", 0.690]} == {
        ("Main rack", 3, True), ("Van 2", 4, True),
    }  # fmt: skip


def test_a_belt_serves_the_drives_of_its_section_and_length(
    part: Part, depot: Depot, other_depot: Depot, fitter: User
) -> None:
    fits = make_drive(make_machine(depot, "MX-1"))
    cogged = make_drive(make_machine(depot, "MX-2"), section="AX")
    make_drive(make_machine(depot, "MX-3"), belt_datum_m=0.730)
    make_drive(make_machine(depot, "MX-4"), section="B")
    make_drive(make_machine(other_depot, "MX-5"))
    assert serves(fitter, [("A", 0.690)]) == {("A", 0.690): [fits, cogged]}
    assert part_of(depot, "A", 0.691) == part


def test_a_part_is_withdrawn_once_none_lies_anywhere_and_comes_back_as_it_was(
    part: Part, places: tuple[StockPlace, StockPlace], job: Job, fitter: User, foreman: User
) -> None:
    received(part, places[0], 1, fitter)
    told: dict[str, Any] = {"part": part, "at": MONDAY, "by": foreman}
    with pytest.raises(NotAllowed):
        rack.withdraw_part(part=part, withdrawn=True, at=MONDAY, by=fitter)
    with pytest.raises(Refused, match=r"\(Main rack: 1\)"):
        rack.withdraw_part(withdrawn=True, **told)
    used = rack.take(part=part, place=places[0], job=job, quantity=1, at=MONDAY, by=fitter)
    for _ in range(2):
        kept = rack.withdraw_part(withdrawn=True, **told)
    assert (kept.withdrawn_at, kept.withdrawn_by) == (MONDAY, foreman)
    with pytest.raises(Refused, match="13A690 is withdrawn"):
        received(part, places[0], 1, fitter)
    with pytest.raises(Refused, match="13A690 is withdrawn"):
        rack.count_place(place=places[0], counts={part.pk: 1}, at=MONDAY, by=fitter)
    with pytest.raises(Refused, match="13A690 is withdrawn"):
        rack.order_part(part=part, quantity=1, at=MONDAY, by=fitter, entry=new_id())
    assert part_of(part.depot, "A", 0.690) is None
    # What went in a machine and comes out again is there, whatever the list says.
    rack.put_back(used=used, quantity=1, at=MONDAY, by=fitter)
    assert total(part) == 1

    rack.withdraw_part(withdrawn=False, **told)

    assert part_of(part.depot, "A", 0.690) == part
    received(part, places[0], 1, fitter)
    assert total(part) == 2


def test_a_place_is_withdrawn_once_it_is_empty(
    part: Part, places: tuple[StockPlace, StockPlace], fitter: User, foreman: User
) -> None:
    one, two = places
    received(part, two, 2, fitter)
    with pytest.raises(Refused, match="13A690: 2"):
        rack.withdraw_place(place=two, withdrawn=True, at=MONDAY, by=foreman)
    rack.move_stock(part=part, source=two, target=one, quantity=2, at=MONDAY, by=fitter)

    rack.withdraw_place(place=two, withdrawn=True, at=MONDAY, by=foreman)

    for act in (
        lambda: received(part, two, 1, fitter),
        lambda: rack.move_stock(
            part=part, source=one, target=two, quantity=1, at=MONDAY, by=fitter
        ),
        lambda: rack.count_place(place=two, counts={part.pk: 1}, at=MONDAY, by=fitter),
    ):
        with pytest.raises(Refused, match="Van 2 is withdrawn"):
            act()
    assert [each.place for each in stock_of([part], on=ON)[part.pk].places] == [one]
    rack.withdraw_place(place=two, withdrawn=False, at=MONDAY, by=foreman)
    received(part, two, 1, fitter)


def test_a_withdrawn_place_is_not_offered_though_something_lies_there(
    depot: Depot, places: tuple[StockPlace, StockPlace], fitter: User
) -> None:
    one, two = places
    part = rack.save_part(depot=depot, name="4L260", is_belt=True, at=MONDAY, by=fitter)
    received(part, one, 1, fitter)
    received(part, two, 2, fitter)
    drive = make_drive(
        make_machine(depot, "SAW-1"), section=part.section, belt_datum_m=part.length_m,
        slot_in_m=None,
    )  # fmt: skip
    job = open_job(machine=drive.machine, kind=Job.Kind.BELT, title="B", at=MONDAY, by=fitter)

    def offered() -> tuple[set[str], set[int]]:
        (likely,) = likely_parts(job, on=ON)
        stock = choices_for(drive, on=ON).stock
        return {key for key, _ in stock}, {each.place.pk for each in likely.places}

    both = {one.pk, two.pk}
    assert offered() == ({f"{part.pk}:{each}" for each in both}, both)
    # Withdrawn past the refusal, as two devices at once may do.
    StockPlace.objects.filter(pk=two.pk).update(withdrawn_at=MONDAY)
    assert offered() == ({f"{part.pk}:{one.pk}"}, {one.pk})


def test_a_van_from_which_a_belt_is_often_taken_has_a_lowest_count_of_its_own(
    part: Part, places: tuple[StockPlace, StockPlace], job: Job, fitter: User
) -> None:
    received(part, places[0], 90, fitter)
    rack.move_stock(
        part=part, source=places[0], target=places[1], quantity=10, at=MONDAY, by=fitter
    )
    for _ in range(9):
        rack.take(part=part, place=places[1], job=job, quantity=1, at=MONDAY, by=fitter)
    stock = stock_of([part], on=ON)[part.pk]
    assert not stock.is_low
    (van,) = stock.low_places
    # By hand: 9 in half a year, 0.35 in a week: more than one in 4.8 of 100 weeks; so one and one.
    assert (van.place, van.count, van.lowest and van.lowest.count) == (places[1], 1, 2)


@pytest.mark.parametrize(
    ("mark", "section", "outside"),
    # The mark of light duty belts: tenths of an inch of outside length after the section (ANSI/RMA
    # IP-23, from memory).
    [
        ("2L150", "2L", 0.381),
        ("3L220", "3L", 0.5588),
        ("4L260", "4L", 0.6604),
        ("5L480", "5L", 1.2192),
    ],
)
def test_a_light_duty_belt_is_kept_and_found_by_its_mark(
    depot: Depot, places: tuple[StockPlace, StockPlace], fitter: User, mark: str, section: str,
    outside: float,
) -> None:  # fmt: skip
    kept = rack.save_part(depot=depot, name=mark, is_belt=True, at=MONDAY, by=fitter)
    assert (kept.section, kept.length_m) == (section, pytest.approx(outside))
    received(kept, places[1], 2, fitter)
    drive = make_drive(
        make_machine(depot, "SAW-1"), section=section, belt_mark=mark, belt_datum_m=None
    )

    (way,) = by_mark(mark, user=fitter, system=System.ISO_DIN, pulley="", small=None, belts=1).ways

    assert [(each.place, each.count) for each in way.kept.lies] == [("Van 2", 2)]
    assert way.kept.drives == (drive,)
    job = open_job(machine=drive.machine, kind=Job.Kind.BELT, title="B", at=MONDAY, by=fitter)
    assert [each.part for each in likely_parts(job, on=ON)] == [kept]


def test_what_comes_ends_what_was_ordered(
    part: Part, places: tuple[StockPlace, StockPlace], fitter: User
) -> None:
    entry = new_id()
    for _ in range(2):
        order = rack.order_part(part=part, quantity=3, at=MONDAY, by=fitter, entry=entry)
    assert order.expected_on == ON + timedelta(days=14)
    assert stock_of([part], on=ON)[part.pk].ordered == 3
    came = MONDAY + timedelta(days=9)
    received(part, places[0], 2, fitter, at=came, on=date(2026, 3, 11))
    assert stock_of([part], on=ON)[part.pk].ordered == 1, "a part delivery leaves the rest to come"
    assert rack.order_part(part=part, quantity=3, at=MONDAY, by=fitter, entry=entry) == order
    received(part, places[0], 1, fitter, at=came, on=date(2026, 3, 11))
    assert stock_of([part], on=ON)[part.pk].ordered == 0
