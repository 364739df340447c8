"""The record's fingerprint: a Merkle tree over every record, hashed as in RFC 6962 section 2.1.

leaf = SHA-256(0x00 || bytes), node = SHA-256(0x01 || left || right), empty = SHA-256("").
A growing tree needs only its right edge: the roots of the complete subtrees from the largest to
the smallest, one for each 1 in the binary form of the size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

EMPTY = sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    """The hash of one record's canonical bytes (32 bytes)."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """The hash of two subtrees (32 bytes)."""
    return sha256(b"\x01" + left + right).digest()


def append(edge: list[bytes], size: int, leaf: bytes) -> None:
    """Add `leaf` to a tree of `size` leaves with right edge `edge`, in place."""
    while size & 1:
        leaf = node_hash(edge.pop(), leaf)
        size >>= 1
    edge.append(leaf)


def root_of_edge(edge: Sequence[bytes]) -> bytes:
    """The head of the tree whose right edge is `edge`."""
    if not edge:
        return EMPTY
    root = edge[-1]
    for left in reversed(edge[:-1]):
        root = node_hash(left, root)
    return root


def root(leaves: Sequence[bytes]) -> bytes:
    """The head over leaf hashes, in order."""
    edge: list[bytes] = []
    for size, leaf in enumerate(leaves):
        append(edge, size, leaf)
    return root_of_edge(edge)


def _split(n: int) -> int:
    """The largest power of two smaller than n (n > 1)."""
    return 1 << (n - 1).bit_length() - 1


def inclusion_proof(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """The audit path of leaf `index` (from 0), lowest sibling first; IndexError outside the tree."""
    if not 0 <= index < len(leaves):
        raise IndexError(index)
    if len(leaves) == 1:
        return []
    k = _split(len(leaves))
    if index < k:
        return [*inclusion_proof(leaves[:k], index), root(leaves[k:])]
    return [*inclusion_proof(leaves[k:], index - k), root(leaves[:k])]


def root_from_inclusion(leaf: bytes, index: int, size: int, path: Sequence[bytes]) -> bytes:
    """The head that `path` leads to from `leaf`; ValueError when the path has the wrong length."""
    at, last, found = index, size - 1, leaf
    for sibling in path:
        if last == 0:
            raise ValueError("proof too long")
        if at & 1 or at == last:
            found = node_hash(sibling, found)
            while not at & 1 and at:
                at, last = at >> 1, last >> 1
        else:
            found = node_hash(found, sibling)
        at, last = at >> 1, last >> 1
    if last:
        raise ValueError("proof too short")
    return found


@dataclass(frozen=True, slots=True)
class Head:
    """A fingerprint: how many records, and the head of the tree over them."""

    size: int
    root_hex: str

    @property
    def short(self) -> str:
        """The form for paper: the first 16 digits in fours, and the number of records."""
        digits = self.root_hex[:16]
        return " ".join(digits[i : i + 4] for i in range(0, 16, 4)) + f" · {self.size}"
