"""What plans rest on: depots, lengths of work, ways, breaks, where sites lie, when they open."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from registry.corrosion.cylinders import cylinder_sizes
from registry.models import Building, Organisation, Site, User
from scheduling.models import Depot, Place, PlanningPolicy, WorkTime
from scheduling.planning.said.degrees import PlaceError, parse_place, place_text
from scheduling.planning.said.hours import (
    HoursError,
    hours_text,
    parse_days_away,
    parse_deliveries,
    parse_hours,
    parse_skills,
)

HOURS_HELP = _("For example Mon-Fri 8:00-16:30; Sat 9-12. Days not named are closed.")
WHERE_HELP = _("Latitude and longitude in degrees, as a map shows them: 52.0511, 1.1483.")
METRES_A_KM, MINUTES_AN_HOUR = 1000, 60


def read_or_refuse(read: Callable[[str], Any], text: str) -> Any:
    """What the text says, or the sentence of its reader at the field."""
    try:
        return read(text)
    except (HoursError, PlaceError) as error:
        raise ValidationError(str(error)) from None


def hours_field(**facts: Any) -> forms.CharField:
    return forms.CharField(
        required=False, max_length=200, **{"label": _("Hours"), "help_text": HOURS_HELP} | facts
    )


def where_field() -> forms.CharField:
    return forms.CharField(
        label=_("Where it lies"), required=False, max_length=60, help_text=WHERE_HELP
    )


class DepotForm(forms.ModelForm):
    """A depot and its stock; a number of cylinders that is changed was counted today."""

    where = where_field()

    class Meta:
        model = Depot
        fields = ["name", "full_cylinders", "deliveries"]
        labels = {
            "full_cylinders": _("Full cylinders there now"),
            "deliveries": _("Deliveries to come"),
        }
        help_texts = {
            "full_cylinders": _("As counted today. Empty: not counted; plans never run out."),
            "deliveries": _("A line each: 2026-12-01 12 means twelve full ones that morning."),
        }
        widgets = {"deliveries": forms.Textarea(attrs={"rows": 3})}

    field_order = ["name", "where", "full_cylinders", "deliveries"]

    def __init__(self, *args, organisation: Organisation, today: date, **kwargs):
        super().__init__(*args, **kwargs)
        self.instance.organisation, self.today = organisation, today
        self.initial["where"] = place_text(self.instance.latitude, self.instance.longitude)

    def clean_name(self) -> str:
        name = self.cleaned_data["name"]
        others = self.instance.organisation.depots.exclude(pk=self.instance.pk)
        if others.filter(name__iexact=name).exists():
            raise ValidationError(_("There is a depot of this name already; give another one."))
        return name

    def clean_where(self) -> tuple[float, float] | None:
        return read_or_refuse(parse_place, self.cleaned_data["where"])

    def clean_deliveries(self) -> str:
        read_or_refuse(parse_deliveries, self.cleaned_data["deliveries"])
        return self.cleaned_data["deliveries"]

    def save(self, commit=True) -> Depot:
        self.instance.latitude, self.instance.longitude = self.cleaned_data["where"] or (None, None)
        if "full_cylinders" in self.changed_data:
            counted = self.cleaned_data["full_cylinders"] is not None
            self.instance.counted_on = self.today if counted else None
        return super().save(commit)


class WorkTimeForm(forms.ModelForm):
    class Meta:
        model = WorkTime
        fields = ["minutes", "minutes_per_m3", "skills", "impairs"]
        labels = {
            "minutes": _("Minutes for each job"),
            "minutes_per_m3": _("Minutes more for each cubic metre of pipe"),
            "skills": _("What the crew must be able to do"),
            "impairs": _("It takes the system out of service"),
        }
        help_texts = {
            "skills": _("Words parted by commas; a crew needs all of them."),
            "impairs": _("Of one building, one such job is planned a day."),
        }

    def clean_skills(self) -> str:
        return ", ".join(sorted(parse_skills(self.cleaned_data["skills"])))


class PolicyForm(forms.ModelForm):
    """Ways, breaks, gas and the prices by which plans are compared."""

    speed = forms.FloatField(
        label=_("Average speed, km/h"), min_value=3, max_value=150,
        help_text=_("Along the straight line made longer by the next number."),
    )  # fmt: skip

    class Meta:
        model = PlanningPolicy
        fields = [
            "detour_percent", "minutes_unplaced", "break_minutes", "break_from", "break_to",
            "restock_minutes", "cylinder", "drive_cost", "overtime_cost", "move_cost",
        ]  # fmt: skip
        labels = {
            "detour_percent": _("Way by road, % of the straight line"),
            "minutes_unplaced": _("Minutes to a site that is not on the map"),
            "break_minutes": _("Minutes of the break"),
            "break_from": _("It begins no sooner than"),
            "break_to": _("It begins no later than"),
            "restock_minutes": _("Minutes to take on cylinders"),
            "cylinder": _("Size of the cylinders"),
            "drive_cost": _("Price of a minute on the road"),
            "overtime_cost": _("Price of a minute of overtime"),
            "move_cost": _("Price of telling a customer another day"),
        }
        help_texts = {
            "drive_cost": _("In thousandths of a score point, as are the next two."),
            "move_cost": _("100 is about a day's delay of a middling order."),
        }
        widgets = {
            name: forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
            for name in ("break_from", "break_to")
        }

    field_order = ["speed"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        metres = self.instance.metres_per_minute
        self.initial["speed"] = round(metres * MINUTES_AN_HOUR / METRES_A_KM, 1)
        sizes = [(key, size.label) for key, size in cylinder_sizes().items()]
        self.fields["cylinder"] = forms.ChoiceField(
            choices=sizes, label=self.fields["cylinder"].label
        )

    def clean(self) -> dict[str, Any]:
        answers = cast(dict[str, Any], super().clean())
        begins, ends = answers.get("break_from"), answers.get("break_to")
        if begins and ends and ends < begins:
            self.add_error("break_to", _("This is earlier than the hour before it."))
        return answers

    def save(self, commit=True) -> PlanningPolicy:
        speed = self.cleaned_data["speed"]
        self.instance.metres_per_minute = round(speed * METRES_A_KM / MINUTES_AN_HOUR)
        return super().save(commit)


class PlaceForm(forms.Form):
    """Of a site, or of one of its buildings."""

    where = where_field()
    hours = hours_field(
        label=_("Hours of access"),
        help_text=_("For example 10:00 to 15:00, or Mon-Fri 8-17; Sat 9-12. Empty: at any time."),
    )

    def __init__(self, *args, place: Place | None, **kwargs):
        if place:
            kwargs["initial"] = {
                "where": place_text(place.latitude, place.longitude),
                "hours": place.hours,
            }
        super().__init__(*args, **kwargs)

    def clean_where(self) -> tuple[float, float] | None:
        return read_or_refuse(parse_place, self.cleaned_data["where"])

    def clean_hours(self) -> str:
        hours = read_or_refuse(parse_hours, self.cleaned_data["hours"])
        if self.cleaned_data["hours"].strip() and not hours:
            raise ValidationError(_("Open at no time lets no order in; write the hours it opens."))
        return hours_text(hours)

    def save(
        self, *, site: Site, building: Building | None, by: User, now: datetime
    ) -> Place | None:
        """The row with what was answered; none where nothing was."""
        return save_place(
            site=site, building=building, where=self.cleaned_data["where"],
            hours=self.cleaned_data["hours"], by=by, now=now,
        )  # fmt: skip


def save_place(
    *,
    site: Site,
    building: Building | None,
    where: tuple[float, float] | None,
    hours: str,
    by: User,
    now: datetime,
) -> Place | None:
    if where is None and not hours:
        Place.objects.filter(site=site, building=building).delete()
        return None
    latitude, longitude = where or (None, None)
    return Place.objects.update_or_create(
        site=site,
        building=building,
        defaults={
            "latitude": latitude, "longitude": longitude, "hours": hours,
            "changed_by": by, "changed_at": now,
        },
    )[0]  # fmt: skip


def check_hours(text: str) -> str:
    return hours_text(read_or_refuse(parse_hours, text))


def check_days_away(text: str) -> str:
    read_or_refuse(parse_days_away, text)
    return text
