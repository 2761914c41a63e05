"""docs/tampering.md: each table of the database stands there, and where it says that
`verify_records` finds a change, it does."""

import re
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command

from registry.models import (
    AuditAccess,
    Building,
    LogNode,
    Membership,
    OwnerPolicy,
    ServiceContract,
)
from registry.services.log import make_checkpoint, number_all
from registry.services.owner_ledger import begin_missing
from scheduling.models import (
    EscalationLevel,
    OwnItem,
    RuleSetting,
    SiteWinter,
    SprinklerArea,
    SystemAnswer,
)
from tests.factories import NOW
from tests.registry.sign_world import hang_sign, told
from tests.registry.test_owner_ledger import sql

PAGE = Path(__file__).parents[3] / "docs" / "tampering.md"
ROWS = {
    table: (set(found.split(", ")), how)
    for table, found, how in re.findall(
        r"^\| `(\w+)` \| ([^|]+) \| ([^|]+) \|$", PAGE.read_text(encoding="utf-8"), re.MULTILINE
    )
}
WAYS = {"verify_records", "checkpoint", "package", "witness"}
FOUND = sorted(table for table, (found, _) in ROWS.items() if "verify_records" in found)


def test_every_table_of_the_database_stands_on_the_page():
    tables = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}
    assert set(ROWS) == tables | {"django_migrations"}
    listed = re.findall(r"^\| `(\w+)`", PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    assert len(listed) == len(ROWS)


@pytest.mark.parametrize("table", ROWS)
def test_a_table_is_found_by_something_or_says_why_not(table):
    found, how = ROWS[table]
    if found == {"not covered"}:
        assert how.startswith("because ") and len(how) > len("because it is")
    else:
        assert found and found <= WAYS


CHANGED = {
    "registry_record": "UPDATE registry_record SET note = 'Other' WHERE sequence = 3",
    "registry_ownerledger": "UPDATE registry_ownerledger SET next_sequence = 3",
    "registry_ownerrecord": "UPDATE registry_ownerrecord SET subject = 'x' WHERE sequence = 2",
    "registry_ownerlog": "UPDATE registry_ownerlog SET size = size - 1",
    "registry_logkey": "UPDATE registry_logkey SET vkey = 'a.example+00000000+AAAA'",
    "registry_loggedsystem": "UPDATE registry_loggedsystem SET count = 2",
    "registry_logleaf": f"UPDATE registry_logleaf SET hash = '{'0' * 64}' WHERE number = 3",
    "registry_logcheckpoint": "UPDATE registry_logcheckpoint SET size = size - 1",
    "registry_system": "UPDATE registry_system SET hazard = 'light' WHERE tag = 'NQ-7'",
    "registry_fitting": "DELETE FROM registry_fitting",
    "registry_piperun": "UPDATE registry_piperun SET length_m = 7",
    "registry_inertingrun": "UPDATE registry_inertingrun SET status = 'stopped'",
    "registry_atmospherespan": "UPDATE registry_atmospherespan SET state = 'inert'",
    "registry_protectionspan": "UPDATE registry_protectionspan SET reason = 'Other.'",
    "registry_telling": "UPDATE registry_telling SET words = 'Nothing at all'",
    "scheduling_attachment": "UPDATE scheduling_attachment SET name = 'Other.jpg'",
    "scheduling_occurrence": "DELETE FROM scheduling_occurrence WHERE status = 'open'",
    "scheduling_recurringitem": "UPDATE scheduling_recurringitem SET is_active = false",
    "registry_organisation": (
        "UPDATE registry_organisation SET name = 'Other' WHERE name = 'Averhythe Quays'"
    ),
    "registry_user": "UPDATE registry_user SET name = 'Other'",
    "registry_site": "UPDATE registry_site SET altitude_m = 900",
    "registry_auditaccess_sites": "DELETE FROM registry_auditaccess_sites",
    "scheduling_adoptededition": "DELETE FROM scheduling_adoptededition",
}


def _made_up(world, book):
    """Rows that nobody decided, as INSERT writes them."""
    owner, site, by = world.owner_organisation, world.site, world.owner
    changed = {"changed_by": by, "changed_at": NOW}
    return {
        "registry_lognode": lambda: LogNode.objects.create(
            log=owner.log, level=8, number=0, hash="0" * 64
        ),
        "registry_membership": lambda: Membership.objects.filter(user=by).update(role="viewer"),
        "registry_building": lambda: Building.objects.create(site=site, name="Shed"),
        "registry_servicecontract": lambda: ServiceContract.objects.update(
            ends_on=date(2031, 1, 1)
        ),
        "registry_auditaccess": lambda: AuditAccess.objects.update(ends_on=date(2031, 1, 1)),
        "registry_ownerpolicy": lambda: OwnerPolicy.objects.create(owner=owner),
        "registry_signsettings": lambda: sql(
            "INSERT INTO registry_signsettings (site_id, languages, owner_telephone, "
            "contractor_telephone) VALUES (%s, 'en', '1', '2')", site.pk,
        ),
        "scheduling_ownitem": lambda: OwnItem.objects.create(
            owner=owner, row="gauges-wet", key="gauges", title="Gauges", group="other",
            system_kinds="wet", source="-", how_known="-", is_used=False, **changed,
        ),
        "scheduling_sitewinter": lambda: SiteWinter.objects.create(
            site=site, has_frost=False
        ),
        "scheduling_systemanswer": lambda: SystemAnswer.objects.create(
            system=book.system, condition="backflow_fitted", answer=False
        ),
        "scheduling_sprinklerarea": lambda: SprinklerArea.objects.create(
            system=book.system, label="Bay 4", sprinkler_type="standard", count=9,
            installed_on=date(2010, 1, 1),
        ),
        "scheduling_rulesetting": lambda: RuleSetting.objects.create(
            owner=owner, rule="reinert", is_on=False, **changed
        ),
        "scheduling_escalationlevel": lambda: EscalationLevel.objects.create(
            owner=owner, level=1, after_days=900, told="manager"
        ),
    }  # fmt: skip


def verified() -> None:
    call_command("verify_records", stdout=StringIO(), stderr=StringIO())


@pytest.fixture
def kept(book, world):
    """The book with its owners' ledgers and a signed log, so that all of it holds."""
    access = AuditAccess.objects.get(owner=world.owner_organisation)
    access.has_all_sites = False
    access.save()
    access.sites.add(world.site)
    told(hang_sign(book.system, world.owner, NOW).sign, words="Under the stairs", now=NOW)
    begin_missing(NOW)
    number_all(world.owner_organisation, now=NOW)
    make_checkpoint(world.owner_organisation, now=NOW)
    return book


def test_the_untouched_book_holds(kept):
    verified()


@pytest.mark.parametrize("table", FOUND)
def test_a_change_in_a_table_is_found_as_the_page_says(kept, world, table):
    made_up = _made_up(world, kept)
    assert set(made_up) | set(CHANGED) == set(FOUND) and not set(made_up) & set(CHANGED)
    if table in CHANGED:
        sql(CHANGED[table])
    else:
        made_up[table]()
    with pytest.raises(CommandError, match="The book does not hold"):
        verified()
