from django import forms

from registry.models import User


class AccountForm(forms.ModelForm):
    class Meta:
        model = User
        fields = ["name", "display_units"]
        widgets = {"display_units": forms.RadioSelect}
