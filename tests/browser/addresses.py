"""Every named address: a page that is looked at, or something else, and then what."""

from dataclasses import dataclass

MANAGER, ADMINISTRATOR, NOBODY = "marit", "tobiah", ""


@dataclass(frozen=True)
class Seen:
    """A page to look at.

    fills: which object of the scenes fills each part of the address; who: who looks; query: what
    stands after the question mark; again: a short name, where an address is looked at twice;
    shared_phone: on an enrolled one.
    """

    fills: str | dict[str, str] = ""
    who: str = MANAGER
    query: str = ""
    again: str = ""
    check_screen: bool = False
    shared_phone: bool = False


_LABEL = {"code": "label"}

PAGES: dict[str, tuple[Seen, ...]] = {
    "plant:sign_in": (Seen(who=NOBODY),),
    "plant:code_sign_in": (Seen(who=NOBODY, shared_phone=True),),
    "plant:phone_list": (Seen(),),
    "plant:enrol_phone": (Seen(who=NOBODY, query="code=K7QP3MXA9RTC"),),
    "plant:own_code": (Seen(),),
    "plant:first_code": (Seen("member"),),
    "maintenance:people": (Seen(),),
    "maintenance:give_competence": (Seen("member"),),
    "maintenance:end_competence": (Seen("competence"),),
    "plant:health": (Seen(who=ADMINISTRATOR),),
    "plant:work_out": (
        Seen(),
        Seen(
            again="worked out",
            query="belt_mark=13A690+660+Li&driver=80+mm&driven=180+mm&driver_depth=10.0+mm&"
            "driven_depth=10.2+mm&width_new=13.0+mm&width_now=12.1+mm&centres=136+mm&slot_in=14+mm"
            "&slot_out=6+mm&belt_tight=yes&motor_power=0.55+kW&motor_speed=1400+rpm&load=heavy",
        ),
    ),
    "plant:import_list": (Seen(),),
    "plant:add_import": (Seen(),),
    "plant:machine_import": (Seen("import"),),
    "maintenance:running_out": (Seen(),),
    "maintenance:change_belt": (
        Seen({"pk": "belt_job", "drive_pk": "belt_drive"}),
        Seen({"pk": "belt_job", "drive_pk": "belt_drive"}, again="new belt", query="step=new"),
        Seen({"pk": "belt_job", "drive_pk": "belt_drive"}, again="set", query="step=set"),
    ),
    "maintenance:correct_belt": (Seen("fitting"),),
    "maintenance:order_belt": (Seen("order_job"),),
    "maintenance:belts": (Seen(), Seen(again="to change", query="verdict=change+now")),
    "maintenance:add_drive": (Seen("machine"),),
    "maintenance:drive": (Seen("drive"),),
    "maintenance:edit_drive": (Seen("drive"),),
    "maintenance:add_width": (Seen("drive"),),
    "maintenance:add_tension": (Seen("drive"),),
    "maintenance:add_ride": (Seen("drive"),),
    "maintenance:add_slot": (Seen("drive"),),
    "maintenance:add_alignment": (Seen("drive"),),
    "maintenance:add_pulley": (Seen("drive"),),
    "maintenance:correct_reading": (Seen("reading"),),
    "maintenance:machine_list": (
        Seen(),
        Seen(again="nothing found", query="q=no+such+number"),
    ),
    "maintenance:add_machine": (Seen(),),
    "maintenance:edit_machine": (Seen("machine"),),
    "maintenance:machine": (Seen("machine"), Seen("stopped", again="stopped")),
    "maintenance:check": (Seen("machine", check_screen=True),),
    "maintenance:report_fault": (Seen("machine", check_screen=True),),
    "maintenance:stop_machine": (Seen("machine", check_screen=True),),
    "maintenance:look_over": (
        Seen("machine", check_screen=True),
        Seen("machine", who="kofi", again="not competent", check_screen=True),
    ),
    "maintenance:inspection": (
        Seen("machine", check_screen=True),
        Seen("isolated", again="isolated", check_screen=True),
    ),
    "maintenance:add_meter_figure": (Seen("metered"),),
    "maintenance:meter_changed": (Seen("metered"),),
    "maintenance:accept_meter_figure": (Seen("questioned"),),
    "maintenance:add_test": (
        Seen("machine"),
        Seen("class_i", again="class I"),
        Seen("class_i", again="RCD", query="form=rcd_portable"),
        Seen("petrol", again="none"),
    ),
    "maintenance:machine_tests": (Seen("retested"),),
    "maintenance:test_list": (Seen(), Seen(again="in doubt", query="state=doubt")),
    "maintenance:readings_file_list": (Seen(),),
    "maintenance:add_readings_file": (Seen(who="lukasz"),),
    "maintenance:readings_file": (
        Seen("readings", who="lukasz"),
        Seen("readings_sorted", who="lukasz", again="sorted"),
    ),
    "maintenance:instrument_list": (Seen(),),
    "maintenance:add_instrument": (Seen(),),
    "maintenance:instrument": (Seen("instrument"), Seen("found_wrong", again="found wrong")),
    "maintenance:calibrate_instrument": (Seen("instrument"),),
    "maintenance:strike_calibration": (Seen("calibration"),),
    "maintenance:withdraw_instrument": (Seen("instrument"),),
    "maintenance:release": (Seen("stopped"),),
    "maintenance:add_job": (Seen("machine"),),
    "maintenance:decide": (Seen("stop"),),
    "maintenance:record": (
        Seen("record"),
        Seen("inspected", again="inspection"),
        Seen("test_record", again="electrical test"),
    ),
    "maintenance:sent": (Seen("record", check_screen=True),),
    "maintenance:replace_label": (Seen("in_yard"),),
    "maintenance:worth_a_look": (Seen(query="depot=1"), Seen(again="nothing", query="depot=3")),
    "maintenance:scan": (Seen(),),
    "maintenance:label": (Seen(_LABEL, who=NOBODY, check_screen=True),),
    "maintenance:label_check": (Seen(_LABEL, who=NOBODY, check_screen=True),),
    "maintenance:label_fault": (Seen(_LABEL, who=NOBODY, check_screen=True),),
    "maintenance:label_stop": (Seen(_LABEL, who=NOBODY, check_screen=True),),
    "maintenance:label_sent": (
        Seen({"code": "label", "pk": "label_record"}, who=NOBODY, check_screen=True),
    ),
    "maintenance:phone": (Seen(who=NOBODY, check_screen=True),),
    "maintenance:out_in": (
        Seen(),
        Seen(again="asked", query="q=10"),
        Seen(again="moving", query="list=moving"),
        Seen(again="missing", query="list=missing"),
    ),
    "reports:issue": (Seen("in_yard"), Seen("stopped", again="no")),
    "maintenance:take_back": (Seen("out"),),
    "maintenance:pass_on": (Seen("out"),),
    "maintenance:tell_stay": (Seen("out"),),
    "maintenance:send": (Seen("in_yard"),),
    "maintenance:move": (Seen("in_yard"), Seen("out", again="out")),
    "maintenance:write_off": (Seen("in_yard"),),
    "maintenance:receive": (Seen("transfer"),),
    "maintenance:turn_back": (Seen("transfer"),),
    "maintenance:job_list": (
        Seen(),
        Seen(again="waiting", query="state=waiting"),
        Seen(again="countersign", query="flag=countersign"),
    ),
    "maintenance:job_costs": (Seen("job_done"), Seen("job", again="nothing yet")),
    "maintenance:machine_costs": (Seen("machine"),),
    "maintenance:depot_money": (Seen("depot"),),
    "maintenance:back_again": (Seen(),),
    "maintenance:day": (
        Seen(who="sorcha"),
        Seen(who="sorcha", again="empty", query="on=2027-02-07"),
        Seen(who="lukasz", again="a fitter looks"),
    ),
    "maintenance:fitter_day": (Seen("fitter", who="sorcha", query="depot=1"),),
    "maintenance:plan_job": (Seen("job", who="sorcha"),),
    "maintenance:job": (
        Seen("job"),
        Seen("job_under_way", again="under way"),
        Seen("job_done", again="work done"),
    ),
    "maintenance:give_out_job": (Seen("job"),),
    "maintenance:start_job": (Seen("job"),),
    "maintenance:isolate_job": (Seen("job_under_way"),),
    "maintenance:wait_job": (Seen("job_under_way"),),
    "maintenance:finish_job": (Seen("job_under_way"), Seen("job_done", again="second worker")),
    "maintenance:find_fault": (Seen("machine"),),
    "maintenance:finding": (
        Seen("job_finding", check_screen=True),
        Seen("job_finding", query="test=rock_pulley", again="another test", check_screen=True),
        Seen("job_found", again="sealed"),
        Seen("job"),
    ),
    "maintenance:job_steps": (Seen("job_under_way"), Seen("job_done", again="work done")),
    "maintenance:countersign_job": (
        Seen("job_learner", who="sorcha"),
        Seen("job_done", again="nothing to sign"),
    ),
    "maintenance:send_back_job": (Seen("job_done"),),
    "maintenance:close_job": (Seen("job_done"),),
    "maintenance:call_off_job": (Seen("job"),),
    "maintenance:answer_job": (Seen("told_job"),),
    "maintenance:due_list": (Seen(),),
    "maintenance:look_ahead": (Seen(),),
    "maintenance:due_line": (Seen("due_line"),),
    "maintenance:put_off": (Seen("due_line"),),
    "maintenance:correct_done": (Seen("completion"),),
    "maintenance:plan_list": (Seen(),),
    "maintenance:kind_plan": (Seen("kind"),),
    "maintenance:machine_plan": (Seen("machine"),),
    "maintenance:add_plan_line": (Seen("kind"),),
    "maintenance:add_own_line": (Seen("machine"),),
    "maintenance:change_plan_line": (Seen("plan_line"),),
    "maintenance:end_plan_line": (Seen("plan_line"),),
    "maintenance:rest_line": (Seen("due_line"),),
    "maintenance:open_days": (Seen("depot"),),
    "maintenance:belt_lead": (Seen("depot"),),
    "maintenance:close_day": (Seen("depot"),),
    "reports:today": (Seen(),),
    "reports:batch_list": (Seen(),),
    "reports:ask_batch": (Seen(),),
    "reports:batch": (Seen("batch"), Seen("label_batch", again="labels")),
    "reports:messages": (Seen(), Seen(who="sorcha", again="chosen")),
    "reports:prove_address": (Seen(),),
    "reports:sealed": (Seen(who=NOBODY),),
    "reports:note": (Seen({"code": "note"}, who=NOBODY),),
}

