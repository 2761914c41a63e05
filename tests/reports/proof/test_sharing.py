"""A secret address for one package, and what limits an auditor's access."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse
from django.utils import timezone

from registry.models import AuditAccess, OwnerRecord, PackageLink, Record, RecordPackage, System
from registry.services.owner_ledger import begin_ledger
from tests.factories import NOW, make_record, make_site, make_system

LONDON = ZoneInfo("Europe/London")


def make_package(world, **facts) -> RecordPackage:
    return RecordPackage.objects.create(
        owner=world.owner_organisation, asked_by=world.owner, asked_at=timezone.now(),
        made_at=timezone.now(), file=ContentFile(b"PK", name="records.zip"), **facts,
    )  # fmt: skip


@pytest.fixture
def package(world):
    return make_package(world)


@pytest.fixture
def secret(client, world, package) -> str:
    """As the page shows it, once."""
    client.force_login(world.owner)
    address = reverse("reports:package-share", args=[package.uuid])
    page = client.post(address, {"label": "Insurer", "days": 3})
    assert page["Cache-Control"] == "private, no-store"
    client.logout()
    return page.context["address"].rsplit("/", 2)[1]


def fetch(client, secret):
    return client.get(reverse("reports:shared-file", args=[secret]))


def test_whoever_has_the_address_gets_the_package_and_no_cache_keeps_it(client, secret, package):
    page = client.get(reverse("reports:shared", args=[secret]))
    file = fetch(client, secret)
    assert (page.status_code, b"".join(file)) == (200, b"PK")
    for answer in (page, file):
        assert answer["Cache-Control"] == "private, no-store"
        assert answer["Referrer-Policy"] == "no-referrer"
    assert package.links.get().fetched == 1
    assert not PackageLink.objects.filter(digest=secret).exists(), "only the digest is kept"


def test_it_is_closed_by_its_keeper(client, secret, world, package):
    client.force_login(world.owner)
    link = package.links.get()
    client.post(reverse("reports:package-unshare", args=[package.uuid, link.pk]))
    client.logout()
    assert fetch(client, secret).status_code == 404
    client.force_login(world.owner)
    page = client.get(package.get_absolute_url()).content.decode()
    assert "Insurer" in page and "closed on" in page


@pytest.mark.parametrize(
    "ends",
    [
        lambda link: PackageLink.objects.update(expires_at=timezone.now()),
        lambda link: type(link.made_by).objects.filter(pk=link.made_by_id).update(is_active=False),
        lambda link: RecordPackage.objects.update(file=""),
    ],
    ids=["it expired", "whoever made it is nobody here any more", "the file is gone"],
)
def test_it_ends(client, secret, package, ends):
    ends(package.links.get())
    assert fetch(client, secret).status_code == 404


def test_a_guess_gets_nothing(client, secret):
    assert fetch(client, secret[:-1] + "x").status_code == 404


def test_it_lasts_no_longer_than_the_file(client, world):
    old = make_package(world)
    RecordPackage.objects.filter(pk=old.pk).update(made_at=timezone.now() - timedelta(days=13))
    client.force_login(world.owner)
    client.post(reverse("reports:package-share", args=[old.uuid]), {"label": "I", "days": 14})
    assert old.links.get().expires_at < timezone.now() + timedelta(days=1, minutes=1)


@pytest.mark.parametrize("sent", [{"label": "", "days": 3}, {"label": "I", "days": 400}])
def test_what_is_wrong_is_said_and_nothing_is_shared(client, world, package, sent):
    client.force_login(world.owner)
    answer = client.post(reverse("reports:package-share", args=[package.uuid]), sent)
    assert answer.status_code == 422 and not PackageLink.objects.exists()


# An auditor's access.


@pytest.fixture
def access(world) -> AuditAccess:
    return world.owner_organisation.audit_access_given.get()


@pytest.fixture
def two_sites(world):
    south = make_site(world.owner_organisation, name="South Quay")
    return make_system(world.site, world.owner, tag="NQ-7"), make_system(
        south, world.owner, tag="SQ-1"
    )


def limit(client, world, access, **sent):
    """By the owner's manager, on the page."""
    begin_ledger(world.owner_organisation, now=NOW)
    client.force_login(world.owner)
    address = reverse("reports:audit-access", args=[world.owner_organisation.pk, access.pk])
    answer = client.post(address, sent)
    access.refresh_from_db()
    client.force_login(world.auditor)
    return answer


