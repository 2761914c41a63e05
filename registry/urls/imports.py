from django.urls import path

from registry.views import imports

urlpatterns = [
    path("import/", imports.import_new, name="import-new"),
    path("import/<int:pk>/", imports.import_page, name="import"),
    path("import/<int:pk>/load/", imports.import_load, name="import-load"),
    path("import/<int:pk>/rows-to-mend.csv", imports.import_bad_rows, name="import-bad-rows"),
]
