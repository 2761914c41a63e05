from registry.models.assessments import Assessment
from registry.models.atmosphere import AtmosphereSpan
from registry.models.attachments import Attachment
from registry.models.imports import ImportBatch
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
    "Attachment",
    "AuditAccess",
    "Building",
    "Fitting",
    "ImportBatch",
    "InertingRun",
    "Membership",
    "Organisation",
    "OwnerPolicy",
    "PipeRun",
    "Record",
    "ServiceContract",
    "Site",
    "System",
    "User",
]
