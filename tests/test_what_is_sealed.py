"""Every model that states a fact stands on a sealed record, or is named here with the reason."""

from django.apps import apps
from django.db import models

from plant.models import Record

# "App.Model": why its rows are not sealed.
NOT_SEALED = {
    # Worked out anew from what is sealed.
    "maintenance.BeltLife": "worked out from readings",
    "maintenance.BeltLook": "worked out from a fitted belt and its readings",
    "maintenance.Completion": "follows from sealed jobs and tests; brought in with a sealed import",
    "maintenance.CountRate": "worked out from readings",
    "maintenance.DueLine": "worked out from completions, plan and readings",
    "maintenance.UseRate": "worked out from readings",
    "plant.Counter": "the total of sealed readings",
    "plant.Drive": "as the newest sealed drive data and belt say; kept for the sums",
    "plant.Meter": "fitted, changed and broken by sealed records",
    # Sealed whole with the record that ends them.
    "maintenance.Finding": "sealed with its steps when a cause is named",
    "maintenance.FindingStep": "sealed with its finding",
    "maintenance.Job": "what was done, sent back, countersigned or called off is sealed",
    "maintenance.JobStep": "sealed with its answers when the work is done",
    "maintenance.StepAnswer": "sealed with its step when the work is done",
    "maintenance.Labour": "the minutes are in the record of the job",
    "maintenance.PartUsed": "the parts are in the record of the job or of the stock",
    # What will go, and what went: sealed when it goes.
    "maintenance.KeepListing": "a promise; what goes by it is sealed",
    "maintenance.KeepRound": "which month was listed",
    "reports.Erasure": "a request; what is carried out is sealed",
    "plant.LeftFile": "a file to be removed",
    # Half-done, or how far something is.
    "maintenance.BeltDraft": "half-done entry; what is sealed is the end of it",
    "maintenance.InspectionDraft": "half-done list; what is sealed is the end of it",
    "maintenance.ReadingsFile": "a file on its way in; each test it brings is sealed",
    "maintenance.ReadingsRow": "a row of that file",
    "plant.MachineImport": "a file on its way in; what it brought is sealed",
    "plant.MachineImportRow": "a row of that file",
    "reports.Batch": "holds sheets; each that states something is sealed",
    "reports.Sheet": "sealed where it states how a machine stands; a label states nothing",
    # The plan of work and the depot's own settings: what is to be, not what was.
    "maintenance.ClosedDay": "a plan",
    "maintenance.FitterDay": "a plan",
    "maintenance.KindSheet": "comes with the program; a change of a plan is sealed",
    "maintenance.PlanLine": "a change of a plan is sealed; the first plan comes with the program",
    "maintenance.PlanStep": "copied into each job, and sealed there",
    "maintenance.RuleSheet": "the questions and limits used are in each record, with its name",
    "maintenance.WeekDay": "a plan",
    "plant.Depot": "settings; their changes are sealed",
    "plant.MachineKind": "comes with the program",
    # The register and the rack.
    "maintenance.Hirer": "an address; who had a machine is sealed with each move",
    "maintenance.Part": "a name and where it is bought; what moved is sealed",
    "maintenance.PartNumber": "another name of a part, with who said so; what moved is sealed",
    "maintenance.PartOrder": "what was asked for; what came is sealed",
    "maintenance.StockPlace": "a name",
    "plant.Machine": "its plate; each record holds number and figures as they then were",
    # Money is read by few and records by many (DEVELOPERS.md, Decisions).
    "maintenance.Cost": "money",
    "maintenance.HourRate": "money",
    "maintenance.MoneySetting": "money",
    # It proves nothing: the phone's own word (DEVELOPERS.md, Decisions).
    "maintenance.Pace": "how long a question took, as a phone told it",
    # People, phones, and getting in: the security log says who did what.
    "plant.Membership": "its changes are sealed; each record holds the role of its signing",
    "plant.Firm": "a setting; its changes are sealed",
    "plant.WayIn": "a link to set a password; that it was made is sealed",
    "plant.OneTime": "a secret",
    "plant.SpareCode": "a secret",
    "plant.SignedIn": "where somebody is signed in",
    "plant.Phone": "enrolled and withdrawn in the security log; its number is in the records",
    "plant.PhoneCode": "a secret",
    "plant.SignInAttempt": "throttling",
    "plant.User": "an account; its changes are sealed, and it can be erased",
    # Messages, links and the system itself.
    "plant.Heartbeat": "the system",
    "plant.Chore": "the system: its backups and archives",
    "plant.SetUp": "how the system began",
    "plant.ChainCheck": "what was last found of the chain itself",
    "plant.Message": "sent, not stated",
    "plant.MessageChoice": "a setting",
    "reports.TimedPrint": "a setting",
    "reports.TimedTurn": "which paper was asked for; what it prints is sealed where it states",
    "reports.Feed": "a link",
    "reports.FeedEvent": "what a link last told",
    "reports.WeeklyNote": "what a link tells",
    # The chain.
    "plant.Chain": "the head of the chain",
    "plant.Record": "the record itself",
    "plant.RecordPhoto": "its commitment is in the record",
    "plant.RecordText": "its commitment is in the record",
}


def _stands_on_a_record(model: type[models.Model]) -> bool:
    return any(
        field.name == "record" and field.related_model is Record and not field.null
        for field in model._meta.concrete_fields
    )


def test_each_model_stands_on_a_sealed_record_or_says_why_not() -> None:
    ours = [
        m for m in apps.get_models() if m._meta.app_label in ("plant", "maintenance", "reports")
    ]
    unsealed = {model._meta.label for model in ours if not _stands_on_a_record(model)}
    assert unsealed - NOT_SEALED.keys() == set(), "seal it, or say here why not"
    # Some stand on a record that need not be theirs alone; their reason is told all the same.
    assert {m._meta.label for m in ours} >= NOT_SEALED.keys(), "a model that is no more"
    on_both = NOT_SEALED.keys() - unsealed
    assert on_both <= {"maintenance.Labour", "maintenance.PartUsed", "plant.RecordPhoto",
                       "plant.RecordText"}  # fmt: skip
