from reports.urls_certificate import urlpatterns as certificate
from reports.urls_pages import urlpatterns as pages
from reports.urls_risk import urlpatterns as risk

app_name = "reports"
urlpatterns = [*pages, *certificate, *risk]
