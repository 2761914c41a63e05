from django.contrib import admin
from django.urls import include, path

handler500 = "registry.views.faults.fault"

urlpatterns = [
    path("", include("registry.urls.sign_in")),
    path("", include("reports.urls")),
    path("", include("scheduling.urls")),
    path("", include("registry.urls")),
    path("admin/", admin.site.urls),
]
