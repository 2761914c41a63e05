"""Addresses in mail: where to read on, and how to be told no more."""

from django.conf import settings
from django.core import signing
from django.urls import reverse

from registry.models import User
from scheduling.models import MailPreference, Message

SALT = "scheduling.unsubscribe"


def absolute(path: str) -> str:
    return settings.PUBLIC_URL + path


def unsubscribe_link(person: User, kind: str) -> str:
    token = signing.dumps([str(person.uuid), kind], salt=SALT)
    return absolute(reverse("scheduling:unsubscribe", args=[token]))


def unsubscribe_headers(link: str) -> dict[str, str]:
    """RFC 2369, and RFC 8058 where the address is https, as that asks for."""
    headers = {"List-Unsubscribe": f"<{link}>"}
    if link.startswith("https://"):
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers


def read_token(token: str) -> tuple[User, Message.Kind] | None:
    """The person and the kind that a link is about; it never expires, as mail is kept for years."""
    try:
        uuid, kind = signing.loads(token, salt=SALT)
    except signing.BadSignature:
        return None
    person = User.objects.filter(uuid=uuid).first()
    return (person, Message.Kind(kind)) if person else None


def unsubscribe(person: User, kind: str) -> None:
    preference = MailPreference.of(person)
    setattr(preference, f"wants_{kind}", False)
    preference.save()
