from reports.urls.certificate import urlpatterns as certificate
from reports.urls.pages import urlpatterns as pages
from reports.urls.risk import urlpatterns as risk

app_name = "reports"
urlpatterns = [*pages, *certificate, *risk]
