from typing import cast

from django import forms
from django.conf import settings
from django.utils.translation import gettext

from registry.access import managed_owners
from registry.models import Organisation, User
from registry.translation import _
from scheduling.messages.posting import problem_of
from scheduling.models import MailPreference, Message, WebhookEndpoint


class MailPreferenceForm(forms.ModelForm):
    class Meta:
        model = MailPreference
        fields = [
            "wants_assignment", "wants_escalation", "wants_digest", "wants_job",
            "wants_verdict", "wants_package", "wants_rule", "wants_report", "quiet_from",
            "quiet_until", "time_zone",
        ]  # fmt: skip
        labels = {"time_zone": _("Time zone")}
        widgets = {
            name: forms.TimeInput(format="%H:%M", attrs={"type": "time"})
            for name in ("quiet_from", "quiet_until")
        }

    def clean(self):
        answers = super().clean()
        ends = {name: answers.get(name) for name in ("quiet_from", "quiet_until")}
        given = [name for name, value in ends.items() if value is not None]
        if len(given) == 1 and not self.errors.keys() & ends.keys():
            missing = next(name for name in ends if name not in given)
            self.add_error(missing, gettext("Give both ends of the quiet hours, or neither."))
        if len(given) == 2 and ends["quiet_from"] == ends["quiet_until"]:
            self.add_error(
                "quiet_until",
                gettext("Quiet hours that end when they begin are none; leave both empty."),
            )
        return answers


NEWS = [(kind.value, kind.label) for kind in Message.POSTED]


class WebhookForm(forms.ModelForm):
    kinds = forms.MultipleChoiceField(
        label=_("News"), choices=NEWS, widget=forms.CheckboxSelectMultiple
    )

    class Meta:
        model = WebhookEndpoint
        fields = ["label", "url", "kinds"]
        labels = {"url": _("Address")}
        help_texts = {
            "label": _("How this book calls it, for example “Building system”."),
            "url": _("It is called with POST and must begin with https://."),
        }
        widgets = {"url": forms.URLInput(attrs={"inputmode": "url"})}

    def clean_url(self) -> str:
        url: str = self.cleaned_data["url"]
        problem = problem_of(url, allow_private=settings.WEBHOOKS_ALLOW_PRIVATE)
        if problem:
            raise forms.ValidationError(problem)
        return url


class NewWebhookForm(WebhookForm):
    owner = forms.ModelChoiceField(Organisation.objects.none(), empty_label=None)
    field_order = ["owner", "label", "url", "kinds"]

    def __init__(self, *args, user: User, **kwargs):
        super().__init__(*args, **kwargs)
        owners = managed_owners(user)
        cast(forms.ModelChoiceField, self.fields["owner"]).queryset = owners
        if owners.count() == 1:
            self.fields["owner"].widget = forms.HiddenInput()
            self.initial["owner"] = owners.get().pk


class ChangeWebhookForm(WebhookForm):
    class Meta(WebhookForm.Meta):
        fields = ["label", "url", "kinds", "is_active"]
