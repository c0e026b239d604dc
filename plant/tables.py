"""The lists of the register: files brought in, and the rows of one file."""

from typing import Any

import django_tables2 as tables
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from plant.contents.people import Account
from plant.lazy_text import gettext_lazy as _
from plant.models import BroughtFile, MachineImportRow

PAGE = 50


def paged(table: tables.Table, request: HttpRequest) -> Any:
    """Sorts and pages the table by the address."""
    tables.RequestConfig(request, paginate={"per_page": PAGE, "silent": True}).configure(table)
    return table


class ImportTable(tables.Table):
    """The spreadsheets that were brought, newest first."""

    file_name = tables.Column(verbose_name=_("File"), order_by=("file_name", "pk"))
    depot = tables.Column(accessor="depot__name", verbose_name=_("Depot"))
    asked_by = tables.Column(accessor="asked_by__name", verbose_name=_("Brought by"))
    asked_at = tables.DateTimeColumn(format="j M Y H:i", verbose_name=_("When"))
    step = tables.Column(verbose_name=_("How far it is"))

    noun, nouns = _("file"), _("files")
    opens = "plant:machine_import"

    class Meta:
        empty_text = _(
            "No file was brought in yet. Here stands each spreadsheet of machines with what became "
            "of its rows. Begin with “Bring in a file”."
        )
        order_by = "-asked_at"

    def render_file_name(self, record: BroughtFile) -> SafeString:
        address = reverse(self.opens, args=[record.pk])
        return format_html('<a href="{}">{}</a>', address, record.file_name)

    def render_step(self, record: BroughtFile) -> str:
        if record.state == BroughtFile.State.FAILED:
            return gettext("Stopped: {why}").format(why=record.why)
        return str(BroughtFile.Step(record.step).label)


class ImportRowTable(tables.Table):
    """Rows of one file: what we make of each, and why."""

    number = tables.Column(verbose_name=_("Machine"), empty_values=())
    row = tables.Column(verbose_name=_("Row"), attrs={"td": {"class": "number"}})
    kind = tables.Column(verbose_name=_("Kind"), orderable=False, empty_values=())
    verdict = tables.Column(verbose_name=_("Sorted as"))
    reasons = tables.Column(verbose_name=_("Why"), orderable=False, empty_values=())
    figures = tables.Column(verbose_name=_("Figures"), orderable=False, empty_values=())

    noun, nouns = _("row"), _("rows")

    class Meta:
        empty_text = _("No row is like that. Choose another count above.")
        order_by = "row"

    def __init__(self, *args: Any, kinds: dict[str, str], **more: Any) -> None:
        super().__init__(*args, **more)
        self.kinds = kinds

    def render_number(self, record: MachineImportRow) -> str | SafeString:
        number = record.number or gettext("no number")
        if record.machine_id is None:
            return number
        try:
            address = reverse("maintenance:machine", args=[record.machine_id])
        except NoReverseMatch:
            return number
        return format_html('<a href="{}">{}</a>', address, number)

    def render_kind(self, record: MachineImportRow) -> str:
        typed = str(record.values.get("typed", {}).get("kind", ""))
        name = self.kinds.get(record.values.get("is", {}).get("kind", ""), "")
        if not name or typed.casefold() == name.casefold():
            return typed or "none"
        return f"{typed or 'none'}: {name}"

    def render_reasons(self, record: MachineImportRow) -> SafeString:
        return format_html_join("", "<p>{}</p>", ((reason,) for reason in record.reasons))

    def render_figures(self, record: MachineImportRow) -> SafeString:
        typed = record.values.get("typed", {})
        shown = record.values.get("shown", {})
        return format_html_join(
            "", "<p>{} = {}</p>", ((typed.get(name, ""), ours) for name, ours in shown.items())
        )


class AccountTable(tables.Table):
    """The people of the depots that somebody looks after, with their roles."""

    name = tables.Column(accessor="user__name", verbose_name=_("Name"))
    sign_in = tables.Column(accessor="user__sign_in", verbose_name=_("Sign-in name"))
    roles = tables.Column(accessor="roles_words", verbose_name=_("Roles"), orderable=False)
    last = tables.Column(
        accessor="user__last_login", verbose_name=_("Last sign-in"), empty_values=()
    )
    codes = tables.BooleanColumn(
        accessor="user__has_codes", verbose_name=_("One-time codes"), yesno="yes,no"
    )
    state = tables.Column(accessor="state_words", verbose_name=_("Account"), orderable=False)

    noun, nouns = _("person"), _("people")

    class Meta:
        empty_text = _("Nobody is like that. Take a word out, or choose all.")
        order_by = "name"

    def render_name(self, record: Account) -> SafeString:
        address = reverse("plant:account", args=[record.user.pk])
        return format_html('<a href="{}">{}</a>', address, record.user.name)

    def render_last(self, record: Account) -> str:
        return record.last_words

    def render_codes(self, value: bool) -> str:
        return "yes" if value else "no"

    def order_last(self, rows: Any, is_descending: bool) -> tuple[Any, bool]:
        """Who never signed in comes first."""
        never = [each for each in rows if each.user.last_login is None]
        known = [each for each in rows if each.user.last_login is not None]
        known.sort(key=lambda each: each.user.last_login)
        found = never + known
        return (found[::-1] if is_descending else found), True
