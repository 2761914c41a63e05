from django import forms

from registry.models import Site, System, User
from scheduling.models import WorkState


class WorkFilter(forms.Form):
    """Narrows the list of follow-ups; an answer it does not know narrows nothing."""

    WHOSE = (("", "Everybody"), ("us", "My organisation"))

    STANDS = (
        ("", "Any way"),
        ("refused", "Declined, or cannot be done"),
        *((state.value, state.label) for state in WorkState),
    )

    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="All sites")
    whose = forms.ChoiceField(label="For", choices=WHOSE, required=False)
    stands = forms.ChoiceField(label="Stands", choices=STANDS, required=False)

    def __init__(self, *args, user: User, **kwargs):
        super().__init__(*args, **{"label_suffix": ""} | kwargs)
        self.user = user
        self.fields["site"].queryset = Site.objects.visible_to(user)

    def narrow(self, tasks):
        self.is_valid()
        if site := self.cleaned_data.get("site"):
            tasks = tasks.filter(system__site=site)
        if self.cleaned_data.get("whose") == "us":
            tasks = tasks.for_organisations_of(self.user)
        stands = self.cleaned_data.get("stands")
        if stands == "refused":
            tasks = tasks.refused()
        elif stands:
            tasks = tasks.filter(work_state=stands)
        return tasks


class FeedForm(forms.Form):
    """A new calendar address. One system is offered only to those who come from its page."""

    label = forms.CharField(
        label="Name", max_length=80, help_text="Your calendar program shows it, for example “Work”."
    )
    scope = forms.ChoiceField(label="What it holds", widget=forms.RadioSelect)
    site = forms.ModelChoiceField(
        Site.objects.none(),
        required=False,
        empty_label="No site chosen",
        help_text="Only when the feed is for one site.",
    )
    system = forms.ModelChoiceField(System.objects.none(), required=False, widget=forms.HiddenInput)

    def __init__(self, *args, user: User, system: System | None = None, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(user)
        self.fields["system"].queryset = System.objects.visible_to(user)
        self.fields["scope"].choices = _scopes(system)
        self.initial.setdefault("scope", "system" if system else "person")
        self.initial.setdefault("system", system)

    def clean(self):
        answers = super().clean()
        if answers.get("scope") == "site" and not answers.get("site") and "site" not in self.errors:
            self.add_error("site", "Choose the site, or let the feed hold everything you may see.")
        if answers.get("scope") == "system" and not answers.get("system"):
            self.add_error("scope", "Open the feed from the page of the system it is for.")
        return answers


def _scopes(system: System | None) -> list[tuple[str, str]]:
    scopes = [("person", "Every site I may see"), ("site", "One site")]
    return [*scopes, ("system", f"One system: {system}, {system.site}")] if system else scopes
