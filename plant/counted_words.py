"""How many of what: each noun with its plural as one text, looked up in another language."""

from collections.abc import Callable

from plant.translate import gettext, gettext_noop, ngettext


def count_text(count: int, noun: str) -> str:
    """1 month, 12 months: of one of the nouns below, whose singular is its key."""
    return _COUNTED[noun](count).format(count=count)


def counted_name(measure: str) -> str:
    """What a meter counts, within a sentence: hours, starts; its key is the plural."""
    return gettext(_NAMES[measure])


_NAMES = {
    "hours": gettext_noop("hours"), "starts": gettext_noop("starts"),
    "strokes": gettext_noop("strokes"), "drops": gettext_noop("drops"),
    "lifts": gettext_noop("lifts"), "cycles": gettext_noop("cycles"),
}  # fmt: skip
_COUNTED: dict[str, Callable[[int], str]] = {
    "year": lambda count: ngettext("{count} year", "{count} years", count),
    "month": lambda count: ngettext("{count} month", "{count} months", count),
    "week": lambda count: ngettext("{count} week", "{count} weeks", count),
    "day": lambda count: ngettext("{count} day", "{count} days", count),
    "start": lambda count: ngettext("{count} start", "{count} starts", count),
    "stroke": lambda count: ngettext("{count} stroke", "{count} strokes", count),
    "drop": lambda count: ngettext("{count} drop", "{count} drops", count),
    "lift": lambda count: ngettext("{count} lift", "{count} lifts", count),
    "cycle": lambda count: ngettext("{count} cycle", "{count} cycles", count),
    "text": lambda count: ngettext("{count} text", "{count} texts", count),
    "photo": lambda count: ngettext("{count} photo", "{count} photos", count),
}
