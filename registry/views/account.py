from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from registry.forms.account import AccountForm
from registry.services.access import changing_access
from registry.services.access.names import organisations_of
from registry.services.owner_ledger import note_everywhere


def account(request):
    form = AccountForm(request.POST or None, instance=request.user)
    if form.is_valid():
        now = timezone.now()
        with changing_access(*organisations_of(request.user), by=request.user, now=now):
            form.save()
            note_everywhere(by=request.user, now=now)
        messages.success(request, gettext("Saved. Every page now follows it."))
        return redirect("registry:account")
    memberships = request.user.memberships.select_related("organisation")
    return render(request, "registry/account.html", {"form": form, "memberships": memberships})
