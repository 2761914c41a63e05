from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import http_date
from django.utils.text import slugify
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from registry.access import get_visible, key_in
from registry.models import System
from registry.signing_in.step_up import shows_secret
from registry.translation import language_of
from scheduling.calendars.file import CalendarFile
from scheduling.calendars.tokens import find_token, issue_token, note_fetch, revoke_token
from scheduling.forms.work import FeedForm
from scheduling.models import FeedToken


def feeds(request):
    form = FeedForm(user=request.user, system=_system(request, request.GET.get("system")))
    return render(request, "scheduling/feeds.html", _context(request, form))


@require_POST
@never_cache
@shows_secret
def feed_new(request):
    """Answers with a page and not a redirect: the secret is shown here and kept nowhere."""
    system = _system(request, request.POST.get("system"))
    form = FeedForm(request.POST, user=request.user, system=system)
    if not form.is_valid():
        return render(request, "scheduling/feeds.html", _context(request, form))
    token, secret = issue_token(user=request.user, now=timezone.now(), **form.cleaned_data)
    address = settings.PUBLIC_URL + reverse("scheduling:feed", args=[secret])
    context = {"token": token, "address": address, "webcal": f"webcal:{address.partition(':')[2]}"}
    return render(request, "scheduling/feed_made.html", context)


def feed_revoke(request, pk):
    """Asks first; a calendar program that still has the address is then told it does not exist."""
    token = get_object_or_404(FeedToken, pk=pk, user=request.user, revoked_at=None)
    if request.method != "POST":
        return render(request, "scheduling/feed_revoke.html", {"token": token})
    revoke_token(token=token, now=timezone.now())
    messages.success(
        request, gettext("The address of “{label}” no longer works.").format(label=token.label)
    )
    return redirect("scheduling:feeds")


@login_not_required
@require_safe
def feed(request, token):
    """The calendar itself: whoever has the address sees what the person it was made for may see.

    304 is given for a matching If-None-Match alone. Last-Modified counts whole seconds, and a
    follow-up that leaves the feed takes its date along, so If-Modified-Since cannot tell that
    nothing changed; it gets the whole file.
    """
    found = find_token(token)
    if found is None:
        raise Http404(gettext("No such feed."))
    with language_of(found.user.language):
        return _answer(request, found, timezone.now())


def _answer(request, found: FeedToken, now) -> HttpResponse:
    file = CalendarFile(found, now)
    note_fetch(token=found, now=now)
    response = get_conditional_response(request, f'"{file.tag}"') or _whole(file)
    response["ETag"] = f'"{file.tag}"'
    response["Cache-Control"] = "private, no-cache"
    response["X-Robots-Tag"] = "noindex"
    return response


def _whole(file: CalendarFile) -> HttpResponse:
    name = slugify(file.token.label) or "follow-ups"
    headers = {
        "Last-Modified": http_date(file.modified_at.timestamp()),
        "Content-Disposition": f'inline; filename="riserbook-{name}.ics"',
    }
    return HttpResponse(file.body(), content_type="text/calendar; charset=utf-8", headers=headers)


def _system(request, named: str | None) -> System | None:
    """The system whose page the person came from; an address that was tampered with names none."""
    pk = key_in(named)
    if pk is None:
        return None
    return get_visible(System.objects.select_related("site"), request.user, pk=pk)


def _context(request, form: FeedForm) -> dict:
    tokens = FeedToken.objects.filter(user=request.user, revoked_at=None)
    return {
        "form": form,
        "tokens": tokens.select_related(
            "site", "building__site", "system__site", "contractor", "crew__organisation"
        ),
    }
