from registry.models.assessments import Assessment
from registry.models.atmosphere import AtmosphereSpan
from registry.models.imports import ImportBatch, ImportShape, RowToFix
from registry.models.people import Membership, Organisation, User
from registry.models.pipes import PipeRun
from registry.models.policy import OwnerPolicy
from registry.models.records import Record
from registry.models.runs import InertingRun
from registry.models.sites import AuditAccess, Building, ServiceContract, Site
from registry.models.systems import Fitting, System

__all__ = [
    "Assessment",
    "AtmosphereSpan",
    "AuditAccess",
    "Building",
    "Fitting",
    "ImportBatch",
    "ImportShape",
    "InertingRun",
    "Membership",
    "Organisation",
    "OwnerPolicy",
    "PipeRun",
    "Record",
    "RowToFix",
    "ServiceContract",
    "Site",
    "System",
    "User",
]
