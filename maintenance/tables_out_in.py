"""The lists of Out and in: what is out, on the way, missing."""

from datetime import date
from typing import Any

import django_tables2 as tables
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from maintenance.contents.fitness import due_state_of_many, fitness_of_many
from maintenance.models import Stay, Transfer
from maintenance.rules.words import day_text
from maintenance.tables import DAY, DayColumn, machine_link
from plant.addresses import address_of
from plant.lazy_text import gettext_lazy
from plant.models import Machine, User
from plant.rights import Right, may
from plant.templatetags.marks import mark


class StayTable(tables.Table):
    """What is out: with whom, where, and until when."""

    machine = tables.Column(
        accessor="machine__number",
        order_by="machine__number_key",
        verbose_name=gettext_lazy("Machine"),
    )
    kind = tables.Column(accessor="machine__kind__name", verbose_name=gettext_lazy("Kind"))
    hirer = tables.Column(
        accessor="hirer__name",
        verbose_name=gettext_lazy("With"),
        default=gettext_lazy("our own site"),
    )
    site = tables.Column(verbose_name=gettext_lazy("Site"))
    site_phone = tables.Column(
        verbose_name=gettext_lazy("Site phone"),
        default=gettext_lazy("not told"),
        orderable=False,
        attrs=DAY,
    )
    due_back_on = DayColumn(verbose_name=gettext_lazy("Due back"), attrs=DAY)
    fitness = tables.Column(
        verbose_name=gettext_lazy("May it be used"), orderable=False, empty_values=()
    )
    due = tables.Column(verbose_name=gettext_lazy("What is due"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy(
            "Nothing stands here. A machine that is issued stands here until it is back."
        )
        order_by = "due_back_on"

    def __init__(self, stays: QuerySet[Stay], *, on: date, **more: Any) -> None:
        super().__init__(stays, **more)
        self.on = on

    def before_render(self, request: HttpRequest) -> None:
        shown = [row.record.machine for row in self.page.object_list]
        self.fitness_of = fitness_of_many(shown, self.on)
        self.due_of = due_state_of_many(shown, self.on)

    def render_machine(self, record: Stay) -> SafeString:
        return machine_link(record.machine)

    def render_due_back_on(self, record: Stay) -> str:
        late = (self.on - record.due_back_on).days
        day = day_text(record.due_back_on)
        if late <= 0:
            return day
        return ngettext("{day}, {late} day late", "{day}, {late} days late", late).format(
            day=day, late=late
        )

    def render_fitness(self, record: Stay) -> SafeString:
        return mark(self.fitness_of[record.machine_id].mark)

    def render_due(self, record: Stay) -> SafeString:
        return mark(self.due_of[record.machine_id])


class OutTable(tables.Table):
    """Machines that are out with no word of who has them."""

    number = tables.Column(verbose_name=gettext_lazy("Machine"), order_by="number_key")
    kind = tables.Column(accessor="kind__name", verbose_name=gettext_lazy("Kind"))
    site = tables.Column(verbose_name=gettext_lazy("Site"), default=gettext_lazy("not told"))
    tell = tables.Column(verbose_name=gettext_lazy("What to do"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy("Of every machine that is out it is known who has it.")
        order_by = "number"

    def render_number(self, record: Machine) -> SafeString:
        return machine_link(record)

    def render_tell(self, record: Machine) -> SafeString:
        address = address_of("maintenance:tell_stay", record.pk)
        return format_html('<a href="{}">Say who has {}</a>', address, record.number)


class TransferTable(tables.Table):
    """What is on the way between depots, with what stands open on it."""

    machine = tables.Column(
        accessor="machine__number",
        order_by="machine__number_key",
        verbose_name=gettext_lazy("Machine"),
    )
    kind = tables.Column(accessor="machine__kind__name", verbose_name=gettext_lazy("Kind"))
    from_depot = tables.Column(accessor="from_depot__name", verbose_name=gettext_lazy("From"))
    to_depot = tables.Column(accessor="to_depot__name", verbose_name=gettext_lazy("To"))
    sent_at = DayColumn(verbose_name=gettext_lazy("Sent"), attrs=DAY)
    stands = tables.Column(
        verbose_name=gettext_lazy("Goes with it"), orderable=False, empty_values=()
    )
    act = tables.Column(verbose_name=gettext_lazy("What to do"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy("Nothing is on the way. Begin with “Move” on a machine's page.")
        order_by = "sent_at"

    def __init__(self, transfers: QuerySet[Transfer], *, user: User, **more: Any) -> None:
        super().__init__(transfers, **more)
        self.user = user

    def render_machine(self, record: Transfer) -> str | SafeString:
        if may(self.user, Right.SEE, record.machine.depot_id):
            return machine_link(record.machine)
        return record.machine.number

    def render_stands(self, record: Transfer) -> str:
        told: Any = record
        stops, jobs = told.stop_count or 0, told.job_count or 0
        faults = ngettext("{count} fault", "{count} faults", stops).format(count=stops)
        work = ngettext("{count} job", "{count} jobs", jobs).format(count=jobs)
        return gettext("{faults}, {jobs}").format(faults=faults, jobs=work)

    def render_act(self, record: Transfer) -> SafeString:
        name, word = ("turn_back", gettext("Take in again"))
        if may(self.user, Right.MOVE, record.to_depot_id):
            name, word = ("receive", gettext("Receive"))
        address = address_of(f"maintenance:{name}", record.pk)
        return format_html('<a href="{}">{} {}</a>', address, word, record.machine.number)


class MissingTable(tables.Table):
    """Machines that are not where they should be: since when, and who said so."""

    number = tables.Column(verbose_name=gettext_lazy("Machine"), order_by="number_key")
    kind = tables.Column(accessor="kind__name", verbose_name=gettext_lazy("Kind"))
    depot = tables.Column(accessor="depot__name", verbose_name=gettext_lazy("Depot"))
    site = tables.Column(
        verbose_name=gettext_lazy("Last known at"), default=gettext_lazy("not told")
    )
    since = DayColumn(
        verbose_name=gettext_lazy("Since"), default=gettext_lazy("not told"), attrs=DAY
    )
    told_by = tables.Column(verbose_name=gettext_lazy("Told by"), default=gettext_lazy("not told"))
    told = tables.Column(
        verbose_name=gettext_lazy("What is known"), default=gettext_lazy("nothing")
    )

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy(
            "Nothing is missing. Anybody signed in can say so, by “Move” on its page."
        )
        order_by = "-since"

    def render_number(self, record: Machine) -> SafeString:
        return machine_link(record)