# Addresses that show no page of their own: why.
NO_PAGE: dict[str, str] = {
    "plant:sign_out": "an act",
    "plant:withdraw_phone": "an act",
    "plant:phone_link": "for who has just asked for a phone: looked at in test_shared_phone.py",
    "plant:health_json": "figures for a program",
    "plant:import_progress": "a part of a page",
    "plant:sort_import": "an act",
    "plant:save_import": "an act",
    "plant:drop_import": "an act",
    "plant:import_left_over": "a file",
    "plant:service_worker": "a program",
    "maintenance:open_day": "an act",
    "maintenance:readings_example": "a file",
    "maintenance:readings_file_progress": "a part of a page",
    "maintenance:readings_left_over": "a file",
    "maintenance:sort_readings_file": "an act",
    "maintenance:save_readings_file": "an act",
    "maintenance:drop_readings_file": "an act",
    "maintenance:have_it": "an act",
    "maintenance:phone_pack": "what a phone takes along",
    "maintenance:phone_entries": "what a phone sends when it has signal again",
    "maintenance:record_photo": "a picture",
    "maintenance:machine_photo": "a picture",
    "maintenance:give_out_day": "an act",
    "maintenance:strike_cost": "an act",
    "reports:prints": "a part of a page",
    "reports:batch_progress": "a part of a page",
    "reports:retry_batch": "an act",
    "reports:batch_file": "a file",
    "reports:sheet_file": "a file",
    "reports:ask_sheet": "an act",
    "reports:ask_passport": "an act",
    "reports:ask_label": "an act",
    "reports:ask_proof": "an act",
    "reports:withdraw_note": "an act",
    "reports:add_feed": "an act",
    "reports:withdraw_feed": "an act",
    "reports:feed": "a file",
}
