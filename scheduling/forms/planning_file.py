from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

LARGEST = 2_000_000  # bytes


class PlanningFileForm(forms.Form):
    """A CSV file with depots, crews, lengths of work, and where sites lie."""

    file = forms.FileField(label=_("CSV file"))

    def clean_file(self) -> str:
        given = self.cleaned_data["file"]
        if given.size > LARGEST:
            raise ValidationError(_("The file is larger than 2 MB; send it in parts."))
        try:
            return given.read().decode("utf-8-sig")
        except UnicodeDecodeError:
            raise ValidationError(
                _("The file is not in UTF-8; save it as CSV UTF-8 and send it again.")
            ) from None
