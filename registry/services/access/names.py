"""Nobody takes the name of somebody else who is known to the same book."""

import re
import unicodedata

from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils.translation import gettext

from registry.models import Membership, Organisation, User

# Letters of other scripts that look like Latin ones, as far as names are told apart by looking.
ALIKE = str.maketrans("аеорсухіјѕԁɡһӏΑΒΕΖΗΙΚΜΝΟΡΤΥΧαορν", "aeopcyxijsdghlabezhikmnoptyxaopv")
UNSEEN = ("Cc", "Cf", "Mn", "Zs", "Pd", "Po")


def look_of(name: str) -> str:
    """Names that a reader could take for one another have the same look."""
    plain = unicodedata.normalize("NFKD", name.translate(ALIKE)).casefold().translate(ALIKE)
    kept = "".join(
        " " if sign.isspace() else sign
        for sign in plain
        if sign.isspace() or unicodedata.category(sign) not in UNSEEN
    )
    return re.sub(r"\s+", " ", kept).strip()


def check_name(name: str, *, of: User | None, organisations: list[Organisation]) -> None:
    """Raises ValidationError where one of the people near these organisations is called so."""
    wanted = look_of(name)
    if not wanted:
        raise ValidationError(gettext("Write the name that shall stand beside what you record."))
    others = _people_near(organisations)
    if of is not None:
        others = others.exclude(pk=of.pk)
    if any(look_of(other) == wanted for other in others.values_list("name", flat=True)):
        raise ValidationError(
            gettext(
                "Somebody else in this book is called so, and their records would look like yours. "
                "Add what tells you apart, for example a middle name or your organisation."
            )
        )


def organisations_of(user: User) -> list[Organisation]:
    return list(user.organisations.all())


def _people_near(organisations: list[Organisation]):
    """Their members, those of whoever works or reads for the same owners, and who wrote there."""
    keys = [one.pk for one in organisations]
    owners = Organisation.objects.filter(
        Q(pk__in=keys)
        | Q(sites__service_contracts__contractor__in=keys)
        | Q(audit_access_given__auditor__in=keys),
        kind=Organisation.Kind.OWNER,
    ).values("pk")
    near = Q(organisation__in=keys) | Q(organisation__in=owners)
    near |= Q(organisation__service_contracts__site__owner__in=owners)
    near |= Q(organisation__audit_access_held__owner__in=owners)
    members = Membership.objects.filter(near).order_by().values("user")
    wrote = User.objects.filter(records__system__site__owner__in=owners).order_by().values("pk")
    return User.objects.filter(Q(pk__in=members) | Q(pk__in=wrote))
