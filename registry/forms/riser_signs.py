"""Forms of the sign: what it is made with, and what somebody at it types."""

from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.utils import timezone
from django.utils.translation import gettext, override

from registry.forms.files import FilesField, FilesInput
from registry.models import Record, SignSettings, Site
from registry.quantities import PSI
from registry.quantities.numerals import NumberError, TwoReadingsError, read_number, tidy
from registry.riser_sign.texts import Texts
from registry.services.attaching import check_file
from registry.translation import _

MOST_PHOTOS = 3
IS_TELEPHONE = RegexValidator(
    r"^[0-9+() ./-]{3,40}$",
    _("Write a telephone number: digits, spaces and + ( ) . / -, for example +1 555 0100."),
)
PAPERS = (("a5", _("A5, 148 × 210 mm")), ("a4", _("A4, 210 × 297 mm")))
UNITS = (("psi", "psi"), ("bar", "bar"), ("kPa", "kPa"))
IN_PA = {"psi": PSI, "bar": 1e5, "kPa": 1000.0}
HIGHEST = {"psi": 400, "bar": 27.5, "kPa": 2750}
"""More than any sprinkler system stands at: what is typed above it is a slip."""


class SignForm(forms.Form):
    """A new sign: the code of the old one goes on until the new one is up, unless it is ended."""

    paper = forms.ChoiceField(
        label=_("Paper"), choices=PAPERS, initial="a5", widget=forms.RadioSelect
    )
    ends_others = forms.BooleanField(
        label=_("End every earlier code of this system now"),
        required=False,
        help_text=_("When a code was copied or misused. The sign on the wall then opens nothing."),
    )


class SignSettingsForm(forms.ModelForm):
    class Meta:
        model = SignSettings
        fields = ["languages", "contractor_telephone", "owner_telephone"]

    def __init__(self, data=None, *, site: Site):
        """A number that was another contractor's is not offered as that of the present one."""
        super().__init__(data, instance=SignSettings.of(site))
        contractor = site.contractor_on(timezone.localdate(timezone=site.zone))
        if contractor is None:
            del self.fields["contractor_telephone"]
        elif contractor.pk != self.instance.contractor_id:
            self.initial["contractor_telephone"] = ""
        if contractor:
            self.fields["contractor_telephone"].help_text = gettext(
                "Of {contractor}, who serves the site now."
            ).format(contractor=contractor)
        for name in self.fields:
            if name.endswith("_telephone"):
                self.fields[name].validators.append(IS_TELEPHONE)


class DismissForm(forms.Form):
    records = forms.ModelMultipleChoiceField(
        label=_("What is dismissed"),
        queryset=Record.objects.none(),
        widget=forms.CheckboxSelectMultiple,
    )
    reason = forms.CharField(
        label=_("Why it is dismissed"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("What was looked at, and by whom. It stays in the book beside what was told."),
    )

    def __init__(self, data=None, *, waiting):
        super().__init__(data)
        field = self.fields["records"]
        field.queryset = waiting
        field.initial = [row.pk for row in waiting]
        field.label_from_instance = _told


def _told(record: Record) -> str:
    what = dict(record.definition.fields[0].choices).get(record.details["what"], "")
    return gettext("Number {sequence}: {what}").format(sequence=record.sequence, what=what)


class PhotosField(FilesField):
    """Photos alone, and few: whoever sends them is not known. Any error is said in `wrong`."""

    def __init__(self, *, wrong: str, **kwargs: Any):
        super().__init__(**kwargs)
        self.wrong = wrong

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        try:
            photos = super().clean(data, initial)
        except ValidationError:
            raise ValidationError(self.wrong) from None
        if len(photos) > MOST_PHOTOS or any(_is_document(photo) for photo in photos):
            raise ValidationError(self.wrong)
        return photos


def _is_document(photo: Any) -> bool:
    return not check_file(photo).startswith("image/")


class TellForm(forms.Form):
    """What somebody without an account tells, asked in the language of the page."""

    client_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, data=None, files=None, *, texts: Texts, what: str):
        super().__init__(data, files, initial={"client_key": uuid4()}, label_suffix="")
        self.texts, self.what = texts, what
        radio = forms.RadioSelect
        self.fields["happened"] = forms.ChoiceField(
            label=texts.happened, choices=texts.happened_choices, initial="now", widget=radio,
            error_messages={"required": texts.choose, "invalid_choice": texts.choose},
        )  # fmt: skip
        if what == "drained":
            for name, label in texts.steps:
                self.fields[name] = forms.ChoiceField(
                    label=label, choices=texts.answers, widget=radio, required=False
                )
        self.fields["photos"] = PhotosField(
            wrong=texts.photo_wrong,
            label=texts.photo,
            help_text=texts.photo_help,
            widget=FilesInput(attrs={"accept": "image/jpeg,image/png,image/webp,image/heic"}),
        )
        self.fields["words"] = forms.CharField(
            label=texts.words, required=False, max_length=1000,
            widget=forms.Textarea(attrs={"rows": 3}),
        )  # fmt: skip
        self.fields["contact"] = forms.CharField(
            label=texts.contact, required=False, max_length=120, help_text=texts.contact_help
        )

    def told(self) -> dict[str, Any]:
        """What `registry.services.telling.tell` takes."""
        names = [name for name, _label in self.texts.steps]
        answers = {name: self.cleaned_data.get(name) for name in names}
        return {
            "what": self.what,
            "steps": {name: said for name, said in answers.items() if said},
            **{
                name: self.cleaned_data[name]
                for name in ("happened", "words", "contact", "photos", "client_key")
            },
        }


class GaugeForm(forms.Form):
    """The pressure that somebody reads, with a comma or a point."""

    gauge = forms.CharField(
        max_length=12, required=False, widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    unit = forms.ChoiceField(choices=UNITS, required=False)

    def __init__(self, data=None, *, texts: Texts):
        super().__init__(data)
        self.texts = texts

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        typed, unit = answers.get("gauge", "").strip(), answers.get("unit") or "psi"
        if not typed:
            return answers
        try:
            with override(self.texts.language):
                value = read_number(tidy(typed))
        except TwoReadingsError as error:
            self.add_error("gauge", f"“{typed}”: {error}. {error.right}")
            return answers
        except NumberError:
            value = -1.0
        if not 0 <= value <= HIGHEST[unit]:
            self.add_error(
                "gauge", str(self.texts.gauge_wrong).format(most=f"{HIGHEST[unit]:g} {unit}")
            )
            return answers
        return answers | {"gauge_pa": value * IN_PA[unit]}
