from django.urls import path

from registry.views import drain_down, phone, run_beside, run_worker, runs

urlpatterns = [
    path("systems/<int:pk>/inerting/", runs.run_plan, name="run-plan"),
    path("systems/<int:pk>/drain-down/", drain_down.drain_down, name="drain-down"),
    path("worker.js", run_worker.run_worker, name="run-worker"),
    path("phone/", phone.phone, name="phone"),
    path("phone/discarded/", phone.phone_discarded, name="phone-discarded"),
    path("runs/<int:pk>/", runs.run, name="run"),
    path("runs/<int:pk>/step/", runs.run_step, name="run-step"),
    path("runs/<int:pk>/stop/", runs.run_stop, name="run-stop"),
    path("runs/<int:pk>/gas/", run_beside.run_gas, name="run-gas"),
    path("runs/<int:pk>/photo/", run_beside.run_photo, name="run-photo"),
    path("runs/<int:pk>/signature/", run_beside.run_sign, name="run-sign"),
    path("runs/<int:pk>/steps/<int:record_pk>/", runs.run_correct, name="run-correct"),
]
