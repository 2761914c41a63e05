from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from registry.access import get_owner_to_prove, manages, owners_to_prove
from registry.models import Job, OwnerVerdict, RecordPackage, User
from registry.proof.notes import Verifier
from registry.services.log import make_checkpoint, number_all
from reports.proof.compare import CompareError, compare
from reports.proof.forms import CompareForm, PackageForm, ShareForm
from reports.proof.limits import limits_of
from scheduling.verifying.packaging import PACKAGE, ask_for_package

PACKAGES = RecordPackage.objects.select_related("owner", "asked_by")
RECENT, MOST = 10, 100
TO_MEND = 422


def proof(request):
    """What proves the book, and whether it goes on from a file that somebody kept."""
    is_sent = request.method == "POST"
    form = CompareForm(request.POST, request.FILES) if is_sent else CompareForm()
    comparison = None
    if is_sent and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            comparison = compare(file.name, file.read(), request.user)
        except CompareError as error:
            form.add_error("file", str(error))
    context = {
        "form": form,
        "comparison": comparison,
        "owners": [
            _of_owner(owner) | {"is_managed": manages(request.user, owner)}
            for owner in owners_to_prove(request.user)
        ],
    }
    is_wrong = is_sent and comparison is None
    return render(request, "reports/proof.html", context, status=TO_MEND if is_wrong else 200)


def _of_owner(owner):
    log = getattr(owner, "log", None)
    key = log.keys.order_by("-pk").first() if log else None
    return {
        "owner": owner,
        "verdict": OwnerVerdict.objects.filter(owner=owner).first(),
        "log": log,
        "last": log.checkpoints.order_by("-size").first() if log else None,
        "fingerprint": Verifier.from_vkey(key.vkey).fingerprint if key else "",
    }


def packages(request, pk):
    owner = get_owner_to_prove(request.user, pk)
    limits = limits_of(request.user, owner)
    posted = request.POST if request.method == "POST" else None
    form = PackageForm(posted, owner=owner, limits=limits)
    if form.is_valid():
        now = timezone.now()
        return redirect(ask_for_package(owner, asked_by=request.user, now=now, **form.chosen()))
    asked = PACKAGES.filter(owner=owner)
    recent = [one for one in asked[:MOST] if limits is None or limits.allow(one)][:RECENT]
    status = TO_MEND if request.method == "POST" else 200
    context = {"form": form, "recent": recent, "limits": limits, **_of_owner(owner)}
    return render(request, "reports/packages.html", context, status=status)


@require_safe
def package(request, uuid):
    package = package_of(request.user, uuid)
    job = Job.objects.filter(kind=PACKAGE, key=str(package.pk)).order_by("-pk").first()
    done = job.done if job else 0
    percent = min(99, 50 * done // package.records) if package.records else 0
    context = {
        "package": package,
        "percent": percent,
        "addresses": package.links.select_related("made_by"),
        "share": ShareForm(),
        "now": timezone.now(),
        **_of_owner(package.owner),
    }
    return render(request, "reports/package.html", context)


@require_safe
def package_file(request, uuid):
    package = package_of(request.user, uuid)
    if not package.file:
        raise Http404(gettext("This package is not there; ask for it again."))
    return FileResponse(
        package.file.open("rb"), as_attachment=True, filename=package.file_name,
        content_type="application/zip",
    )  # fmt: skip


@require_safe
def checkpoint(request, pk):
    """The log as it stands now, signed: the smallest thing that holds the whole book to itself."""
    owner = get_owner_to_prove(request.user, pk)
    now = timezone.now()
    number_all(owner, now=now)
    made = make_checkpoint(owner, now=now)
    response = HttpResponse(made.note, content_type="text/plain; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="checkpoint-{made.size}.txt"'
    return response


def package_of(user: User, uuid) -> RecordPackage:
    """404 too for one that holds more than an auditor's access reaches."""
    package = PACKAGES.filter(uuid=uuid).first()
    if package is None:
        raise Http404(gettext("Not found."))
    owner = get_owner_to_prove(user, package.owner_id)
    limits = limits_of(user, owner)
    if limits and not limits.allow(package):
        raise Http404(gettext("Not found."))
    return package
