from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"

    def ready(self) -> None:
        from registry.imports.editions import offer
        from scheduling import receivers  # noqa: F401
        from scheduling.follow_ups import owner_facts  # noqa: F401  # registered there
        from scheduling.jobs import kinds  # noqa: F401  # declared there
        from scheduling.library import titles

        offer(titles)
