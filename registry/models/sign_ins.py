"""Who signed in, tried to, or changed how they do: rows that also count the wrong tries."""

from django.db import models

from registry.models.people import User
from registry.translation import _


class SignIn(models.Model):
    """One thing that happened at the door; nothing here is a secret, and no password is kept."""

    class What(models.TextChoices):
        TRIED = "tried", _("Password being checked")
        IN = "in", _("Signed in")
        HALF = "half", _("Password right, second step not taken")
        WRONG = "wrong", _("Wrong password")
        WRONG_CODE = "wrong-code", _("Wrong code of the second step")
        LIMITED = "limited", _("Refused: too many wrong passwords")
        PROVED = "proved", _("Said again who they are")
        OUT = "out", _("Signed out")
        ENDED = "ended", _("Session ended from another one")
        IDLE = "idle", _("Signed out: nothing done for too long")
        OVER = "over", _("Signed out: signed in for too long")
        RESET_ASKED = "reset-asked", _("New password asked for by mail")
        RESET = "reset", _("Password set anew by mail")
        PASSWORD = "password", _("Password changed")
        ADDED = "added", _("Way of signing in added")
        REMOVED = "removed", _("Way of signing in removed")
        CODES = "codes", _("New recovery codes made")

    WRONG_ONES = (What.TRIED, What.WRONG)

    person = models.ForeignKey(
        User, on_delete=models.CASCADE, null=True, related_name="sign_ins", editable=False
    )
    account = models.CharField(max_length=64, help_text=_("digest of the address that was typed"))
    what = models.CharField(max_length=12, choices=What)
    how = models.CharField(max_length=120, blank=True)
    address = models.CharField(max_length=45, blank=True)
    browser = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["account", "at"], name="sign_in_by_account"),
            models.Index(fields=["address", "at"], name="sign_in_by_address"),
            models.Index(fields=["person", "-at"], name="sign_in_by_person"),
            models.Index(fields=["at"], name="sign_in_by_time"),
        ]

    def __str__(self) -> str:
        return f"{self.get_what_display()} ({self.at:%Y-%m-%d %H:%M})"


class KeptForAWhile(models.Model):
    """The table of Django's database cache, which counts for all processes where no Redis is."""

    cache_key = models.CharField(max_length=255, primary_key=True)
    value = models.TextField()
    expires = models.DateTimeField(db_index=True)

    class Meta:
        db_table = "registry_cache"

    def __str__(self) -> str:
        return self.cache_key
