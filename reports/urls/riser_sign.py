from django.urls import path

from reports.views import riser_sign

urlpatterns = [
    path("systems/<int:pk>/sign/", riser_sign.riser_sign, name="riser-sign"),
    path("systems/<int:pk>/sign/<int:sign_pk>/up/", riser_sign.riser_sign_up, name="riser-sign-up"),
    path("systems/<int:pk>/sign/end/", riser_sign.riser_sign_end, name="riser-sign-end"),
    path("sites/<int:pk>/signs/", riser_sign.riser_sign_settings, name="riser-sign-settings"),
]
