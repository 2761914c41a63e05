from registry.urls_account import urlpatterns as account

app_name = "registry"
urlpatterns = [*account]
