"""Asking for a package."""

from datetime import datetime

from django.db import transaction

from registry.jobs import ask
from registry.models import Organisation, RecordPackage, User

PACKAGE = "scheduling.package"


@transaction.atomic
def ask_for_package(
    owner: Organisation, *, asked_by: User, now: datetime, **chosen
) -> RecordPackage:
    package = RecordPackage.objects.create(owner=owner, asked_by=asked_by, asked_at=now, **chosen)
    ask(PACKAGE, key=str(package.pk), arguments={"package": package.pk}, owner=owner, now=now)
    return package
