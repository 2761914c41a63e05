"""A person with an authenticator app, a passkey and recovery codes."""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from cryptography.hazmat.primitives.asymmetric import ec
from fido2.cose import ES256
from fido2.utils import sha256, websafe_encode
from fido2.webauthn import (
    Aaguid,
    AttestationObject,
    AttestedCredentialData,
    AuthenticatorData,
    CollectedClientData,
)


def give_app(person) -> str:
    """Returns the secret that the app shares with the book."""
    secret = generate_totp_secret()
    TOTP.activate(person, secret)
    return secret


def give_passkey(person, name: str = "Work phone") -> Authenticator:
    """As a device would have made it; nobody holds its private key."""
    key = ES256.from_cryptography_key(ec.generate_private_key(ec.SECP256R1()).public_key())
    public = AttestedCredentialData.create(Aaguid.NONE, b"passkey-of-a-test", key)
    data = AuthenticatorData.create(sha256(b"testserver"), 0x45, 0, bytes(public))
    client = CollectedClientData.create("webauthn.create", b"challenge", "https://testserver")
    credential = {
        "id": websafe_encode(public.credential_id),
        "rawId": websafe_encode(public.credential_id),
        "type": "public-key",
        "response": {
            "attestationObject": websafe_encode(AttestationObject.create("none", data, {})),
            "clientDataJSON": websafe_encode(client),
        },
        "clientExtensionResults": {"credProps": {"rk": True}},
    }
    return Authenticator.objects.create(
        user=person, type="webauthn", data={"name": name, "credential": credential}
    )


def second_step_objects(world) -> dict[str, dict[str, Any]]:
    give_app(world.owner)
    RecoveryCodes.activate(world.owner)
    passkey = give_passkey(world.owner)
    return {
        "account_reset_password_from_key": {"uidb36": "1", "key": "not-a-key"},
        "openid_connect_login": {"provider_id": "oidc"},
        "openid_connect_callback": {"provider_id": "oidc"},
        "mfa_edit_webauthn": {"pk": passkey.pk},
        "mfa_remove_webauthn": {"pk": passkey.pk},
    }
