"""Money of jobs and machines: entered once, struck out not edited, and seen by few."""

import uuid
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from maintenance.actions.cost import enter_costs, set_money, strike_cost
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.meter import record_meter
from maintenance.actions.work_done import Part, finish_job
from maintenance.contents.cost import job_cost, machine_cost, money_text, sees_money
from maintenance.models import Cost, HourRate, Job, PartUsed
from make import MONDAY, make_machine
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Record, User
from plant.rights import NotAllowed

D = Decimal
ALL = [key for key, _ in ISOLATED]


@pytest.fixture
def money(depot: Depot, manager: User) -> None:
    set_money(
        depot=depot, currency="GBP", foremen_see=False, rate=D("40.00"),
        from_on=date(2026, 1, 1), at=MONDAY, by=manager,
    )  # fmt: skip


@pytest.fixture
def job(machine: Machine, fitter: User) -> Job:
    job = open_job(machine=machine, kind=Job.Kind.BELT, title="New belt", at=MONDAY, by=fitter)
    start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)
    finish_job(
        job=job, symptom="slips", cause="worn", action="new belt", minutes=45, at=MONDAY,
        by=fitter, parts=[Part(what="V-belt"), Part(what="Screw", quantity=4)],
    )  # fmt: skip
    return job


def enter(job: Job, by: User, *, entry: uuid.UUID | None = None, **more: Any) -> int:
    given = {"prices": {}, "at": MONDAY} | more
    return enter_costs(job=job, by=by, entry=entry or uuid.uuid4(), **given)


def part(what: str) -> int:
    return PartUsed.objects.get(what=what).pk


@pytest.mark.usefixtures("money")
def test_a_job_costs_its_work_its_parts_and_what_was_done_outside(job: Job, manager: User) -> None:
    assert job_cost(job).left_out == ["5 parts without a price"]

    prices = {part("V-belt"): D("11.20"), part("Screw"): D("0.15")}
    count = enter(job, manager, prices=prices, outside="Rewound", outside_amount=D("64"))

    found = job_cost(job)
    assert count == 3
    assert (found.labour, found.parts, found.outside) == (
        {"GBP": D("30.00")}, {"GBP": D("11.80")}, {"GBP": D("64.00")},
    )  # fmt: skip
    assert (money_text(found.total), found.left_out) == ("105.80 GBP", [])


@pytest.mark.usefixtures("money")
def test_the_same_submission_counts_once(job: Job, manager: User) -> None:
    entry = uuid.uuid4()
    told = {"prices": {part("V-belt"): D("11")}, "outside": "Rewound", "outside_amount": D("64")}

    assert [enter(job, manager, entry=entry, **told) for _ in range(3)] == [2, 0, 0]
    assert Cost.objects.count() == 2


@pytest.mark.usefixtures("money")
def test_a_part_has_one_price_until_it_is_struck_out(job: Job, manager: User) -> None:
    belt = part("V-belt")
    enter(job, manager, prices={belt: D("11")})
    with pytest.raises(Refused, match="has priced V-belt since"):
        enter(job, manager, prices={belt: D("12")})

    strike_cost(cost=Cost.objects.get(), at=MONDAY, by=manager)
    enter(job, manager, prices={belt: D("12")})

    assert job_cost(job).parts == {"GBP": D("12.00")}
    assert Cost.objects.count() == 2


@pytest.mark.usefixtures("money")
@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({}, "Nothing was written"),
        ({"outside": "Rewound"}, "what it cost"),
        ({"outside_amount": D("5")}, "what was repaired"),
        ({"outside": "x", "outside_amount": D("-1")}, "Enter 0 to"),
        ({"outside": "x", "outside_amount": D("1000000")}, "Enter 0 to"),
        ({"outside": "x", "outside_amount": D("1.005")}, "two figures"),
        ({"outside": "x", "outside_amount": D("NaN")}, "Enter 0 to"),
    ],
)
def test_what_makes_no_sense_is_refused(
    job: Job, manager: User, told: dict[str, Any], words: str
) -> None:
    with pytest.raises(Refused, match=words):
        enter(job, manager, **told)
    assert not Cost.objects.exists()


@pytest.mark.usefixtures("money")
def test_a_part_of_another_job_is_refused(
    job: Job, machine: Machine, fitter: User, manager: User
) -> None:
    other = open_job(machine=machine, kind=Job.Kind.BELT, title="Other", at=MONDAY, by=fitter)

    with pytest.raises(Refused, match="not of this job"):
        enter(other, manager, prices={part("V-belt"): D("1")})


