"""What is said of a print, a whole text for each thing that is printed."""

from collections.abc import Callable

from django.utils.translation import gettext, ngettext

from reports.models import Batch


def take_this(batch: Batch) -> str:
    """The words of the link to one of its sheets."""
    return {
        "sheet": gettext("Take this sheet"),
        "passport": gettext("Take this passport"),
        "label": gettext("Take this label"),
        "record": gettext("Take this record"),
        "tag": gettext("Take this tag"),
        "list": gettext("Take this list"),
        "board": gettext("Take this board"),
        "page": gettext("Take this page"),
        "bundle": gettext("Take this bundle"),
    }[batch.thing]


def in_one_file_again(batch: Batch) -> str:
    return {
        "sheet": gettext("The sheets are put into one file again."),
        "passport": gettext("The passports are put into one file again."),
        "label": gettext("The labels are put into one file again."),
        "record": gettext("The records are put into one file again."),
        "tag": gettext("The tags are put into one file again."),
        "list": gettext("The lists are put into one file again."),
        "board": gettext("The boards are put into one file again."),
        "page": gettext("The pages are put into one file again."),
        "bundle": gettext("The bundles are put into one file again."),
    }[batch.thing]


def printed_again(batch: Batch, count: int) -> str:
    return _counted(_PRINTED_AGAIN, batch, count)


def stopped(batch: Batch, count: int) -> str:
    return _counted(_STOPPED, batch, count)


def not_printed(batch: Batch, *, missing: int, of: int) -> str:
    """What is said where some are missing in the file of all."""
    return _NOT_PRINTED[batch.thing](of).format(missing=missing, all=of)


def _counted(said: dict[str, Callable[[int], str]], batch: Batch, count: int) -> str:
    return said[batch.thing](count).format(count=count)


_PRINTED_AGAIN: dict[str, Callable[[int], str]] = {
    "sheet": lambda count: ngettext(
        "{count} sheet is printed again.", "{count} sheets are printed again.", count
    ),
    "passport": lambda count: ngettext(
        "{count} passport is printed again.", "{count} passports are printed again.", count
    ),
    "label": lambda count: ngettext(
        "{count} label is printed again.", "{count} labels are printed again.", count
    ),
    "record": lambda count: ngettext(
        "{count} record is printed again.", "{count} records are printed again.", count
    ),
    "tag": lambda count: ngettext(
        "{count} tag is printed again.", "{count} tags are printed again.", count
    ),
    "list": lambda count: ngettext(
        "{count} list is printed again.", "{count} lists are printed again.", count
    ),
    "board": lambda count: ngettext(
        "{count} board is printed again.", "{count} boards are printed again.", count
    ),
    "page": lambda count: ngettext(
        "{count} page is printed again.", "{count} pages are printed again.", count
    ),
    "bundle": lambda count: ngettext(
        "{count} bundle is printed again.", "{count} bundles are printed again.", count
    ),
}

_STOPPED: dict[str, Callable[[int], str]] = {
    "sheet": lambda count: ngettext(
        "Stopped: {count} sheet was not printed.",
        "Stopped: {count} sheets were not printed.",
        count,
    ),
    "passport": lambda count: ngettext(
        "Stopped: {count} passport was not printed.",
        "Stopped: {count} passports were not printed.",
        count,
    ),
    "label": lambda count: ngettext(
        "Stopped: {count} label was not printed.",
        "Stopped: {count} labels were not printed.",
        count,
    ),
    "record": lambda count: ngettext(
        "Stopped: {count} record was not printed.",
        "Stopped: {count} records were not printed.",
        count,
    ),
    "tag": lambda count: ngettext(
        "Stopped: {count} tag was not printed.", "Stopped: {count} tags were not printed.", count
    ),
    "list": lambda count: ngettext(
        "Stopped: {count} list was not printed.", "Stopped: {count} lists were not printed.", count
    ),
    "board": lambda count: ngettext(
        "Stopped: {count} board was not printed.",
        "Stopped: {count} boards were not printed.",
        count,
    ),
    "page": lambda count: ngettext(
        "Stopped: {count} page was not printed.", "Stopped: {count} pages were not printed.", count
    ),
    "bundle": lambda count: ngettext(
        "Stopped: {count} bundle was not printed.",
        "Stopped: {count} bundles were not printed.",
        count,
    ),
}

_NOT_PRINTED: dict[str, Callable[[int], str]] = {
    "sheet": lambda of: ngettext(
        "{missing} of {all} sheet not printed.", "{missing} of {all} sheets not printed.", of
    ),
    "passport": lambda of: ngettext(
        "{missing} of {all} passport not printed.", "{missing} of {all} passports not printed.", of
    ),
    "label": lambda of: ngettext(
        "{missing} of {all} label not printed.", "{missing} of {all} labels not printed.", of
    ),
    "record": lambda of: ngettext(
        "{missing} of {all} record not printed.", "{missing} of {all} records not printed.", of
    ),
    "tag": lambda of: ngettext(
        "{missing} of {all} tag not printed.", "{missing} of {all} tags not printed.", of
    ),
    "list": lambda of: ngettext(
        "{missing} of {all} list not printed.", "{missing} of {all} lists not printed.", of
    ),
    "board": lambda of: ngettext(
        "{missing} of {all} board not printed.", "{missing} of {all} boards not printed.", of
    ),
    "page": lambda of: ngettext(
        "{missing} of {all} page not printed.", "{missing} of {all} pages not printed.", of
    ),
    "bundle": lambda of: ngettext(
        "{missing} of {all} bundle not printed.", "{missing} of {all} bundles not printed.", of
    ),
}
