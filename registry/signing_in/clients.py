"""The machine that asks: its address as the proxy in front says it, and its browser."""

from allauth.core.internal.httpkit import clean_client_ip
from django.conf import settings
from django.http import HttpRequest

UNKNOWN = "0.0.0.0"  # nosec B104  # stands for "not known", nothing listens there


def address_of(request: HttpRequest) -> str:
    """Of a chain of proxies the last are ours and write what they saw; what stands before is said
    by whoever asks. Without a proxy of ours the header is not believed at all."""
    seen = request.META.get("REMOTE_ADDR", "")
    proxies = settings.ALLAUTH_TRUSTED_PROXY_COUNT
    if proxies:
        chain = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
        if len(chain) >= proxies and chain[-proxies].strip():
            seen = chain[-proxies]
    return clean_client_ip(seen) or UNKNOWN


def browser_of(request: HttpRequest) -> str:
    """A word for the browser and one for the machine, as far as it says what it is."""
    return browser_in(request.META.get("HTTP_USER_AGENT", ""))


BROWSERS = (  # the first that is found: each names those after it too
    ("Edg/", "Edge"), ("OPR/", "Opera"), ("Firefox/", "Firefox"), ("FxiOS/", "Firefox"),
    ("CriOS/", "Chrome"), ("Chrome/", "Chrome"), ("Safari/", "Safari"),
)  # fmt: skip
MACHINES = (
    ("iPhone", "iPhone"), ("iPad", "iPad"), ("Android", "Android"), ("Windows", "Windows"),
    ("Mac OS", "Mac"), ("Linux", "Linux"),
)  # fmt: skip


def browser_in(said: str) -> str:
    browser = next((word for mark, word in BROWSERS if mark in said), "")
    machine = next((word for mark, word in MACHINES if mark in said), "")
    known = ", ".join(filter(None, (browser, machine)))
    return known or "".join(c for c in said if c.isprintable())[:60]
