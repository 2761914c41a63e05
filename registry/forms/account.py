from django import forms
from django.conf import settings

from registry.models import User
from registry.services.access.names import check_name, organisations_of
from registry.translation import _


class AccountForm(forms.ModelForm):
    """The name of each language is in that language: whoever looks for it reads no other."""

    language = forms.ChoiceField(
        choices=[("", _("As the browser asks; mail and feeds in English")), *settings.LANGUAGES],
        label=_("Language"),
        required=False,
        help_text=User._meta.get_field("language").help_text,
    )

    class Meta:
        model = User
        fields = ["name", "display_units", "language"]
        widgets = {"display_units": forms.RadioSelect}

    def clean_name(self) -> str:
        """Another's name would put their records down to the wrong person in a reader's eyes."""
        name = " ".join(self.cleaned_data["name"].split())
        before = User.objects.get(pk=self.instance.pk)
        if name != before.name:
            check_name(name, of=before, organisations=organisations_of(before))
        return name
