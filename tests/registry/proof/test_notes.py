"""Notes, checkpoints and proofs against published examples, and what must not pass for one."""

import base64

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.proof.checkpoints import Checkpoint, LogProof, open_checkpoint, witnesses_of
from registry.proof.notes import (
    COSIGNATURE,
    Note,
    NoteError,
    Signer,
    Verifier,
    cosigned_text,
    make_note,
    parse_note,
)
from registry.proof.tree import ProofError, inclusion_proof, leaf_hash
from tests.registry.proof import vectors
from tests.registry.proof.test_tree import LEAVES, STORED

LOG = Signer.from_seed("book.example/owner", bytes(32))
OTHER = Signer.from_seed("book.example/other", bytes(range(32)))
WITNESS = Signer.from_seed("witness.example/w1", bytes(range(1, 33)), COSIGNATURE)
CHECKPOINT = Checkpoint(LOG.name, 70, STORED.growth.root)


@pytest.mark.parametrize("name", vectors.ED25519)
def test_a_signer_signs_as_the_rfc_does(name):
    seed, public, message, signature = vectors.ED25519[name]
    signer = Signer.from_seed("rfc8032.example", bytes.fromhex(seed))
    assert signer.verifier.public_key.hex() == public
    assert signer.key.sign(message).hex() == signature


def test_the_published_note_opens_with_its_published_key():
    key = Verifier.from_vkey(vectors.NOTE_KEY)
    note = parse_note(vectors.NOTE)
    assert note.verified([key]) == [key]
    assert (key.name, key.vkey, str(note)) == ("example.com/foo", vectors.NOTE_KEY, vectors.NOTE)


def test_the_published_note_with_a_letter_changed_does_not_open():
    note = parse_note(vectors.NOTE.replace("an example", "an exemple"))
    with pytest.raises(NoteError, match="does not belong to this text"):
        note.verified([Verifier.from_vkey(vectors.NOTE_KEY)])


def test_the_published_checkpoint_is_read_and_written_as_it_is():
    note = parse_note(vectors.CHECKPOINT)
    checkpoint = Checkpoint.from_text(note.text)
    assert (checkpoint.origin, checkpoint.size) == ("example.com/behind-the-sofa", 20852163)
    assert checkpoint.text == note.text
    assert str(note) == vectors.CHECKPOINT


def test_what_a_witness_signs_is_what_was_published():
    note = parse_note(vectors.CHECKPOINT)
    assert note.signatures[1].timestamp == vectors.COSIGNED_AT
    assert cosigned_text(note.text, vectors.COSIGNED_AT).decode() == vectors.COSIGNED


def test_a_key_id_is_the_beginning_of_the_fingerprint_and_depends_on_the_name():
    verifier = LOG.verifier
    assert verifier.vkey.split("+")[1] == verifier.fingerprint[:8]
    assert Verifier("else.example", verifier.public_key).fingerprint != verifier.fingerprint
    assert Verifier(verifier.name, verifier.public_key, COSIGNATURE).key_id != verifier.key_id


@pytest.mark.parametrize(
    "vkey",
    [
        "",
        "example.com/foo",
        vectors.NOTE_KEY.replace("530d903a", "530d903b"),
        vectors.NOTE_KEY.replace("/foo", "/fox"),
        vectors.NOTE_KEY[:-4],
        vectors.NOTE_KEY + "AAAA",
        vectors.NOTE_KEY.replace("+Aeky", "+Beky"),
        "two words+00000000+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k",
    ],
)
def test_a_key_that_is_not_well_formed_is_refused(vkey):
    with pytest.raises(NoteError):
        Verifier.from_vkey(vkey)


@pytest.mark.parametrize(
    "whole",
    [
        "no signature\n",
        "text\n\n",
        "text\n\n\u2014 name AAAAAAA=",
        "te\txt\n\n\u2014 name AAAAAAA=\n",
        "text\n\n- name AAAAAAA=\n",
        "text\n\n\u2014 name AAAA\n",
        "text\n\n\u2014 name AAAAAAB=\n",
        "text\n\n\u2014 nameAAAAAAA=\n",
        "text\n\n\u2014 name AAAAAAA=\nand more\n",
        "text\n\n" + "\u2014 name AAAAAAA=\n" * 65,
    ],
)
def test_what_is_not_a_note_is_refused(whole):
    with pytest.raises(NoteError):
        parse_note(whole)


def test_sixteen_signatures_are_read_as_the_standard_asks():
    assert len(parse_note("text\n\n" + "\u2014 name AAAAAAA=\n" * 16).signatures) == 16


@given(st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=40))
def test_a_note_is_the_same_after_it_was_written_and_read(text):
    note = make_note(text + "\n", LOG, OTHER)
    again = parse_note(str(note))
    assert again == note
    assert again.verified([LOG.verifier, OTHER.verifier]) == [LOG.verifier, OTHER.verifier]


