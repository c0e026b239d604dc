"""Fills the empty depot of a test that starts real processes, and prints who and what is in it."""

import io
import json
import sys

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.utils.timezone import now  # noqa: E402

from maintenance.actions.check import questions  # noqa: E402
from maintenance.actions.permit import permit_for_person  # noqa: E402
from maintenance.actions.reference import load_reference  # noqa: E402
from make import make_depot, make_kind, make_machine, make_user  # noqa: E402
from plant.actions.machine_import import ask_import  # noqa: E402
from plant.models import Role  # noqa: E402

PASSWORD = "a long enough one for each"


def main(phones: int, desks: int, machines: int) -> None:
    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)
    load_reference()
    depot, kind = make_depot(), make_kind(belt_driven=True)
    made = [make_machine(depot, f"MX-{n:04d}", kind=kind) for n in range(1, machines + 1)]
    people = [make_user(f"Olwen {n}", (depot, Role.OPERATOR)) for n in range(phones)]
    at_desks = [make_user(f"Dara {n}", (depot, Role.DESK), password=PASSWORD) for n in range(desks)]
    _, asked = questions(made[0], at=now())
    # Reading so many rows takes a worker long enough to be killed at it.
    rows = "\n".join(f"AB-{n:05d},mixer_electric,110 V" for n in range(9000))
    brought = ask_import(
        file=io.BytesIO(f"Number,Kind,Supply\n{rows}\n".encode()), file_name="many.csv",
        depot=depot, by=make_user("Mara Manager", (depot, Role.MANAGER)), at=now(),
    )  # fmt: skip
    told = {
        "import": brought.pk,
        "machines": [machine.pk for machine in made],
        "permits": [permit_for_person(user=user, depot_id=depot.pk) for user in people],
        "desks": [user.sign_in for user in at_desks],
        "questions": [each.key for each in asked],
        "password": PASSWORD,
    }
    print(json.dumps(told))


main(*map(int, sys.argv[1:]))
