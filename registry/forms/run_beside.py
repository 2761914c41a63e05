"""Forms of what is written beside the steps of a run."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext

from registry.forms.files import FilesField
from registry.forms.held import HoldingForm
from registry.forms.moments import held_field
from registry.forms.records import MAKERS
from registry.forms.units_and_errors import speak
from registry.kinds import Kind
from registry.kinds.steps import PHOTO, SIGNED
from registry.models import User
from registry.photos.signature import SignatureError, png_of
from registry.services.run_beside import ON_PAPER, ON_SCREEN
from registry.translation import _


class BesideForm(forms.Form):
    """The fields of a kind, and the key that makes sending it twice harmless."""

    kind: Kind
    client_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, data=None, files=None, *, user: User, prefix_id: str):
        super().__init__(data, files, initial={"client_key": uuid4()}, auto_id=f"{prefix_id}_%s")
        for field in self.kind.fields:
            self.fields[field.name] = MAKERS[field.type](
                field, label=field.label, required=field.is_required, help_text=field.help
            )

    @property
    def details(self) -> dict[str, Any]:
        given = {field.name: self.cleaned_data.get(field.name) for field in self.kind.fields}
        return {name: answer for name, answer in given.items() if answer not in (None, "")}


class PhotoForm(HoldingForm, BesideForm):
    kind = PHOTO

    def __init__(self, data=None, files=None, *, user: User):
        super().__init__(data, files, user=user, prefix_id="photo")
        self.fields["files"] = FilesField(label=gettext("Photos"), required=True)
        self.fields["held_ms"] = held_field()
        self.hold_for(user)
        speak(self, user)

    def facts(self) -> dict[str, Any]:
        return {
            "details": self.details,
            "files": self.cleaned_data["files"],
            "held": timedelta(milliseconds=self.cleaned_data["held_ms"] or 0),
            "client_key": self.cleaned_data["client_key"],
        }


class SignForm(BesideForm):
    """Signed with a finger, a pen or a mouse, or on paper: then the typed name stands alone."""

    kind = SIGNED
    drawn = forms.CharField(required=False, widget=forms.HiddenInput, label=_("Signature"))

    def __init__(self, data=None, *, user: User):
        super().__init__(data, user=user, prefix_id="sign")
        self.fields["name"].widget.attrs["autocomplete"] = "off"
        self.fields["role"].help_text = gettext("For example: for the owner, facility manager.")
        self.fields["exceptions"].help_text = gettext(
            "What the person who signs wants on record with it."
        )
        speak(self, user)

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        drawn, way = answers.get("drawn"), answers.get("way")
        if way == ON_SCREEN and not drawn:
            self.add_error(
                "way", gettext("Nothing is drawn: sign in the box, or choose “on paper”.")
            )
        if way == ON_PAPER and drawn:
            self.add_error(
                "way", gettext("The box holds a signature: clear it, or choose “on this screen”.")
            )
        answers["png"] = self._png(drawn) if drawn and way == ON_SCREEN else None
        return answers

    def _png(self, drawn: str) -> bytes | None:
        try:
            return png_of(drawn)
        except SignatureError as error:
            self.add_error("way", str(error))
            return None

    def facts(self) -> dict[str, Any]:
        return {
            "details": self.details,
            "drawn": self.cleaned_data["png"],
            "client_key": self.cleaned_data["client_key"],
        }
