"""Forms of the second step, in the book's words."""

from typing import Any

from allauth.mfa.adapter import get_adapter
from allauth.mfa.base import forms as base
from allauth.mfa.models import Authenticator
from allauth.mfa.totp import forms as totp
from allauth.mfa.webauthn import forms as webauthn
from django import forms
from django.utils.translation import gettext_lazy as _


class CodeWorded:
    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        code = self.fields["code"]  # type: ignore[attr-defined]
        code.label = _("Code")
        code.widget.attrs.pop("placeholder", None)
        code.widget.attrs["inputmode"] = "numeric"


class CodeForm(CodeWorded, base.AuthenticateForm):
    pass


class ProveByCodeForm(CodeWorded, base.ReauthenticateForm):
    pass


class AppForm(CodeWorded, totp.ActivateTOTPForm):
    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["code"].label = _("Code that the app shows now")


class PasskeyForm(webauthn.AddWebAuthnForm):
    """Every passkey signs in alone: it is held by a device that asks for a finger, face or PIN."""

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        name, alone = self.fields["name"], self.fields["passwordless"]
        name.label, name.help_text = _("Name"), _("Say where it lies, for example “work phone”.")
        name.max_length = 80
        name.widget.attrs["maxlength"] = "80"
        alone.label, alone.initial = _("It signs in alone, without the password"), True
        alone.help_text = _(
            "The device then asks for a finger, a face or its PIN. Without this the passkey is a "
            "second step after the password."
        )


class LastStepForm(forms.Form):
    """Asks nothing, and says why a passkey cannot go."""

    def __init__(self, *args: Any, authenticator: Authenticator, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.authenticator = authenticator

    def clean(self) -> dict[str, Any]:
        adapter = get_adapter()
        if not adapter.can_delete_authenticator(self.authenticator):
            raise adapter.validation_error("cannot_delete_authenticator")
        return super().clean() or {}


class PasskeyNameForm(webauthn.EditWebAuthnForm):
    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["name"].label = _("Name")
