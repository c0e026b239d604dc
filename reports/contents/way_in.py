"""The letter with the link by which somebody chooses a password."""

from datetime import datetime

from django.utils.translation import gettext as _

from maintenance.rules.words import day_text
from plant.models import Message, WayIn
from plant.models.message import link_thing
from reports.contents.letter import Letter, address


def way_in(message: Message, *, at: datetime) -> Letter | None:
    """None where the link counts no more, or the address is no longer the one it was meant for."""
    person = message.person
    key = message.thing.split()[0]
    link = WayIn.objects.standing(at).filter(user=person, pk=key).select_related("made_by").first()
    if link is None or not person.email:
        return None
    link.user = person
    if message.thing != link_thing(link):
        return None
    until = link.until.astimezone(message.depot.zone)
    by = link.made_by.name if link.made_by else _("Who runs Site plant")
    return Letter(
        subject=_("Choose your password for Site plant"),
        opening=(
            _(
                "{by} made this link, by which you choose a password that nobody "
                "else knows. Your sign-in name is {sign_in}. The link counts once, "
                "until {until}, {until_2}."
            ).format(by=by, sign_in=person.sign_in, until=day_text(until), until_2=f"{until:%H:%M}")
        ),
        act=(_("Choose a password"), address("plant:way_in", link.code)),
        closing=(
            _(
                "If you expect no such link, do nothing and "
                "tell who runs Site plant where you work. "
                "Nobody will ever ask you for your password."
            ),
        ),
    )
