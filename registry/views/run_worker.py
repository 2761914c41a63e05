from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import FileResponse, Http404
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

SCRIPT = "registry/run-worker.js"


@login_not_required
@require_safe
def run_worker(request):
    """The worker that opens kept pages without a connection. It holds nothing of the book."""
    path = finders.find(SCRIPT)
    if path is None:
        raise Http404(gettext("{SCRIPT} is missing.").format(SCRIPT=SCRIPT))
    headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
    return FileResponse(Path(path).open("rb"), content_type="text/javascript", headers=headers)
