from typing import cast

from django import forms
from django.db.models import QuerySet

from registry.models import Building, Organisation, Site, System, User
from scheduling.forms.orders import offer
from scheduling.models import Crew, FeedToken, Task, WorkState


class WorkFilter(forms.Form):
    """Narrows the list of follow-ups; an answer it does not know narrows nothing."""

    WHOSE = (("", "Everybody"), ("us", "My organisation"))

    STANDS = (
        ("", "Any status"),
        ("refused", "Declined, or cannot be done"),
        *((state.value, state.label) for state in WorkState),
    )

    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="All sites")
    whose = forms.ChoiceField(label="For", choices=WHOSE, required=False)
    stands = forms.ChoiceField(label="Status", choices=STANDS, required=False)

    def __init__(self, *args, user: User, **kwargs):
        super().__init__(*args, **{"label_suffix": ""} | kwargs)
        self.user = user
        offer(self, "site", Site.objects.visible_to(user))

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


HOLDS = (
    ("tasks", "Follow-ups"),
    ("recurring", "Recurring inspection, testing and maintenance"),
    ("impairments", "Impairments"),
)


class FeedForm(forms.Form):
    """A new calendar address. One system is offered only to those who come from its page."""

    label = forms.CharField(
        label="Name", max_length=80, help_text="Your calendar program shows it, for example “Work”."
    )
    holds = forms.MultipleChoiceField(
        label="What it shows",
        choices=HOLDS,
        initial=[name for name, _ in HOLDS],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one, or the feed stays empty."},
    )
    horizon_days = forms.TypedChoiceField(
        label="Recurring work ahead",
        choices=FeedToken.Horizon,
        coerce=int,
        initial=FeedToken.Horizon.QUARTER,
        required=False,
        help_text="How far it also shows what is expected next. It moves when work is done early "
        "or late. Check the adopted edition.",
    )
    scope = forms.ChoiceField(label="For", widget=forms.RadioSelect)
    site = forms.ModelChoiceField(
        Site.objects.none(),
        required=False,
        empty_label="No site chosen",
        help_text="Only when the feed is for one site.",
    )
    building = forms.ModelChoiceField(
        Building.objects.none(),
        required=False,
        empty_label="No building chosen",
        help_text="Only when the feed is for one building.",
    )
    contractor = forms.ModelChoiceField(
        Organisation.objects.none(),
        required=False,
        empty_label="No contractor chosen",
        help_text="Only when the feed is for one contractor.",
    )
    crew = forms.ModelChoiceField(
        Crew.objects.none(),
        required=False,
        empty_label="No crew chosen",
        help_text="Only when the feed is for one crew.",
    )
    system = forms.ModelChoiceField(System.objects.none(), required=False, widget=forms.HiddenInput)
    alarm = forms.ChoiceField(
        label="Alarm", choices=FeedToken.Alarm, initial=FeedToken.Alarm.DAY, required=False
    )
    detail = forms.ChoiceField(
        label="How much it tells",
        choices=FeedToken.Detail,
        initial=FeedToken.Detail.FULL,
        required=False,
    )

    def __init__(self, *args, user: User, system: System | None = None, **kwargs):
        super().__init__(*args, **kwargs)
        for name, rows in _rows_for(user).items():
            offer(self, name, rows)
            if name != "system" and not rows.exists():
                del self.fields[name]
        cast(forms.ChoiceField, self.fields["scope"]).choices = _scopes(system, self.fields)
        self.initial.setdefault("scope", "system" if system else "person")
        self.initial.setdefault("system", system)

    def clean(self):
        answers = super().clean()
        scope = answers.get("scope")
        if scope == "system" and not answers.get("system"):
            self.add_error("scope", "Open the feed from the page of the system it is for.")
        elif scope in NAMED and not answers.get(scope) and scope not in self.errors:
            self.add_error(
                scope, f"Choose the {scope}, or let the feed hold everything you may see."
            )
        if scope == "crew" and "tasks" not in answers.get("holds", ["tasks"]):
            self.add_error("holds", "A crew is given follow-ups alone: tick them.")
        answers["horizon_days"] = answers.get("horizon_days") or FeedToken.Horizon.PLANNED
        answers["alarm"] = answers.get("alarm") or FeedToken.Alarm.DAY
        answers["detail"] = answers.get("detail") or FeedToken.Detail.FULL
        return answers


NAMED = {
    "site": "One site",
    "building": "One building",
    "contractor": "What one contractor has to do",
    "crew": "What one crew has to do",
}


def _rows_for(user: User) -> dict[str, QuerySet]:
    """What the person may choose from; crews are those of the person's own organisations."""
    sites = Site.objects.visible_to(user)
    given = Task.objects.visible_to(user).order_by().values("assigned_to")
    return {
        "site": sites,
        "building": Building.objects.filter(site__in=sites).select_related("site"),
        "system": System.objects.visible_to(user),
        "contractor": Organisation.objects.filter(pk__in=given, kind=Organisation.Kind.CONTRACTOR),
        "crew": Crew.objects.filter(organisation__in=user.organisations.values("pk")),
    }


def _scopes(system: System | None, fields) -> list[tuple[str, str]]:
    scopes = [("person", "Every site I may see")]
    scopes += [(name, words) for name, words in NAMED.items() if name in fields]
    return [*scopes, ("system", f"One system: {system}, {system.site}")] if system else scopes
