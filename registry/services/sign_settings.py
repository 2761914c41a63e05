from datetime import datetime

from django.db import transaction

from registry.models import SignSettings, Site, User
from registry.services.owner_ledger import note_changes


@transaction.atomic
def save_settings(
    *, site: Site, now: datetime, changed_by: User | None = None, **facts: str
) -> SignSettings:
    """What the signs of a site say beside the register. A telephone number is kept as that of the
    contractor who serves the site now, so that it never stands beside another's name."""
    settings = SignSettings.of(site)
    for name, value in facts.items():
        setattr(settings, name, value)
    settings.contractor = site.contractor_on(now.astimezone(site.zone).date())
    settings.full_clean(exclude=["site"])
    settings.save()
    note_changes(site.owner, by=changed_by, now=now)
    return settings
