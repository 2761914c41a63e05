"""A follow-up's row as one text: every stored value that its entry in a calendar is made from."""

from django.db.models import TextField
from django.db.models.functions import Cast, JSONArray

FIELDS = (
    "uuid", "sequence", "slot_digest", "text_digest", "raised_at", "modified_at",
    "starts_at", "ends_at", "time_zone", "due_at", "status", "work_state",
    "kind", "rule", "title", "why", "closing_note",
    "assigned_to__name", "crew__name", "system__tag", "system__kind", "system__open_rows",
    "system__building__name", "system__site__name", "system__site__address",
    "protection_text",
)  # fmt: skip
"""Of rows `with_protection_text`. The digests are among them because a revision is due where they
differ from what is shown."""

SHOWN = Cast(JSONArray(*FIELDS), TextField())
