from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from registry.access import get_managed_owner
from registry.forms.units_and_errors import attempt
from registry.services.register.audit import end_audit_access, set_audit_access
from reports.proof.forms import AuditAccessForm


@require_safe
def auditors(request, pk):
    """Who reads this owner's book as an auditor, until when and of what."""
    owner = get_managed_owner(request.user, pk)
    rows = owner.audit_access_given.select_related("auditor").prefetch_related("sites")
    context = {
        "owner": owner,
        "rows": rows.order_by("auditor__name"),
        "today": timezone.now().date(),
    }
    return render(request, "reports/auditors.html", context)


def audit_access(request, pk, access_pk):
    owner = get_managed_owner(request.user, pk)
    access = get_object_or_404(
        owner.audit_access_given.select_related("owner", "auditor"), pk=access_pk
    )
    form = AuditAccessForm(request.POST or None, access=access)
    if form.is_valid() and attempt(
        form, set_audit_access, access=access, changed_by=request.user, now=timezone.now(),
        **form.facts(),
    ):  # fmt: skip
        messages.success(
            request, gettext("What {auditor} may read is saved.").format(auditor=access.auditor)
        )
        return redirect("reports:auditors", owner.pk)
    context = {"owner": owner, "access": access, "form": form}
    return render(request, "reports/audit_access.html", context)


@require_POST
def audit_access_end(request, pk, access_pk):
    owner = get_managed_owner(request.user, pk)
    access = get_object_or_404(
        owner.audit_access_given.select_related("owner", "auditor"), pk=access_pk
    )
    end_audit_access(access=access, ended_by=request.user, now=timezone.now())
    words = gettext("{auditor} reads this book no more.").format(auditor=access.auditor)
    messages.success(request, words)
    return redirect("reports:auditors", owner.pk)
