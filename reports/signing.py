"""Signing PDFs with the key of whoever keeps the book, where one is configured (PAdES, ETSI EN
319 142). The bytes that were there stay as they are: a signature is added after them."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.core.exceptions import ImproperlyConfigured

FIELD = "Riserbook"


def is_configured() -> bool:
    return bool(settings.REPORT_SIGNING_KEY)


def signed(pdf: bytes) -> bytes:
    """The same document signed; as it is where no key is configured. A key that cannot be used
    raises `ImproperlyConfigured`: what should be signed is not given out without."""
    if not is_configured():
        return pdf
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import PdfSignatureMetadata, signers
    from pyhanko.sign.fields import SigSeedSubFilter

    signer = signer_from(settings.REPORT_SIGNING_KEY, settings.REPORT_SIGNING_PASSWORD)
    about = PdfSignatureMetadata(
        field_name=FIELD, md_algorithm="sha256", subfilter=SigSeedSubFilter.PADES
    )  # fmt: skip
    writer = IncrementalPdfFileWriter(BytesIO(pdf))
    # The signer runs an event loop, and a thread has one at a time: whoever asks may have its own.
    with ThreadPoolExecutor(1) as alone:
        out = alone.submit(signers.sign_pdf, writer, about, signer=signer).result()
    return out.getvalue()


@lru_cache(maxsize=2)
def signer_from(path: str, password: str) -> Any:
    from pyhanko.sign import signers

    if not Path(path).is_file():
        raise ImproperlyConfigured(
            f"REPORT_SIGNING_KEY names {path!r}, where no file is; it is the path of a PKCS#12 "
            "file (.p12 or .pfx) with a key and its certificate."
        )
    found = signers.SimpleSigner.load_pkcs12(path, passphrase=password.encode() or None)
    if found is None:
        raise ImproperlyConfigured(
            f"The key in {path!r} cannot be read: it must be a PKCS#12 file with a key and its "
            "certificate, and REPORT_SIGNING_PASSWORD its password."
        )
    return found


def check_key(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[CheckMessage]:
    """Told when the program starts, and not when the first report is asked for."""
    if not is_configured():
        return []
    try:
        signer_from(settings.REPORT_SIGNING_KEY, settings.REPORT_SIGNING_PASSWORD)
    except ImproperlyConfigured as error:
        return [Error(str(error), id="reports.E001")]
    return []
