"""One HTTP POST to an address that somebody typed in, without becoming their tool.

The name is resolved once and the connection goes to that very address, so that a name cannot point
elsewhere between the check and the connection. Only public addresses are called unless the
settings allow others; redirects are not followed; everything has a limit.
"""

import http.client
import ipaddress
import socket
import ssl
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from threading import Timer
from urllib.parse import urlsplit

from django.utils.translation import gettext

CONNECT_S = 5.0
DEADLINE_S = 15.0
"""For the whole exchange, however slowly the other side talks; far below the lease of a claim."""
LARGEST_BODY = 64 * 1024
PORTS = {"https": 443, "http": 80}
NAT64 = ipaddress.ip_network("64:ff9b::/96")
UNICAST = ipaddress.ip_network("2000::/3")
"""All that IANA has given out as global unicast; nothing outside it is called."""

# The special-purpose registries of IANA for IPv4 and IPv6 (RFC 6890 and its updates), with
# multicast (RFC 5771) and what is reserved; the few anycast addresses in them serve nobody here.
SPECIAL_4 = tuple(
    ipaddress.IPv4Network(text)
    for text in (
        "0.0.0.0/8", "10.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16",
        "172.16.0.0/12", "192.0.0.0/24", "192.0.2.0/24", "192.31.196.0/24", "192.52.193.0/24",
        "192.88.99.0/24", "192.168.0.0/16", "192.175.48.0/24", "198.18.0.0/15",
        "198.51.100.0/24", "203.0.113.0/24", "224.0.0.0/4", "240.0.0.0/4",
    )
)  # fmt: skip
SPECIAL_6 = tuple(
    ipaddress.IPv6Network(text)
    for text in ("2001::/23", "2001:db8::/32", "2002::/16", "2620:4f:8000::/48", "3fff::/20")
)


class PostError(Exception):
    """It was not delivered; the text says why, in words for the owner's manager."""


class AddressError(PostError):
    """The address must not be called, or cannot be."""


@dataclass(frozen=True)
class Target:
    """A checked address: the name to ask for, and the one place to connect to."""

    scheme: str
    host: str
    port: int
    path: str
    address: str


@dataclass(frozen=True)
class Answer:
    status: int
    took_ms: int


def target_of(url: str, *, allow_private: bool) -> Target:
    parts = urlsplit(url)
    if problem := problem_of(url, allow_private=allow_private):
        raise AddressError(problem)
    host = parts.hostname or ""
    port = parts.port or PORTS[parts.scheme]
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(parts.scheme, host, port, path, _resolve(host, port, allow_private))


def problem_of(url: str, *, allow_private: bool) -> str:
    """What is wrong with the address as written, without asking the network; empty when nothing."""
    try:
        parts = urlsplit(url)
        _ = parts.port
    except ValueError:
        return gettext(
            "This is not an address; write for example https://hooks.example.org/riserbook."
        )
    if not (url.isascii() and url.isprintable()) or " " in url:
        return gettext(
            "Write the address in plain ASCII without blanks: xn--... for the host, %C3%A4 for ä."
        )
    if parts.scheme != "https" and not (allow_private and parts.scheme == "http"):
        return gettext(
            "The address must begin with https://, or the news could be read on its way."
        )
    if parts.username or parts.password:
        return gettext("Leave name and password out of the address: the signature says who calls.")
    if not parts.hostname:
        return gettext(
            "The address names no host; write for example https://hooks.example.org/riserbook."
        )
    if _is_literal(parts.hostname) and not allow_private and not is_public(parts.hostname):
        return gettext(
            "{hostname} is not a public address, and only public ones are called."
        ).format(hostname=parts.hostname)
    return ""


def _is_literal(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def is_public(address: str) -> bool:
    """Global unicast, also when an IPv4 address hides in one of version 6. The networks are listed
    here, as what the language's library knows of them differs from one release to the next."""
    ip = ipaddress.ip_address(address.partition("%")[0])
    if isinstance(ip, ipaddress.IPv6Address):
        inner = ip.ipv4_mapped or _nat64(ip)
        if inner is None:
            return ip in UNICAST and not any(ip in network for network in SPECIAL_6)
        ip = inner
    return not any(ip in network for network in SPECIAL_4)


def _nat64(ip: ipaddress.IPv6Address) -> ipaddress.IPv4Address | None:
    return ipaddress.IPv4Address(int(ip) & 0xFFFFFFFF) if ip in NAT64 else None


def _resolve(host: str, port: int, allow_private: bool) -> str:
    """One address of the host. One that is not public among them refuses them all: such a name
    is at best a mistake."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise AddressError(
            gettext("The name {host} was not found ({error}).").format(host=host, error=error)
        ) from error
    addresses = [str(entry[4][0]) for entry in found]
    if not allow_private and not all(is_public(address) for address in addresses):
        raise AddressError(
            gettext("{host} leads to an address that is not public; nothing was sent.").format(
                host=host
            )
        )
    return addresses[0]


def post(target: Target, body: bytes, headers: dict[str, str]) -> Answer:
    """The status that came back. PostError says why none did. The answer's body is not read."""
    if len(body) > LARGEST_BODY:
        raise PostError(
            gettext("The news has {body} bytes; {LARGEST_BODY} are the most.").format(
                body=len(body), LARGEST_BODY=LARGEST_BODY
            )
        )
    started = time.monotonic()
    try:
        with _connection(target) as connection:
            connection.request("POST", target.path, body, {"Host": host_of(target), **headers})
            status = connection.getresponse().status
    except (OSError, http.client.HTTPException) as error:
        raise PostError(
            gettext("No answer from {host}: {name}.").format(
                host=target.host, name=error or type(error).__name__
            )
        ) from error
    return Answer(status, int(1000 * (time.monotonic() - started)))


def host_of(target: Target) -> str:
    host = f"[{target.host}]" if ":" in target.host else target.host
    return host if target.port == PORTS[target.scheme] else f"{host}:{target.port}"


@contextmanager
def _connection(target: Target) -> Iterator[http.client.HTTPConnection]:
    """Cut off at the deadline from outside: the timeout of a socket starts anew with each byte of
    a slow answer."""
    sock = _connect(target)
    deadline = Timer(DEADLINE_S, _cut, [sock])
    deadline.daemon = True
    deadline.start()
    try:
        if isinstance(sock, ssl.SSLSocket):
            sock.do_handshake()
        connection = http.client.HTTPConnection(target.host, target.port)
        connection.sock = sock
        yield connection
    finally:
        deadline.cancel()
        sock.close()


def _connect(target: Target) -> socket.socket:
    """To the very address that was checked; the certificate is checked against the name."""
    plain = socket.create_connection((target.address, target.port), timeout=CONNECT_S)
    if target.scheme != "https":
        return plain
    return tls().wrap_socket(plain, server_hostname=target.host, do_handshake_on_connect=False)


def tls() -> ssl.SSLContext:
    return ssl.create_default_context()


def _cut(sock: socket.socket) -> None:
    with suppress(OSError):
        socket.socket.shutdown(sock, socket.SHUT_RDWR)
