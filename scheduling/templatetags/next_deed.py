"""The one dark button of a page about one system: {% next_deed_of page may_record may_manage %}."""

from django import template
from django.urls import reverse

from registry.kinds.events import LEAK
from registry.models import System
from registry.money import prices_of
from registry.pages.system import SystemPage
from scheduling.next_deed import Deed, Standing, next_deed
from scheduling.services.ordering import open_order

register = template.Library()


@register.simple_tag
def next_deed_of(page: SystemPage, may_record: bool, may_manage: bool) -> Deed | None:
    system, order = page.system, open_order(page.system)
    run = page.unfinished_run if may_record else None
    return next_deed(
        Standing(
            pk=system.pk,
            kind=system.kind,
            state=page.span.state if page.span else None,
            protection=page.protection.state if page.protection else None,
            run=run.pk if run else None,
            order=order.pk if order else None,
            order_is_late=bool(order and order.due_at <= page.now),
            order_is_booked=bool(order and order.is_booked),
            rusts=system.pipe_runs.current().rusts(),
            may_record=may_record,
            may_manage=may_manage,
        )
    )


@register.simple_tag
def visit_price(system: System) -> str:
    """What making it inert costs the owner, about."""
    prices = prices_of([system.site.owner_id])[system.site.owner_id]
    return prices.text(prices.visit)


@register.simple_tag
def leak_form(system: System) -> str:
    """Where a leak is logged."""
    return reverse("registry:record-new", args=[system.pk, LEAK.code])
