"""Providers of OpenID Connect, read from the environment."""

from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

NEEDED = ("OIDC_SERVER_URL", "OIDC_CLIENT_ID", "OIDC_CLIENT_SECRET")


def provider_settings(values: dict[str, str]) -> dict[str, Any]:
    """What the accounts library wants to be told; nothing where no provider is named.

    Raises `ImproperlyConfigured`, which names the variable that is missing.
    """
    given = [name for name in NEEDED if values.get(name)]
    if not given:
        return {}
    if missing := [name for name in NEEDED if name not in given]:
        raise ImproperlyConfigured(
            f"{', '.join(given)} set, but not {', '.join(missing)}: sign-in at a provider needs "
            "all three. Set what is missing, or none."
        )
    address = urlsplit(values["OIDC_SERVER_URL"])
    is_here = address.hostname in ("localhost", "127.0.0.1")
    if address.scheme != "https" and not (address.scheme == "http" and is_here):
        raise ImproperlyConfigured(
            f"OIDC_SERVER_URL is {values['OIDC_SERVER_URL']}; it must begin with https://, as who "
            "somebody is comes from there."
        )
    app = {
        "provider_id": "oidc",
        "name": values.get("OIDC_NAME") or "OpenID Connect",
        "client_id": values["OIDC_CLIENT_ID"],
        "secret": values["OIDC_CLIENT_SECRET"],
        "settings": {
            "server_url": values["OIDC_SERVER_URL"],
            "oauth_pkce_enabled": True,
            "email_authentication": True,
        },
    }
    return {"openid_connect": {"APPS": [app], "OAUTH_PKCE_ENABLED": True}}
