from registry.urls_account import urlpatterns as account
from registry.urls_assumptions import urlpatterns as assumptions
from registry.urls_imports import urlpatterns as imports
from registry.urls_register import urlpatterns as register
from registry.urls_runs import urlpatterns as runs

app_name = "registry"
urlpatterns = [*account, *register, *runs, *imports, *assumptions]
