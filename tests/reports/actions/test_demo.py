"""The demo firm: brought in by the importer, two years lived by the real actions."""

from collections import Counter
from datetime import UTC, datetime, timedelta

import pytest

from maintenance.actions.reference import load_reference
from maintenance.contents.finding import closed_causes
from maintenance.contents.out_in import can_go_many, machines_out, stopped_out
from maintenance.models import DueLine, Job, RuleSheet, Stay, Stop
from plant.models import Chain, Depot, Drive, Machine, MachineImport, Place, Record, Role, User
from plant.sealing import Link, verify
from reports.actions.demo import live, names, password
from reports.contents.today import today

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


@pytest.fixture
def firm(db: None) -> None:
    load_reference()
    live(now=NOW, say=lambda words: None)


def test_the_demo_firm_stands_as_a_depot_does_on_a_working_morning(firm: None) -> None:
    """One test, since two years take their time."""
    machines = Machine.objects.all()
    assert Depot.objects.count() == 3
    assert machines.count() >= 60
    assert machines.values("kind").distinct().count() >= 12
    assert len(set(Drive.objects.values_list("section", flat=True)) - {""}) >= 4
    assert machines.get(number="00412").number_key == "00412"
    places = Counter(machines.values_list("place", flat=True))
    assert places[Place.OUT] > 5
    assert places[Place.YARD] > 5
    assert (places[Place.MOVING], places[Place.MISSING], places[Place.GONE]) == (1, 1, 1)
    stays = Stay.objects.open()
    assert places[Place.OUT] - stays.count() == 1
    assert not stays.exclude(site_phone__startswith="01632 960 1").exists()
    assert stays.filter(due_back_on__lt=NOW.date()).exists()
    desk = User.objects.get(sign_in="dragan")
    can = [each.yes for each in can_go_many(list(machines.filter(place="yard")), NOW.date())]
    assert sum(can) > 5
    assert can.count(False) >= 1
    told = stopped_out(machines_out(desk), NOW.date())
    assert told.filter(number="MX-203").exists()
    held = {role for role in User.objects.values_list("memberships__role", flat=True) if role}
    assert held == {str(role) for role in Role}

    run = MachineImport.objects.get()
    assert (run.step, run.file_name) == (MachineImport.Step.SAVED, "machines.xlsx")
    counted = DueLine.objects.exclude(line__measure="hours").select_related("line", "machine")
    told = {each.line.measure: (each.machine.number, each.hours_near) for each in counted}
    assert told == {"lifts": ("HW-101", True), "starts": ("BR-103", False)}

    morning = today(User.objects.get(sign_in="marit"), at=NOW)
    assert morning.stopped_count >= 3
    assert morning.overdue_count >= 1
    assert morning.in_store_count >= 1
    assert morning.soon_count >= 1
    assert not morning.silent
    assert Stop.objects.standing().filter(kind=Stop.Kind.CARRY_ON).exists()

    oldest = Record.objects.order_by("happened_at").first()
    newest = Record.objects.order_by("happened_at").last()
    assert oldest is not None
    assert newest is not None
    assert newest.happened_at - oldest.happened_at > timedelta(days=700)
    assert newest.happened_at <= NOW
    assert NOW - newest.happened_at < timedelta(days=1)
    assert Job.objects.filter(state=Job.State.CLOSED).count() > 300
    assert not DueLine.objects.filter(last_done_on__gt=NOW.date()).exists()
    # Enough mixers stood still in the past for odds of the depot's own.
    causes = closed_causes(machines.get(number="MX-203"), "no_turn")
    assert sum(causes.values()) >= RuleSheet.objects.on(NOW.date()).finding.enough
    assert max(causes, key=causes.__getitem__) == "belt_worn"

    for chain in Chain.objects.all():
        rows = Record.objects.filter(depot=chain.depot).order_by("seq")
        links = (Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in rows)
        report = verify(links, head_seq=chain.head_seq, head_hash=chain.head_hash)
        assert (report.bad_seq, report.count) == (None, chain.head_seq)

    marit = User.objects.get(sign_in=names()[0][0])
    assert marit.check_password(password())
    with pytest.raises(ValueError, match="empty system"):
        live(now=NOW, say=lambda words: None)
