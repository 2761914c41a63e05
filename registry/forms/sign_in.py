"""The forms of signing in, in the book's words; what they do is the accounts library's."""

from typing import Any

from allauth.account import forms as library
from django.utils.translation import gettext_lazy as _

PASSWORD_HELP = _(
    "At least 8 characters; 15 or more are better, for example four words that have nothing to do "
    "with each other. Nothing else is asked: no capitals, no digits. You may paste it."
)


class Worded:
    """Labels instead of words that vanish while one types."""

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():  # type: ignore[attr-defined]
            field.widget.attrs.pop("placeholder", None)
            field.label, field.help_text = WORDS.get(name, (field.label, field.help_text))
        if "password2" in self.fields:  # type: ignore[attr-defined]
            del self.fields["password2"]  # type: ignore[attr-defined]  # one can look at the first


WORDS = {
    "login": (_("E-mail address"), ""),
    "email": (_("E-mail address"), ""),
    "password": (_("Password"), ""),
    "oldpassword": (_("Password until now"), ""),
    "password1": (_("New password"), PASSWORD_HELP),
}


class SignInForm(Worded, library.LoginForm):
    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["login"].widget.attrs["autocomplete"] = "username"


class ChangePasswordForm(Worded, library.ChangePasswordForm):
    """All other sessions of the person end; this one goes on."""


class SetPasswordForm(Worded, library.SetPasswordForm):
    pass


class ForgottenForm(Worded, library.ResetPasswordForm):
    pass


class NewPasswordForm(Worded, library.ResetPasswordKeyForm):
    pass


class ProveForm(Worded, library.ReauthenticateForm):
    pass
