"""What is asked of somebody who has reports made, now or on a day of each week or month."""

from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from reports.kept.asked import AskedForm
from scheduling.models import ReportKind, ReportSchedule

DAYS_OF_WEEK, DAYS_OF_MONTH = 7, 28


class BatchForm(AskedForm):
    kind = forms.ChoiceField(label=_("Report"), choices=ReportKind.choices)
    field_order = ("kind", "as_of", "known_on", "since")


class ScheduleForm(forms.ModelForm):
    class Meta:
        model = ReportSchedule
        fields = ("kind", "rhythm", "day")
        help_texts = {
            "day": _("Of a week from Monday, 1, to Sunday, 7; of a month from 1 to 28."),
        }

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        day = answers.get("day")
        is_weekly = answers.get("rhythm") == ReportSchedule.Rhythm.WEEKLY
        if is_weekly and day and day > DAYS_OF_WEEK:
            words = gettext("A week has no day {day}; give one from 1, Monday, to 7, Sunday.")
            self.add_error("day", words.format(day=day))
        return answers

    def save_for(self, person, query: str, now: datetime) -> ReportSchedule:
        schedule: ReportSchedule = self.save(commit=False)
        schedule.person, schedule.query, schedule.created_at = person, query, now
        schedule.next_on = schedule.after(now.date())
        schedule.save()
        return schedule
