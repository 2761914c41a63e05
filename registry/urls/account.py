from django.urls import path

from registry.views import account
from registry.views.echo import echo

urlpatterns = [
    path("sign-in/", account.SignIn.as_view(), name="sign-in"),
    path("sign-out/", account.SignOut.as_view(), name="sign-out"),
    path("account/", account.account, name="account"),
    path("account/password/", account.ChangePassword.as_view(), name="password"),
    path("echo/", echo, name="echo"),
]
