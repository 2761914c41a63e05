"""What an owner answers about its rules: whether one is on, and its days."""

import re

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.fields import QuantityField
from registry.forms.units_and_errors import speak
from registry.kinds.steps import MOST_POINTS
from registry.models import OwnerPolicy, User
from registry.quantities import PSI, format_quantity
from registry.quantities.numerals import OPEN
from registry.words.spoken import Number
from scheduling.services.confirming import LATEST_DAY, problem_with

LISTED = re.compile(r"\d{1,6}(\s*(,|;|\s)\s*\d{1,6})*")


def rule_form(data, row) -> forms.Form:
    """The form for one rule, as the owner has it."""
    return (ConfirmationForm if row.rule.is_by_policy_days else RuleForm)(data, row=row)


class RuleForm(forms.Form):
    is_on = forms.BooleanField(label=_("On"), required=False)
    days = forms.IntegerField(label=_("Days"), min_value=1, max_value=3650, required=False)
    points = forms.FloatField(
        label=_("Score points that may go by waiting"),
        min_value=0.01,
        max_value=100,
        required=False,
    )

    def __init__(self, *args, row, **kwargs):
        first = {"is_on": row.tuning.is_on, "days": row.days, "points": row.points}
        super().__init__(*args, initial=first, **kwargs)
        if row.rule.days is None:
            del self.fields["days"]
        else:
            self.fields["days"].help_text = gettext(
                "Due no later than so many days after the book first knew; {days} unless "
                "you say otherwise."
            ).format(days=row.rule.days)
        if row.rule.points is None:
            del self.fields["points"]
        else:
            self.fields["points"].help_text = gettext(
                "Sooner than that, once waiting has cost so many points; {points:g} "
                "unless you say otherwise. The corrosion model says what a week costs."
            ).format(points=Number(row.rule.points))


class DaysField(forms.CharField):
    """Days in a row, as people write them: 1, 30, 365."""

    def prepare_value(self, value):
        return value if isinstance(value, str) else ", ".join(str(day) for day in value or ())

    def clean(self, value) -> list[int]:
        text = super().clean(value).strip()
        if text and not LISTED.fullmatch(text):
            raise forms.ValidationError(
                gettext(
                    "Write whole numbers of days with commas between them, for example 1, 30, 365."
                )
            )
        if OPEN.fullmatch(text):
            raise forms.ValidationError(
                gettext(
                    "“{text}” may be one number or two: write a blank after a comma that parts two."
                ).format(text=text)
            )
        days = [int(number) for number in re.findall(r"\d+", text)]
        if problem := problem_with(days):
            raise forms.ValidationError(problem)
        return days


class ConfirmationForm(forms.Form):
    is_on = forms.BooleanField(label=_("On"), required=False)
    confirming_days = DaysField(
        label=_("Days after acceptance"),
        max_length=200,
        error_messages={"required": problem_with([])},
        help_text=_("In ascending order, with commas between: 1, 30, 365 is common practice."),
    )
    repeat_days = forms.IntegerField(
        label=_("Then again every so many days"),
        min_value=0,
        max_value=LATEST_DAY,
        help_text=_(
            "0 for never. A reading that stays out puts the system in doubt, so what "
            "is in doubt is judged by these days too, also where the rule is off."
        ),
    )

    def __init__(self, *args, row, **kwargs):
        first = {
            "is_on": row.tuning.is_on,
            "confirming_days": row.policy.confirming_days,
            "repeat_days": row.policy.confirming_repeat_days,
        }
        super().__init__(*args, initial=first, **kwargs)


MOST_MINUTES = 1440


class AcceptanceForm(forms.Form):
    """What is asked before a reading at target ends the fills."""

    target_n2_percent = QuantityField(
        dimension="percent",
        label=_("Nitrogen that ends the fills"),
        minimum=80,
        maximum=99.99,
        help_text=_(
            "98 % is common practice, no source. Every system is judged by it from now on, also "
            "what was read before; a run under way keeps the target it began with."
        ),
    )
    wait_minutes = forms.IntegerField(
        label=_("Minutes to wait between the fill and a reading that counts"),
        min_value=0,
        max_value=MOST_MINUTES,
        help_text=_(
            "0 for none. Waiting lets pressure and reading settle; it does not mix the far ends of "
            "branch lines, which flow does. Common practice, no source."
        ),
    )
    points = forms.IntegerField(
        label=_("Points to be read at target"),
        min_value=1,
        max_value=MOST_POINTS,
        help_text=_(
            "1 is a reading at the far vent. More: further vents, floors or zones and a low drain, "
            "each its own reading, and the worst decides. One for every floor is common practice, "
            "no source."
        ),
    )
    hold_minutes = forms.IntegerField(
        label=_("Minutes that the pressure must hold"),
        min_value=0,
        max_value=MOST_MINUTES,
        help_text=_("0 for no hold; 15 to 30 is common practice, no source."),
    )
    hold_fall_pa = QuantityField(
        dimension="pressure_difference",
        label=_("With a fall of at most"),
        minimum=0.0,
        maximum=100_000.0,
    )

    def __init__(self, data=None, *, policy: OwnerPolicy, user: User):
        super().__init__(
            data,
            initial={
                "target_n2_percent": policy.target_n2_percent,
                "wait_minutes": policy.acceptance_wait_minutes,
                "points": policy.acceptance_points,
                "hold_minutes": policy.acceptance_hold_minutes,
                "hold_fall_pa": policy.acceptance_hold_fall_pa,
            },
        )
        speak(self, user)
        self.fields["hold_fall_pa"].help_text = gettext(
            "Corrected for temperature where it is written down: 1 K moves {gauge} by {moved}."
        ).format(
            gauge=format_quantity(30 * PSI, "pressure", user.display_units),
            moved=format_quantity(0.15 * PSI, "pressure_difference", user.display_units),
        )
