"""Checks wanted: the sentence at the scan, and the list of those overdue in use."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from maintenance.actions.stay import Going, tell_stay
from maintenance.actions.stop import stop_machine
from maintenance.contents.check_due import overdue_in_use, wanted_of, wanted_of_many
from maintenance.models import RuleSheet, Stay
from make import make_machine
from plant.models import Depot, Machine, Supply, User

NOW = datetime(2026, 11, 25, 9, tzinfo=UTC)
pytestmark = pytest.mark.usefixtures("rule_sheet")


def ago(**time: float) -> datetime:
    return NOW - timedelta(**time)


def out(depot: Depot, by: User, *, since: datetime, **more: object) -> Machine:
    machine = make_machine(depot, place="out", site="Plot 4", **more)
    going = Going(site="Plot 4", site_phone="1", due_back_on=NOW.date() + timedelta(days=3))
    tell_stay(machine=machine, at=since, by=by, going=going)
    machine.refresh_from_db()
    return machine


def test_the_words_at_the_scan(depot: Depot, desk: User) -> None:
    said = {
        str(wanted_of(out(depot, desk, since=ago(days=20), supply="e230", **given), at=NOW))
        for given in (
            {"passed_at": ago(hours=1, minutes=48)},
            {"passed_at": ago(days=1)},
            {"passed_at": ago(days=3)},
        )
    }

    assert said == {
        "Checked today 07:12.",
        "Check wanted today, before use.",
        "Check is overdue since 23 Nov 2026.",
    }
    yard = make_machine(depot)
    assert str(wanted_of(yard, at=NOW)) == "Check it before use."


def test_the_day_is_that_of_the_depot(other_depot: Depot) -> None:
    other_depot.time_zone = "Pacific/Auckland"
    other_depot.save()
    # 11:30 in Greenwich on 24 Nov is half past midnight on 25 Nov there.
    machine = make_machine(
        other_depot,
        place="out",
        supply="e230",
        passed_at=datetime(2026, 11, 24, 11, 30, tzinfo=UTC),
    )

    assert str(wanted_of(machine, at=datetime(2026, 11, 24, 20, 0, tzinfo=UTC))).startswith(
        "Checked today 00:30"
    )


def test_a_stopped_machine_is_not_among_those_to_be_checked(
    depot: Depot, desk: User, operator: User
) -> None:
    late = out(depot, desk, since=ago(days=9), supply="e230", passed_at=ago(days=5))
    assert list(overdue_in_use(Machine.objects.all(), [depot], at=NOW)) == [late]

    stop_machine(machine=late, told="smokes", at=NOW, by=operator)

    assert not overdue_in_use(Machine.objects.all(), [depot], at=NOW).exists()


hours = st.one_of(st.none(), st.integers(0, 24 * 12))


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    cases=st.lists(
        st.tuples(st.sampled_from(Supply.values), hours, hours, st.booleans()),
        min_size=1,
        max_size=6,
    )
)
def test_the_list_and_the_sentence_agree(
    depot: Depot, desk: User, cases: list[tuple[str, int | None, int | None, bool]]
) -> None:
    Stay.objects.all().delete()
    Machine.objects.filter(place="out").update(place="yard")
    made = []
    for supply, passed, since, is_out in cases:
        given_ = {"supply": supply, "passed_at": None if passed is None else ago(hours=passed)}
        if is_out and since is not None:
            made.append(out(depot, desk, since=ago(hours=since), **given_))
        else:
            made.append(make_machine(depot, place="out" if is_out else "yard", **given_))

    wanted = wanted_of_many(made, at=NOW)

    listed = set(overdue_in_use(Machine.objects.all(), [depot], at=NOW))
    assert listed == {machine for machine in made if wanted[machine.pk].overdue}


def test_the_sheet_in_force_is_the_newest_that_has_begun(rule_sheet: RuleSheet) -> None:
    first = rule_sheet.dated
    for days in (10, 20):
        RuleSheet.objects.create(
            name=rule_sheet.name, dated=first + timedelta(days=days), content=rule_sheet.content
        )

    on = {days: RuleSheet.objects.on(first + timedelta(days=days)) for days in (-5, 0, 10, 19, 99)}

    assert {days: (sheet.dated - first).days for days, sheet in on.items()} == {
        -5: 0, 0: 0, 10: 10, 19: 10, 99: 20,
    }  # fmt: skip
