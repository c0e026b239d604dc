"""The register, the people around it, and the sealed records on which all else stands."""

from plant.models.attempt import SignInAttempt
from plant.models.brought import BroughtFile, BroughtRow
from plant.models.chore import Chore
from plant.models.drive import Drive
from plant.models.machine import Counter, Machine, MachineKind, Measure, Meter, Place, Supply
from plant.models.machine_import import MachineImport, MachineImportRow
from plant.models.message import Message, MessageChoice
from plant.models.people import Depot, Firm, Lengths, Membership, Role, User
from plant.models.phone import Phone, PhoneCode
from plant.models.record import Chain, ChainCheck, LeftFile, Record, RecordPhoto, RecordText
from plant.models.set_up import SetUp
from plant.models.sign_in import OneTime, SignedIn, SpareCode, WayIn
from plant.models.work import BackgroundWork, Heartbeat

__all__ = [
    "BackgroundWork",
    "BroughtFile",
    "BroughtRow",
    "Chain",
    "ChainCheck",
    "Chore",
    "Counter",
    "Depot",
    "Drive",
    "Firm",
    "Heartbeat",
    "LeftFile",
    "Lengths",
    "Machine",
    "MachineImport",
    "MachineImportRow",
    "MachineKind",
    "Measure",
    "Membership",
    "Message",
    "MessageChoice",
    "Meter",
    "OneTime",
    "Phone",
    "PhoneCode",
    "Place",
    "Record",
    "RecordPhoto",
    "RecordText",
    "Role",
    "SetUp",
    "SignInAttempt",
    "SignedIn",
    "SpareCode",
    "Supply",
    "User",
    "WayIn",
]
