"""The stored atmosphere is read where it is what the ledger tells, and only there."""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.assess import case_of, end_of, read_books
from registry.assess.stretches import stretches_of
from registry.atmosphere_rows.system_ledger import HORIZON
from registry.models import AtmosphereSpan, OwnerPolicy
from registry.services import amend_system, record, withdraw
from registry.services.register.policies import policy_changed
from tests.factories import NOW, make_pipe_run, make_system


def ago(days: float):
    return NOW - timedelta(days=days)


def book_at(system, when):
    return read_books([system.pk], end_of(when.date()))[0]


def tell(world, kind):
    """A history told as it happened: each record entered when it occurred."""
    system = make_system(
        world.site, world.owner, now=ago(1600), kind=kind, gas_supply="generator",
        generator_flow_m3_s=1e-4,
    )  # fmt: skip
    make_pipe_run(system, world.owner, now=ago(1600))

    def happened(code, days, **details):
        return record(
            system=system, kind=code, occurred_at=ago(days), details=details,
            recorded_by=world.owner, now=ago(days),
        )  # fmt: skip

    happened("inerting.accepted", 880, fill=3, n2_percent=98.6, target_n2_percent=98.0)
    if kind == "preaction":
        happened("event.air_makeup", 700, rise_pa=2e4, now="on")
        happened("event.air_makeup", 650, rise_pa=1e4, now="off")
        amend_system(system=system, recorded_by=world.owner, now=ago(600), gas_supply="none")
    fire = happened("event.fire", 300)
    withdraw(record=fire, reason="Other riser", recorded_by=world.owner, now=ago(10))
    return system


@pytest.fixture
def wet(world):
    return tell(world, "wet")


@pytest.mark.parametrize("kind", ["wet", "preaction", "deluge"])
def test_what_is_read_is_what_would_be_derived(world, kind):
    system = tell(world, kind)
    for ahead in (0, 30, 100):
        book = book_at(system, NOW + timedelta(days=ahead))
        derived = replace(book, spans=None)
        assert book.spans is not None
        assert stretches_of(book) == stretches_of(derived)
        assert case_of(book).digest == case_of(derived).digest


def test_a_day_before_the_latest_record_is_derived(wet):
    then, now = book_at(wet, ago(200)), book_at(wet, NOW)
    assert then.spans is None
    fire = wet.records.get(kind="event.fire").pk
    assert fire in {stretch.cause_id for stretch in stretches_of(then)}
    assert fire not in {stretch.cause_id for stretch in stretches_of(now)}


def test_where_nothing_is_stored_or_not_so_far_ahead_the_atmosphere_is_derived(wet):
    stored = stretches_of(book_at(wet, NOW))
    assert book_at(wet, ago(882) + HORIZON).spans is not None
    assert book_at(wet, NOW + HORIZON).spans is None
    AtmosphereSpan.objects.all().delete()
    assert book_at(wet, NOW).spans is None
    assert stretches_of(book_at(wet, NOW)) == stored


def test_a_changed_limit_of_the_owner_reaches_what_is_stored(wet, world):
    OwnerPolicy.objects.create(owner=world.site.owner, confirming_days=[10, 700])
    before = stretches_of(book_at(wet, NOW))
    policy_changed(world.site.owner, now=NOW)
    book = book_at(wet, NOW)
    assert stretches_of(book) == stretches_of(replace(book, spans=None)) != before