def test_without_a_currency_nothing_is_entered(job: Job, manager: User) -> None:
    with pytest.raises(Refused, match="currency of this depot is not set"):
        enter(job, manager, outside="x", outside_amount=D("1"))
    assert job_cost(job).left_out == ["5 parts without a price", "45 min of work without a rate"]


@pytest.mark.usefixtures("money")
def test_a_new_rate_changes_nothing_that_was_done_before(
    depot: Depot, job: Job, manager: User
) -> None:
    for _ in range(2):
        set_money(
            depot=depot, currency="EUR", foremen_see=False, rate=D("60"),
            from_on=date(2026, 3, 3), at=MONDAY, by=manager,
        )  # fmt: skip

    assert HourRate.objects.count() == 2
    assert job_cost(job).labour == {"GBP": D("30.00")}


@pytest.mark.usefixtures("money")
def test_a_foreman_sees_money_where_the_manager_shares_it(
    depot: Depot, job: Job, fitter: User, foreman: User, manager: User
) -> None:
    assert [sees_money(who, depot) for who in (fitter, foreman, manager)] == [False, False, True]
    with pytest.raises(NotAllowed):
        enter(job, foreman, outside="x", outside_amount=D("1"))

    set_money(
        depot=depot, currency="GBP", foremen_see=True, rate=None, from_on=None, at=MONDAY,
        by=manager,
    )  # fmt: skip

    assert [sees_money(who, depot) for who in (fitter, foreman, manager)] == [False, True, True]
    assert enter(job, foreman, outside="x", outside_amount=D("1")) == 1
    with pytest.raises(NotAllowed):
        set_money(
            depot=depot, currency="GBP", foremen_see=True, rate=None, from_on=None, at=MONDAY,
            by=foreman,
        )  # fmt: skip


@pytest.mark.usefixtures("money")
def test_a_machine_by_the_running_hour(
    machine: Machine, depot: Depot, operator: User, fitter: User, manager: User
) -> None:
    def read(days: int, tenths: int) -> None:
        record_meter(
            machine=machine, dial_tenths=tenths, typed="x", at=MONDAY + timedelta(days=days),
            by=operator,
        )  # fmt: skip
        machine.refresh_from_db()

    read(0, 1000)
    job = open_job(
        machine=machine, kind=Job.Kind.BELT, title="x", at=MONDAY + timedelta(days=1), by=fitter
    )
    enter(job, manager, outside="Rewound", outside_amount=D("100"))
    assert machine_cost(machine).an_hour == {}

    read(40, 1250)

    cost = machine_cost(machine)
    assert (cost.hours_tenths, cost.an_hour) == (250, {"GBP": D("4.00")})
    assert [each.job for each in cost.jobs] == [job]
    assert machine_cost(make_machine(depot)).jobs == []


@pytest.mark.usefixtures("money")
def test_no_money_stands_in_any_sealed_record(job: Job, manager: User) -> None:
    enter(job, manager, prices={part("V-belt"): D("777.77")})

    # The point matters: salts and hashes may hold any run of figures.
    assert not Record.objects.filter(content__contains="777.77").exists()


@pytest.mark.usefixtures("money")
def test_pages_of_money_are_for_who_may_see_it(
    job: Job, machine: Machine, fitter: User, manager: User, outsider: User
) -> None:
    def get(user: User, name: str, pk: int) -> Any:
        client = Client()
        client.force_login(user)
        return client.get(reverse(f"maintenance:{name}", args=[pk]))

    enter(job, manager, prices={part("V-belt"): D("11")})
    for name, pk in (("job_costs", job.pk), ("machine_costs", machine.pk)):
        assert [get(who, name, pk).status_code for who in (fitter, outsider, manager)] == [
            403, 404, 200,
        ]  # fmt: skip
    shown = get(manager, "job_costs", job.pk).content.decode()
    assert "41.00 GBP" in shown
    assert "4 parts without a price" in shown
    assert "Costs of this job" in get(manager, "job", job.pk).content.decode()
    assert "Costs of this job" not in get(fitter, "job", job.pk).content.decode()


@pytest.mark.usefixtures("money")
@pytest.mark.parametrize("typed", ["1,50", "1e3", "-4", "£5", "1.234", "NaN", "١", "1234567"])
def test_an_amount_that_cannot_be_read_is_refused_and_kept_to_see(
    job: Job, manager: User, typed: str
) -> None:
    client = Client()
    client.force_login(manager)
    where = reverse("maintenance:job_costs", args=[job.pk])

    response = client.post(where, {f"price_{part('V-belt')}": typed, "entry": uuid.uuid4()})

    assert response.status_code == 422
    assert f'value="{typed}"' in response.content.decode()
    assert not Cost.objects.exists()
