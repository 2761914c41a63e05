from datetime import datetime

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from registry.access import get_managed_owner, managed_owners, visible_owners
from registry.forms.units_and_errors import attempt
from registry.models import LastVisit, SavedView
from registry.money import prices_of
from registry.services import desk as desk_services
from reports.ledger.csv_rows import csv_response
from reports.money.forms import PricesForm
from reports.portfolio.desk import Asked, Desk
from reports.portfolio.export import COLUMNS, lines, workbook
from reports.portfolio.forms import SaveViewForm
from reports.portfolio.row_strip import PATTERNS
from reports.portfolio.sites import site_rows

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_safe
def portfolio(request):
    now = timezone.now()
    desk = Desk.of(request, now)
    context = {
        "desk": desk,
        "filter": desk.asked.filter,
        "patterns": PATTERNS,
        "save_form": SaveViewForm(user=request.user, initial={"query": desk.asked.view}),
        "may_manage": managed_owners(request.user).exists(),
        "now": now,
    }
    return render(request, "reports/portfolio.html", context)


@require_safe
def portfolio_csv(request):
    """Of what the address narrows to, in its order."""
    now = timezone.now()
    asked = Asked(request.GET, request, now)
    written = lines(asked.every_key(), request.user, now, _last_visit(request.user))
    return csv_response(f"portfolio-{now:%Y-%m-%d}.csv", COLUMNS, written)


@require_safe
def portfolio_xlsx(request):
    now = timezone.now()
    asked = Asked(request.GET, request, now)
    written = lines(asked.every_key(), request.user, now, _last_visit(request.user))
    response = HttpResponse(workbook(written), content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="portfolio-{now:%Y-%m-%d}.xlsx"'
    return response


def _last_visit(user) -> datetime | None:
    row = LastVisit.objects.filter(user=user).first()
    return row.before_at if row else None


@require_POST
def view_save(request):
    """Keep the address under a name, for everybody of the organisation."""
    form = SaveViewForm(request.POST, user=request.user)
    if form.is_valid() and (
        view := attempt(
            form, desk_services.save_view, by=request.user, now=timezone.now(), **form.cleaned_data
        )
    ):
        messages.success(
            request, gettext("Saved as “{view}” for {organisation}.").format(
                view=view, organisation=view.organisation
            ),
        )  # fmt: skip
        return redirect(f"{reverse('reports:portfolio')}?{view.query}")
    return render(request, "reports/view_save.html", {"form": form}, status=422)


@require_POST
def view_drop(request, uuid):
    mine = request.user.memberships.filter(role__in=("manager", "recorder"))
    seen = SavedView.objects.filter(organisation__in=request.user.organisations.values("pk"))
    view = get_object_or_404(seen, uuid=uuid)
    if not mine.filter(organisation=view.organisation_id).exists():
        raise PermissionDenied(gettext("A reader keeps no views; a recorder or manager may."))
    desk_services.drop_view(view=view)
    messages.success(request, gettext("The view “{view}” is gone.").format(view=view.name))
    return redirect("reports:portfolio")


@require_safe
def sites(request):
    """By site, with a budget over five years."""
    rows, after = site_rows(request.user, timezone.now(), after=request.GET.get("after", ""))
    owners = list(visible_owners(request.user))
    prices = prices_of(owner.pk for owner in owners)
    managed = set(managed_owners(request.user).values_list("pk", flat=True))
    context = {
        "rows": rows,
        "after": after,
        "years": [timezone.now().year + ahead for ahead in range(5)],
        "owners": [(owner, prices[owner.pk], owner.pk in managed) for owner in owners],
    }
    return render(request, "reports/sites.html", context)


def prices(request, pk):
    """What leaks and work cost an owner; empty is assumed."""
    owner = get_managed_owner(request.user, pk)
    form = PricesForm(
        request.POST if request.method == "POST" else None, owner=owner, user=request.user
    )
    if form.is_valid() and attempt(form, desk_services.set_prices, owner=owner, **form.facts()):
        messages.success(request, gettext("Saved; every price on a page is yours from now on."))
        return redirect("reports:sites")
    return render(request, "reports/prices.html", {"form": form, "owner": owner})
