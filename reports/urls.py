from reports.urls_certificate import urlpatterns as certificate
from reports.urls_pages import urlpatterns as pages

app_name = "reports"
urlpatterns = [*pages, *certificate]
