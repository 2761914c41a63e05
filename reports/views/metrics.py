from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from reports.service.metrics import TYPE, as_text, gauges


@login_not_required
@never_cache
@require_safe
def metrics(request):
    """For whoever bears METRICS_TOKEN; without one set, for nobody."""
    given = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if not settings.METRICS_TOKEN or not constant_time_compare(given, settings.METRICS_TOKEN):
        raise Http404
    return HttpResponse(as_text(gauges(timezone.now())), content_type=TYPE)
