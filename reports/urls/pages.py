from django.urls import path

from reports.views import finding, ledger, metrics, portfolio

urlpatterns = [
    path("", portfolio.portfolio, name="portfolio"),
    path("portfolio.csv", portfolio.portfolio_csv, name="portfolio-csv"),
    path("portfolio.xlsx", portfolio.portfolio_xlsx, name="portfolio-xlsx"),
    path("views/save/", portfolio.view_save, name="view-save"),
    path("views/<uuid:uuid>/drop/", portfolio.view_drop, name="view-drop"),
    path("by-site/", portfolio.sites, name="sites"),
    path("prices/<int:pk>/", portfolio.prices, name="prices"),
    path("find/", finding.find, name="find"),
    path("systems/<int:pk>/ledger/", ledger.ledger, name="ledger"),
    path("systems/<int:pk>/ledger.csv", ledger.ledger_csv, name="ledger-csv"),
    path("ledger/", ledger.audit, name="audit"),
    path("metrics/", metrics.metrics, name="metrics"),
    path("ledger.csv", ledger.audit_csv, name="audit-csv"),
]