def test_it_ends_with_its_last_day(client, world, access, two_sites):
    today = timezone.now().date()
    limit(client, world, access, ends_on=today)
    assert System.objects.visible_to(world.auditor).count() == 2
    limit(client, world, access, ends_on=today - timedelta(days=1))
    assert not System.objects.visible_to(world.auditor).exists()
    assert client.get(reverse("reports:ledger", args=[two_sites[0].pk])).status_code == 404
    packages = reverse("reports:packages", args=[world.owner_organisation.pk])
    assert client.get(packages).status_code == 404
    checkpoint = reverse("reports:checkpoint", args=[world.owner_organisation.pk])
    assert client.get(checkpoint).status_code == 404


def test_it_reaches_the_chosen_sites_alone(client, world, access, two_sites):
    north, south = two_sites
    whole, part = make_package(world), make_package(world, sites=["North Quay"])
    limit(client, world, access, sites=[north.site_id])
    assert list(System.objects.visible_to(world.auditor)) == [north]
    assert "SQ-1" not in client.get(reverse("reports:audit-csv")).getvalue().decode()
    answers = [client.get(one.get_absolute_url()).status_code for one in (whole, part)]
    assert answers == [404, 200]
    address = reverse("reports:packages", args=[world.owner_organisation.pk])
    refused = client.post(address, {"systems": "SQ-1"})
    assert refused.status_code == 422
    client.post(address, {})
    assert RecordPackage.objects.latest("pk").sites == ["North Quay"]


def test_a_period_holds_for_ledger_records_exports_and_packages(client, world, access, two_sites):
    north, _ = two_sites
    old = make_record(north, "event.observation", NOW - timedelta(days=90), world.owner, text="Old")
    new = make_record(north, "event.observation", NOW - timedelta(days=9), world.owner, text="New")
    limit(client, world, access, since="2026-05-01", until="2026-05-31")
    assert access.happened_from == datetime(2026, 5, 1, tzinfo=LONDON)
    assert access.happened_before == datetime(2026, 6, 1, tzinfo=LONDON)
    assert list(Record.objects.visible_to(world.auditor)) == [new]
    for name in ("reports:ledger", "reports:ledger-csv"):
        text = client.get(reverse(name, args=[north.pk])).getvalue().decode()
        assert "New" in text and "Old" not in text.split("body", 1)[-1]
    opened = [
        client.get(reverse("registry:record", args=[row.pk])).status_code for row in (old, new)
    ]
    assert opened == [404, 200]
    client.post(reverse("reports:packages", args=[world.owner_organisation.pk]), {})
    asked = RecordPackage.objects.latest("pk")
    assert (asked.since, asked.until) == (access.happened_from, access.happened_before)
    assert Record.objects.visible_to(world.owner).count() > 3


def test_the_owners_ledger_keeps_what_was_changed_and_by_whom(client, world, access):
    limit(client, world, access, ends_on=date(2027, 1, 31))
    row = OwnerRecord.objects.filter(subject="audit access").latest("sequence")
    assert (row.change, row.recorded_by) == ("changed", world.owner)
    assert row.facts["ends_on"] == "2027-01-31" and row.facts["sites"] is None


def test_a_period_that_ends_before_it_begins_is_refused(client, world, access):
    answer = limit(client, world, access, since="2026-05-02", until="2026-05-01")
    assert "This day is before the first" in answer.content.decode()
    assert access.happened_from is None


def test_auditors_are_listed_with_what_they_may_read(client, world, access):
    limit(client, world, access, ends_on=date(2027, 1, 31))
    client.force_login(world.owner)
    page = client.get(reverse("reports:auditors", args=[world.owner_organisation.pk]))
    assert "Orvane Assurance" in page.content.decode() and "31 Jan 2027" in page.content.decode()
