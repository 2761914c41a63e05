from django.core.paginator import Paginator
from django.shortcuts import render
from django.utils.text import slugify

from registry.access import get_visible
from registry.models import ProtectionSpan, Record, System, Verdict
from registry.models.querysets import audits_of_a_period
from registry.pages.ledger_lines import protected_by
from reports.ledger import page as ledger_page
from reports.ledger.csv_rows import LedgerExport, attached
from reports.portfolio.filters import AuditFilter, LedgerFilter
from scheduling.verifying import verify_system

PER_PAGE = 40  # as many as fit 5,000 px on a phone
SYSTEMS = System.objects.select_related("site__owner", "building")


def ledger(request, pk):
    system = get_visible(SYSTEMS.all(), request.user, pk=pk)
    chosen = LedgerFilter(request.GET or None, queryset=_of(system, request.user), request=request)
    day = chosen.as_of_day
    context = {
        "system": system,
        "check": ledger_page.check_chain(system),
        "found": verify_system(system).found,
        "then": ledger_page.as_known_on(system, day) if day else None,
    }
    return render(request, "reports/ledger.html", context | _page(request, chosen))


def ledger_csv(request, pk):
    system = get_visible(SYSTEMS.all(), request.user, pk=pk)
    chosen = LedgerFilter(request.GET or None, queryset=_of(system, request.user), request=request)
    found = verify_system(system).found
    mark = "DOES-NOT-HOLD-" if found else ""
    name = f"{mark}ledger-{slugify(system.tag)}-{system.head_hash[:12]}.csv"
    return _csv(request, chosen, name, {system.pk: found[0]} if found else {})


def audit(request):
    chosen = AuditFilter(request.GET or None, queryset=_all(request.user), request=request)
    return render(request, "reports/audit.html", _page(request, chosen))


def audit_csv(request):
    chosen = AuditFilter(request.GET or None, queryset=_all(request.user), request=request)
    against = Verdict.objects.visible_to(request.user).against()
    differing = {one.system_id: one.differences[0] for one in against}
    return _csv(
        request, chosen, "DOES-NOT-HOLD-ledger.csv" if differing else "ledger.csv", differing
    )


def _of(system, user):
    """Access to the system was checked; for most people its records are not asked about again."""
    records = system.records.all()
    if audits_of_a_period(user):
        records = records.filter(pk__in=Record.objects.visible_to(user).values("pk"))
    return ledger_page.with_all_that_is_shown(records).order_by("sequence")


def _all(user):
    records = ledger_page.with_all_that_is_shown(Record.objects.visible_to(user))
    return records.order_by("-recorded_at", "-pk")


def _records(chosen):
    """Nothing while a filter cannot be read: rows that ignore it would mislead."""
    return chosen.qs if not chosen.is_bound or chosen.is_valid() else chosen.queryset.none()


def _page(request, chosen):
    keys = _records(chosen).values_list("pk", flat=True)  # sorted without dragging the rows along
    page = Paginator(keys, PER_PAGE).get_page(request.GET.get("page"))
    found = ledger_page.with_all_that_is_shown(Record.objects.all()).in_bulk(list(page.object_list))
    records = [found[key] for key in page.object_list]
    spans = ProtectionSpan.objects.filter(system__in={record.system_id for record in records})
    shown = ledger_page.rows(
        records, request.user.display_units, chosen.as_of_day, protected_by(spans)
    )
    return {"filter": chosen, "page": page, "rows": list(shown), "query": _query(request)}


def _query(request):
    """The filters without the page, to hand on to the export and to the other pages."""
    query = request.GET.copy()
    query.pop("page", None)
    return query.urlencode()


def _csv(request, chosen, name, differing):
    export = LedgerExport(_records(chosen), request.user.display_units, chosen.as_of_day, differing)
    return attached(name, export.text())
