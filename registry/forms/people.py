"""Forms by which people are invited, come in, change their role and go."""

from typing import Any, cast

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext

from registry.forms.days import DayInput
from registry.models import Invitation, Membership, Organisation, Site, User
from registry.translation import _

Kind = Invitation.Kind
DAYS = ("starts_on", "ends_on")


def _days() -> dict[str, forms.DateField]:
    return {
        "starts_on": forms.DateField(
            label=_("From"),
            required=False,
            widget=DayInput(),
            help_text=_("Empty: from the day on which they accept."),
        ),
        "ends_on": forms.DateField(
            label=_("Last day"),
            required=False,
            widget=DayInput(),
            help_text=_("Empty: until further notice. You can change it at any time."),
        ),
    }


class InviteForm(forms.Form):
    email = forms.EmailField(
        label=_("E-mail address"),
        help_text=_("They get a link that works once and for seven days."),
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    role = forms.ChoiceField(
        label=_("What they may do"), choices=Membership.Role.choices, widget=forms.RadioSelect
    )
    sites = forms.ModelMultipleChoiceField(
        label=_("Sites"),
        queryset=Site.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    starts_on = _days()["starts_on"]
    ends_on = _days()["ends_on"]

    ASKED = {
        Kind.MEMBER: {"role"},
        Kind.CONTRACTOR: {"sites", "starts_on", "ends_on"},
        Kind.AUDITOR: {"sites", "ends_on"},
        Kind.OWNER: set[str](),
    }

    def __init__(self, *args: Any, organisation: Organisation, kind: str, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.organisation, self.kind = organisation, Kind(kind)
        for name in set(self.fields) - self.ASKED[self.kind] - {"email"}:
            del self.fields[name]
        if "sites" in self.fields:
            self._offer_sites()

    def _offer_sites(self) -> None:
        rows = self.organisation.sites.order_by("name")
        field = cast(forms.ModelMultipleChoiceField, self.fields["sites"])
        field.queryset = rows
        if not rows.exists():
            del self.fields["sites"]
        elif self.kind == Kind.AUDITOR:
            field.help_text = gettext("None chosen: all of them, those to come as well.")
        else:
            field.label = gettext("Sites that they serve")
            field.required = True

    def clean_email(self) -> str:
        email = self.cleaned_data["email"].lower()
        if self.kind == Kind.MEMBER and self.organisation.people.filter(email=email).exists():
            raise ValidationError(
                gettext("{email} belongs to {organisation} already; change the role there.").format(
                    email=email, organisation=self.organisation
                )
            )
        return email

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        starts, ends = (answers.get(name) for name in DAYS)
        if starts and ends and ends < starts:
            self.add_error(
                "ends_on",
                gettext("It begins on {starts:%-d %B %Y}, which is later.").format(starts=starts),
            )
        return answers


class RoleForm(forms.Form):
    role = forms.ChoiceField(
        label=_("What they may do"), choices=Membership.Role.choices, widget=forms.RadioSelect
    )


class SecondStepForm(forms.Form):
    ask = forms.ChoiceField(
        label=_("Ask all your people for a second step"),
        choices=[("yes", _("Yes")), ("no", _("No"))],
        widget=forms.RadioSelect,
    )


class AcceptForm(forms.Form):
    """`user`: who is signed in, or None for somebody who is new."""

    name = forms.CharField(
        label=_("Your name"),
        max_length=150,
        help_text=_("As it shall stand beside what you record."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        max_length=128,
        help_text=_("At least eight characters, and not a common one."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=False),
    )
    display_units = forms.ChoiceField(
        label=_("Units shown"),
        choices=User.Units.choices,
        initial=User.Units.US,
        widget=forms.RadioSelect,
    )
    organisation = forms.ModelChoiceField(
        label=_("For which of your organisations"),
        queryset=Organisation.objects.none(),
        required=False,
        empty_label=_("A new one, named below"),
    )
    organisation_name = forms.CharField(
        label=_("Name of your organisation"), max_length=150, required=False
    )
    sites = forms.ModelMultipleChoiceField(
        label=_("Sites that they serve from today"),
        queryset=Site.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Dates can be set on the page of each site."),
    )

    def __init__(self, *args: Any, invitation: Invitation, user: User | None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.invitation, self.user = invitation, user
        if user is not None:
            for name in ("name", "password", "display_units"):
                del self.fields[name]
        mine = self._mine()
        if invitation.is_for_a_member:
            for name in ("organisation", "organisation_name", "sites"):
                del self.fields[name]
            return
        self._offer(mine)

    def _mine(self) -> QuerySet[Organisation]:
        """Those for which the person may accept."""
        kind = self.invitation.kind
        if self.user is None or self.invitation.is_for_a_member:
            return Organisation.objects.none()
        managed = Membership.objects.filter(user=self.user, role=Membership.Role.MANAGER)
        return Organisation.objects.filter(kind=kind, pk__in=managed.values("organisation"))

    def _offer(self, mine: QuerySet[Organisation]) -> None:
        organisation = cast(forms.ModelChoiceField, self.fields["organisation"])
        organisation.queryset = mine
        sites = Site.objects.filter(owner__in=mine) if self.invitation.kind == Kind.OWNER else None
        if sites is not None and sites.exists():
            field = cast(forms.ModelMultipleChoiceField, self.fields["sites"])
            field.queryset = sites.order_by("name")
        else:
            del self.fields["sites"]
        if mine.exists():
            self.initial.setdefault("organisation", mine.first())
        else:
            del self.fields["organisation"]
            self.fields["organisation_name"].required = True

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        chosen, named = answers.get("organisation"), answers.get("organisation_name")
        if "organisation" in self.fields and not chosen and not named:
            self.add_error("organisation_name", gettext("Choose one above, or give its name."))
        if any(site.owner_id != getattr(chosen, "pk", None) for site in answers.get("sites") or ()):
            self.add_error("sites", gettext("Choose sites of the organisation chosen above."))
        if password := answers.get("password"):
            self._check_password(password)
        return answers

    def _check_password(self, password: str) -> None:
        person = User(email=self.invitation.email, name=self.cleaned_data.get("name", ""))
        try:
            validate_password(password, person)
        except ValidationError as error:
            self.add_error("password", error)
