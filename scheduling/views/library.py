"""The library of recurring work: who sees an owner's sites reads it, its managers change it."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from registry.access import managed_owners
from registry.forms.speaking import attempt
from registry.models import Organisation, Site
from scheduling import library as seed
from scheduling import recurring
from scheduling.forms_library import ItemForm, LibraryFilter, initial_of
from scheduling.models import OwnItem
from scheduling.recurring.asking import PlanProgress
from scheduling.recurring.owning import seed_row

BEING_PLANNED = "Open work is being planned again; what was done stays."


def library(request):
    owners = _owners(request.user)
    if len(owners) == 1:
        return redirect("scheduling:library-owner", owners[0].pk)
    return render(request, "scheduling/library_owners.html", {"owners": owners})


def library_owner(request, pk):
    owner = _owner(request.user, pk)
    chosen = LibraryFilter(request.GET)
    rows = [item for item in recurring.library_of(owner) if chosen.keeps(item)]
    own = {item.row: item for item in owner.own_items.all()}
    context = {
        "owner": owner,
        "filter": chosen,
        "groups": [
            (name, [item for item in rows if item.group == code])
            for code, name in seed.GROUPS.items()
        ],
        "own_rows": set(own),
        "unused": [item for item in own.values() if not item.is_used],
        "may_manage": _may_manage(request.user, owner),
        "planning": PlanProgress.of(owner),
    }
    return render(request, "scheduling/library.html", context)


def library_new(request, pk):
    owner = _managed(request.user, pk)
    first = {"anchor": "completion", "is_used": True, "how_known": seed.HOW_KNOWN[-1]}
    return _edit(request, owner, "", ItemForm(request.POST or None, initial=first))


def library_row(request, pk, row):
    owner = _managed(request.user, pk)
    item = owner.own_items.filter(row=row).first() or seed_row(row)
    if item is None:
        raise Http404("The library has no such row.")
    return _edit(request, owner, row, ItemForm(request.POST or None, initial=initial_of(item)))


@require_POST
def library_restore(request, pk, row):
    owner = _managed(request.user, pk)
    recurring.restore_item(owner=owner, row=row, now=timezone.now())
    messages.success(request, f"Your version is taken away. {BEING_PLANNED}")
    return redirect("scheduling:library-owner", owner.pk)


def _edit(request, owner, row, form):
    if form.is_valid() and attempt(
        form, recurring.save_item,
        owner=owner, row=row, cells=form.cells(), changed_by=request.user, now=timezone.now(),
    ):  # fmt: skip
        messages.success(request, f"Saved. {BEING_PLANNED}")
        return redirect("scheduling:library-owner", owner.pk)
    context = {
        "owner": owner,
        "form": form,
        "seed": seed_row(row),
        "row": row,
        "is_own": OwnItem.objects.filter(owner=owner, row=row).exists(),
    }
    return render(request, "scheduling/library_row.html", context)


def _owners(user):
    mine = Q(memberships__user=user) | Q(sites__in=Site.objects.visible_to(user))
    owners = Organisation.objects.filter(mine, kind=Organisation.Kind.OWNER)
    return owners.distinct().order_by("name")


def _owner(user, pk):
    owner = _owners(user).filter(pk=pk).first()
    if owner is None:
        raise Http404("No such page for you.")
    return owner


def _may_manage(user, owner) -> bool:
    return managed_owners(user).filter(pk=owner.pk).exists()


def _managed(user, pk):
    owner = _owner(user, pk)
    if not _may_manage(user, owner):
        raise PermissionDenied("Only a manager of the owner may change its library.")
    return owner
