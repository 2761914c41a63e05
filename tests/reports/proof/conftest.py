"""A book with an owner's ledger, packages of it, and what `verify.py` says of them."""

from datetime import timedelta
from functools import partial
from io import BytesIO

import pytest

from registry.models import OwnerLog
from registry.proof import verify
from registry.proof.notes import Verifier
from registry.services.owner_ledger import begin_ledger
from registry.services.packages import Scope, write_package
from scheduling.verifying.packaged import everything_beside
from tests.factories import NOW
from tests.kept import Kept
from tests.registry.verifying.book import make_book, write_files

KEPT = Kept(make_book)
LATER = NOW + timedelta(days=40)


@pytest.fixture
def book(world):
    book = KEPT(world)
    write_files(book)
    begin_ledger(world.owner_organisation, now=NOW)
    return book


@pytest.fixture
def packed(world):
    def make(now=LATER, **scope) -> bytes:
        out = BytesIO()
        write_package(
            out, scope=Scope(world.owner_organisation, **scope), made_by=world.auditor, now=now,
            more=partial(everything_beside, now=now),
        )  # fmt: skip
        return out.getvalue()

    return make


@pytest.fixture
def check(tmp_path, capsys):
    def checked(package: bytes, *more: str) -> tuple[int, str]:
        path = tmp_path / "package.zip"
        path.write_bytes(package)
        log = OwnerLog.objects.get(owner__name="Averhythe Quays")
        key = Verifier.from_vkey(log.keys.order_by("pk")[0].vkey).fingerprint
        code = verify.main([str(path), "--key", key, *more])
        return code, capsys.readouterr().out

    return checked
