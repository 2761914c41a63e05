from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "reports"

    def ready(self) -> None:
        from reports.proof.in_package import for_reading
        from scheduling.verifying import packaged

        packaged.ALSO.append(for_reading)
