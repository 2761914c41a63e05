from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from registry.access import get_owner_to_prove, owners_to_prove
from registry.models import Job, OwnerVerdict, RecordPackage, User
from registry.proof.notes import Verifier
from registry.services.log import make_checkpoint, number_all
from reports.proof.compare import CompareError, compare
from reports.proof.forms import CompareForm, PackageForm
from scheduling.verifying.packaging import PACKAGE, ask_for_package

PACKAGES = RecordPackage.objects.select_related("owner", "asked_by")
RECENT = 10
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
        "owners": [_of_owner(owner) for owner in owners_to_prove(request.user)],
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
    form = PackageForm(request.POST if request.method == "POST" else None, owner=owner)
    if form.is_valid():
        now = timezone.now()
        return redirect(ask_for_package(owner, asked_by=request.user, now=now, **form.chosen()))
    recent = PACKAGES.filter(owner=owner)[:RECENT]
    status = TO_MEND if request.method == "POST" else 200
    context = {"form": form, "recent": recent, **_of_owner(owner)}
    return render(request, "reports/packages.html", context, status=status)


@require_safe
def package(request, uuid):
    package = _package(request.user, uuid)
    job = Job.objects.filter(kind=PACKAGE, key=str(package.pk)).order_by("-pk").first()
    done = job.done if job else 0
    percent = min(99, 50 * done // package.records) if package.records else 0
    context = {"package": package, "percent": percent, **_of_owner(package.owner)}
    return render(request, "reports/package.html", context)


@require_safe
def package_file(request, uuid):
    package = _package(request.user, uuid)
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


def _package(user: User, uuid) -> RecordPackage:
    package = PACKAGES.filter(uuid=uuid).first()
    if package is None:
        raise Http404(gettext("Not found."))
    get_owner_to_prove(user, package.owner_id)
    return package
