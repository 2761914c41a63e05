"""The log of an owner: numbered once, in order, signed, and proved record by record."""

from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.test import override_settings

from registry.models import LogKey, LogLeaf, LogNode, OwnerLog, Record
from registry.proof.checkpoints import Checkpoint, LogProof, open_checkpoint
from registry.proof.notes import Verifier, parse_note
from registry.proof.tree import (
    ProofError,
    check_consistency,
    consistency_proof,
    inclusion_proof,
)
from registry.services import log as logs
from registry.services.log import (
    LogError,
    leaf_of,
    log_of,
    make_checkpoint,
    number_records,
    proof_of,
    reader,
)
from registry.services.log_keys import LogKeyError, signer_of
from tests.factories import NOW, make_record, make_system
from tests.registry.proof.test_tree import slow_root


@pytest.fixture
def owner_of_log(world):
    return world.owner_organisation


def drip(system, by, number=0, **extra):
    return make_record(system, "event.observation", NOW, by, text=f"Drip {number}", **extra)


def numbered(owner) -> list[Record]:
    leaves = LogLeaf.objects.filter(log__owner=owner).select_related("record")
    return [leaf.record for leaf in leaves.order_by("number")]


def key_of(owner) -> Verifier:
    return Verifier.from_vkey(OwnerLog.objects.get(owner=owner).keys.get().vkey)


def test_records_get_numbers_once_and_in_the_order_of_each_system(world, system, owner_of_log):
    other = make_system(world.site, world.owner)
    for number in range(3):
        drip(system, world.owner, number)
        drip(other, world.owner, number)
    assert number_records(owner_of_log, now=NOW) == 9
    assert number_records(owner_of_log, now=NOW) == 0
    for one in (system, other):
        own = [row.sequence for row in numbered(owner_of_log) if row.system_id == one.pk]
        assert own == list(range(1, one.records.count() + 1))


def test_records_of_several_systems_are_numbered_as_they_were_recorded(world, system, owner_of_log):
    other = make_system(world.site, world.owner)
    for number in range(4):
        chosen = (system, other)[number % 2]
        drip(chosen, world.owner, number, now=NOW + timedelta(minutes=number))
    number_records(owner_of_log, now=NOW)
    said = [row.details["text"] for row in numbered(owner_of_log) if "text" in row.details]
    assert said == ["Drip 0", "Drip 1", "Drip 2", "Drip 3"]


def test_a_clock_that_went_back_does_not_change_the_order_within_a_system(
    world, system, owner_of_log
):
    drip(system, world.owner, 1, now=NOW)
    drip(system, world.owner, 2, now=NOW - timedelta(seconds=30))
    number_records(owner_of_log, now=NOW)
    assert [row.sequence for row in numbered(owner_of_log)] == [1, 2, 3, 4]


def test_batches_give_the_same_log_as_one(world, system, owner_of_log):
    for number in range(6):
        drip(system, world.owner, number)
    while number_records(owner_of_log, now=NOW, most=3):
        pass
    held = OwnerLog.objects.get(owner=owner_of_log)
    hashes = [bytes.fromhex(row.hash) for row in numbered(owner_of_log)]
    assert held.size == len(hashes) == 8
    assert Checkpoint.from_text(parse_note(make_checkpoint(owner_of_log, now=NOW).note).text) == (
        Checkpoint(held.origin, 8, slow_root(hashes))
    )


def test_each_owner_has_a_log_and_a_key_of_its_own(world, system, owner_of_log):
    make_system(world.other_site, world.stranger)
    assert number_records(world.other_owner, now=NOW) == 1
    assert number_records(owner_of_log, now=NOW) == 2
    assert key_of(owner_of_log) != key_of(world.other_owner)


def test_a_checkpoint_is_signed_once_for_a_state_and_goes_on_from_the_last(
    world, system, owner_of_log
):
    number_records(owner_of_log, now=NOW)
    first = make_checkpoint(owner_of_log, now=NOW)
    assert make_checkpoint(owner_of_log, now=NOW) == first
    drip(system, world.owner)
    number_records(owner_of_log, now=NOW)
    second = make_checkpoint(owner_of_log, now=NOW)
    old, new = (open_checkpoint(one.note, key_of(owner_of_log)) for one in (first, second))
    read = reader(OwnerLog.objects.get(owner=owner_of_log))
    proof = consistency_proof(old.size, new.size, read)
    check_consistency(old.size, new.size, proof, old.root, new.root)
    assert (old.size, new.size) == (2, 3)


