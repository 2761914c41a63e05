from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils.translation import ngettext

from registry.access import get_manageable, get_visible, may_manage
from registry.forms.plain_text import plain
from registry.models import System
from registry.services.register.rows_to_fix import settle_rows_to_fix

SYSTEMS = System.objects.select_related("site__owner", "building")


def rows_to_fix(request, pk):
    """The rows of loaded files that this system lacks; its managers say when one is settled."""
    system = get_visible(SYSTEMS, request.user, pk=pk)
    if request.method == "POST":
        system = get_manageable(SYSTEMS, request.user, pk=pk)
        chosen = [int(row) for row in request.POST.getlist("row") if row.isdigit()]
        settled = settle_rows_to_fix(
            system=system, settled_by=request.user, rows=chosen,
            note=plain(request.POST.get("note", "")).strip(),
        )  # fmt: skip
        words = ngettext("%(count)s row is settled.", "%(count)s rows are settled.", settled)
        messages.success(request, words % {"count": settled})
        return redirect("registry:rows-to-fix", pk=system.pk)
    rows = system.rows_to_fix.select_related("settled_by")
    context = {
        "system": system,
        "open_rows": rows.filter(settled_at__isnull=True),
        "settled_rows": rows.filter(settled_at__isnull=False),
        "may_settle": may_manage(system, request.user),
    }
    return render(request, "registry/rows_to_fix.html", context)
