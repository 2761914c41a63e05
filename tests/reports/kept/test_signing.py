"""A report signed with a key of the test's own, judged by pyHanko's validator."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from django.core.checks import run_checks
from django.core.exceptions import ImproperlyConfigured
from pyhanko.keys import load_certs_from_pemder_data
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

from reports import signing
from reports.kept.layout import Paper, Section, Words
from tests.reports.kept.reading import is_pdf_a_2b, text_of

PASSWORD = b"only for this test"


@pytest.fixture(autouse=True)
def _forget():
    signing.signer_from.cache_clear()
    yield
    signing.signer_from.cache_clear()


@pytest.fixture(scope="module")
def own_key(tmp_path_factory):
    """A self-signed certificate and its key: the file, and the certificate to trust."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Averhythe Quays")])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=30))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(
            x509.KeyUsage(
                digital_signature=True, content_commitment=True, key_encipherment=False,
                data_encipherment=False, key_agreement=False, key_cert_sign=True, crl_sign=False,
                encipher_only=False, decipher_only=False,
            ),
            critical=True,
        )
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    path = tmp_path_factory.mktemp("key") / "own.p12"
    path.write_bytes(
        pkcs12.serialize_key_and_certificates(
            b"own", key, certificate, None, serialization.BestAvailableEncryption(PASSWORD)
        )
    )
    return str(path), certificate.public_bytes(serialization.Encoding.DER)


@pytest.fixture
def configured(settings, own_key):
    settings.REPORT_SIGNING_KEY, settings.REPORT_SIGNING_PASSWORD = own_key[0], PASSWORD.decode()
    return own_key[1]


def paper():
    section = Section("What is said", [Words("The gas is what the ledger says it is.")])
    return Paper("Report", "NQ-101", "North Quay", "a4", date(2026, 6, 1), [section])


def judged(pdf: bytes, trusted: bytes):
    (certificate,) = load_certs_from_pemder_data(trusted)
    (signature,) = PdfFileReader(BytesIO(pdf)).embedded_signatures
    context = ValidationContext(trust_roots=[certificate])
    # In a thread: the validator runs an event loop, and a test with a browser may have left one.
    with ThreadPoolExecutor(1) as alone:
        judging = alone.submit(
            validate_pdf_signature, signature, signer_validation_context=context
        )  # fmt: skip
        return judging.result()


def test_a_signed_report_is_valid_covers_all_of_it_and_is_still_pdf_a(configured):
    pdf = paper().pdf()
    status = judged(pdf, configured)
    assert status.valid and status.intact and status.trusted and status.bottom_line
    assert status.coverage.name == "ENTIRE_FILE"
    assert "Thegasiswhattheledgersaysitis." in text_of(pdf) and is_pdf_a_2b(pdf)


def test_it_is_signed_where_an_event_loop_runs_already(configured):
    async def asked():
        return paper().pdf()

    # A thread of its own: where a browser test ran before, this one has a loop that runs already.
    with ThreadPoolExecutor(1) as alone:
        pdf = alone.submit(lambda: asyncio.run(asked())).result()
    assert judged(pdf, configured).intact


def test_a_signed_report_that_was_changed_is_not_valid(configured):
    pdf = bytearray(paper().pdf())
    at = pdf.index(b"/MediaBox")
    pdf[at + 11 : at + 12] = b"1"
    assert not judged(bytes(pdf), configured).intact


def test_without_a_key_nothing_is_signed():
    pdf = paper().pdf()
    assert not PdfFileReader(BytesIO(pdf)).embedded_signatures
    assert pdf == paper().pdf()


def test_a_key_that_cannot_be_used_is_told_at_the_start_and_signs_nothing(settings, own_key):
    for path, password, words in (
        ("/nowhere/key.p12", "", "where no file is"),
        (own_key[0], "wrong", "cannot be read"),
    ):
        settings.REPORT_SIGNING_KEY, settings.REPORT_SIGNING_PASSWORD = path, password
        found = [one for one in run_checks() if one.id == "reports.E001"]
        assert len(found) == 1 and words in found[0].msg
        with pytest.raises(ImproperlyConfigured, match=words):
            paper().pdf()
