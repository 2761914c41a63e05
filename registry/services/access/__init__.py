"""Who comes in, who goes, and the log of it: invitations, members, contracts, auditors."""

from registry.services.access.log import begin_everywhere, changing_access, note_everybody

__all__ = ["begin_everywhere", "changing_access", "note_everybody"]
