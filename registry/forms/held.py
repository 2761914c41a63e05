"""Forms that keep the chosen files while they come back with an error."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django import forms
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext

from registry.models import HeldFile, Record, User
from registry.phone.arriving import HEADER
from registry.services.attaching import check_file, plain_name
from registry.services.holding import KEPT_FOR, HeldUpload, held_of, hold, let_go
from registry.services.ledger import RecordError

TICKED, SHOWN = "kept_files", "kept_files_shown"
"""No field of a kind has such a name: a test of pressure asks whether it `held`."""


class HoldingForm(forms.Form):
    """Mixed into a form with a field of files; `hold_for` makes it keep them.

    What is kept stands in the form as a tick each: unticked, a file is let go and not sent.
    """

    kept_files: list[HeldFile]

    def hold_for(self, user: User) -> None:
        self._person, self.kept_files = user, []
        if not self.is_bound or "files" not in self.fields:
            return
        ticked, shown = self._keys(TICKED), self._keys(SHOWN)
        self.kept_files = held_of(user, ticked, timezone.now())
        self._unticked = shown - ticked
        self._missing = ticked - {row.uuid for row in self.kept_files}
        if self.kept_files:
            self.fields["files"].required = False

    def _keys(self, name: str) -> set[UUID]:
        sent = self.data.getlist(name) if hasattr(self.data, "getlist") else []
        return {key for text in sent if (key := _uuid(text))}

    def clean_files(self) -> list[Any]:
        if self._missing and not self._was_sent_before():
            raise forms.ValidationError(
                gettext("A file that was kept for this form is gone: choose it again.")
            )
        return [*self.cleaned_data["files"], *(HeldUpload(row) for row in self.kept_files)]

    def _was_sent_before(self) -> bool:
        """Sent twice: what was kept went into the record that the form made the first time."""
        key = _uuid(str(self.data.get("client_key", "")))
        return (
            bool(key) and Record.objects.filter(client_key=key, recorded_by=self._person).exists()
        )

    @property
    def kept_until(self) -> datetime:
        return min(row.held_at for row in self.kept_files) + KEPT_FOR

    def keep_chosen(self, request: HttpRequest) -> None:
        """The form comes back: what was chosen is kept, what was unticked is let go. A phone that
        sends what it kept keeps its files itself."""
        if not self.is_bound or "files" not in self.fields or HEADER in request.headers:
            return
        now = timezone.now()
        let_go(held_of(self._person, self._unticked, now))
        chosen = self.files.getlist("files") if hasattr(self.files, "getlist") else []
        self.kept_files += hold(files=_fit(chosen), by=self._person, now=now)


def _fit(files: Iterable[Any]) -> list[tuple[Any, str, str]]:
    """Those that the book would keep; the others are named by the error of the field."""
    fit = []
    for file in files:
        try:
            content_type = check_file(file)
        except RecordError:
            continue
        fit.append((file, plain_name(file.name or "", content_type), content_type))
    return fit


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
