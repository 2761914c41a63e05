from django.http import Http404
from django.shortcuts import render
from django.utils.translation import gettext as _

from scheduling.messages import folder

SHOWN = 100


def outbox(request):
    """Mail that has no server to go to: a folder holds it, and this page."""
    mails = folder.mails_to(request.user, SHOWN) if folder.is_used() else []
    context = {"mails": mails, "is_used": folder.is_used()}
    return render(request, "scheduling/outbox.html", context)


def outbox_mail(request, name):
    mail = folder.mail_to(request.user, name) if folder.is_used() else None
    if mail is None:
        raise Http404(_("There is no such mail to you."))
    return render(request, "scheduling/outbox_mail.html", {"mail": mail})
