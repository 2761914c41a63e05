"""One package for somebody who has no account here, by a secret address that expires."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from registry.models import PackageLink
from registry.services.sharing import find_link, note_fetch, revoke_link, share_package
from registry.signing_in.step_up import shows_secret
from reports.proof.forms import ShareForm
from reports.views.proof import package_of


@require_POST
@shows_secret
def share(request, uuid):
    """The address is shown once, on the page that answers; only its digest is kept."""
    package = package_of(request.user, uuid)
    if not package.file:
        raise Http404(gettext("This package is not there; ask for it again."))
    form = ShareForm(request.POST)
    if not form.is_valid():
        context = {"package": package, "form": form}
        return _not_kept(render(request, "reports/package_share.html", context, status=422))
    link, secret = share_package(
        package=package, made_by=request.user, now=timezone.now(), **form.cleaned_data
    )
    address = request.build_absolute_uri(reverse("reports:shared", args=[secret]))
    context = {"package": package, "link": link, "address": address}
    return _not_kept(render(request, "reports/package_share.html", context))


@require_POST
def unshare(request, uuid, pk):
    package = package_of(request.user, uuid)
    link = get_object_or_404(PackageLink, package=package, pk=pk)
    revoke_link(link=link, now=timezone.now(), revoked_by=request.user)
    messages.success(request, gettext("The address for {who} is closed.").format(who=link.label))
    return redirect(package)


@login_not_required
@require_safe
def shared(request, secret):
    link = _link(secret)
    context = {"link": link, "package": link.package, "secret": secret}
    return _not_kept(render(request, "reports/shared.html", context))


@login_not_required
@require_safe
def shared_file(request, secret):
    link = _link(secret)
    note_fetch(link=link, now=timezone.now())
    response = FileResponse(
        link.package.file.open("rb"), as_attachment=True, filename=link.package.file_name,
        content_type="application/zip",
    )  # fmt: skip
    return _not_kept(response)


def _link(secret: str) -> PackageLink:
    link = find_link(secret, timezone.now())
    if link is None:
        raise Http404(gettext("There is nothing here, or not any more."))
    return link


def _not_kept(response):
    """The address is the secret: no cache keeps it, and no page that is gone to sees it."""
    response["Cache-Control"] = "private, no-store"
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
