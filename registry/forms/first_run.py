from typing import Any, cast

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.apps import UNANSWERED, UNCHOSEN
from registry.forms.sign_in import PASSWORD_HELP
from registry.forms.sites import SiteForm, zone_choices
from registry.models import Organisation, Site, User

OWNER, CONTRACTOR = Organisation.Kind.OWNER.value, Organisation.Kind.CONTRACTOR.value


class BeginForm(forms.Form):
    kind = forms.ChoiceField(
        label=_("Who you are"),
        choices=[
            (OWNER, _("I look after the systems for their owner")),
            (CONTRACTOR, _("I am a contractor and keep the book of an owner")),
        ],
        widget=forms.RadioSelect,
    )
    owner_name = forms.CharField(
        label=_("Owner of the systems"),
        max_length=150,
        help_text=_("The organisation whose buildings they protect. It stands on certificates."),
    )
    contractor_name = forms.CharField(
        label=_("Name of the contractor"),
        max_length=150,
        required=False,
        help_text=_("Only if you are one."),
    )
    display_units = forms.ChoiceField(
        label=_("Units shown"),
        choices=User.Units.choices,
        widget=forms.RadioSelect,
        help_text=_("Each person chooses; other units may be typed at any time."),
    )
    target_n2_percent = forms.FloatField(
        label=_("Nitrogen that an inerting run must reach, percent"),
        min_value=80,
        max_value=99.99,
        initial=98.0,
        help_text=_("98 is common practice without a published source. It can be changed later."),
    )
    name = forms.CharField(
        label=_("Your name"),
        max_length=150,
        help_text=_("As it shall stand beside what you record."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    email = forms.EmailField(
        label=_("Your e-mail address"),
        help_text=_("You sign in with it."),
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        help_text=PASSWORD_HELP,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=False),
    )

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            wanted = UNCHOSEN if isinstance(field, forms.ChoiceField) else UNANSWERED
            field.error_messages["required"] = wanted

    def clean_email(self) -> str:
        return self.cleaned_data["email"].lower()

    def clean(self) -> dict[str, Any]:
        answers = self.cleaned_data
        if answers.get("kind") == CONTRACTOR and not answers.get("contractor_name"):
            self.add_error("contractor_name", gettext("Give the name of your company."))
        if answers.get("kind") == OWNER:
            answers["contractor_name"] = ""
        owner, contractor = answers.get("owner_name"), answers.get("contractor_name")
        if contractor and owner == contractor:
            self.add_error(
                "contractor_name",
                gettext("Owner and contractor are two organisations; give each its own name."),
            )
        self._clean_password(answers)
        return answers

    def _clean_password(self, answers: dict[str, Any]) -> None:
        person = User(email=answers.get("email", ""), name=answers.get("name", ""))
        if password := answers.get("password"):
            try:
                validate_password(password, person)
            except ValidationError as error:
                self.add_error("password", error)

    def facts(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if name != "kind"}


class FirstSiteForm(SiteForm):
    """What the first look needs; the water can be given on the site's page. No clock is assumed."""

    LATER = ("water_temperature_k", "measured_dissolved_oxygen_mg_l")

    def __init__(self, data=None, *, instance: Site, user: User):
        super().__init__(data, instance=instance, user=user)
        for name in self.LATER:
            del self.fields[name]
        self.initial["time_zone"] = ""
        zone = cast(forms.ChoiceField, self.fields["time_zone"])
        zone.choices = [("", _("Choose the place")), *zone_choices()]
        zone.widget.attrs["data-own-zone"] = ""

    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.fields if name != "seen"}
