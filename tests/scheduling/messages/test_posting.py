"""Calling addresses that people typed in: where a connection goes, and where it must not."""

import socket
import ssl
import subprocess
from threading import Thread

import pytest

from scheduling.messages import posting
from scheduling.messages.posting import AddressError, PostError, Target, is_public, target_of
from tests.scheduling.listener import listening

NAME = "hooks.averhythe.example"


@pytest.fixture
def names(monkeypatch):
    """What the resolver would say, and how often it was asked."""
    known, asked = {}, []

    def getaddrinfo(host, port, *args, **kwargs):
        asked.append(host)
        if host not in known:
            raise socket.gaierror(-2, "Name or service not known")
        answer = known[host].pop(0) if len(known[host]) > 1 else known[host][0]
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (ip, port)) for ip in answer]

    monkeypatch.setattr(posting.socket, "getaddrinfo", getaddrinfo)
    return known, asked


# IANA special-purpose registries for IPv4 and IPv6 (RFC 6890 and its updates).
@pytest.mark.parametrize(
    "address",
    [
        "127.0.0.1", "10.1.2.3", "172.16.0.1", "192.168.1.1", "169.254.169.254", "0.0.0.0",
        "100.64.0.1", "192.0.2.1", "198.18.0.1", "224.0.0.1", "240.0.0.1", "255.255.255.255",
        "::1", "::", "fe80::1", "fe80::1%eth0", "fc00::1", "fd12:3456::1", "ff02::1", "fec0::1",
        "2001:db8::1", "::ffff:127.0.0.1", "::ffff:10.0.0.1", "64:ff9b::7f00:1",
        "2002:7f00:1::", "2001:0:4136:e378:8000:63bf:3fff:fdd2",
        # once called: the relay of 6to4, NAT64 for one network, version 4 in version 6, and ranges
        # for documentation and routing that the library of 3.11 takes for global
        "192.88.99.1", "192.0.0.8", "64:ff9b:1::7f00:1", "::7f00:1", "::10.0.0.1", "3fff::1",
        "5f00::1", "100:0:0:1::1", "4000::1", "192.175.48.1", "2620:4f:8000::1",
        "2002:5db8:d822::1",
    ],
)  # fmt: skip
def test_addresses_that_are_not_public(address):
    assert not is_public(address)


@pytest.mark.parametrize(
    "address", ["93.184.216.34", "2606:2800:220:1::1", "::ffff:93.184.216.34", "64:ff9b::5db8:d822"]
)
def test_addresses_that_are_public(address):
    assert is_public(address)


def test_the_address_connected_to_is_the_one_that_was_checked(names):
    """A name that answers differently the second time is not asked a second time."""
    known, asked = names
    known[NAME] = [["93.184.216.34"], ["127.0.0.1"]]
    target = target_of(f"https://{NAME}/a?b=c", allow_private=False)
    assert target == Target("https", NAME, 443, "/a?b=c", "93.184.216.34")
    assert asked == [NAME]


def test_posting_asks_no_resolver_again(names):
    known, asked = names
    with listening() as server:
        target = Target("http", NAME, server.port, "/", "127.0.0.1")
        original = socket.create_connection
        assert original is posting.socket.create_connection
        known["127.0.0.1"] = [["127.0.0.1"]]
        posting.post(target, b"{}", {})
        assert server.taken[0][0]["Host"] == f"{NAME}:{server.port}"
    assert set(asked) == {"127.0.0.1"}


@pytest.mark.parametrize(
    "answer", [["127.0.0.1"], ["93.184.216.34", "10.0.0.1"], ["169.254.169.254"]]
)
def test_a_name_that_leads_inside_is_refused(names, answer):
    names[0][NAME] = [answer]
    with pytest.raises(AddressError, match="not public"):
        target_of(f"https://{NAME}/", allow_private=False)


@pytest.mark.parametrize("host", ["2130706433", "0x7f.1", "127.1"])
def test_other_spellings_of_the_own_machine_are_refused(host):
    """The resolver reads these as 127.0.0.1; what it says is what is checked."""
    with pytest.raises(AddressError):
        target_of(f"https://{host}/", allow_private=False)


@pytest.mark.parametrize("path", ["ä", "a b", "\u4f8b", "a\nX: y", "\x01"])
def test_an_address_that_no_request_line_can_hold_is_refused_in_words(names, path):
    with pytest.raises(AddressError, match="plain ASCII"):
        target_of(f"https://{NAME}/{path}", allow_private=False)


def test_a_name_nobody_knows_is_said_to_be_unknown(names):
    with pytest.raises(AddressError, match="was not found"):
        target_of(f"https://{NAME}/", allow_private=False)


def test_a_body_beyond_the_limit_is_not_sent():
    target = Target("http", NAME, 80, "/", "127.0.0.1")
    with pytest.raises(PostError, match="65536 are the most"):
        posting.post(target, b"x" * (posting.LARGEST_BODY + 1), {})


def slow_server():
    """Answers one byte at a time, forever."""
    server = socket.create_server(("127.0.0.1", 0))

    def serve():
        connection, _ = server.accept()
        with connection:
            try:
                connection.sendall(b"HTTP/1.1 200 OK\r\n")
                while connection.recv(1, socket.MSG_DONTWAIT | socket.MSG_PEEK) != b"":
                    connection.sendall(b"X-Wait: x\r\n")
            except OSError:
                return

    Thread(target=serve, daemon=True).start()
    return server


def test_an_answer_without_end_is_cut_off(monkeypatch):
    monkeypatch.setattr(posting, "DEADLINE_S", 0.3)
    server = slow_server()
    target = Target("http", NAME, server.getsockname()[1], "/", "127.0.0.1")
    with server, pytest.raises(PostError, match="No answer"):
        posting.post(target, b"{}", {})


def test_a_server_that_says_nothing_is_cut_off(monkeypatch):
    monkeypatch.setattr(posting, "DEADLINE_S", 0.3)
    with socket.create_server(("127.0.0.1", 0)) as server:
        target = Target("http", NAME, server.getsockname()[1], "/", "127.0.0.1")
        with pytest.raises(PostError, match="No answer"):
            posting.post(target, b"{}", {})


# TLS


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tls")
    key, cert = folder / "key.pem", folder / "cert.pem"
    subprocess.run(
        [
            *("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-keyout", key, "-out", cert, "-subj", f"/CN={NAME}"),
            *("-addext", f"subjectAltName=DNS:{NAME}"),
        ],
        check=True,
        capture_output=True,
    )
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(cert, key)
    return context, cert


def test_the_certificate_is_checked_against_the_name_and_not_the_address(certificate, monkeypatch):
    context, cert = certificate
    monkeypatch.setattr(posting, "tls", lambda: ssl.create_default_context(cafile=cert))
    with listening(context) as server:
        right = Target("https", NAME, server.port, "/", "127.0.0.1")
        assert posting.post(right, b"{}", {}).status == 204
        wrong = Target("https", "other.averhythe.example", server.port, "/", "127.0.0.1")
        with pytest.raises(PostError, match="certificate"):
            posting.post(wrong, b"{}", {})
        assert len(server.taken) == 1


def test_a_certificate_nobody_vouches_for_is_refused(certificate):
    with listening(certificate[0]) as server:
        target = Target("https", NAME, server.port, "/", "127.0.0.1")
        with pytest.raises(PostError, match="certificate"):
            posting.post(target, b"{}", {})
        assert server.taken == []
