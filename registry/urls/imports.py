from django.urls import path

from registry.views import imports, rows_to_fix

urlpatterns = [
    path("import/", imports.import_new, name="import-new"),
    path("import/<int:pk>/", imports.import_page, name="import"),
    path("import/<int:pk>/load/", imports.import_load, name="import-load"),
    path("import/<int:pk>/take-back/", imports.import_take_back, name="import-take-back"),
    path("import/<int:pk>/rows-to-fix.csv", imports.import_bad_rows, name="import-bad-rows"),
    path("systems/<int:pk>/rows-to-fix/", rows_to_fix.rows_to_fix, name="rows-to-fix"),
]
