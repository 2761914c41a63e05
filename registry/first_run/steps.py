"""How far an owner's book has come: five steps, each seen in what the book holds."""

from dataclasses import dataclass
from datetime import datetime

from registry.models import (
    AuditAccess,
    Invitation,
    Organisation,
    PipeRun,
    ServiceContract,
    Site,
    System,
    User,
)


@dataclass(frozen=True)
class Progress:
    owner: Organisation
    site: Site | None
    systems: int
    system_without_pipe: System | None
    has_contractor: bool
    has_auditor: bool
    invited: frozenset[str]
    """Kinds of those who were invited and have not come yet."""
    new_contractor: Organisation | None
    """One that accepted and serves no site: there may have been none."""

    @classmethod
    def of(cls, owner: Organisation, now: datetime) -> "Progress":
        systems = System.objects.filter(site__owner=owner).select_related("site__owner")
        contracts = ServiceContract.objects.filter(site__owner=owner)
        came = Organisation.objects.filter(
            kind=Organisation.Kind.CONTRACTOR, accepted_invitations__organisation=owner
        )
        pending = Invitation.objects.live(now).filter(organisation=owner)
        piped = PipeRun.objects.filter(system__in=systems).values("system")
        return cls(
            owner=owner,
            site=Site.objects.filter(owner=owner).order_by("pk").first(),
            systems=systems.count(),
            system_without_pipe=systems.exclude(pk__in=piped).order_by("pk").first(),
            has_contractor=contracts.exists(),
            has_auditor=AuditAccess.objects.filter(owner=owner).exists(),
            invited=frozenset(pending.order_by().values_list("kind", flat=True)),
            new_contractor=came.exclude(pk__in=contracts.values("contractor")).first(),
        )

    @property
    def has_register(self) -> bool:
        return bool(self.systems) and self.system_without_pipe is None

    @property
    def done(self) -> int:
        steps = (True, self.site is not None, self.has_register, self.has_contractor)
        return sum((*steps, self.has_auditor))

    @property
    def left(self) -> int:
        return 5 - self.done


def serves_as_contractor(user: User) -> Organisation | None:
    """The contractor whose manager keeps this book."""
    return user.organisations.filter(kind=Organisation.Kind.CONTRACTOR).first()
