"""The record's fingerprint: a Merkle tree over every record, hashed as in RFC 6962 section 2.1.

leaf = SHA-256(0x00 || bytes), node = SHA-256(0x01 || left || right), empty = SHA-256("").
A growing tree needs only its right edge: the roots of the complete subtrees from the largest to
the smallest, one for each 1 in the binary form of the size.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
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


RootOf = Callable[[int, int], bytes]
"""The root over leaves `low` (from 0) up to `high` (not included)."""


def inclusion_by_ranges(index: int, size: int, root_of: RootOf) -> list[bytes]:
    """`inclusion_proof` from roots of ranges, so that kept subtrees serve; IndexError outside the tree."""
    if not 0 <= index < size:
        raise IndexError(index)
    low, high = 0, size
    path: list[bytes] = []
    while high - low > 1:
        middle = low + _split(high - low)
        if index < middle:
            path.append(root_of(middle, high))
            high = middle
        else:
            path.append(root_of(low, middle))
            low = middle
    return path[::-1]


def consistency_proof(old: int, new: int, root_of: RootOf) -> list[bytes]:
    """PROOF(old, D[new]) of RFC 6962 section 2.1.2: that the first `old` leaves were not altered.

    Empty when the sizes are equal or `old` is 0; ValueError when `old` is larger than `new`.
    """
    if not 0 <= old <= new:
        raise ValueError("the older tree is the larger one")
    if old in (0, new):
        return []
    low, high, whole = 0, new, True
    path: list[bytes] = []
    while old != high:
        middle = low + _split(high - low)
        if old <= middle:
            path.append(root_of(middle, high))
            high = middle
        else:
            path.append(root_of(low, middle))
            low, whole = middle, False
    return path[::-1] if whole else [root_of(low, high), *path[::-1]]


def consistent(old: int, old_root: bytes, new: int, new_root: bytes, path: Sequence[bytes]) -> bool:
    """True when `path` proves that the tree of `old` leaves is the beginning of that of `new`.

    The check of RFC 9162 section 2.1.4.2, which writes out that of RFC 6962.  Two trees of one size
    are consistent when their heads are equal; an empty tree is the beginning of every tree.
    """
    if old > new:
        return False
    if old == new:
        return not path and old_root == new_root
    if old == 0:
        return not path and old_root == EMPTY
    rest = list(path)
    if old & (old - 1) == 0:
        rest.insert(0, old_root)
    if not rest:
        return False
    first, second = old - 1, new - 1
    while first & 1:
        first, second = first >> 1, second >> 1
    found_old = found_new = rest[0]
    for one in rest[1:]:
        if second == 0:
            return False
        if first & 1 or first == second:
            found_old, found_new = node_hash(one, found_old), node_hash(one, found_new)
            while not first & 1 and first:
                first, second = first >> 1, second >> 1
        else:
            found_new = node_hash(found_new, one)
        first, second = first >> 1, second >> 1
    return second == 0 and found_old == old_root and found_new == new_root


SHORT_DIGITS = 16
"""Hexadecimal digits of a fingerprint on paper: 64 bits."""

_TYPED = re.compile(r"([0-9a-f]{16}|[0-9a-f]{64})(?:[^0-9a-f]+)([0-9]+)")
_THOUSANDS = re.compile(r"(?<=[0-9]),(?=[0-9]{3}(?![0-9a-z]))")


def parse_printed(text: str) -> tuple[str, int] | None:
    """Digits and number of records of a printed fingerprint as a person types it, or None.

    "3f2a 9b1c 0d4e 77aa · 3,412 records", with or without spaces and comma, in capitals or small letters; the
    number stands last.  All 64 digits are taken too.
    """
    return _parsed(text.lower()) or _parsed(_THOUSANDS.sub("", text.lower()))


def _parsed(text: str) -> tuple[str, int] | None:
    plain = re.sub(r"fingerprint|records?", " ", text)
    words = [one for one in re.split(r"[^0-9a-z]+", plain) if one]
    if len(words) < 2:
        return None
    digits, count = "".join(words[:-1]), words[-1]
    found = _TYPED.fullmatch(f"{digits} {count}")
    return None if found is None or not count.isascii() else (found[1], int(found[2]))


@dataclass(frozen=True, slots=True)
class Head:
    """A fingerprint: how many records, and the head of the tree over them."""

    size: int
    root_hex: str

    @property
    def short(self) -> str:
        """The form for paper: the first 16 digits in fours, and the number of records."""
        digits = self.root_hex[:16]
        return " ".join(digits[i : i + 4] for i in range(0, 16, 4)) + f" · {self.size:,}"