def test_a_record_is_proved_once_it_is_under_a_checkpoint(world, system, owner_of_log):
    record = drip(system, world.owner)
    assert proof_of(record) is None
    number_records(owner_of_log, now=NOW)
    assert proof_of(record) is None
    make_checkpoint(owner_of_log, now=NOW)
    proof = LogProof.from_text(str(proof_of(record)))
    assert proof.check(leaf_of(record.hash), key_of(owner_of_log)).size == 3
    with pytest.raises(ProofError):
        proof.check(leaf_of(system.records.first().hash), key_of(owner_of_log))


def test_large_subtrees_are_stored_and_small_ones_worked_out(world, system, owner_of_log):
    """A log of 700 leaves: two full tiles, one above them, and a tile under way."""
    held = log_of(owner_of_log, now=NOW)
    first = system.records.first()
    rows = Record.objects.bulk_create(
        Record(
            system=system,
            sequence=number,
            kind="event.observation",
            occurred_at=NOW,
            recorded_at=NOW,
            recorded_by=world.owner,
            hash=f"{number:064x}",
            previous_hash="",
        )  # fmt: skip
        for number in range(3, 701)
    )
    type(system).objects.filter(pk=system.pk).update(next_sequence=701)
    assert number_records(owner_of_log, now=NOW, most=300) == 300
    assert number_records(owner_of_log, now=NOW) == 400
    places = LogNode.objects.filter(log=held).order_by("level", "number")
    assert list(places.values_list("level", "number")) == [(8, 0), (8, 1), (9, 0)]
    hashes = [first.hash, system.records.get(sequence=2).hash, *(row.hash for row in rows)]
    held.refresh_from_db()
    checkpoint = open_checkpoint(make_checkpoint(owner_of_log, now=NOW).note, key_of(owner_of_log))
    assert checkpoint.root == slow_root([bytes.fromhex(hash) for hash in hashes])
    for number in (0, 255, 256, 511, 512, 699):
        proof = inclusion_proof(number, 700, reader(held))
        from registry.proof.tree import check_inclusion

        check_inclusion(leaf_of(hashes[number]), number, 700, proof, checkpoint.root)


def test_a_ledger_with_a_record_missing_waits_and_the_others_do_not(
    world, system, owner_of_log, caplog
):
    other = make_system(world.site, world.owner)
    middle = drip(system, world.owner, 1)
    drip(system, world.owner, 2)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE registry_record SET sequence = 99 WHERE id = %s", [middle.pk])
    assert number_records(owner_of_log, now=NOW) == 3
    assert {row.system_id for row in numbered(owner_of_log)} == {system.pk, other.pk}
    assert "log.refused" in caplog.text


def test_a_log_that_was_rewritten_is_not_signed(world, system, owner_of_log):
    number_records(owner_of_log, now=NOW)
    make_checkpoint(owner_of_log, now=NOW)
    LogLeaf.objects.filter(number=0).update(hash="0" * 64)
    drip(system, world.owner)
    number_records(owner_of_log, now=NOW)
    with pytest.raises(LogError, match="does not go on from its checkpoint of 2 records"):
        make_checkpoint(owner_of_log, now=NOW)


def test_a_key_signs_after_the_secret_changed_while_the_old_one_is_kept(owner_of_log, settings):
    held = log_of(owner_of_log, now=NOW)
    before = settings.SECRET_KEY
    with override_settings(SECRET_KEY="another", SECRET_KEY_FALLBACKS=[before]):
        assert signer_of(held).verifier.vkey == held.keys.get().vkey
    with (
        override_settings(SECRET_KEY="another", SECRET_KEY_FALLBACKS=[]),
        pytest.raises(LogKeyError, match="sealed with another SECRET_KEY"),
    ):
        signer_of(held)


def test_the_seed_of_a_key_is_not_in_the_database(owner_of_log):
    held = log_of(owner_of_log, now=NOW)
    seed = signer_of(held).key.private_bytes_raw()
    kept = held.keys.get().sealed_seed
    assert seed.hex() not in kept
    assert LogKey._meta.get_field("sealed_seed").editable is False


def test_a_key_put_in_the_place_of_another_is_not_used(owner_of_log, world):
    held, other = (log_of(one, now=NOW) for one in (owner_of_log, world.other_owner))
    held.keys.update(sealed_seed=other.keys.get().sealed_seed)
    with pytest.raises(LogKeyError, match="is not the one whose public half"):
        signer_of(held)


def test_numbering_asks_the_same_number_of_queries_for_many_as_for_one(
    world, system, owner_of_log, django_assert_max_num_queries
):
    for number in range(20):
        drip(make_system(world.site, world.owner), world.owner, number)
    log_of(owner_of_log, now=NOW)
    with django_assert_max_num_queries(14):
        assert number_records(owner_of_log, now=NOW) == 42
    assert logs.BATCH >= 42
