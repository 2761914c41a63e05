from django.urls import path

from reports.views import certificate

urlpatterns = [
    path("runs/<int:pk>/certificate.pdf", certificate.certificate, name="certificate"),
]
