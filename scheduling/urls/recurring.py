from django.urls import path

from registry.views import attachments
from scheduling.views import impairments, library, schedule, settings

urlpatterns = [
    path("due/", schedule.due, name="due"),
    path("library/", library.library, name="library"),
    path("library/<int:pk>/", library.library_owner, name="library-owner"),
    path("library/<int:pk>/rows/new/", library.library_new, name="library-new"),
    path("library/<int:pk>/rows/<slug:row>/", library.library_row, name="library-row"),
    path(
        "library/<int:pk>/rows/<slug:row>/restore/", library.library_restore, name="library-restore"
    ),
    path("sites/<int:pk>/edition/", settings.site_edition, name="site-edition"),
    path("sites/<int:pk>/winter/", settings.site_winter, name="site-winter"),
    path("editions/<int:pk>/end/", settings.site_edition_end, name="site-edition-end"),
    path("systems/<int:pk>/schedule/", schedule.schedule, name="schedule"),
    path("systems/<int:pk>/schedule/facts/", settings.schedule_answers, name="schedule-answers"),
    path("systems/<int:pk>/sprinklers/new/", settings.sprinklers_new, name="sprinklers-new"),
    path("sprinklers/<int:pk>/edit/", settings.sprinklers_edit, name="sprinklers-edit"),
    path("recurring/<int:pk>/last-done/", settings.last_done, name="last-done"),
    path("due/<int:pk>/", schedule.occurrence_complete, name="occurrence-complete"),
    path("due/<int:pk>/skip/", schedule.occurrence_skip, name="occurrence-skip"),
    path("inspections/<int:pk>/", schedule.inspection, name="inspection"),
    path(
        "inspections/<int:pk>/withdraw/", schedule.inspection_withdraw, name="inspection-withdraw"
    ),
    path("attachments/<uuid:uuid>/", attachments.attachment, name="attachment"),
    path("systems/<int:pk>/impairments/", impairments.impairments, name="impairments"),
    path(
        "systems/<int:pk>/impairments/start/", impairments.impairment_start, name="impairment-start"
    ),
    path("systems/<int:pk>/impairments/end/", impairments.impairment_end, name="impairment-end"),
]
