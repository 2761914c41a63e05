from django.urls import path

from registry.views import account, first_run, health, sign_ins
from registry.views.echo import echo

urlpatterns = [
    path("account/", account.account, name="account"),
    path("account/log/", sign_ins.own_log, name="sign-in-log"),
    path("account/log/people/", sign_ins.log_of_people, name="sign-in-log-people"),
    path("confirm/outside/", sign_ins.prove_outside, name="prove-outside"),
    path("begin/<str:code>/", first_run.begin, name="begin"),
    path("first-steps/", first_run.first_steps, name="first-steps"),
    path("health/", health.health, name="health"),
    path("ready/", health.ready, name="ready"),
    path("echo/", echo, name="echo"),
]
