from django import forms
from django.apps import AppConfig

UNANSWERED = "Nothing is written here yet."
UNCHOSEN = "Choose one of the answers."


class RegistryConfig(AppConfig):
    name = "registry"

    def ready(self) -> None:
        from registry import tasks  # noqa: F401  # the kinds of jobs

        self._say_what_is_missing()

    @staticmethod
    def _say_what_is_missing() -> None:
        """Every form says in the book's words what is missing; no form can be forgotten."""
        forms.Field.default_error_messages["required"] = UNANSWERED
        for choice in (forms.ChoiceField, forms.ModelChoiceField):
            choice.default_error_messages["required"] = UNCHOSEN
