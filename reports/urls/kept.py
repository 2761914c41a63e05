from django.urls import path

from reports.views import kept, kept_batches

urlpatterns = [
    path("report/", kept.portfolio_report, name="portfolio-report"),
    path("report.pdf", kept.portfolio_report_pdf, name="portfolio-report-pdf"),
    path("sites/<int:pk>/report/", kept.site_report, name="site-report"),
    path("sites/<int:pk>/report.pdf", kept.site_report_pdf, name="site-report-pdf"),
    path("kept/", kept_batches.kept, name="kept"),
    path("kept/<uuid:uuid>/", kept_batches.kept_file, name="kept-file"),
    path("kept/schedules/<int:pk>/end/", kept_batches.kept_schedule_end, name="kept-schedule-end"),
]
