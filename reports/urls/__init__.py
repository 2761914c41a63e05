from reports.urls.certificate import urlpatterns as certificate
from reports.urls.kept import urlpatterns as kept
from reports.urls.kept_work import urlpatterns as kept_work
from reports.urls.pages import urlpatterns as pages
from reports.urls.proof import urlpatterns as proof
from reports.urls.register import urlpatterns as register
from reports.urls.riser_sign import urlpatterns as riser_sign
from reports.urls.risk import urlpatterns as risk

app_name = "reports"
urlpatterns = [*pages, *certificate, *kept, *kept_work, *proof, *register, *risk, *riser_sign]
