from django import forms
from django.apps import AppConfig

UNANSWERED = "Nothing is written here yet."
UNCHOSEN = "Choose one of the answers."


class RegistryConfig(AppConfig):
    name = "registry"

    def ready(self) -> None:
        from registry import tasks  # noqa: F401  # the kinds of jobs
        from registry.forms.plain_text import guard_every_text_field
        from registry.forms.typed_numbers import read_every_number_field
        from registry.signing_in import demand, journal, sessions  # noqa: F401  # hear sign-ins

        self._say_what_is_missing()
        guard_every_text_field()
        read_every_number_field()

    @staticmethod
    def _say_what_is_missing() -> None:
        """Every form says in the book's words what is missing; no form can be forgotten."""
        forms.Field.default_error_messages["required"] = UNANSWERED
        for choice in (forms.ChoiceField, forms.ModelChoiceField):
            choice.default_error_messages["required"] = UNCHOSEN
