from django.urls import path

from reports.views import ledger, portfolio

urlpatterns = [
    path("", portfolio.portfolio, name="portfolio"),
    path("systems/<int:pk>/ledger/", ledger.ledger, name="ledger"),
    path("systems/<int:pk>/ledger.csv", ledger.ledger_csv, name="ledger-csv"),
    path("ledger/", ledger.audit, name="audit"),
    path("ledger.csv", ledger.audit_csv, name="audit-csv"),
]
