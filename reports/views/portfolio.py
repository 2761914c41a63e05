from django.core.paginator import Paginator
from django.shortcuts import render
from django.utils import timezone
from django_tables2 import RequestConfig

from registry.access import managed_owners
from reports.portfolio import page as portfolio_page
from reports.portfolio.filters import PortfolioFilter
from reports.portfolio.table import PortfolioTable

PER_PAGE = 50


class OurPages(Paginator):
    """Pages of our size: the address may name a page, and not how many rows are made for it."""

    def __init__(self, rows, per_page, **kwargs):
        super().__init__(rows, PER_PAGE, **kwargs)


def portfolio(request):
    now = timezone.now()
    systems = portfolio_page.portfolio(request.user, now)
    chosen = PortfolioFilter(request.GET or None, queryset=systems, request=request, now=now)
    summary = portfolio_page.summary(request.user, now)
    table = PortfolioTable(chosen.qs, user=request.user, now=now)
    RequestConfig(request, paginate={"paginator_class": OurPages}).configure(table)
    table.caption = f"{table.paginator.count} of {summary.systems} systems"
    return render(
        request,
        "reports/portfolio.html",
        {
            "table": table,
            "filter": chosen,
            "summary": summary,
            "sites": portfolio_page.site_rows(request.user, now),
            "may_manage": managed_owners(request.user).exists(),
            "now": now,
        },
    )
