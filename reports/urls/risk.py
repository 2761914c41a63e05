from django.urls import path

from reports.views import risk

urlpatterns = [
    path("systems/<int:pk>/risk/", risk.risk, name="risk"),
    path("systems/<int:pk>/risk.pdf", risk.risk_pdf, name="risk-pdf"),
    path("systems/<int:pk>/risk/changed/", risk.risk_changed, name="risk-changed"),
    path("systems/<int:pk>/case.json", risk.risk_case, name="risk-case"),
    path("matrix/", risk.matrix, name="matrix"),
    path("assumptions/", risk.assumptions, name="assumptions"),
]
