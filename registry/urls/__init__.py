from registry.urls.account import urlpatterns as account
from registry.urls.assumptions import urlpatterns as assumptions
from registry.urls.imports import urlpatterns as imports
from registry.urls.people import urlpatterns as people
from registry.urls.register import urlpatterns as register
from registry.urls.riser_signs import urlpatterns as riser_signs
from registry.urls.runs import urlpatterns as runs

app_name = "registry"
urlpatterns = [*account, *people, *register, *runs, *riser_signs, *imports, *assumptions]
