from django.urls import path

from registry.urls_account import urlpatterns as account
from registry.urls_register import urlpatterns as register
from registry.views.echo import echo

app_name = "registry"
urlpatterns = [path("echo/", echo, name="echo"), *account, *register]
