"""Names and facts in a report are those of the day asked for, where a ledger tells them."""

from datetime import timedelta

import pytest
from django.utils import timezone

from registry.models import System
from registry.services import amend_site, amend_system
from registry.services.owner_ledger import begin_ledger, note_changes
from reports.kept.asked import Asked
from reports.kept.choosing import systems_of
from reports.kept.collecting import Collected
from reports.kept.portfolio import paper_of
from tests.factories import make_pipe_run, make_system
from tests.reports.kept.reading import squeezed, text_of


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def renamed(world, now):
    """Entered 500 days ago; site, owner, tag and kind were changed 50 days ago."""
    begin_ledger(world.owner_organisation, now=now - timedelta(days=400))
    system = make_system(
        world.site, world.owner, now=now - timedelta(days=500), tag="OLD-1", kind="wet"
    )
    make_pipe_run(system, world.owner, now=now - timedelta(days=500))
    at = now - timedelta(days=50)
    amend_site(
        site=world.site, recorded_by=world.owner, now=at, name="New Quay", address="2 New Road"
    )
    owner = world.owner_organisation
    owner.name = "Newly Named"
    owner.save()
    note_changes(owner, by=world.owner, now=at)
    amend_system(
        system=system, recorded_by=world.owner, now=at, tag="NEW-1", kind="dry",
        consequence_class=5,
    )  # fmt: skip
    return System.objects.get(pk=system.pk)


def report_of(world, now, days_ago, known_days_ago=None):
    def day(ago):
        return (now - timedelta(days=ago)).date()

    asked = Asked(
        day(days_ago), day(days_ago + 30), now.date(), now=now,
        known_on=None if known_days_ago is None else day(known_days_ago),
    )  # fmt: skip
    world.site.refresh_from_db()
    chosen = systems_of(world.site, world.owner)
    return Collected(chosen.keys, asked, world.owner, now, site=world.site, owners=chosen.owners)


def test_before_they_were_changed_all_is_called_as_it_was(world, renamed, now):
    report = report_of(world, now, 100)
    row = report.rows[0].system
    assert (row.tag, row.kind, row.consequence_class) == ("OLD-1", "wet", 3)
    text = text_of(paper_of(report).pdf())
    for words in ("OLD-1", "North Quay", "1 Quay Road", "Averhythe Quays"):
        assert squeezed(words) in text
    for words in ("NEW-1", "New Quay", "2 New Road"):
        assert squeezed(words) not in text
    assert text.count("NewlyNamed") == 1  # the log, which is signed under the name of today
    assert squeezed("The log of Newly Named as signed when this was made") in text
    assert squeezed("the names, sites and limits of") not in text
    assert squeezed("As they stand today, since the book keeps no earlier copy") in text


def test_of_today_all_is_called_as_it_is_and_nothing_was_saved(world, renamed, now):
    text = text_of(paper_of(report_of(world, now, 0)).pdf())
    assert squeezed("New Quay") in text and "OLD-1" not in text
    assert squeezed("As they stand today") not in text
    report_of(world, now, 100).rows  # noqa: B018
    assert System.objects.get(pk=renamed.pk).tag == "NEW-1"


def test_a_change_is_not_known_by_what_the_book_knew_before_it(world, renamed, now):
    report = report_of(world, now, 10, known_days_ago=60)
    assert report.rows[0].system.tag == "OLD-1"
    assert str(report.called_site) == "North Quay"


def test_a_change_of_the_register_is_a_step_of_its_own(world, renamed, now):
    asked = Asked(now.date(), (now - timedelta(days=100)).date(), now.date(), now=now)
    chosen = systems_of(world.site, world.owner)
    told = Collected(chosen.keys, asked, world.owner, now, owners=chosen.owners).bridge
    assert "register" in {step.code for step in told.steps}
    assert told.before + sum(step.points for step in told.steps) == pytest.approx(told.after)


def test_before_the_owners_ledger_began_the_report_says_so(world, renamed, now):
    report = report_of(world, now, 450)
    assert [owner.pk for owner in report.named_today] == [world.owner_organisation.pk]
    text = text_of(paper_of(report).pdf())
    assert squeezed("As they stand today: the names, sites and limits of Newly Named") in text
    assert "OLD-1" in text  # the ledger of the system had begun
