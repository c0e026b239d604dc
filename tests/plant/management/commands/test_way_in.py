"""The way back in for the last administrator, from the computer itself."""

import io

import pytest
from django.core.management import CommandError, call_command
from django.utils.timezone import now

from make import make_user
from plant.models import Depot, OneTime, Role, WayIn


def test_a_link_is_printed_and_the_codes_go_where_asked(depot: Depot) -> None:
    ada = make_user("Ada Admin", (depot, Role.ADMINISTRATOR))
    OneTime.objects.create(user=ada, secret="x", begun_at=now(), confirmed_at=now())
    out = io.StringIO()
    call_command("way_in", "ADA.admin", stdout=out)
    assert WayIn.objects.get().code in out.getvalue()
    assert OneTime.objects.exists()
    call_command("way_in", "ada.admin", "--take-codes", stdout=out)
    assert WayIn.objects.count() == 1
    assert not OneTime.objects.exists()
    with pytest.raises(CommandError, match="Nobody has this sign-in name"):
        call_command("way_in", "nobody")
