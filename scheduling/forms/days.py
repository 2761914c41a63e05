"""Which day, week or month is shown; what cannot be read shows the present one."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.models import Site, User
from scheduling.forms.orders import DAY, FIRST_YEAR, LAST_YEAR, offer
from scheduling.models import Crew


def today_for(user: User, now: datetime) -> date:
    """The day where the person's work lies: by the zone of the sites they see, when it is one."""
    zones = Site.objects.visible_to(user).order_by().values_list("time_zone", flat=True)
    names = set(zones.distinct()[:2])
    return now.astimezone(ZoneInfo(names.pop()) if len(names) == 1 else ZoneInfo("UTC")).date()


class DayFilter(forms.Form):
    on = forms.DateField(label=_("Day"), widget=DAY, required=False)
    crew = forms.ModelChoiceField(Crew.objects.none(), required=False, empty_label=_("Every crew"))

    def __init__(self, given, *args, user: User, now: datetime, **kwargs):
        today = today_for(user, now)
        answers = {"on": today.isoformat()} | given.dict()
        super().__init__(answers, *args, **{"label_suffix": ""} | kwargs)
        self.today = today
        offer(self, "crew", Crew.objects.filter(organisation__in=user.organisations.all()))

    def answers(self) -> tuple[date, Crew | None]:
        self.is_valid()
        on = self.cleaned_data.get("on") or self.today
        is_usual = FIRST_YEAR <= on.year <= LAST_YEAR
        return (on if is_usual else self.today), self.cleaned_data.get("crew")
