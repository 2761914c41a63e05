from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"

    def ready(self) -> None:
        from scheduling import receivers  # noqa: F401
        from scheduling.jobs import kinds  # noqa: F401  # declared there
        from scheduling.messages import receivers as message_receivers  # noqa: F401
        from scheduling.recurring import receivers as recurring_receivers  # noqa: F401
