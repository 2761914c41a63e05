from django.urls import path

from reports.views import proof

urlpatterns = [
    path("proof/", proof.proof, name="proof"),
    path("proof/owners/<int:pk>/", proof.packages, name="packages"),
    path("proof/owners/<int:pk>/checkpoint", proof.checkpoint, name="checkpoint"),
    path("proof/packages/<uuid:uuid>/", proof.package, name="package"),
    path("proof/packages/<uuid:uuid>.zip", proof.package_file, name="package-file"),
]
