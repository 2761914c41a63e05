from django.urls import path

from reports.views import kept_work

urlpatterns = [
    path("sites/<int:pk>/visits/<slug:on>/", kept_work.visit, name="visit"),
    path("sites/<int:pk>/visits/<slug:on>.pdf", kept_work.visit_pdf, name="visit-pdf"),
    path("sites/<int:pk>/labels.pdf", kept_work.labels, name="labels"),
    path("runs/<int:pk>/hand-over.pdf", kept_work.hand_over, name="hand-over"),
    path("tasks/<int:pk>/sheet.pdf", kept_work.order_sheet, name="order-sheet"),
    path("day.pdf", kept_work.day_sheets, name="day-sheets"),
]
