"""The library of recurring work: who sees an owner's sites reads it, its managers change it."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_POST

from registry.access import get_managed_owner, get_owner, manages, visible_owners
from registry.forms.units_and_errors import attempt
from registry.words.told.retelling import retold
from scheduling import library as seed
from scheduling import recurring
from scheduling.forms.library import ItemForm, LibraryFilter, initial_of
from scheduling.models import OwnItem
from scheduling.recurring.owning import seed_row
from scheduling.recurring.replanning import PlanProgress

BEING_PLANNED = _("Open work is being planned again; what was done stays.")


def library(request):
    owners = visible_owners(request.user)
    if len(owners) == 1:
        return redirect("scheduling:library-owner", owners[0].pk)
    return render(request, "scheduling/library_owners.html", {"owners": owners})


def library_owner(request, pk):
    owner = get_owner(request.user, pk)
    chosen = LibraryFilter(request.GET)
    rows = [item for item in recurring.library_of(owner) if chosen.keeps(item)]
    own = {item.row: item for item in owner.own_items.all()}
    context = {
        "owner": owner,
        "filter": chosen,
        "groups": [
            (retold(name), [item for item in rows if item.group == code])
            for code, name in seed.GROUPS.items()
        ],
        "own_rows": set(own),
        "unused": [item for item in own.values() if not item.is_used],
        "may_manage": manages(request.user, owner),
        "planning": PlanProgress.of(owner),
    }
    return render(request, "scheduling/library.html", context)


def library_new(request, pk):
    owner = get_managed_owner(request.user, pk)
    first = {"anchor": "completion", "is_used": True, "how_known": seed.HOW_KNOWN[-1]}
    return _edit(request, owner, "", ItemForm(request.POST or None, initial=first))


def library_row(request, pk, row):
    owner = get_managed_owner(request.user, pk)
    item = owner.own_items.filter(row=row).first() or seed_row(row)
    if item is None:
        raise Http404(gettext("The library has no such row."))
    return _edit(request, owner, row, ItemForm(request.POST or None, initial=initial_of(item)))


@require_POST
def library_restore(request, pk, row):
    owner = get_managed_owner(request.user, pk)
    recurring.restore_item(owner=owner, row=row, now=timezone.now(), changed_by=request.user)
    messages.success(
        request,
        gettext("Your version is taken away. {BEING_PLANNED}").format(BEING_PLANNED=BEING_PLANNED),
    )
    return redirect("scheduling:library-owner", owner.pk)


def _edit(request, owner, row, form):
    if form.is_valid() and attempt(
        form, recurring.save_item,
        owner=owner, row=row, cells=form.cells(), changed_by=request.user, now=timezone.now(),
    ):  # fmt: skip
        messages.success(request, gettext("Saved. {note}").format(note=BEING_PLANNED))
        return redirect("scheduling:library-owner", owner.pk)
    context = {
        "owner": owner,
        "form": form,
        "seed": seed_row(row),
        "row": row,
        "is_own": OwnItem.objects.filter(owner=owner, row=row).exists(),
    }
    return render(request, "scheduling/library_row.html", context)
