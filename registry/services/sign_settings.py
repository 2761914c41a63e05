from registry.models import SignSettings, Site


def save_settings(*, site: Site, **facts: str) -> SignSettings:
    """What the signs of a site say beside the register."""
    settings = SignSettings.of(site)
    for name, value in facts.items():
        setattr(settings, name, value)
    settings.full_clean(exclude=["site"])
    settings.save()
    return settings
