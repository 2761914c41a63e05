"""For the proxy and the machine that watches: whether it runs, and whether it can serve."""

from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.db import DatabaseError, InterfaceError
from django.http import HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from registry.jobs import claims
from registry.models.jobs import SILENT_FOR
from registry.serving.unready import pending_migrations


@login_not_required
@never_cache
@require_safe
def health(request):
    """The process answers. Nothing is asked of the database: a server without one is not sick."""
    return HttpResponse("ok\n", content_type="text/plain")


@login_not_required
@never_cache
@require_safe
def ready(request):
    """503 while pages cannot be served. A worker that is away is said and refuses nothing: pages
    and records need none."""
    found = {"database": _database(), "cache": _cache()}
    is_ready = all(state == "ok" for state in found.values())
    if found["database"] == "ok":
        found["worker"] = _worker()
    return JsonResponse({"ready": is_ready, **found}, status=200 if is_ready else 503)


def _database() -> str:
    try:
        return "behind its migrations" if pending_migrations() else "ok"
    except (DatabaseError, InterfaceError):
        return "away"


def _cache() -> str:
    try:
        cache.get("ready")
    except Exception:
        return "away"
    return "ok"


def _worker() -> str:
    seen_at = claims.last_seen()
    if seen_at is None:
        return "never seen"
    return "ok" if abs(timezone.now() - seen_at) <= SILENT_FOR else "away"
