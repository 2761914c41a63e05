from django.contrib import messages
from django.http import FileResponse, Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from registry.access import get_manageable, managed_owners, require_managed_owner
from registry.forms.imports import AnswersForm, UploadForm
from registry.imports import jobs
from registry.imports.answers import Answers
from registry.imports.headers import COLUMNS
from registry.imports.problems import ImportFileError
from registry.models import ImportBatch

BATCHES = ImportBatch.objects.select_related("owner", "uploaded_by", "loaded_by")
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
    recent = BATCHES.filter(owner__in=managed_owners(request.user))[:RECENT]
    context = {"form": form, "columns": COLUMNS, "recent": recent}
    return render(request, "registry/import_new.html", context)


def import_page(request, pk):
    """The preview with its questions; while the file is being read, how far that is."""
    batch = get_manageable(BATCHES.all(), request.user, pk=pk)
    form = AnswersForm(
        request.POST or None,
        questions=batch.outcome.get("questions", []),
        answers=Answers.from_json(batch.answers),
    )
    if request.method == "POST" and not batch.is_under_way and form.is_valid():
        jobs.answer(batch, form.to_answers())
        return redirect(batch)
    context = {"batch": batch, "form": form, "new_sites": _new_sites(batch)}
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
        messages.info(request, "This file is being read or loaded already; nothing was done twice.")
    return redirect(batch)


def import_bad_rows(request, pk):
    batch = get_manageable(BATCHES.all(), request.user, pk=pk)
    if not batch.mend_file:
        raise Http404("No row of this file needs mending.")
    return FileResponse(
        batch.mend_file.open("rb"),
        as_attachment=True,
        filename=batch.mend_name,
        content_type="text/csv; charset=utf-8",
    )
