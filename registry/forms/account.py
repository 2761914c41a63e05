from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from registry.models import User
from registry.sign_in import WAIT_S, must_wait


class AccountForm(forms.ModelForm):
    class Meta:
        model = User
        fields = ["name", "display_units"]
        widgets = {"display_units": forms.RadioSelect}


class SignInForm(AuthenticationForm):
    def get_invalid_login_error(self) -> ValidationError:
        if must_wait(self.request, self.cleaned_data["username"]):
            return ValidationError(
                gettext(
                    "Too many wrong passwords for this address. Wait {WAIT_S} minutes, then "
                    "try again."
                ).format(WAIT_S=WAIT_S // 60),
                code="wait",
            )
        return super().get_invalid_login_error()
