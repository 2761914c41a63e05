"""The first person of a book: who they are, whose systems it is about, and what is aimed for."""

from django.db import transaction
from django.utils import timezone

from registry.first_run.codes import use
from registry.models import Membership, Organisation, OwnerPolicy, User
from registry.services.access.log import note
from registry.services.owner_ledger import begin_ledger


@transaction.atomic
def begin_book(
    *,
    code: str,
    name: str,
    email: str,
    password: str,
    display_units: str,
    owner_name: str,
    contractor_name: str = "",
    target_n2_percent: float,
) -> User | None:
    """None when the code was used meanwhile. A contractor that keeps the book of an owner is a
    manager of both; the first person may also use the admin site, which nothing here needs."""
    if not use(code):
        return None
    person = User.objects.create_superuser(
        email=email, password=password, name=name, display_units=display_units
    )
    owner = Organisation.objects.create(name=owner_name, kind=Organisation.Kind.OWNER)
    _manages(person, owner)
    OwnerPolicy.objects.create(owner=owner, target_n2_percent=target_n2_percent)
    if contractor_name:
        kind = Organisation.Kind.CONTRACTOR
        _manages(person, Organisation.objects.create(name=contractor_name, kind=kind))
    now = timezone.now()
    begin_ledger(owner, now=now)
    for organisation in person.organisations.all():
        note(organisation, by=person, now=now)
    return person


def _manages(person: User, organisation: Organisation) -> None:
    Membership.objects.create(user=person, organisation=organisation, role=Membership.Role.MANAGER)
