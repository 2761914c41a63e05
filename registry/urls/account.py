from django.urls import path

from registry.views import account, first_run, health
from registry.views.echo import echo

urlpatterns = [
    path("sign-in/", account.SignIn.as_view(), name="sign-in"),
    path("sign-out/", account.SignOut.as_view(), name="sign-out"),
    path("account/", account.account, name="account"),
    path("account/password/", account.ChangePassword.as_view(), name="password"),
    path("begin/<str:code>/", first_run.begin, name="begin"),
    path("first-steps/", first_run.first_steps, name="first-steps"),
    path("health/", health.health, name="health"),
    path("ready/", health.ready, name="ready"),
    path("echo/", echo, name="echo"),
]
