from django.urls import path

from registry.views import at_sign, told

urlpatterns = [
    path("s/<str:secret>/", at_sign.at_sign, name="at-sign"),
    path("s/<str:secret>/drain/", at_sign.at_sign_drain, name="at-sign-drain"),
    path("s/<str:secret>/tell/", at_sign.at_sign_tell, name="at-sign-tell"),
    path("systems/<int:pk>/told/", told.told, name="told"),
    path("told/<int:pk>/erase/", told.told_erase, name="told-erase"),
    path("records/<int:pk>/confirm/<str:kind>/", told.confirm, name="told-confirm"),
]
