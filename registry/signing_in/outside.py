"""Sign-in at a provider of OpenID Connect: what the book checks beside the accounts library."""

import secrets
from typing import Any

from allauth.socialaccount.providers.oauth2.client import OAuth2Error
from allauth.socialaccount.providers.oauth2.views import OAuth2CallbackView, OAuth2LoginView
from allauth.socialaccount.providers.openid_connect.provider import OpenIDConnectProvider
from allauth.socialaccount.providers.openid_connect.views import OpenIDConnectOAuth2Adapter
from django.utils.crypto import constant_time_compare

WELL_KNOWN = "/.well-known/openid-configuration"


class CheckingAdapter(OpenIDConnectOAuth2Adapter):
    """Checks the signature of the token always, that it answers the question of this session, and
    that all that came speaks of one person and comes from the provider that was named."""

    state: dict[str, Any] | None = None

    @property
    def openid_config(self):
        """OpenID Connect Discovery 1.0, 4.3: the issuer is the one whose document was asked for.
        Whether it is written with a slash at its end is no difference."""
        config = super().openid_config
        named = self.get_provider().app.settings["server_url"].removesuffix(WELL_KNOWN)
        if str(config.get("issuer", "")).rstrip("/") != named.rstrip("/"):
            raise OAuth2Error("The discovery document names another issuer than was set.")
        return config

    def complete_login(self, request, app, token, **kwargs):
        if not kwargs["response"].get("id_token"):
            raise OAuth2Error("The provider sent no ID token.")
        login = super().complete_login(request, app, token, **kwargs)
        said = login.account.extra_data
        id_token = said.get("id_token", {})
        if said.get("userinfo", {}).get("sub") != id_token.get("sub"):
            raise OAuth2Error("ID token and user info speak of two persons.")
        asked = (self.state or {}).get("nonce", "")
        if not asked or not constant_time_compare(asked, str(id_token.get("nonce", ""))):
            raise OAuth2Error("The ID token was made for another sign-in.")
        return login

    def _decode_id_token(self, app, id_token):
        self.did_fetch_access_token = False  # by which the library would leave the signature out
        try:
            return super()._decode_id_token(app, id_token)
        except KeyError as error:
            raise OAuth2Error(f"The ID token, or the provider's keys, lack {error}.") from error


class AskingProvider(OpenIDConnectProvider):
    """Sends a nonce and keeps it in the session until the answer (OpenID Connect Core 3.1.2.1)."""

    oauth2_adapter_class = CheckingAdapter

    def redirect(self, request, process, next_url=None, data=None, **kwargs):
        nonce = secrets.token_urlsafe(32)
        asked = kwargs.pop("auth_params", None) or self.get_auth_params()
        return super().redirect(
            request, process, next_url, data, auth_params=asked | {"nonce": nonce}, nonce=nonce,
            **kwargs,
        )  # fmt: skip


class GoOutside(OAuth2LoginView):
    def get_provider(self):
        found = super().get_provider()
        return AskingProvider(found.request, app=found.app)


class ComeFromOutside(OAuth2CallbackView):
    def _get_state(self, request, provider):
        state, response = super()._get_state(request, provider)
        self.adapter.state = state
        return state, response
