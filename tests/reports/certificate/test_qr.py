"""The proof on a certificate as a QR code, read by a program that no one here wrote (ZXing)."""

import numpy as np
import zxingcpp

from registry.services.log import prove
from reports.certificate.paper import certificate_of, last_step
from reports.printing import qr_code, qr_svg
from tests.factories import NOW
from tests.registry.verifying.conftest import book  # noqa: F401

SCALE, QUIET = 3, 4


def read(code) -> str:
    dark = np.array([list(row) for row in code.matrix], dtype=np.uint8)
    picture = np.pad(255 * (1 - dark), QUIET, constant_values=255).astype(np.uint8)
    (found,) = zxingcpp.read_barcodes(np.kron(picture, np.ones((SCALE, SCALE), dtype=np.uint8)))
    return found.text


def test_the_code_on_a_certificate_is_its_proof(book):  # noqa: F811
    prove(last_step(book.run), now=NOW)
    proof = certificate_of(book.run, units="si").proof
    assert proof.startswith("c2sp.org/tlog-proof@v1") and len(proof) < 2000
    assert read(qr_code(proof)) == proof


def test_the_longest_that_fits_is_read_and_what_is_longer_has_no_code():
    assert read(qr_code("x" * 2953)) == "x" * 2953  # version 40 at level L: ISO/IEC 18004, table 7
    assert qr_svg("x" * 2954) == ""


def test_a_certificate_without_a_proof_has_no_code(book):  # noqa: F811
    assert certificate_of(book.run, units="si").pdf().startswith(b"%PDF")
