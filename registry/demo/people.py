import json
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from django.conf import settings
from django.contrib.auth.hashers import make_password

from registry.models import (
    AuditAccess,
    Building,
    Membership,
    Organisation,
    ServiceContract,
    Site,
    System,
    User,
)
from registry.services import amend_system
from registry.services.sign_settings import save_settings

FOLDER = settings.BASE_DIR / "fixtures" / "demo"
CONTRACTS_FROM = date(2015, 1, 1)


@cache
def facts() -> dict[str, Any]:
    return json.loads((FOLDER / "people.json").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class DemoPerson:
    email: str
    does: str


def demo_people() -> list[DemoPerson]:
    return [DemoPerson(person["email"], person["does"]) for person in facts()["people"]]


def demo_password() -> str:
    return facts()["password"]


def make_organisations() -> dict[str, Organisation]:
    """The demo's organisations by the short names of the fixture."""
    made = {
        "owner": _organisation(facts()["owner"], Organisation.Kind.OWNER),
        "auditor": _organisation(facts()["auditor"], Organisation.Kind.AUDITOR),
    }
    for key, contractor in facts()["contractors"].items():
        made[key] = _organisation(contractor["name"], Organisation.Kind.CONTRACTOR)
    AuditAccess.objects.get_or_create(owner=made["owner"], auditor=made["auditor"])
    return made


def _organisation(name: str, kind: str) -> Organisation:
    return Organisation.objects.get_or_create(name=name, defaults={"kind": kind})[0]


def make_people(organisations: dict[str, Organisation]) -> dict[str, User]:
    people = {}
    password = make_password(demo_password())  # one word for all, printed by `make demo`
    for person in facts()["people"]:
        user, _ = User.objects.get_or_create(
            email=person["email"],
            defaults={
                "name": person["name"],
                "display_units": person["units"],
                "password": password,
            },
        )
        Membership.objects.get_or_create(
            user=user, organisation=organisations[person["at"]], defaults={"role": person["role"]}
        )
        people[person["key"]] = user
    return people


def make_sites(organisations: dict[str, Organisation]) -> None:
    contractor_of = {
        site: organisations[key]
        for key, contractor in facts()["contractors"].items()
        for site in contractor["sites"]
    }
    for name, details in facts()["sites"].items():
        site, _ = Site.objects.get_or_create(
            owner=organisations["owner"],
            name=name,
            defaults={"time_zone": facts()["time_zone"], **details},
        )
        ServiceContract.objects.get_or_create(
            site=site,
            contractor=contractor_of[name],
            defaults={"starts_on": CONTRACTS_FROM},
        )


def weigh_consequences(owner: Organisation, by: User, now: datetime) -> None:
    """What stands below the pipe, and who depends on it, building by building."""
    for name, weight in facts()["consequence"].items():
        for system in System.objects.filter(site__owner=owner, building__name=name):
            amend_system(system=system, recorded_by=by, now=now, consequence_class=weight)


def note_signs(owner: Organisation, by: User, now: datetime) -> None:
    """Whom the signs at the risers tell to call, in the languages of each site."""
    for name, said in facts()["signs"].items():
        site = Site.objects.get(owner=owner, name=name)
        save_settings(site=site, now=now, changed_by=by, **said)


def note_access(owner: Organisation) -> None:
    """How to get in, for the buildings a technician visits most."""
    for name, note in facts()["access_notes"].items():
        Building.objects.filter(site__owner=owner, name=name).update(access_note=note)
