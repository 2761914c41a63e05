from django.urls import path

from reports.views import audit_access, demanded, proof, sharing

urlpatterns = [
    path("proof/", proof.proof, name="proof"),
    path("proof/demanded/", demanded.demanded_page, name="demanded"),
    path("proof/owners/<int:pk>/", proof.packages, name="packages"),
    path("proof/owners/<int:pk>/checkpoint", proof.checkpoint, name="checkpoint"),
    path("proof/packages/<uuid:uuid>/", proof.package, name="package"),
    path("proof/packages/<uuid:uuid>.zip", proof.package_file, name="package-file"),
    path("proof/packages/<uuid:uuid>/share/", sharing.share, name="package-share"),
    path("proof/packages/<uuid:uuid>/share/<int:pk>/", sharing.unshare, name="package-unshare"),
    path("proof/shared/<str:secret>/", sharing.shared, name="shared"),
    path("proof/shared/<str:secret>.zip", sharing.shared_file, name="shared-file"),
    path("proof/owners/<int:pk>/auditors/", audit_access.auditors, name="auditors"),
    path(
        "proof/owners/<int:pk>/auditors/<int:access_pk>/",
        audit_access.audit_access,
        name="audit-access",
    ),
    path(
        "proof/owners/<int:pk>/auditors/<int:access_pk>/end/",
        audit_access.audit_access_end,
        name="audit-access-end",
    ),
]
