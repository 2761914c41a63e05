"""Orders from the desk: inerting of one system, and one deed at several."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from registry.access import get_manageable, key_in
from registry.forms.units_and_errors import attempt
from registry.models import System
from registry.money import prices_of
from registry.words.spoken import day_words
from scheduling.follow_ups.standpoint import new_work_goes_to
from scheduling.forms.ordering import OrderForm
from scheduling.services.ordering import is_rustless, open_order, order_inerting, why_not
from scheduling.several import DEEDS, MOST, SeveralForm, carry_out

SYSTEMS = System.objects.select_related("site__owner", "building")


def order(request, pk):
    """The owner wants an aerated system inert: whom it goes to, and about what it costs."""
    system = get_manageable(SYSTEMS.all(), request.user, pk=pk)
    now = timezone.now()
    form = OrderForm(
        request.POST if request.method == "POST" else None,
        today=now.astimezone(system.site.zone).date(),
    )
    back = _back(request) or system.get_absolute_url()
    if form.is_valid() and attempt(
        form, order_inerting, system=system, by=request.user, now=now, **form.cleaned_data
    ):
        messages.success(request, _ordered(system))
        return redirect(back)
    prices = prices_of([system.site.owner_id])[system.site.owner_id]
    context = {
        "system": system,
        "form": form,
        "back": back,
        "price": prices.text(prices.visit),
        "prices": prices,
        "party": new_work_goes_to(system.site, now),
        "why_not": why_not(system, now),
        "open_order": open_order(system),
        "is_rustless": is_rustless(system),
    }
    return render(request, "scheduling/order_inerting.html", context)


def _ordered(system: System) -> str:
    task = open_order(system)
    if task is None:
        return gettext("Written down: %(tag)s is wanted inert.") % {"tag": system.tag}
    return gettext("%(tag)s is ordered from %(party)s, by %(day)s.") % {
        "tag": system.tag, "party": task.assigned_to, "day": day_words(task.due_on)
    }  # fmt: skip


def _back(request) -> str:
    """The page that led here, if it is one of this book."""
    asked = request.POST.get("back") or request.GET.get("back") or ""
    is_ours = url_has_allowed_host_and_scheme(asked, {request.get_host()}, request.is_secure())
    return asked if is_ours else ""


@require_POST
def several(request):
    """Asks what a deed needs to know for all the systems ticked, and does it at each."""
    deed = DEEDS.get(request.POST.get("deed", ""))
    if deed is None:
        raise Http404(gettext("No such deed."))
    keys = {key for text in request.POST.getlist("system")[:MOST] if (key := key_in(text))}
    rows = SYSTEMS.visible_to(request.user).filter(pk__in=keys).order_by("site__name", "tag", "pk")
    systems = list(rows)
    back = _back(request) or "/"
    if not systems:
        messages.warning(request, gettext("Nothing was ticked: tick the systems first."))
        return redirect(back)
    now = timezone.now()
    sent = request.POST if request.POST.get("sent") else None
    form = SeveralForm(sent, deed=deed, systems=systems, now=now)
    if sent and form.is_valid():
        outcome = carry_out(deed, systems, form.answers(), by=request.user, now=now)
        if outcome.done:
            messages.success(
                request,
                gettext("%(deed)s: done at %(tags)s.")
                % {"deed": deed.label, "tags": ", ".join(outcome.done)},
            )
        for refusal in outcome.refused:
            messages.warning(request, refusal)
        return redirect(back)
    context = {"deed": deed, "systems": systems, "form": form, "back": back}
    return render(request, "scheduling/several.html", context, status=422 if sent else 200)
