from django.urls import path

from reports.views import register

urlpatterns = [
    path("register/<int:pk>.csv", register.register_csv, name="register-csv"),
    path("register/<int:pk>.xlsx", register.register_xlsx, name="register-xlsx"),
]
