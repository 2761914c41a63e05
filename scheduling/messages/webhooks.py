"""Deliveries to an owner's other programs: signed, logged, repeated until they are accepted.

The headers and the signature are those of Standard Webhooks, so that a receiver checks them with a
library it has: base64 of `HMAC-SHA256(secret, webhook-id + "." + webhook-timestamp + "." + body)`
stands in `webhook-signature` after `v1,`. `webhook-id` stays the same through repeats.
"""

import hashlib
import hmac
from base64 import b64decode, b64encode
from datetime import datetime

from django.conf import settings

from registry.models import Organisation, User
from scheduling.messages import outbox, posting
from scheduling.messages.causes import body_of
from scheduling.messages.outbox import Parcel
from scheduling.messages.posting import PostError
from scheduling.models import Delivery, Message, WebhookEndpoint
from scheduling.models.webhooks import SECRET_PREFIX, new_nonce

GONE = 410


class Gone(PostError):
    """The other side says that the address is no more; nothing is sent there again."""


def signature(secret: str, name: str, timestamp: int, body: bytes) -> str:
    """As Standard Webhooks asks for it: `name` is that of the delivery."""
    key = b64decode(secret.removeprefix(SECRET_PREFIX))
    signed = f"{name}.{timestamp}.".encode() + body
    made = hmac.new(key, signed, hashlib.sha256).digest()
    return f"v1,{b64encode(made).decode()}"


def headers_of(message: Message, secret: str, body: bytes, now: datetime) -> dict[str, str]:
    name, timestamp = f"msg_{message.uuid.hex}", int(now.timestamp())
    return {
        "Content-Type": "application/json; charset=utf-8",
        "User-Agent": "Riserbook",
        "Riserbook-Kind": message.kind,
        "webhook-id": name,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": signature(secret, name, timestamp, body),
    }


def deliver(parcel: Parcel, now: datetime) -> None:
    message = parcel.first
    endpoint = message.endpoint
    assert endpoint is not None
    if not endpoint.is_active:
        return outbox.drop(parcel, parcel.messages, "The endpoint was switched off.", now)
    attempt = Delivery(message=message, attempted_at=now)
    try:
        _attempt(attempt, endpoint, now)
    except PostError as error:
        attempt.error = str(error)[:300]
        attempt.save()
        raise
    attempt.save()
    return outbox.settle_sent(parcel, now)


def _attempt(attempt: Delivery, endpoint: WebhookEndpoint, now: datetime) -> None:
    body = attempt.message.body.encode()
    target = posting.target_of(endpoint.url, allow_private=settings.WEBHOOKS_ALLOW_PRIVATE)
    attempt.address = target.address
    answer = posting.post(target, body, headers_of(attempt.message, endpoint.secret, body, now))
    attempt.status, attempt.took_ms = answer.status, answer.took_ms
    _judge(answer.status, endpoint)


def _judge(status: int, endpoint: WebhookEndpoint) -> None:
    if 200 <= status < 300:
        return
    if status == GONE:
        stop(endpoint, "It answered 410: gone.")
        raise Gone("It answered 410: gone. Deliveries are switched off.")
    if 300 <= status < 400:
        raise PostError(f"It answered {status}; redirects are not followed. Enter the new address.")
    raise PostError(f"It answered {status}; 200 to 299 mean accepted.")


def stop(endpoint: WebhookEndpoint, reason: str) -> None:
    WebhookEndpoint.objects.filter(pk=endpoint.pk).update(is_active=False, stopped_because=reason)


def add_endpoint(
    *, owner: Organisation, label: str, url: str, kinds: list[str], made_by: User, now: datetime
) -> WebhookEndpoint:
    return WebhookEndpoint.objects.create(
        owner=owner, label=label, url=url, kinds=kinds, made_by=made_by, made_at=now
    )


def change_endpoint(endpoint: WebhookEndpoint) -> None:
    """Switching it on again forgets why it was stopped."""
    if endpoint.is_active:
        endpoint.stopped_because = ""
    endpoint.save(update_fields=["label", "url", "kinds", "is_active", "stopped_because"])


def renew_secret(endpoint: WebhookEndpoint) -> str:
    """A new secret for whoever lost the first; the old one signs nothing from here on."""
    endpoint.nonce, endpoint.is_secret_unseen = new_nonce(), False
    endpoint.save(update_fields=["nonce", "is_secret_unseen"])
    return endpoint.secret


def try_out(endpoint: WebhookEndpoint, now: datetime) -> None:
    """A delivery without news, to see whether the other side takes it."""
    body = body_of(Message.Kind.TRIAL, now, {"note": "A trial delivery; nothing has happened."})
    key = f"trial {now.isoformat()}"
    outbox.write(kind=Message.Kind.TRIAL, cause_key=key, endpoints=[endpoint], body=body, now=now)
