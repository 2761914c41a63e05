from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from registry.access import get_manageable, get_visible, may_manage
from registry.assess import read_books
from registry.forms.assumptions import AssumptionForm, assumption_rows
from registry.forms.units_and_errors import attempt
from registry.models import System
from registry.services.assumptions import set_assumption

SYSTEMS = System.objects.select_related("site__owner", "building")


def assumptions(request, pk):
    find = get_manageable if request.method == "POST" else get_visible
    system = find(SYSTEMS.all(), request.user, pk=pk)
    rows = assumption_rows(read_books([system.pk], timezone.now())[0])
    form = AssumptionForm(request.POST or None, rows=rows, initial={"key": request.GET.get("key")})
    if form.is_valid() and attempt(
        form, set_assumption, system=system, recorded_by=request.user, **form.cleaned_data
    ):
        messages.success(request, gettext("Set; the ledger holds it, and the score follows it."))
        return redirect("registry:assumptions", system.pk)
    context = {"system": system, "rows": rows, "form": form}
    context["may_manage"] = may_manage(system, request.user)
    return render(request, "registry/assumptions.html", context)
