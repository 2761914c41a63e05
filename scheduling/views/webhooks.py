from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from registry.access import get_manageable, managed_owners, require_managed_owner
from registry.signing_in.step_up import shows_secret
from scheduling.forms.messages import ChangeWebhookForm, NewWebhookForm
from scheduling.messages import outbox
from scheduling.messages.webhooks import add_endpoint, change_endpoint, renew_secret, try_out
from scheduling.models import Delivery, Message, WebhookEndpoint

SHOWN = 50


@never_cache
@shows_secret
def webhooks(request):
    """Making one answers with a page and not a redirect: the secret is shown here and not again."""
    require_managed_owner(request.user)
    form = NewWebhookForm(request.POST or None, user=request.user)
    if form.is_valid():
        endpoint = add_endpoint(made_by=request.user, now=timezone.now(), **form.cleaned_data)
        return _show_secret(request, endpoint)
    endpoints = WebhookEndpoint.objects.filter(owner__in=managed_owners(request.user))
    context = {"form": form, "endpoints": endpoints.select_related("owner")}
    return render(request, "scheduling/messages_webhooks.html", context)


def webhook(request, pk):
    """What one endpoint is told, and how each delivery went."""
    endpoint = get_manageable(WebhookEndpoint, request.user, pk=pk)
    form = ChangeWebhookForm(request.POST or None, instance=endpoint)
    if form.is_valid():
        change_endpoint(form.save(commit=False))
        messages.success(request, gettext("Saved."))
        return redirect(endpoint)
    context = {
        "endpoint": WebhookEndpoint.objects.get(pk=pk),
        "form": form,
        "waiting": endpoint.messages.exclude(state__in=["sent", "dropped"])[:SHOWN],
        "deliveries": Delivery.objects.filter(message__endpoint=endpoint).select_related("message")[
            :SHOWN
        ],
    }
    return render(request, "scheduling/messages_webhook.html", context)


@require_POST
def webhook_trial(request, pk):
    endpoint = get_manageable(WebhookEndpoint, request.user, pk=pk)
    try_out(endpoint, timezone.now())
    messages.success(
        request, gettext("A trial delivery is queued. It shows in the list within a minute.")
    )
    return redirect(endpoint)


@require_POST
@never_cache
@shows_secret
def webhook_secret(request, pk):
    endpoint = get_manageable(WebhookEndpoint, request.user, pk=pk)
    renew_secret(endpoint)
    return _show_secret(request, endpoint)


@require_POST
def webhook_again(request, pk, message_pk):
    """A delivery that was given up, once more from the start."""
    endpoint = get_manageable(WebhookEndpoint, request.user, pk=pk)
    message = get_object_or_404(Message, endpoint=endpoint, pk=message_pk)
    if outbox.try_again(message, timezone.now()):
        messages.success(request, gettext("It is queued again."))
    else:
        messages.info(
            request, gettext("It was queued or delivered already; nothing was done twice.")
        )
    return redirect(endpoint)


def _show_secret(request, endpoint: WebhookEndpoint):
    return render(request, "scheduling/messages_secret.html", {"endpoint": endpoint})
