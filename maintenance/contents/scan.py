"""Which machine is meant by the four characters on its label, or by its number."""

from django.db.models import Q

from plant.models import Machine, User
from plant.models.machine import SHORT_CODE_LETTERS
from plant.text import TextRefused, number_key


def meant_by(typed: str, user: User) -> list[Machine]:
    """The machines of the person's depots that the words can mean: none, one, or two where the
    code of one is the number of another."""
    words = typed.strip()
    if words[:5].upper() == "CODE ":
        words = words[5:]
    try:
        key = number_key(words)
    except TextRefused:
        return []
    meant = Q(number_key=key)
    if len(key) == 4 and set(key) <= set(SHORT_CODE_LETTERS):
        meant |= Q(short_code=key)
    seen = Machine.objects.visible_to(user).select_related("kind", "depot")
    return list(seen.filter(meant).order_by("number_key"))
