"""What belongs to a site besides its systems: buildings, and who serves it."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from registry.models import Building, Organisation, ServiceContract, User
from registry.services.access import changing_access
from registry.services.owner_ledger import note_changes


@transaction.atomic
def save_building(
    *, building: Building, name: str, access_note: str = "", changed_by: User | None = None
) -> Building:
    building.name, building.access_note = name, access_note
    building.full_clean()
    building.save()
    note_changes(building.site.owner, by=changed_by, now=timezone.now())
    return building


def save_contract(
    *,
    contract: ServiceContract,
    contractor: Organisation,
    starts_on: date,
    ends_on: date | None = None,
    changed_by: User | None = None,
) -> ServiceContract:
    before = contract.contractor if contract.contractor_id else contractor
    concerned = (contract.site.owner, before, contractor)
    with changing_access(*concerned, by=changed_by, now=timezone.now()):
        contract.contractor, contract.starts_on, contract.ends_on = contractor, starts_on, ends_on
        contract.full_clean()
        contract.save()
    return contract