def test_signatures_of_strangers_are_ignored_and_alone_do_not_suffice():
    note = make_note("text\n", LOG, OTHER)
    assert note.verified([LOG.verifier]) == [LOG.verifier]
    with pytest.raises(NoteError, match="None of the known keys"):
        make_note("text\n", OTHER).verified([LOG.verifier])


def test_a_signature_moved_to_another_note_is_refused():
    moved = Note("other\n", make_note("text\n", LOG).signatures)
    with pytest.raises(NoteError):
        moved.verified([LOG.verifier])


def test_a_checkpoint_opens_only_for_its_own_log():
    signed = str(CHECKPOINT.signed_by(LOG))
    assert open_checkpoint(signed, LOG.verifier) == CHECKPOINT
    with pytest.raises(NoteError, match="not of"):
        open_checkpoint(signed, OTHER.verifier)
    with pytest.raises(NoteError, match="None of the known"):
        open_checkpoint(signed, Signer.generate(LOG.name).verifier)
    with pytest.raises(NoteError, match="own origin"):
        CHECKPOINT.signed_by(OTHER)


@pytest.mark.parametrize(
    "text",
    [
        "origin\n1\n",
        "origin\n01\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n",
        "origin\n-1\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n",
        "origin\n1\nCsUYapGG\n",
        "origin\n1\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=",
        "\n1\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n",
    ],
)
def test_what_is_not_a_checkpoint_is_refused(text):
    with pytest.raises(NoteError):
        Checkpoint.from_text(text)


def test_a_witness_is_known_by_its_cosignature_and_when_it_gave_it():
    note = CHECKPOINT.signed_by(LOG)
    note = note.signed(WITNESS.cosign(note.text, 1_790_000_000))
    again = parse_note(str(note))
    assert witnesses_of(again, [WITNESS.verifier]) == {WITNESS.verifier: 1_790_000_000}
    assert witnesses_of(CHECKPOINT.signed_by(LOG), [WITNESS.verifier]) == {}


def test_a_cosignature_with_its_time_changed_is_refused():
    signed = WITNESS.cosign(CHECKPOINT.text, 1_790_000_000)
    later = type(signed)(signed.name, signed.key_id, (1).to_bytes(8) + signed.value[8:])
    with pytest.raises(NoteError):
        witnesses_of(Note(CHECKPOINT.text, (later,)), [WITNESS.verifier])


def test_the_key_of_a_log_does_not_cosign_and_that_of_a_witness_signs_nothing_else():
    with pytest.raises(NoteError):
        LOG.cosign(CHECKPOINT.text, 0)
    with pytest.raises(NoteError):
        make_note("text\n", WITNESS)


def proof_of(index: int, extra: bytes = b"") -> LogProof:
    hashes = tuple(inclusion_proof(index, 70, STORED.read))
    return LogProof(index, hashes, CHECKPOINT.signed_by(LOG), extra)


@given(st.integers(0, 69), st.binary(max_size=40))
def test_a_proof_is_the_same_after_it_was_written_and_read_and_checks(index, extra):
    proof = LogProof.from_text(str(proof_of(index, extra)))
    assert proof == proof_of(index, extra)
    assert proof.check(leaf_hash(LEAVES[index]), LOG.verifier) == CHECKPOINT


def test_a_proof_has_the_lines_that_the_standard_gives_it():
    text = str(proof_of(69, b"note"))
    head, checkpoint = text.split("\n\n", 1)
    assert head.split("\n")[:3] == ["c2sp.org/tlog-proof@v1", "extra bm90ZQ==", "index 69"]
    assert all(len(base64.b64decode(line)) == 32 for line in head.split("\n")[3:])
    assert checkpoint == str(CHECKPOINT.signed_by(LOG))


def test_a_proof_from_a_log_of_a_billion_leaves_stays_under_2_kb():
    hashes = tuple(bytes(32) for _ in range(30))
    note = Checkpoint(LOG.name, 10**9, bytes(32)).signed_by(LOG)
    assert len(str(LogProof(10**9 - 1, hashes, note)).encode()) < 2000


def test_a_proof_of_another_leaf_or_signer_is_refused():
    with pytest.raises(ProofError):
        proof_of(3).check(leaf_hash(LEAVES[4]), LOG.verifier)
    with pytest.raises(NoteError):
        proof_of(3).check(leaf_hash(LEAVES[3]), OTHER.verifier)


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("@v1", "@v2"),
        lambda text: text.replace("index 3\n", ""),
        lambda text: text.replace("index 3\n", "index 03\n"),
        lambda text: text.replace("\n\n", "\nAAAA\n\n", 1),
        lambda text: text.replace("\n\n", "\n", 1),
    ],
)
def test_what_is_not_a_proof_is_refused(change):
    with pytest.raises((NoteError, ProofError)):
        LogProof.from_text(change(str(proof_of(3))))
