from django.urls import path

from registry.views import assumptions

urlpatterns = [
    path("systems/<int:pk>/assumptions/", assumptions.assumptions, name="assumptions"),
]
