"""What people answer when they accept, decline, book or hand over a follow-up."""

from datetime import UTC, date, datetime, time
from typing import cast
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.models import Organisation, User
from scheduling.follow_ups.standpoint import parties_at
from scheduling.forms.planning import check_days_away, check_hours
from scheduling.models import Crew, EscalationLevel, Task
from scheduling.planning.said.hours import parse_skills
from scheduling.rules.slots import DAY_BEGINS, DAY_ENDS

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
TIME = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
FIRST_YEAR, LAST_YEAR = 2000, 2999


def offer(form: forms.BaseForm, name: str, rows: QuerySet) -> None:
    """What a field lets the person choose from."""
    cast(forms.ModelChoiceField, form.fields[name]).queryset = rows


def people_of(organisation: Organisation | None) -> QuerySet[User]:
    return User.objects.filter(memberships__organisation=organisation).order_by("name")


def check_year(day: date) -> None:
    """At the ends of the calendar a day by the clock of a site is no moment in universal time."""
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise ValidationError(
            gettext("Nothing is booked for the year {year}; check the day.").format(year=day.year)
        )


class SeenForm(forms.Form):
    """Says which state of the follow-up the person had before them."""

    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args, task: Task, **kwargs):
        self.task = task
        kwargs["initial"] = {"seen": task.turn} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)

    def facts(self) -> dict:
        return self.cleaned_data


class DeclineForm(SeenForm):
    reason = forms.CharField(
        label=_("Why"),
        max_length=1000,
        widget=forms.Textarea,
        help_text=_("The owner's managers read this and decide who does it instead."),
    )


class CannotForm(SeenForm):
    reason = forms.CharField(
        label=_("Why it cannot be done"),
        max_length=1000,
        widget=forms.Textarea,
        help_text=_("For example: no access, a part is missing, a valve does not close."),
    )


class CrewChoiceForm(SeenForm):
    crew = forms.ModelChoiceField(Crew.objects.none(), empty_label=_("No crew chosen"))

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        offer(self, "crew", crews_for(self.task))


