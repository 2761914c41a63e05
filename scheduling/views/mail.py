from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt

from registry.access import managed_owners
from scheduling.forms.messages import MailPreferenceForm
from scheduling.messages.links import read_token, unsubscribe
from scheduling.models import MailPreference

RECENT = 20


def messages_page(request):
    """What mail a person wants and when, and what was last sent to them."""
    form = MailPreferenceForm(request.POST or None, instance=MailPreference.of(request.user))
    if form.is_valid():
        form.save()
        messages.success(request, gettext("Saved. Mail that is waiting follows it too."))
        return redirect("scheduling:messages")
    sent = request.user.mail.select_related("task__system")[:RECENT]
    context = {"form": form, "sent": sent, "keeps_book": managed_owners(request.user).exists()}
    return render(request, "scheduling/messages.html", context)


@login_not_required
@csrf_exempt
@never_cache
def unsubscribe_page(request, token):
    """The link in a mail. Reading it changes nothing, as scanners follow links; the button does,
    and so does the one click of RFC 8058, which comes without cookies: the token is the right."""
    found = read_token(token)
    if found is None:
        raise Http404(gettext("This link is not one of ours."))
    person, kind = found
    if request.method == "POST":
        unsubscribe(person, kind)
    context = {"person": person, "kind": kind.label.lower(), "is_done": request.method == "POST"}
    return render(request, "scheduling/messages_unsubscribe.html", context)
