"""What an owner's ledger is about: sites and who serves them, policies, who may read, the names and
roles of people, and what other apps add, such as adopted editions.

Facts are read as the book holds them. The service writes what differs from the ledger; the check
of the whole book says what differs without having been written.
"""

from registry.owner_ledger.facts import (
    Facts,
    Key,
    all_subjects,
    facts_of,
    few_subjects,
    register,
)
from registry.owner_ledger.history import Names, body_of, facts_at, fold

__all__ = [
    "Facts",
    "Key",
    "Names",
    "all_subjects",
    "body_of",
    "facts_at",
    "facts_of",
    "few_subjects",
    "fold",
    "register",
]
