"""Every address of the site: who may open it, by which methods, and what fills it; and two worlds.

The tests of access, of hostile input and of headers all walk this one table. An address that is
not in it fails them.
"""

import io
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from PIL import Image

from bench import class_i
from maintenance.actions import plan
from maintenance.actions.belt_change import FirstSetting, OldBelt, fit_belt
from maintenance.actions.check import questions, record_check
from maintenance.actions.cost import enter_costs, set_money
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.keep import hold
from maintenance.actions.meter import record_meter
from maintenance.actions.new_belt import NewBelt
from maintenance.actions.plan_line import LineTold, add_line
from maintenance.actions.rack import add_number, add_place, receive, save_part, take
from maintenance.actions.reading import record_width
from maintenance.actions.readings_file import ask_file, read_file
from maintenance.actions.stay import Going, tell_stay
from maintenance.actions.transfer import send
from maintenance.actions.work_done import Part, finish_job
from maintenance.models import (
    BeltFitting,
    Calibration,
    ClosedDay,
    Competence,
    Completion,
    Cost,
    DueLine,
    Instrument,
    Job,
    KeepHold,
    MeterReading,
    PartUsed,
    PlanLine,
    ReadingsFile,
    Skill,
    StockPlace,
    Stop,
    Transfer,
)
from maintenance.models import Part as StockPart
from maintenance.rules.check import Given
from make import make_competence, make_drive, make_instrument, make_machine, make_user
from plant import photos
from plant.actions.account import make_way_in
from plant.actions.machine_import import ask_import, read_import
from plant.actions.phone import ask_phone, enrol
from plant.links import code_of
from plant.models import (
    Depot,
    Drive,
    Machine,
    MachineImport,
    MachineKind,
    Membership,
    Phone,
    Record,
    Role,
    User,
    WayIn,
)  # fmt: skip
from plant.rights import TABLE, Right
from plant.units import WIDTH, read
from reports.actions.erasure import ask_erasure
from reports.actions.feed import add_feed
from reports.actions.note import note_for
from reports.actions.sheet import ask_sheets, print_batch
from reports.actions.timed import set_up
from reports.models import Batch, Erasure, Feed, Sheet, TimedPrint, WeeklyNote

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
EVERYBODY, SIGNED_IN = "everybody", "signed in"


@dataclass(frozen=True)
class Page:
    """One address.

    who: the right it needs, or EVERYBODY, or SIGNED_IN without any right; fills: which thing of a
    world fills the address, "" for none; get, post: whether it takes that method; shared: the thing
    is the firm's and no depot's, such as a kind of machine.
    """

    who: Right | str
    fills: str = ""
    get: bool = True
    post: bool = False
    shared: bool = False

    def takes(self, method: str) -> bool:
        return {"GET": self.get, "HEAD": self.get, "POST": self.post}.get(method, False)

    def lets_in(self, role: Role) -> bool:
        return not isinstance(self.who, Right) or role in TABLE[self.who][0]


def _read(who: Right | str, fills: str = "") -> Page:
    return Page(who, fills)


def _form(who: Right | str, fills: str = "") -> Page:
    return Page(who, fills, post=True)


def _act(who: Right | str, fills: str = "") -> Page:
    return Page(who, fills, get=False, post=True)


