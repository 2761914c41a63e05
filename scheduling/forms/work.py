from typing import cast

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext

from registry.models import Building, Organisation, Site, System, User
from registry.translation import _
from scheduling.forms.orders import offer
from scheduling.models import Crew, FeedToken, Task, WorkState


class WorkFilter(forms.Form):
    """Narrows the list of follow-ups; an answer it does not know narrows nothing."""

    WHOSE = (("", _("Everybody")), ("us", _("My organisation")))

    STANDS = (
        ("", _("Any status")),
        ("refused", _("Declined, or cannot be done")),
        *((state.value, state.label) for state in WorkState),
    )

    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label=_("All sites"))
    whose = forms.ChoiceField(label=_("For"), choices=WHOSE, required=False)
    stands = forms.ChoiceField(label=_("Status"), choices=STANDS, required=False)

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
    ("tasks", _("Follow-ups")),
    ("recurring", _("Recurring inspection, testing and maintenance")),
    ("impairments", _("Impairments")),
)


class FeedForm(forms.Form):
    """A new calendar address. One system is offered only to those who come from its page."""

    label = forms.CharField(
        label=_("Name"),
        max_length=80,
        help_text=_("Your calendar program shows it, for example “Work”."),
    )
    holds = forms.MultipleChoiceField(
        label=_("What it shows"),
        choices=HOLDS,
        initial=[name for name, _ in HOLDS],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one, or the feed stays empty.")},
    )
    horizon_days = forms.TypedChoiceField(
        label=_("Recurring work ahead"),
        choices=FeedToken.Horizon,
        coerce=int,
        initial=FeedToken.Horizon.QUARTER,
        required=False,
        help_text=_(
            "How far it also shows what is expected next. It moves when work is done "
            "early or late. Check the adopted edition."
        ),
    )
    scope = forms.ChoiceField(label=_("For"), widget=forms.RadioSelect)
    site = forms.ModelChoiceField(
        Site.objects.none(),
        required=False,
        empty_label=_("No site chosen"),
        help_text=_("Only when the feed is for one site."),
    )
    building = forms.ModelChoiceField(
        Building.objects.none(),
        required=False,
        empty_label=_("No building chosen"),
        help_text=_("Only when the feed is for one building."),
    )
    contractor = forms.ModelChoiceField(
        Organisation.objects.none(),
        required=False,
        empty_label=_("No contractor chosen"),
        help_text=_("Only when the feed is for one contractor."),
    )
    crew = forms.ModelChoiceField(
        Crew.objects.none(),
        required=False,
        empty_label=_("No crew chosen"),
        help_text=_("Only when the feed is for one crew."),
    )
    system = forms.ModelChoiceField(System.objects.none(), required=False, widget=forms.HiddenInput)
    alarm = forms.ChoiceField(
        label=_("Alarm"), choices=FeedToken.Alarm, initial=FeedToken.Alarm.DAY, required=False
    )
    detail = forms.ChoiceField(
        label=_("How much it tells"),
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
            self.add_error("scope", gettext("Open the feed from the page of the system it is for."))
        elif scope in NAMED and not answers.get(scope) and scope not in self.errors:
            self.add_error(
                scope,
                gettext("Choose the {scope}, or let the feed hold everything you may see.").format(
                    scope=scope
                ),
            )
        if scope == "crew" and "tasks" not in answers.get("holds", ["tasks"]):
            self.add_error("holds", gettext("A crew is given follow-ups alone: tick them."))
        answers["horizon_days"] = answers.get("horizon_days") or FeedToken.Horizon.PLANNED
        answers["alarm"] = answers.get("alarm") or FeedToken.Alarm.DAY
        answers["detail"] = answers.get("detail") or FeedToken.Detail.FULL
        return answers


NAMED = {
    "site": _("One site"),
    "building": _("One building"),
    "contractor": _("What one contractor has to do"),
    "crew": _("What one crew has to do"),
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
    scopes = [("person", gettext("Every site I may see"))]
    scopes += [(name, words) for name, words in NAMED.items() if name in fields]
    return (
        [
            *scopes,
            (
                "system",
                gettext("One system: {system}, {site}").format(system=system, site=system.site),
            ),
        ]
        if system
        else scopes
    )
