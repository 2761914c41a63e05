"""Every write to the register goes through here: keyword-only, atomic, recorded, checked."""

from registry.services.derive import rederive, system_facts
from registry.services.ledger import RecordError, record, record_body, withdraw
from registry.services.register.systems import (
    add_fitting,
    add_pipe_run,
    add_site,
    add_system,
    amend_fitting,
    amend_site,
    amend_system,
    pipe_wall,
    site_digest,
)

__all__ = [
    "RecordError",
    "add_fitting",
    "add_pipe_run",
    "add_site",
    "add_system",
    "amend_fitting",
    "amend_site",
    "amend_system",
    "pipe_wall",
    "record",
    "record_body",
    "rederive",
    "site_digest",
    "system_facts",
    "withdraw",
]
