"""The tree against published roots, and every proof against a tree built the slow way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.proof.tree import (
    EMPTY_ROOT,
    Growth,
    ProofError,
    check_consistency,
    check_inclusion,
    consistency_proof,
    inclusion_proof,
    leaf_hash,
    node_hash,
    root_at,
)

# Leaves and roots of the Certificate Transparency test tree, as the repository
# transparency-dev/merkle (commit 417fb0c, testonly/constants.go) publishes them.
PUBLISHED_LEAVES = [
    bytes.fromhex(text)
    for text in (
        "", "00", "10", "2021", "3031", "40414243", "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]  # fmt: skip
PUBLISHED_ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]

# The same tree's nodes, from the same place: level, number, hash.
PUBLISHED_NODES = [
    (1, 1, "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e"),
    (1, 2, "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a"),
    (1, 3, "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"),
    (2, 1, "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"),
]


class Stored:
    """A log's nodes as a database would keep them, grown one leaf at a time."""

    def __init__(self, *leaves: bytes):
        self.nodes: dict[tuple[int, int], bytes] = {}
        self.growth = Growth()
        for leaf in leaves:
            self.growth, full = self.growth.add(leaf_hash(leaf))
            for node in full:
                assert (node.level, node.number) not in self.nodes, "a stored node changed"
                self.nodes[node.level, node.number] = node.hash

    def read(self, level: int, number: int) -> bytes:
        return self.nodes[level, number]


def slow_root(leaves: list[bytes]) -> bytes:
    """MTH of RFC 6962, section 2.1, word for word."""
    if not leaves:
        return EMPTY_ROOT
    if len(leaves) == 1:
        return leaf_hash(leaves[0])
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return node_hash(slow_root(leaves[:k]), slow_root(leaves[k:]))


def slow_path(m: int, leaves: list[bytes]) -> list[bytes]:
    """PATH of RFC 6962, section 2.1.1, word for word."""
    if len(leaves) == 1:
        return []
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    if m < k:
        return [*slow_path(m, leaves[:k]), slow_root(leaves[k:])]
    return [*slow_path(m - k, leaves[k:]), slow_root(leaves[:k])]


def slow_proof(m: int, leaves: list[bytes], is_whole: bool = True) -> list[bytes]:
    """SUBPROOF of RFC 6962, section 2.1.2, word for word."""
    if m == len(leaves):
        return [] if is_whole else [slow_root(leaves)]
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    if m <= k:
        return [*slow_proof(m, leaves[:k], is_whole), slow_root(leaves[k:])]
    return [*slow_proof(m - k, leaves[k:], False), slow_root(leaves[:k])]


@pytest.mark.parametrize("size", range(9))
def test_roots_are_those_that_were_published(size):
    stored = Stored(*PUBLISHED_LEAVES)
    assert root_at(size, stored.read).hex() == PUBLISHED_ROOTS[size]
    assert Stored(*PUBLISHED_LEAVES[:size]).growth.root.hex() == PUBLISHED_ROOTS[size]


@pytest.mark.parametrize(("level", "number", "published"), PUBLISHED_NODES)
def test_nodes_are_those_that_were_published(level, number, published):
    assert Stored(*PUBLISHED_LEAVES).read(level, number).hex() == published


LEAVES = [bytes([number]) for number in range(70)]
STORED = Stored(*LEAVES)
SIZES = st.integers(1, len(LEAVES))


@given(st.data(), SIZES)
def test_an_inclusion_proof_is_that_of_the_rfc_and_checks(data, size):
    index = data.draw(st.integers(0, size - 1))
    proof = inclusion_proof(index, size, STORED.read)
    assert proof == slow_path(index, LEAVES[:size])
    check_inclusion(leaf_hash(LEAVES[index]), index, size, proof, slow_root(LEAVES[:size]))


@given(st.data(), SIZES)
def test_a_consistency_proof_is_that_of_the_rfc_and_checks(data, new):
    old = data.draw(st.integers(1, new))
    proof = consistency_proof(old, new, STORED.read)
    assert proof == slow_proof(old, LEAVES[:new])
    check_consistency(old, new, proof, slow_root(LEAVES[:old]), slow_root(LEAVES[:new]))


@given(st.data(), SIZES)
def test_a_tree_goes_on_from_its_stored_nodes(data, size):
    begin = data.draw(st.integers(0, size))
    growth = Growth.at(begin, STORED.read)
    for leaf in LEAVES[begin:size]:
        growth, _ = growth.add(leaf_hash(leaf))
    assert growth.root == slow_root(LEAVES[:size])


@given(st.data(), SIZES)
def test_a_leaf_is_not_proved_at_another_place_or_in_another_tree(data, size):
    index, other = (data.draw(st.integers(0, size - 1)) for _ in range(2))
    proof = inclusion_proof(index, size, STORED.read)
    root = slow_root(LEAVES[:size])
    leaf = leaf_hash(LEAVES[index])
    if other != index:
        with pytest.raises(ProofError):
            check_inclusion(leaf, other, size, proof, root)
        with pytest.raises(ProofError):
            check_inclusion(leaf_hash(LEAVES[other]), index, size, proof, root)
    with pytest.raises(ProofError):
        check_inclusion(leaf, index, size, [*proof, root], root)
    with pytest.raises(ProofError):
        check_inclusion(leaf, size, size, proof, root)


@given(st.data(), st.integers(2, len(LEAVES)))
def test_a_tree_whose_past_was_changed_is_no_continuation(data, new):
    old = data.draw(st.integers(1, new - 1))
    changed = data.draw(st.integers(0, old - 1))
    leaves = [*LEAVES[:changed], b"rewritten", *LEAVES[changed + 1 : new]]
    rewritten = Stored(*leaves)
    proof = consistency_proof(old, new, rewritten.read)
    with pytest.raises(ProofError):
        check_consistency(old, new, proof, slow_root(LEAVES[:old]), rewritten.growth.root)


def test_every_tree_goes_on_from_the_empty_one_and_from_itself():
    root = STORED.growth.root
    check_consistency(0, 70, [], EMPTY_ROOT, root)
    check_consistency(70, 70, [], root, root)


@pytest.mark.parametrize(("old", "new"), [(3, 2), (-1, 2)])
def test_a_tree_does_not_shrink(old, new):
    with pytest.raises(ProofError, match="does not go on"):
        consistency_proof(old, new, STORED.read)
    with pytest.raises(ProofError, match="does not go on"):
        check_consistency(old, new, [], EMPTY_ROOT, EMPTY_ROOT)


def test_hashes_of_another_length_are_refused():
    with pytest.raises(ProofError, match="32 bytes"):
        check_inclusion(b"", 0, 1, [], b"")
