from django.contrib import messages
from django.http import FileResponse, Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from registry.access import get_manageable, managed_owners, require_managed_owner
from registry.forms.imports import AnswersForm, UploadForm
from registry.imports import jobs
from registry.imports.answers import Answers
from registry.imports.columns import COLUMNS
from registry.imports.page import ImportPage
from registry.imports.problems import ImportFileError
from registry.imports.take_back import TakenBackTooLate, is_open_to_taking_back, take_back
from registry.models import ImportBatch

BATCHES = ImportBatch.objects.select_related("owner", "uploaded_by", "loaded_by", "taken_back_by")
RECENT = 10


def import_new(request):
    require_managed_owner(request.user)
    form = UploadForm(request.POST or None, request.FILES or None, user=request.user)
    if form.is_valid():
        try:
            batch = jobs.receive(
                owner=form.cleaned_data["owner"],
                uploaded_by=request.user,
                upload=form.cleaned_data["file"],
                now=timezone.now(),
            )
            return redirect(batch)
        except ImportFileError as error:
            form.add_error("file", str(error))
    owners = managed_owners(request.user)
    recent = BATCHES.filter(owner__in=owners)[:RECENT]
    context = {"form": form, "columns": COLUMNS, "recent": recent, "owners": owners}
    return render(request, "registry/import_new.html", context)


def import_page(request, pk):
    """The file matched to the book, with its questions; while it is being read, how far that is."""
    batch = get_manageable(BATCHES.all(), request.user, pk=pk)
    form = AnswersForm(
        request.POST or None, outcome=batch.outcome, answers=Answers.from_json(batch.answers)
    )
    if request.method == "POST" and not batch.is_under_way and form.is_valid():
        taken = "take_proposals" in request.POST
        jobs.answer(batch, form.proposals() if taken else form.to_answers())
        return redirect(batch)
    context = {
        "batch": batch,
        "form": form,
        "page": ImportPage(batch),
        "new_sites": _new_sites(batch),
        "can_take_back": is_open_to_taking_back(batch),
        "answers_at_once": batch.rows_total <= jobs.INLINE_ROWS,
    }
    return render(request, "registry/import.html", context)


def _new_sites(batch):
    """The sites that this import entered, by name, once it is loaded."""
    if batch.state != ImportBatch.State.LOADED:
        return {}
    entered = batch.owner.sites.filter(name__in=batch.outcome.get("sites_new", []))
    return dict(entered.values_list("name", "pk"))


@require_POST
def import_load(request, pk):
    batch = get_manageable(BATCHES.all(), request.user, pk=pk)
    if not jobs.load(batch, loaded_by=request.user, now=timezone.now()):
        messages.info(
            request,
            _("This file is being read or loaded already; nothing was done twice."),
        )
    return redirect(batch)


@require_POST
def import_take_back(request, pk):
    batch = get_manageable(BATCHES.all(), request.user, pk=pk)
    try:
        systems = take_back(batch, taken_back_by=request.user, now=timezone.now())
    except TakenBackTooLate as error:
        messages.error(request, str(error))
    else:
        words = ngettext(
            "The load was taken back: %(count)s system left the register.",
            "The load was taken back: %(count)s systems left the register.",
            systems,
        )
        messages.success(request, words % {"count": systems})
    return redirect(batch)


@require_safe
def import_bad_rows(request, pk):
    batch = get_manageable(BATCHES.all(), request.user, pk=pk)
    if not batch.to_fix_file:
        raise Http404(_("No row of this file is to be fixed."))
    try:
        file = batch.to_fix_file.open("rb")
    except FileNotFoundError:
        raise Http404(
            _("The file of rows to fix is not there any more; read the import again.")
        ) from None
    return FileResponse(
        file,
        as_attachment=True,
        filename=batch.to_fix_name,
        content_type="text/csv; charset=utf-8",
    )