ADDRESSES: dict[str, Page] = {
    "plant:sign_in": _form(EVERYBODY),
    "plant:one_time_code": _form(EVERYBODY),
    "plant:way_in": _form(EVERYBODY, "way_in"),
    "plant:own_account": _read(SIGNED_IN),
    "plant:own_password": _form(SIGNED_IN),
    "plant:end_own": _act(SIGNED_IN),
    "plant:own_lengths": _act(SIGNED_IN),
    "plant:stay": _act(SIGNED_IN),
    "plant:own_codes": _form(SIGNED_IN),
    "plant:begin_codes": _act(SIGNED_IN),
    "plant:new_spares": _act(SIGNED_IN),
    "plant:give_up_codes": _act(SIGNED_IN),
    "plant:office": _read(Right.PEOPLE),
    "plant:firm_settings": _form(Right.DEPOTS),
    "plant:rights_told": _read(Right.SEE),
    "plant:account_list": _read(Right.PEOPLE),
    "plant:invite": _form(Right.PEOPLE),
    "plant:account": _read(Right.PEOPLE, "account"),
    "plant:change_roles": _form(Right.PEOPLE, "account"),
    "plant:change_account": _form(Right.PEOPLE, "account"),
    "plant:way_in_link": _form(Right.PEOPLE, "account"),
    "plant:bring_back": _form(Right.PEOPLE, "account"),
    "plant:take_codes": _form(Right.PEOPLE, "account"),
    "plant:end_sessions": _form(Right.PEOPLE, "account"),
    "maintenance:depot_list": _read(Right.PEOPLE),
    "maintenance:new_depot": _form(Right.DEPOTS),
    "maintenance:depot_settings": _form(Right.DEPOTS, "depot"),
    "maintenance:rule_sheets": _read(Right.SEE),
    "reports:end_account": _form(Right.PEOPLE, "account"),
    "reports:rights_list": _read(Right.PEOPLE),
    "plant:code_sign_in": _form(EVERYBODY),
    "plant:sign_out": _act(EVERYBODY),
    "plant:phone_list": _form(Right.PEOPLE),
    "plant:phone_link": _read(Right.PEOPLE, "phone"),
    "plant:withdraw_phone": _act(Right.PEOPLE, "phone"),
    "plant:enrol_phone": _form(EVERYBODY),
    "plant:own_code": _form(SIGNED_IN),
    "plant:first_code": _form(Right.PEOPLE, "member"),
    "plant:pages": _read(SIGNED_IN),
    "plant:health": _read(Right.RUN_SYSTEM),
    "plant:health_json": _read(EVERYBODY),
    "plant:alive": _read(EVERYBODY),
    "plant:ready": _read(EVERYBODY),
    "plant:start_and_stop": _read(Right.RUN_SYSTEM),
    "plant:restore_page": _read(Right.RUN_SYSTEM),
    "plant:set_up": _form(EVERYBODY, "no_set_up"),
    "plant:set_up_ready": _read(Right.RUN_SYSTEM),
    "plant:service_worker": _read(EVERYBODY),
    "plant:script_words": _read(EVERYBODY),
    "plant:work_out": _read(SIGNED_IN),
    "plant:import_list": _read(Right.IMPORT),
    "plant:add_import": _form(Right.IMPORT),
    "plant:machine_import": _read(Right.IMPORT, "run"),
    "plant:import_progress": _read(Right.IMPORT, "run"),
    "plant:import_left_over": _read(Right.IMPORT, "run"),
    "plant:sort_import": _act(Right.IMPORT, "run"),
    "plant:save_import": _act(Right.IMPORT, "run"),
    "plant:drop_import": _act(Right.IMPORT, "run"),
    "maintenance:machine_list": _read(Right.SEE),
    "maintenance:elsewhere": _read(Right.SEE),
    "maintenance:belts": _read(Right.SEE),
    "maintenance:find_belt": _read(Right.SEE),
    "maintenance:rack": _read(Right.SEE),
    "maintenance:part": _read(Right.SEE, "part"),
    "maintenance:add_part": _form(Right.STOCK),
    "maintenance:edit_part": _form(Right.STOCK, "part"),
    "maintenance:receive_part": _form(Right.STOCK, "part"),
    "maintenance:move_part": _form(Right.STOCK, "part"),
    "maintenance:add_part_number": _form(Right.KEEP_PARTS, "part"),
    "maintenance:part_price": _form(Right.MONEY, "part"),
    "maintenance:order_part": _act(Right.STOCK, "part"),
    "maintenance:withdraw_part": _act(Right.KEEP_PARTS, "part"),
    "maintenance:withdraw_place": _act(Right.KEEP_PARTS, "stock_place"),
    "maintenance:add_stock_place": _form(Right.KEEP_PARTS),
    "maintenance:count_place": _form(Right.STOCK, "stock_place"),
    "maintenance:shopping": _read(Right.STOCK),
    "maintenance:job_parts": _form(Right.STOCK, "job"),
    "maintenance:put_back_part": _act(Right.STOCK, "part_used"),
    "maintenance:running_out": _read(Right.SEE),
    "maintenance:change_belt": _form(Right.WORK, "belt_job"),
    "maintenance:correct_belt": _form(Right.CORRECT, "fitting"),
    "maintenance:order_belt": _form(Right.WORK, "order_job"),
    "maintenance:belt_lead": _form(Right.PLAN, "depot"),
    "maintenance:job_list": _read(Right.SEE),
    "maintenance:due_list": _read(Right.SEE),
    "maintenance:look_ahead": _read(Right.SEE),
    "maintenance:due_line": _read(Right.SEE, "due_line"),
    "maintenance:put_off": _form(Right.GIVE_OUT, "due_line"),
    "maintenance:correct_done": _form(Right.GIVE_OUT, "completion"),
    "maintenance:plan_list": _read(Right.SEE),
    "maintenance:kind_plan": Page(Right.SEE, "kind", shared=True),
    "maintenance:machine_plan": _read(Right.SEE, "machine"),
    "maintenance:add_plan_line": Page(Right.PLAN, "kind", post=True, shared=True),
    "maintenance:add_own_line": _form(Right.PLAN, "machine"),
    "maintenance:change_plan_line": _form(Right.PLAN, "own_line"),
    "maintenance:end_plan_line": _form(Right.PLAN, "own_line"),
    "maintenance:rest_line": _form(Right.PLAN, "due_line"),
    "maintenance:open_days": _form(Right.PLAN, "depot"),
    "maintenance:close_day": _form(Right.PLAN, "depot"),
    "maintenance:open_day": _act(Right.PLAN, "closed_day"),
    "maintenance:add_machine": _form(Right.REGISTER),
    "maintenance:edit_machine": _form(Right.REGISTER, "machine"),
    "maintenance:machine": _read(Right.SEE, "machine"),
    "maintenance:check": _form(Right.CHECK, "machine"),
    "maintenance:report_fault": _form(Right.CHECK, "machine"),
    "maintenance:stop_machine": _form(Right.STOP, "machine"),
    "maintenance:look_over": _form(Right.CHECK, "machine"),
    "maintenance:inspection": _form(Right.CHECK, "machine"),
    "maintenance:add_meter_figure": _form(Right.CHECK, "machine"),
    "maintenance:meter_changed": _form(Right.WORK, "machine"),
    "maintenance:meter_broken": _form(Right.WORK, "machine"),
    "maintenance:blind_time": _form(Right.GIVE_OUT, "machine"),
    "maintenance:accept_meter_figure": _form(Right.GIVE_OUT, "figure"),
    "maintenance:add_test": _form(Right.WORK, "machine"),
    "maintenance:machine_tests": _read(Right.SEE, "machine"),
    "maintenance:test_list": _read(Right.SEE),
    "maintenance:worth_a_look": _read(Right.DECIDE),
    "maintenance:readings_file_list": _read(Right.WORK),
    "maintenance:add_readings_file": _form(Right.WORK),
    "maintenance:readings_example": _read(Right.WORK),
    "maintenance:readings_file": _read(Right.WORK, "readings"),
    "maintenance:readings_file_progress": _read(Right.WORK, "readings"),
    "maintenance:readings_left_over": _read(Right.WORK, "readings"),
    "maintenance:sort_readings_file": _act(Right.WORK, "readings"),
    "maintenance:save_readings_file": _act(Right.WORK, "readings"),
    "maintenance:drop_readings_file": _act(Right.WORK, "readings"),
    "maintenance:instrument_list": _read(Right.WORK),
    "maintenance:add_instrument": _form(Right.KEEP_INSTRUMENTS),
    "maintenance:instrument": _read(Right.WORK, "instrument"),
    "maintenance:calibrate_instrument": _form(Right.KEEP_INSTRUMENTS, "instrument"),
    "maintenance:strike_calibration": _form(Right.KEEP_INSTRUMENTS, "calibration"),
    "maintenance:withdraw_instrument": _form(Right.KEEP_INSTRUMENTS, "instrument"),
    "maintenance:release": _form(Right.RELEASE, "machine"),
    "maintenance:decide": _form(Right.DECIDE, "stop"),
    "maintenance:record": _read(Right.SEE, "record"),
    "maintenance:sent": _read(Right.SEE, "record"),
    "maintenance:record_photo": _read(Right.SEE, "photo"),
    "maintenance:machine_photo": _read(Right.SEE, "machine"),
    "maintenance:replace_label": _form(Right.REPLACE_LABEL, "machine"),
    "maintenance:scan": _form(Right.SEE),
    "maintenance:find": _read(Right.SEE),
    "maintenance:held": _read(Right.SEE),
    "maintenance:page_parts": _read(Right.PEOPLE),
    "maintenance:help_page": _read(EVERYBODY),
    "maintenance:practice": _read(Right.SEE),
    "maintenance:begin_practice": _act(Right.CHECK),
    "maintenance:new_practice": _act(Right.CHECK),
    "maintenance:leave_practice": _act(Right.SEE),
    "maintenance:help_words": _read(EVERYBODY),
    "maintenance:help_why": _read(EVERYBODY),
    "maintenance:help_worked": _read(EVERYBODY),
    "maintenance:help_guide": _read(EVERYBODY, "guide"),
    "maintenance:label": _read(EVERYBODY, "label"),
    "maintenance:label_check": _form(EVERYBODY, "label"),
    "maintenance:label_fault": _form(EVERYBODY, "label"),
    "maintenance:label_stop": _form(EVERYBODY, "label"),
    "maintenance:label_sent": _read(EVERYBODY, "label_record"),
    "maintenance:phone": _read(EVERYBODY),
    "maintenance:phone_pack": _read(EVERYBODY),
    "maintenance:phone_entries": _act(EVERYBODY),
    "maintenance:people": _read(Right.PEOPLE),
    "maintenance:give_competence": _form(Right.PEOPLE, "member"),
    "maintenance:end_competence": _form(Right.PEOPLE, "competence"),
    "maintenance:keep": _read(Right.KEEP),
    "maintenance:hold_records": _form(Right.KEEP),
    "maintenance:release_hold": _form(Right.KEEP, "hold"),
    "maintenance:out_in": _read(Right.MOVE),
    "reports:issue": _form(Right.MOVE, "machine"),
    "maintenance:take_back": _form(Right.MOVE, "machine"),
    "maintenance:pass_on": _form(Right.MOVE, "machine"),
    "maintenance:tell_stay": _form(Right.MOVE, "machine"),
    "maintenance:send": _form(Right.MOVE, "machine"),
    "maintenance:move": _form(Right.CHECK, "machine"),
    "maintenance:write_off": _form(Right.WRITE_OFF, "machine"),
    "maintenance:receive": _form(Right.MOVE, "coming"),
    "maintenance:turn_back": _form(Right.MOVE, "leaving"),
    "maintenance:add_job": _form(Right.WORK, "machine"),
    "maintenance:job": _read(Right.SEE, "job"),
    "maintenance:plan_job": _form(Right.GIVE_OUT, "job"),
    "maintenance:job_costs": _form(Right.MONEY, "job"),
    "maintenance:strike_cost": _act(Right.MONEY, "cost"),
    "maintenance:machine_costs": _read(Right.MONEY, "machine"),
    "maintenance:depot_money": _form(Right.MONEY, "depot"),
    "maintenance:back_again": _read(Right.WORK),
    "maintenance:day": _read(Right.WORK),
    "maintenance:give_out_day": _act(Right.GIVE_OUT),
    "maintenance:fitter_day": _form(Right.GIVE_OUT, "fitter"),
    "maintenance:give_out_job": _form(Right.GIVE_OUT, "job"),
    "maintenance:start_job": _form(Right.WORK, "job"),
    "maintenance:isolate_job": _form(Right.WORK, "job"),
    "maintenance:wait_job": _form(Right.WORK, "job"),
    "maintenance:finish_job": _form(Right.WORK, "job"),
    "maintenance:send_back_job": _form(Right.RELEASE, "job"),
    "maintenance:job_steps": _form(Right.WORK, "job"),
    "maintenance:finding": _form(Right.WORK, "job"),
    "maintenance:find_fault": _form(Right.WORK, "machine"),
    "maintenance:countersign_job": _form(Right.RELEASE, "job"),
    "maintenance:close_job": _form(Right.RELEASE, "job"),
    "maintenance:call_off_job": _form(Right.GIVE_OUT, "job"),
    "maintenance:have_it": _act(Right.WORK, "job"),
    "maintenance:answer_job": _form(Right.WORK, "job"),
    "maintenance:add_drive": _form(Right.WORK, "machine"),
    "maintenance:drive": _read(Right.SEE, "drive"),
    "maintenance:edit_drive": _form(Right.WORK, "drive"),
    "maintenance:add_width": _form(Right.WORK, "drive"),
    "maintenance:add_tension": _form(Right.WORK, "drive"),
    "maintenance:add_ride": _form(Right.WORK, "drive"),
    "maintenance:add_slot": _form(Right.WORK, "drive"),
    "maintenance:add_alignment": _form(Right.WORK, "drive"),
    "maintenance:add_pulley": _form(Right.WORK, "drive"),
    "maintenance:correct_reading": _form(Right.CORRECT, "width_record"),
    "reports:person": _read(Right.PEOPLE, "member"),
    "reports:ask_erasure": _form(Right.ASK_ERASURE, "member"),
    "reports:erasures": _read(Right.KEEP),
    "reports:erasure": _form(Right.ERASE, "erasure"),
    "reports:drop_erasure": _act(Right.KEEP, "erasure"),
    "reports:own_data": _read(SIGNED_IN),
    "reports:own_data_file": _read(SIGNED_IN),
    "reports:today": _read(Right.SEE),
    "reports:prints": _read(Right.SEE),
    "reports:batch_list": _read(Right.SEE),
    "reports:ask_batch": _form(Right.LABEL),
    "reports:batch": _read(Right.PRINT, "batch"),
    "reports:batch_progress": _read(Right.PRINT, "batch"),
    "reports:batch_file": _read(Right.PRINT, "batch"),
    "reports:retry_batch": _act(Right.PRINT, "batch"),
    "reports:stop_batch": _act(Right.PRINT, "batch"),
    "reports:ask_day_paper": _form(Right.PRINT_MANY),
    "reports:timed_list": _read(Right.PRINT_MANY),
    "reports:add_timed": _form(Right.PRINT_MANY),
    "reports:end_timed": _act(Right.PRINT_MANY, "timed"),
    "reports:sheet_file": _read(Right.PRINT, "sheet"),
    "reports:ask_sheet": _act(Right.PRINT, "machine"),
    "reports:ask_job_sheet": _act(Right.PRINT, "job"),
    "reports:ask_passport": _act(Right.PASSPORT, "machine"),
    "reports:ask_label": _act(Right.LABEL, "machine"),
    "reports:ask_folder": _act(Right.PRINT_MANY),
    "reports:ask_bundle": _form(Right.PRINT_MANY, "machine"),
    "reports:ask_stop_tag": _act(Right.PRINT, "machine"),
    "reports:ask_record": _act(Right.PRINT, "record"),
    "reports:ask_fail_tag": _act(Right.PRINT, "test_record"),
    "reports:messages": _form(Right.SEE),
    "reports:prove_address": _form(Right.SEE),
    "reports:ask_proof": _act(Right.SEE),
    "reports:withdraw_note": _act(Right.SEE),
    "reports:add_feed": _act(Right.SEE),
    "reports:withdraw_feed": _act(Right.SEE),
    "reports:machine_records": _read(Right.IMPORT, "machine"),
    "reports:take_out": _form(Right.TAKE_OUT),
    "reports:take_out_progress": _read(Right.TAKE_OUT),
    "reports:take_out_file": _read(Right.TAKE_OUT),
    "reports:sealed": _form(EVERYBODY),
    "reports:note": _read(EVERYBODY, "note"),
    "reports:feed": _read(EVERYBODY, "feed"),
}


