"""What an auditor whose access has a scope may take away."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from registry.access import audit_access, manages
from registry.models import Organisation, RecordPackage, User


@dataclass(frozen=True)
class Limits:
    """Names of sites, None for all of them; what happened `since` and before `until`."""

    sites: frozenset[str] | None
    since: datetime | None
    until: datetime | None

    def allow(self, package: RecordPackage) -> bool:
        """Whether all of a package is within them."""
        has_sites = self.sites is None or (package.sites and set(package.sites) <= self.sites)
        begins = self.since is None or (package.since and package.since >= self.since)
        ends = self.until is None or (package.until and package.until <= self.until)
        return bool(has_sites and begins and ends)

    def narrow(self, chosen: dict[str, Any]) -> dict[str, Any]:
        """What was asked for, as far as it may be had."""
        sites = chosen["sites"] or ([] if self.sites is None else sorted(self.sites))
        since = max((one for one in (chosen["since"], self.since) if one), default=None)
        until = min((one for one in (chosen["until"], self.until) if one), default=None)
        return {**chosen, "sites": sites, "since": since, "until": until}


def limits_of(user: User, owner: Organisation) -> Limits | None:
    """None where nothing limits the person."""
    access = None if manages(user, owner) else audit_access(user, owner)
    if access is None or (access.has_all_sites and not access.has_period):
        return None
    names = access.sites.values_list("name", flat=True)
    sites = None if access.has_all_sites else frozenset(names)
    return Limits(sites, access.happened_from, access.happened_before)
