from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"

    def ready(self) -> None:
        from scheduling import receivers  # noqa: F401
