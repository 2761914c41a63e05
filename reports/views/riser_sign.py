"""The sign at the riser: made, said to be up, ended; and what the signs of a site say."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from registry.access import get_manageable, get_recordable, get_visible, may_manage, may_record
from registry.forms.riser_signs import SignForm, SignSettingsForm
from registry.models import RiserSign, Site, System
from registry.pages.riser_sign import SignStanding
from registry.riser_sign.facts import refusal, sign_facts
from registry.services.riser_signs import SignError, end_signs, make_sign, put_up
from registry.services.sign_settings import save_settings
from registry.signing_in.step_up import shows_secret
from reports.riser_sign.paper import sign_pdf

SYSTEMS = System.objects.select_related("site__owner", "building")


@require_http_methods(["GET", "HEAD", "POST"])
@shows_secret
def riser_sign(request, pk):
    """A sign is made by a POST, as each one holds a code of its own; it is handed out once."""
    is_asked = request.method == "POST"
    system = (get_recordable if is_asked else get_visible)(SYSTEMS, request.user, pk=pk)
    now = timezone.now()
    form = SignForm(request.POST or None)
    if form.is_valid():
        try:
            return _printed(request, system, form, now)
        except SignError as error:
            form.add_error(None, str(error))
    context = {
        "system": system,
        "form": form,
        "facts": sign_facts(system, now),
        "refusal": refusal(system, now),
        "standing": SignStanding.of(system, now),
        "may_record": may_record(system, request.user),
        "may_manage": may_manage(system, request.user),
    }
    return render(request, "reports/riser_sign.html", context, status=422 if is_asked else 200)


def _printed(request, system, form, now):
    made = make_sign(
        system=system, made_by=request.user, now=now, ends_others=form.cleaned_data["ends_others"]
    )
    pdf = sign_pdf(made, paper=form.cleaned_data["paper"])
    response = HttpResponse(pdf, content_type="application/pdf")
    name = f"sign-{slugify(system.tag)}-{now:%Y-%m-%d}.pdf"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "private, no-store"
    return response


@require_POST
def riser_sign_up(request, pk, sign_pk):
    system = get_recordable(SYSTEMS, request.user, pk=pk)
    sign = get_object_or_404(RiserSign.objects.live(), system=system, pk=sign_pk)
    put_up(sign=sign, by=request.user, now=timezone.now())
    messages.success(
        request, gettext("The sign is up; the codes of earlier ones no longer open anything.")
    )
    return redirect("reports:riser-sign", system.pk)


@require_POST
def riser_sign_end(request, pk):
    system = get_recordable(SYSTEMS, request.user, pk=pk)
    end_signs(system=system, now=timezone.now())
    messages.success(
        request,
        gettext("No code of this system opens anything now. Print a new sign for the wall."),
    )
    return redirect("reports:riser-sign", system.pk)


def riser_sign_settings(request, pk):
    site = get_manageable(Site.objects.select_related("owner"), request.user, pk=pk)
    form = SignSettingsForm(request.POST or None, site=site)
    if form.is_valid():
        save_settings(site=site, now=timezone.now(), changed_by=request.user, **form.cleaned_data)
        messages.success(request, gettext("Saved; signs that say otherwise are out of date now."))
        return redirect(site)
    return render(request, "reports/riser_sign_settings.html", {"site": site, "form": form})
