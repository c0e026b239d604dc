"""What a phone takes along of a machine that waits for a competent person's look."""

from datetime import timedelta

import pytest

from maintenance.contents.pack import pack
from make import MONDAY, make_machine
from plant.models import Depot, Machine

pytestmark = pytest.mark.usefixtures("rule_sheet")


def test_the_phone_knows_that_no_check_makes_this_machine_usable(depot: Depot) -> None:
    waits = make_machine(depot, look_wanted_at=MONDAY, looked_at=MONDAY - timedelta(days=1))
    looked = make_machine(depot, look_wanted_at=MONDAY, looked_at=MONDAY + timedelta(days=1))
    checks = make_machine(depot, check_wanted_at=MONDAY)
    machines = [waits, looked, checks]

    told = pack(
        Machine.objects.filter(pk__in=[each.pk for each in machines]).select_related(
            "kind", "depot"
        ),
        permits={depot.pk: "permit"}, by_label=False, at=MONDAY,
    )  # fmt: skip

    first = {each["id"]: each["first_look"] for each in told["machines"]}
    assert [first[str(each.pk)] for each in machines] == [True, False, False]
