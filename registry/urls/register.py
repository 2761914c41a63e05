from django.urls import path

from registry.views import attachments, pipes, records, sites, systems

urlpatterns = [
    path("sites/new/", sites.site_new, name="site-new"),
    path("sites/<int:pk>/", sites.site, name="site"),
    path("sites/<int:pk>/edit/", sites.site_edit, name="site-edit"),
    path("sites/<int:pk>/buildings/new/", sites.building_new, name="building-new"),
    path("sites/<int:pk>/buildings/<int:building_pk>/", sites.building_edit, name="building-edit"),
    path("sites/<int:pk>/contracts/new/", sites.contract_new, name="contract-new"),
    path("sites/<int:pk>/contracts/<int:contract_pk>/", sites.contract_edit, name="contract-edit"),
    path("sites/<int:pk>/systems/new/", systems.system_new, name="system-new"),
    path("systems/<int:pk>/", systems.system, name="system"),
    path("systems/<int:pk>/edit/", systems.system_edit, name="system-edit"),
    path("systems/<int:pk>/pipes/new/", pipes.pipe_new, name="pipe-new"),
    path("pipes/<int:pk>/correct/", pipes.pipe_correct, name="pipe-correct"),
    path("systems/<int:pk>/fittings/new/", pipes.fitting_new, name="fitting-new"),
    path("fittings/<int:pk>/edit/", pipes.fitting_edit, name="fitting-edit"),
    path("systems/<int:pk>/records/new/", records.record_choose, name="record-choose"),
    path("systems/<int:pk>/records/new/<str:kind>/", records.record_new, name="record-new"),
    path("files/<uuid:uuid>/", attachments.attachment, name="attachment"),
    path(
        "files/<uuid:uuid>/take-back/",
        attachments.attachment_take_back,
        name="attachment-take-back",
    ),
    path("records/<int:pk>/", records.record_page, name="record"),
    path("records/<int:pk>/correct/", records.record_correct, name="record-correct"),
    path("records/<int:pk>/withdraw/", records.record_withdraw, name="record-withdraw"),
]
