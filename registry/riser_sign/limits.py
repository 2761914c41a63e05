"""How often a code may be used in an hour, by the code and by the machine that asks.

Kept in the database: a limit in the cache of one process would hold in that process alone. The
hours are those of the clock, so that around a full hour twice as many may come.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from ipaddress import IPv6Address, IPv6Network, ip_address

from django.conf import settings
from django.db.models import F
from django.http import HttpRequest

from registry.models import RiserSign, SignUse

KEPT = timedelta(days=2)


@dataclass(frozen=True)
class Limit:
    name: str
    of_sign: int
    of_machine: int


LOOKS = Limit("look", 600, 240)
TELLS = Limit("tell", 20, 10)
GUESSES = Limit("guess", 0, 60)  # addresses that no sign has


def is_within(limit: Limit, sign: RiserSign | None, request: HttpRequest, now: datetime) -> bool:
    """Counts this one; both counts are written, so that neither is left behind the other."""
    machine = _counted(f"{limit.name}:{_machine(request)}", now) <= limit.of_machine
    if sign is None:
        return machine
    return _counted(f"{limit.name}:sign:{sign.pk}", now) <= limit.of_sign and machine


def _counted(key: str, now: datetime) -> int:
    hour = now.replace(minute=0, second=0, microsecond=0)
    row, is_new = SignUse.objects.get_or_create(key=key, hour=hour)
    if is_new:
        SignUse.objects.filter(hour__lt=now - KEPT).delete()
    SignUse.objects.filter(pk=row.pk).update(count=F("count") + 1)
    return SignUse.objects.values_list("count", flat=True).get(pk=row.pk)


def _machine(request: HttpRequest) -> str:
    """A digest: the address itself is not kept. Behind a proxy it is what the proxy says."""
    address = request.META.get("REMOTE_ADDR", "")
    if settings.SECURE_PROXY_SSL_HEADER:
        address = request.META.get("HTTP_X_FORWARDED_FOR", address).rpartition(",")[2].strip()
    return sha256(f"{settings.SECRET_KEY}{_network(address)}".encode()).hexdigest()[:32]


def _network(address: str) -> str:
    """One who has an IPv6 address has 2^64 of them (RFC 4291, 2.5.4): its /64 stands for all."""
    try:
        found = ip_address(address)
    except ValueError:
        return address
    if not isinstance(found, IPv6Address):
        return address
    mapped = found.ipv4_mapped
    return str(mapped or IPv6Network((int(found), 64), strict=False))
