"""Which contractors an owner knows."""

from django.db.models import Q

from registry.models import Membership, Organisation, User


def known_contractors(owner: Organisation, user: User):
    """Those that serve or served the owner, that it invited or that invited it, and the person's
    own: nobody chooses from a list of all that there are."""
    known = Q(service_contracts__site__owner=owner)
    known |= Q(accepted_invitations__organisation=owner)
    known |= Q(invitations__accepted_for=owner)
    known |= Q(memberships__user=user, memberships__role=Membership.Role.MANAGER)
    found = Organisation.objects.filter(known, kind=Organisation.Kind.CONTRACTOR)
    return found.distinct().order_by("name")
