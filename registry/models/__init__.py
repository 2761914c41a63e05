from registry.models.access import AccessEntry, Invitation
from registry.models.assessments import Assessment
from registry.models.atmosphere import AtmosphereSpan
from registry.models.attachments import Attachment
from registry.models.desk import LastVisit, OwnerPrices, SavedView
from registry.models.first_run import FirstCode
from registry.models.held_files import HeldFile
from registry.models.imports import ImportBatch, ImportShape, RowToFix
from registry.models.jobs import Job, WorkerSign
from registry.models.log import (
    LogCheckpoint,
    LoggedSystem,
    LogKey,
    LogLeaf,
    LogNode,
    LogWitness,
    OwnerLog,
)
from registry.models.owner_ledger import OwnerLedger, OwnerRecord
from registry.models.packages import PackageLink, RecordPackage
from registry.models.people import Membership, Organisation, User
from registry.models.phone import DiscardedEntry, KeptEntry
from registry.models.pipes import PipeRun
from registry.models.policy import OwnerPolicy
from registry.models.protection import ProtectionSpan
from registry.models.records import Record
from registry.models.riser_signs import RiserSign, SignSettings, SignUse, Telling
from registry.models.runs import InertingRun
from registry.models.sign_ins import KeptForAWhile, SignIn
from registry.models.sites import AuditAccess, Building, ServiceContract, Site
from registry.models.systems import Fitting, System
from registry.models.verdicts import OwnerVerdict, Verdict

__all__ = [
    "AccessEntry",
    "Invitation",
    "SavedView",
    "Assessment",
    "AtmosphereSpan",
    "Attachment",
    "HeldFile",
    "AuditAccess",
    "Building",
    "DiscardedEntry",
    "FirstCode",
    "Fitting",
    "ImportBatch",
    "ImportShape",
    "InertingRun",
    "KeptEntry",
    "KeptForAWhile",
    "LastVisit",
    "LogCheckpoint",
    "LogKey",
    "LogLeaf",
    "LogNode",
    "LogWitness",
    "LoggedSystem",
    "Job",
    "Membership",
    "Organisation",
    "OwnerLedger",
    "OwnerLog",
    "OwnerPolicy",
    "OwnerPrices",
    "OwnerRecord",
    "OwnerVerdict",
    "PipeRun",
    "ProtectionSpan",
    "Record",
    "PackageLink",
    "RecordPackage",
    "RiserSign",
    "RowToFix",
    "ServiceContract",
    "SignIn",
    "SignSettings",
    "SignUse",
    "Site",
    "System",
    "Telling",
    "User",
    "Verdict",
    "WorkerSign",
]
