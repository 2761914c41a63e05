"""Plain functions that make what a test is about, with few defaults and no cleverness."""

from datetime import UTC, date, datetime
from itertools import count

from registry import services
from registry.models import (
    AuditAccess,
    Building,
    Membership,
    Organisation,
    PipeRun,
    Record,
    ServiceContract,
    Site,
    System,
    User,
)

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
PSI = 6894.757293168361
_numbers = count(1)


def make_organisation(kind: str = "owner", name: str = "") -> Organisation:
    return Organisation.objects.create(kind=kind, name=name or f"{kind} {next(_numbers)}")


def make_user(
    organisation: Organisation | None = None, role: str = "reader", name: str = ""
) -> User:
    number = next(_numbers)
    user = User.objects.create_user(
        f"person{number}@averhythe.example", "correct-horse", name=name or f"Person {number}"
    )
    if organisation:
        Membership.objects.create(user=user, organisation=organisation, role=role)
    return user


def make_site(
    owner: Organisation | None = None, contractor: Organisation | None = None, **facts
) -> Site:
    owner = owner or make_organisation()
    facts.setdefault("name", f"Site {next(_numbers)}")
    site = Site.objects.create(owner=owner, **{"time_zone": "Europe/London", **facts})
    if contractor:
        ServiceContract.objects.create(site=site, contractor=contractor, starts_on=date(2020, 1, 1))
    return site


def make_building(site: Site, name: str = "") -> Building:
    return Building.objects.create(site=site, name=name or f"Building {next(_numbers)}")


def manager_of(site: Site) -> User:
    membership = site.owner.memberships.filter(role="manager").first()
    return membership.user if membership else make_user(site.owner, "manager")


def make_system(site: Site | None = None, by: User | None = None, now=NOW, **facts) -> System:
    """A system as the register's own service enters it, so its ledger has its first record."""
    site = site or make_site()
    facts.setdefault("tag", f"SYS-{next(_numbers):03d}")
    facts = {"kind": "wet", "installed_on": date(2005, 3, 1), **facts}
    return services.add_system(site=site, recorded_by=by or manager_of(site), now=now, **facts)


def make_pipe_run(system: System, by: User | None = None, now=NOW, **facts) -> PipeRun:
    facts = {
        "role": "cross_main",
        "material": "black_steel",
        "schedule": "10",
        "nominal_size": "4",
        "length_m": 100.0,
        **facts,
    }
    return services.add_pipe_run(
        system=system, recorded_by=by or manager_of(system.site), now=now, **facts
    )


def make_record(
    system: System, kind: str, occurred_at: datetime, by: User | None = None, now=NOW, **details
) -> Record:
    return services.record(
        system=system,
        kind=kind,
        occurred_at=occurred_at,
        details=details,
        recorded_by=by or manager_of(system.site),
        now=now,
    )


def let_audit(owner: Organisation, auditor: Organisation) -> AuditAccess:
    return AuditAccess.objects.create(owner=owner, auditor=auditor)
