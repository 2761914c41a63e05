"""What belongs to a site besides its systems: buildings, and who serves it."""

from datetime import date

from registry.models import Building, Organisation, ServiceContract


def save_building(*, building: Building, name: str, access_note: str = "") -> Building:
    building.name, building.access_note = name, access_note
    building.full_clean()
    building.save()
    return building


def save_contract(
    *,
    contract: ServiceContract,
    contractor: Organisation,
    starts_on: date,
    ends_on: date | None = None,
) -> ServiceContract:
    contract.contractor, contract.starts_on, contract.ends_on = contractor, starts_on, ends_on
    contract.full_clean()
    contract.save()
    return contract
