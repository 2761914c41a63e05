from django.urls import path

from scheduling.views import desk

urlpatterns = [
    path("systems/<int:pk>/order-inerting/", desk.order, name="order-inerting"),
    path("several/", desk.several, name="several"),
]