def names_of_the_site() -> set[str]:
    """The name of every address that Django would answer."""

    def walk(patterns: list[Any], before: str) -> Iterator[str]:
        for each in patterns:
            if isinstance(each, URLResolver):
                space = f"{before}{each.namespace}:" if each.namespace else before
                yield from walk(each.url_patterns, space)
            else:
                assert isinstance(each, URLPattern)
                yield f"{before}{each.name}"

    return set(walk(get_resolver().url_patterns, ""))


@dataclass
class World:
    """One depot with one of everything, its words all holding one marker."""

    marker: str
    depot: Depot
    people: dict[Role, User]
    machine: Machine
    drive: Drive
    width_record: Record
    stop: Stop
    job: Job
    belt_job: Job
    fitting: BeltFitting
    order_job: Job
    figure: MeterReading
    record: Record
    test_record: Record
    batch: Batch
    sheet: Sheet
    run: MachineImport
    readings: ReadingsFile
    coming: Transfer
    leaving: Transfer
    cost: Cost
    due_line: DueLine
    completion: Completion
    closed_day: ClosedDay
    instrument: Instrument
    own_line: PlanLine
    member: Membership
    way_in: WayIn
    phone: Phone
    competence: Competence
    note: WeeklyNote
    feed: Feed
    timed: TimedPrint
    part: StockPart
    stock_place: StockPlace
    part_used: PartUsed
    hold: KeepHold
    erasure: Erasure

    @property
    def kind(self) -> MachineKind:
        return self.machine.kind

    @property
    def calibration(self) -> Calibration:
        return self.instrument.calibrations.all()[0]

    @property
    def account(self) -> User:
        return self.member.user

    @property
    def fitter(self) -> User:
        return self.people[Role.FITTER]

    def fill(self, thing: str) -> dict[str, Any]:
        """What fills an address that is about this thing."""
        code = self.machine.label_code
        several: dict[str, dict[str, Any]] = {
            "": {},
            "label": {"code": code},
            "label_record": {"code": code, "pk": self.record.pk},
            "photo": {"pk": self.record.pk, "name": "photo"},
            "guide": {"key": "operator"},
            "belt_job": {"pk": self.belt_job.pk, "drive_pk": self.drive.pk},
            "no_set_up": {"code": "used"},
            "note": {"code": code_of("note", self.note.uid)},
            "way_in": {"code": self.way_in.code},
            "feed": {"code": code_of("feed", self.feed.uid)},
        }
        return several[thing] if thing in several else {"pk": getattr(self, thing).pk}

    def address(self, name: str) -> str:
        return reverse(name, kwargs=self.fill(ADDRESSES[name].fills))

    def made_up(self, name: str) -> str:
        """The same address of something that never was."""
        filled = self.fill(ADDRESSES[name].fills)
        for key, value in filled.items():
            filled[key] = {"code": "A" * 22, "name": value, "key": "nobody"}.get(key, value)
            if key == "pk":
                filled[key] = uuid.UUID(int=7 << 76) if isinstance(value, uuid.UUID) else 10**9
        return reverse(name, kwargs=filled)


