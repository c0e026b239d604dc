"""Fills a label: the machine's link, its number, and what helps where the code cannot be read."""

from collections.abc import Iterable

from plant.models import Machine
from reports.contents.plate import link_of
from reports.models import Sheet
from reports.pdf.label import Label


def label_of(machine: Machine) -> Label:
    """What goes on the machine's label; its depot and kind must be read already."""
    return Label(
        number=machine.number,
        link=link_of(machine),
        short_code=machine.short_code,
        kind=machine.kind.name,
        phone=machine.depot.phone,
    )


def old_labels(sheets: Iterable[Sheet]) -> list[str]:
    """The numbers of the machines whose label was replaced after it was printed here."""
    return [
        sheet.of_machine.number
        for sheet in sheets
        # The site's own address may have changed meanwhile; that is another matter.
        if sheet.content is not None
        and sheet.content["link"].rpartition("/")[2] != sheet.of_machine.label_code
    ]
