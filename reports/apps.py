from django.apps import AppConfig, apps
from django.db.models.signals import post_migrate


class ReportsConfig(AppConfig):
    name = "reports"

    def ready(self) -> None:
        from django.core.checks import register

        from reports.finding.index import prepare
        from reports.kept import jobs  # noqa: F401  # declared there
        from reports.proof.in_package import for_reading
        from reports.signing import check_key
        from scheduling.verifying import packaged

        register(check_key)
        packaged.ALSO.append(for_reading)
        # After the last app whose tables are searched; this one has none of its own.
        post_migrate.connect(prepare, sender=apps.get_app_config("scheduling"))