def _belt_job(machine: Machine, by: User, *, marker: str, at: datetime) -> Job:
    job = open_job(machine=machine, kind=Job.Kind.BELT, title=f"Belt {marker}", at=at, by=by)
    return start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=at, by=by)


def picture() -> bytes:
    data = io.BytesIO()
    Image.new("RGB", (60, 40), "teal").save(data, "PNG")
    return photos.clean(io.BytesIO(data.getvalue()))


def make_world(*, code: str, marker: str, at: datetime) -> World:
    """A depot lived in for a week; needs the rule sheet. Its last moment is ``at``."""
    depot = Depot.objects.create(code=code, name=f"Yard {marker}", phone=f"0{marker}")
    people = {role: make_user(f"{role.label} {marker}", (depot, role)) for role in Role}
    operator, fitter, manager = (people[r] for r in (Role.OPERATOR, Role.FITTER, Role.MANAGER))
    for role in (Role.FITTER, Role.FOREMAN, Role.MANAGER):
        for skill in Skill:
            make_competence(
                people[role], depot, skill, told=f"Card {marker}", at=at - timedelta(days=20),
                by=people[Role.ADMINISTRATOR],
            )  # fmt: skip
    machine = make_machine(
        depot,
        f"{marker[:8].upper()}-1",
        kind=MachineKind.objects.get(key="mixer_electric"),
        nickname=f"Nick {marker}",
        protection="I",
        maker=f"Maker {marker}",
        serial=f"Serial {marker}",
        site=f"Site {marker}",
        note=f"Note {marker}",
        place="out",
        hours_at=at - timedelta(days=20),
        passed_at=at - timedelta(days=20),
        added_at=at - timedelta(days=20),
    )
    machine.meters.update(fitted_at=at - timedelta(days=20))
    plan.give_plans([machine], at=at - timedelta(days=700))
    due_line = DueLine.objects.filter(machine=machine).order_by("pk")[0]
    completion = plan.record_done(
        due_line=due_line, on=at.date() - timedelta(days=8), tenths=None, at=at
    )
    own_line = add_line(
        machine=machine, told=LineTold(title=f"Own work {marker}", every_months=3),
        reason=f"Because of {marker}.", at=at - timedelta(days=8), by=manager,
    )  # fmt: skip
    drive = make_drive(machine, name=f"Drive {marker}")
    drive.save()
    width_record = record_width(
        drive=drive, widths=[read("12.6 mm", WIDTH)], tool="calliper",
        at=at - timedelta(days=8), by=fitter, note=f"Measured {marker}",
    ).record  # fmt: skip
    # In the order of a week: figures, a check with a photo, a fault, and two jobs.
    for days, tenths, sure in ((6, 1100, False), (5, 900, True)):
        figure = record_meter(
            machine=machine, dial_tenths=tenths, typed=f"{tenths / 10} h",
            at=at - timedelta(days=days), by=operator, confirmed=sure,
        )  # fmt: skip
    _, asked = questions(machine, at=at)
    given = {each.key: Given(answer="ok", word="") for each in asked}
    record = record_check(
        machine=machine, answers=given, at=at - timedelta(days=4), by=operator,
        note=f"Said {marker}", photos={"photo": picture()},
    ).record  # fmt: skip
    done = open_job(
        machine=machine, kind=Job.Kind.SERVICE, title=f"Title {marker}",
        symptom=f"Symptom {marker}", at=at - timedelta(days=3), by=fitter,
    )  # fmt: skip
    start_job(job=done, confirmed=[k for k, _ in ISOLATED], at=at - timedelta(days=3), by=fitter)
    finish_job(
        job=done, symptom=f"Seen {marker}", cause=f"Cause {marker}", action=f"Did {marker}",
        minutes=30, parts=[Part(what=f"Part {marker}", taken_from=f"Van {marker}")],
        at=at - timedelta(days=2), by=fitter,
    )  # fmt: skip
    job = report_fault(
        machine=machine, part="stands_level", told=f"Told {marker}", stop_now=False,
        at=at - timedelta(days=1), by_name=f"Passer {marker}", by_label=True,
    )  # fmt: skip
    set_money(
        depot=depot, currency="GBP", foremen_see=False, rate=Decimal("38.50"),
        from_on=at.date() - timedelta(days=90), at=at, by=manager,
    )  # fmt: skip
    enter_costs(
        job=done, prices={}, outside=f"Rewound {marker}", outside_amount=Decimal("64.00"), at=at,
        by=manager, entry=uuid.uuid4(),
    )  # fmt: skip
    cost = Cost.objects.get(job=done)
    stock_place = add_place(
        depot=depot, name=f"Rack {marker}", kind=StockPlace.Kind.RACK, by=manager
    )
    part = save_part(
        depot=depot, name=f"A26 {marker}", is_belt=True, section="A", length_m=0.690,
        bought_from=f"Counter {marker}", at=at, by=fitter,
    )  # fmt: skip
    add_number(part=part, number=f"No {marker}", note=f"Says {marker}", at=at, by=manager)
    receive(part=part, place=stock_place, quantity=3, on=at.date(), at=at, by=fitter)
    part_used = take(part=part, place=stock_place, job=job, quantity=1, at=at, by=fitter)
    batch = ask_sheets(depot=depot, machines=[machine], by=manager, at=at)
    Batch.objects.filter(pk=batch.pk).update(title=f"Print {marker}")
    print_batch(batch.pk, clock=lambda: at, until=at + timedelta(minutes=1))
    batch.refresh_from_db()
    run = ask_import(
        file=io.BytesIO(f"Number,Kind,Note\nNEW-{code},nonsense {marker},{marker}\n".encode()),
        file_name=f"file-{marker}.csv", depot=depot, by=manager, at=at,
    )  # fmt: skip
    read_import(run=run, at=at)
    run.refresh_from_db()
    fitted, belt_job = (_belt_job(machine, fitter, marker=marker, at=at) for _ in range(2))
    fitting = fit_belt(
        job=fitted, drive=drive, old=OldBelt(at=at, because=f"Torn {marker}"),
        new=NewBelt(
            mark=drive.belt_mark, width=read("13 mm", WIDTH), tool="calliper", motor_in=True,
            taken_from=f"Van {marker}",
        ),
        setting=FirstSetting(because=f"No gauge {marker}", guards_on=True), at=at, by=fitter,
    )  # fmt: skip
    order_job = Job.objects.create(
        machine=machine, drive=drive, kind=Job.Kind.ORDER, belt_work=Job.BeltWork.ORDER,
        title=f"Order {marker}", opened_at=at,
    )  # fmt: skip
    readings = ask_file(
        file=io.BytesIO(
            f"Number,Date,Test,Trip time,Note\n{machine.number},01/02/2026,{marker},28,{marker}\n"
            .encode()
        ),
        file_name=f"bench-{marker}.csv", depot=depot, by=fitter, at=at,
    )  # fmt: skip
    read_file(run=readings, at=at)
    readings.refresh_from_db()
    coming, leaving = _on_the_way(depot, people[Role.DESK], marker=marker, at=at)
    instrument = make_instrument(
        depot, manager, name=f"Tester {marker}", description=f"Box {marker}",
        serial=f"I {marker}", at=at - timedelta(days=20),
        calibrated=(at.date() - timedelta(days=19), at.date() + timedelta(days=300)),
    )  # fmt: skip
    tested = class_i(
        machine, fitter, instrument=instrument, at=at - timedelta(days=6), note=f"Test {marker}"
    )
    tell_stay(
        machine=machine, at=at - timedelta(days=1), by=people[Role.DESK],
        going=Going(
            site=f"Site {marker}", site_phone=f"1{marker}", hirer=f"Hirer {marker}",
            due_back_on=at.date() + timedelta(days=2),
        ),
    )  # fmt: skip
    _, code = ask_phone(depot=depot, name=f"Box {marker}", by=manager, at=at)
    phone, _ = enrol(code=code, at=at)
    machine.refresh_from_db()
    note = note_for(person=manager, depot=depot, week_of=at.date(), at=at)
    assert note is not None
    return World(
        marker=marker, depot=depot, people=people, machine=machine, drive=drive,
        width_record=width_record, stop=Stop.objects.get(machine=machine), job=job,
        figure=figure, record=record, test_record=tested.record, belt_job=belt_job,
        fitting=fitting, order_job=order_job,
        batch=batch, sheet=Sheet.objects.get(batch=batch), run=run, readings=readings,
        coming=coming, leaving=leaving, cost=cost, due_line=due_line, completion=completion,
        closed_day=ClosedDay.objects.create(
            depot=depot, on=at.date() + timedelta(days=9), name=f"Closed {marker}"
        ),
        instrument=instrument,
        own_line=own_line,
        phone=phone, member=Membership.objects.get(user=fitter, depot=depot),
        way_in=make_way_in(person=fitter, at=at, by=manager),
        competence=Competence.objects.filter(user=fitter)[0],
        note=note,
        feed=add_feed(user=manager, depot=depot, what=Feed.What.ALL, at=at),
        timed=set_up(
            depot=depot, kind=TimedPrint.What.BOARD, days=[0], clock=time(6, 0), by=manager, at=at
        ),
        part=part, stock_place=stock_place, part_used=part_used,
        hold=hold(machine=machine, reason=f"Claim {marker}", at=at, by=manager),
        erasure=ask_erasure(
            person=make_user(f"Left {marker}", (depot, Role.OPERATOR)), depot=depot,
            reason=f"Has left {marker}", at=at, by=manager,
        ),
    )  # fmt: skip


def _on_the_way(
    depot: Depot, desk: User, *, marker: str, at: datetime
) -> tuple[Transfer, Transfer]:
    """A machine that comes to the depot from one beside it, and one that leaves for it."""
    beside = Depot.objects.create(code=f"{depot.code}-2", name=f"Beside {marker}")
    other = make_user(f"Sender {marker}", (beside, Role.DESK))
    comes = make_machine(beside, f"{marker[:8].upper()}-2")
    leaves = make_machine(depot, f"{marker[:8].upper()}-3")
    coming = send(machine=comes, to=depot, at=at - timedelta(days=1), by=other)
    return coming, send(machine=leaves, to=beside, at=at - timedelta(days=1), by=desk)


def signed_in(user: User | None, **more: Any) -> Client:
    client = Client(raise_request_exception=False, **more)
    if user is not None:
        client.force_login(user)
    return client


def body(response: Any) -> bytes:
    """The whole answer, streamed or not."""
    if response.streaming:
        return b"".join(response.streaming_content)
    return bytes(response.content)
