"""A Merkle tree as RFC 6962, section 2.1, defines it: heads, inclusion and consistency proofs.

A node of the tree is named by its level and its number from the left: node (0, 5) is leaf 5, node
(3, 0) covers leaves 0 to 7. Only nodes whose leaves are all there are ever stored or read, so
what was stored never changes as the tree grows. Whoever makes a proof says how to read them.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256

HASH_BYTES = 32
EMPTY_ROOT = sha256(b"").digest()

ReadNode = Callable[[int, int], bytes]
"""The stored hash of the full subtree at (level, number)."""


class ProofError(ValueError):
    """A proof that does not prove what it is held against."""


def leaf_hash(data: bytes) -> bytes:
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    return sha256(b"\x01" + left + right).digest()


@dataclass(frozen=True)
class Node:
    level: int
    number: int
    hash: bytes


@dataclass(frozen=True)
class Growth:
    """A tree as far as one must remember it to add leaves: its full subtrees, largest first."""

    size: int = 0
    peaks: tuple[bytes, ...] = ()

    def add(self, leaf: bytes) -> "tuple[Growth, list[Node]]":
        """The tree with one more leaf hash, and the nodes that are full now, lowest first."""
        nodes = [Node(0, self.size, leaf)]
        peaks = list(self.peaks)
        while nodes[-1].number % 2:
            last = nodes[-1]
            nodes.append(Node(last.level + 1, last.number // 2, node_hash(peaks.pop(), last.hash)))
        return Growth(self.size + 1, (*peaks, nodes[-1].hash)), nodes

    @property
    def root(self) -> bytes:
        return _joined(self.peaks) if self.peaks else EMPTY_ROOT

    @classmethod
    def at(cls, size: int, read: ReadNode) -> "Growth":
        """The tree as it was at a size, from its stored nodes."""
        return cls(size, tuple(read(level, number) for level, number in _full(0, size)))


def root_at(size: int, read: ReadNode) -> bytes:
    return Growth.at(size, read).root


def inclusion_proof(index: int, size: int, read: ReadNode) -> list[bytes]:
    """Hashes beside the way from a leaf to the root, from the leaf up."""
    if not 0 <= index < size:
        raise ProofError(f"A tree of {size} leaves has no leaf {index}.")
    return [_range_root(*beside, read) for beside in reversed(list(_beside(index, size)))]


def consistency_proof(old: int, new: int, read: ReadNode) -> list[bytes]:
    """Hashes from which the root at `old` and the root at `new` both follow."""
    if not 0 <= old <= new:
        raise ProofError(f"A tree of {new} leaves does not go on from one of {old}.")
    if old in (0, new):
        return []
    return [_range_root(*part, read) for part in _old_parts(old, new)]


def root_from_inclusion(leaf: bytes, index: int, size: int, proof: Sequence[bytes]) -> bytes:
    """The root that a leaf hash and its proof lead to."""
    if not 0 <= index < size:
        raise ProofError(f"A tree of {size} leaves has no leaf {index}.")
    ways = list(_beside(index, size))
    if len(ways) != len(proof):
        raise ProofError(f"This proof needs {len(ways)} hashes and has {len(proof)}.")
    for (begin, _), beside in zip(reversed(ways), proof, strict=True):
        leaf = node_hash(leaf, beside) if begin > index else node_hash(beside, leaf)
    return leaf


def check_inclusion(
    leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes
) -> None:
    _check_lengths(leaf, root, *proof)
    if root_from_inclusion(leaf, index, size, proof) != root:
        raise ProofError(f"Leaf {index} is not in the tree with this root.")


def check_consistency(
    old: int, new: int, proof: Sequence[bytes], old_root: bytes, new_root: bytes
) -> None:
    """Raises ProofError unless the newer tree holds all of the older one, in its order."""
    _check_lengths(old_root, new_root, *proof)
    if not 0 <= old <= new:
        raise ProofError(f"A tree of {new} leaves does not go on from one of {old}.")
    parts = [] if old in (0, new) else _old_parts(old, new)
    if len(parts) != len(proof):
        raise ProofError(f"This proof needs {len(parts)} hashes and has {len(proof)}.")
    if old == new:
        matches = old_root == new_root and (new > 0 or new_root == EMPTY_ROOT)
    elif old == 0:  # every tree goes on from the empty one
        matches = old_root == EMPTY_ROOT
    else:
        given = dict(zip(parts, proof, strict=True))
        whole = (0, old)  # the proof leaves it out where it is one full subtree
        if whole not in given and not old & (old - 1):
            given[whole] = old_root
        matches = _from_parts(0, old, given) == old_root and _from_parts(0, new, given) == new_root
    if not matches:
        raise ProofError(f"The tree of {new} leaves does not go on from that of {old}.")


def _check_lengths(*hashes: bytes) -> None:
    if any(len(given) != HASH_BYTES for given in hashes):
        raise ProofError(f"A hash of a tree has {HASH_BYTES} bytes.")


def _split(begin: int, end: int) -> int:
    """Where a range divides: the largest power of two below its length, from its begin."""
    return begin + (1 << ((end - begin - 1).bit_length() - 1))


def _full(begin: int, end: int) -> Iterator[tuple[int, int]]:
    """The full subtrees (level, number) a range consists of, left to right.

    `begin` is where a subtree of the tree begins, so it divides by the length of each part.
    """
    while begin < end:
        level = (end - begin).bit_length() - 1
        yield level, begin >> level
        begin += 1 << level


def _joined(peaks: Sequence[bytes]) -> bytes:
    root = peaks[-1]
    for peak in reversed(peaks[:-1]):
        root = node_hash(peak, root)
    return root


def _range_root(begin: int, end: int, read: ReadNode) -> bytes:
    return _joined([read(level, number) for level, number in _full(begin, end)])


def _beside(index: int, size: int) -> Iterator[tuple[int, int]]:
    """The ranges of leaves that the way from the root down to a leaf passes by."""
    begin, end = 0, size
    while end - begin > 1:
        middle = _split(begin, end)
        if index < middle:
            yield middle, end
            end = middle
        else:
            yield begin, middle
            begin = middle


def _old_parts(old: int, new: int) -> list[tuple[int, int]]:
    """The ranges that a consistency proof gives, in its order (PROOF of RFC 6962, 2.1.2)."""
    begin, end, parts = 0, new, []
    while end != old:
        middle = _split(begin, end)
        if old <= middle:
            parts.append((middle, end))
            end = middle
        else:
            parts.append((begin, middle))
            begin = middle
    if begin:  # else the last part is the whole old tree, whose root the verifier has
        parts.append((begin, end))
    return parts[::-1]


def _from_parts(begin: int, end: int, given: dict[tuple[int, int], bytes]) -> bytes:
    if (begin, end) in given:
        return given[begin, end]
    if end - begin <= 1:
        raise ProofError("The proof leaves a part of the tree out.")
    middle = _split(begin, end)
    return node_hash(_from_parts(begin, middle, given), _from_parts(middle, end, given))