class BookForm(SeenForm):
    """A day and its hours, on the clock of the site."""

    day = forms.DateField(label=_("Day"), widget=DAY, validators=[check_year])
    begins = forms.TimeField(label=_("Begins"), widget=TIME)
    ends = forms.TimeField(label=_("Ends"), widget=TIME)
    crew = forms.ModelChoiceField(
        Crew.objects.none(), required=False, empty_label=_("No crew chosen")
    )
    reason = forms.CharField(
        label=_("Reason"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Needed when the work would be late, or the day breaks a rule."),
    )
    promised = forms.BooleanField(
        label=_("The customer was promised this time; no plan may move it"), required=False
    )
    despite = forms.BooleanField(
        label=_("Book it all the same"), required=False, widget=forms.HiddenInput
    )

    def __init__(self, *args, task: Task, initial=None, **kwargs):
        super().__init__(*args, task=task, initial=planned(task) | (initial or {}), **kwargs)
        if self.data.get("despite") == "on":
            self.fields["despite"].widget = forms.CheckboxInput()
        offer(self, "crew", crews_for(task))
        self.fields["crew"].required = crews_for(task).exists()
        self.fields["day"].help_text = gettext(
            "Days and hours are those of the site, {time_zone}."
        ).format(time_zone=task.time_zone)

    def clean(self):
        answers = super().clean()
        for name in ("begins", "ends"):
            if answers.get("day") and answers.get(name):
                self._check_exists(answers["day"], name, answers[name])
        return answers

    def add_error(self, field, error):
        """What speaks against the day comes with the box to tick that overrides it."""
        super().add_error(field, error)
        if field == "despite":
            self.fields["despite"].widget = forms.CheckboxInput()

    def _check_exists(self, day: date, name: str, at: time) -> None:
        if not exists_on_clock(day, at, self.task.zone):
            self.add_error(name, gettext("The clocks go forward then; that day has no such hour."))

    def facts(self) -> dict:
        answers = dict(self.cleaned_data)
        day, zone = answers.pop("day"), self.task.zone
        begins, ends = answers.pop("begins"), answers.pop("ends")
        return answers | {
            "starts_at": datetime.combine(day, begins, tzinfo=zone).astimezone(UTC),
            "ends_at": datetime.combine(day, ends, tzinfo=zone).astimezone(UTC),
        }


class HandOverForm(SeenForm):
    party = forms.ModelChoiceField(
        Organisation.objects.none(), label=_("Who is to do it"), empty_label=None
    )
    reason = forms.CharField(
        label=_("Note to them"), required=False, max_length=1000, widget=forms.Textarea
    )

    def __init__(self, *args, now: datetime, **kwargs):
        super().__init__(*args, **kwargs)
        keys = [party.pk for party in parties_at(self.task.system.site, now)]
        offer(self, "party", Organisation.objects.filter(pk__in=keys))
        self.fields["party"].help_text = gettext(
            "The owner, or a contractor whose contract is in force."
        )


class CommentForm(forms.Form):
    text = forms.CharField(
        label=_("Add a comment"), max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )


class CrewForm(forms.ModelForm):
    """A crew and its people, who must be of the organisation."""

    class Meta:
        model = Crew
        fields = [
            "name", "people", "is_active", "depot", "hours", "overtime_minutes", "skills",
            "cylinder_places", "absences",
        ]  # fmt: skip
        widgets = {
            "people": forms.CheckboxSelectMultiple,
            "absences": forms.Textarea(attrs={"rows": 3}),
        }
        labels = {
            "hours": _("Hours"),
            "overtime_minutes": _("Most overtime, minutes a day"),
            "skills": _("What it can do"),
            "cylinder_places": _("Places for cylinders on the van"),
            "absences": _("Days away"),
        }
        help_texts = {
            "hours": _("Leaves and is back at the depot: Mon-Fri 7:30-16:30. Empty: assumed."),
            "skills": _("Words parted by commas, as the lengths of work name them."),
            "cylinder_places": _("0 for a van that carries no gas. Empty: assumed."),
            "absences": _("A line each: 2026-12-21 to 2026-12-31."),
        }

    def __init__(self, *args, organisation: Organisation, **kwargs):
        super().__init__(*args, **kwargs)
        self.instance.organisation = organisation
        offer(self, "people", people_of(organisation))
        offer(self, "depot", organisation.depots.all())
        self.fields["people"].help_text = gettext("One person alone may be a crew.")
        self.fields["is_active"].label = gettext("Goes out: may be given work")

    def clean_hours(self) -> str:
        return check_hours(self.cleaned_data["hours"])

    def clean_absences(self) -> str:
        return check_days_away(self.cleaned_data["absences"])

    def clean_skills(self) -> str:
        return ", ".join(sorted(parse_skills(self.cleaned_data["skills"])))

    def clean_name(self):
        name = self.cleaned_data["name"]
        others = self.instance.organisation.crews.exclude(pk=self.instance.pk)
        if others.filter(name__iexact=name).exists():
            raise forms.ValidationError(
                gettext("There is a crew {name} already; give another name.").format(name=name)
            )
        return name


class LevelForm(forms.ModelForm):
    class Meta:
        model = EscalationLevel
        fields = ["after_days", "told", "person"]

    def __init__(self, *args, owner: Organisation | None = None, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["told"].label = gettext("Who is told")
        offer(self, "person", people_of(owner))
        self.fields["person"].help_text = gettext("Only when one person is told.")

    def clean(self):
        answers = super().clean()
        is_person = answers.get("told") == EscalationLevel.Told.PERSON
        if is_person and not answers.get("person"):
            self.add_error("person", gettext("Choose the person, or tell the managers."))
        if not is_person:
            answers["person"] = None
        return answers


def crews_for(task: Task):
    return Crew.objects.filter(organisation=task.assigned_to, is_active=True)


def planned(task: Task) -> dict:
    """The time that calendars show, as the form's first answers."""
    starts, ends = (when.astimezone(task.zone) for when in (task.starts_at, task.ends_at))
    if starts.date() != ends.date():
        ends = datetime.combine(starts.date(), max(DAY_ENDS, starts.time()))
    return {
        "day": starts.date(),
        "begins": starts.time() or DAY_BEGINS,
        "ends": ends.time(),
        "crew": task.crew_id,
        "promised": task.is_promised,
    }


def exists_on_clock(day: date, at: time, zone: ZoneInfo) -> bool:
    """False for the hour that is left out when the clocks go forward."""
    local = datetime.combine(day, at, tzinfo=zone)
    return local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == local.replace(tzinfo=None)
