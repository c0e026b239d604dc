"""Prints a link by which somebody sets a password: for when no other administrator can make one."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse
from django.utils.timezone import now

from plant.actions.account import make_way_in
from plant.actions.refusal import Refused
from plant.models import OneTime, SpareCode, User
from plant.security_log import note


class Command(BaseCommand):
    help = "Prints a link that counts once within 24 hours; the old password goes on until then."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("sign_in", help="the sign-in name")
        parser.add_argument(
            "--take-codes",
            action="store_true",
            help="also takes the one-time codes away, where device and spare codes are lost",
        )

    def handle(self, *args: Any, sign_in: str, take_codes: bool, **options: Any) -> None:
        person = User.objects.filter(sign_in__iexact=sign_in).first()
        if person is None:
            raise CommandError("Nobody has this sign-in name. Nothing was changed.")
        try:
            link = make_way_in(person=person, at=now(), by=None)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        if take_codes:
            OneTime.objects.filter(user=person).delete()
            SpareCode.objects.filter(user=person).delete()
            note("one-time codes taken away", of=person.pk)
        path = reverse("plant:way_in", args=[link.code])
        self.stdout.write(f"{settings.SITE_ADDRESS.rstrip('/')}{path}")
