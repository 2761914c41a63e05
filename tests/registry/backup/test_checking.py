"""A restored book that is not the one backed up does not take the place of the old one."""

import pytest

from registry.backup.archive import BackupError
from registry.backup.checking import check
from registry.models import ProtectionSpan, Record
from tests.factories import NOW, make_record, make_system


@pytest.fixture
def out_of_service(world):
    system = make_system(world.site, world.owner, tag="NQ-7")
    said = {"reason": "Valve shut", "areas": "Bay 4"}
    make_record(system, "event.impairment_start", NOW, world.owner, **said)
    return system


def test_a_whole_book_passes(out_of_service):
    check(Record.objects.count())


def test_a_record_that_did_not_come_out_is_found(out_of_service):
    with pytest.raises(BackupError, match=f"says {Record.objects.count() + 1} records"):
        check(Record.objects.count() + 1)


def test_a_derived_row_that_differs_is_found_and_named(out_of_service):
    ProtectionSpan.objects.filter(state="impaired").update(state="in_service")
    with pytest.raises(BackupError, match="First: NQ-7, .* The protection kept from"):
        check(Record.objects.count())
