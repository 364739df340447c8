"""The Merkle tree against the published roots of RFC 6962's reference data, and its proofs."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import fingerprint as fp

# Certificate Transparency reference test data for RFC 6962: eight leaves and the root after each.
LEAVES = [bytes.fromhex(x) for x in ("", "00", "10", "2021", "3031", "40414243", "5051525354555657",
                                     "606162636465666768696a6b6c6d6e6f")]  # fmt: skip
ROOTS = (
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
)


@pytest.mark.parametrize("size", range(9))
def test_the_published_roots(size: int) -> None:
    assert fp.root([fp.leaf_hash(leaf) for leaf in LEAVES[:size]]).hex() == ROOTS[size]


def test_the_published_inclusion_proof_of_the_first_of_eight() -> None:
    path = [one.hex() for one in fp.inclusion_proof([fp.leaf_hash(leaf) for leaf in LEAVES], 0)]
    assert [one[:8] for one in path] == ["96a296d2", "5f083f0a", "6b47aaf2"]
    assert path[0].endswith("09cfc7") and path[1].endswith("3031e") and path[2].endswith("bf6e4")


@given(st.integers(1, 70), st.data())
def test_a_proof_leads_from_its_leaf_to_the_root_and_from_no_other_leaf(size: int, data: st.DataObject) -> None:
    leaves = [fp.leaf_hash(bytes([i])) for i in range(size)]
    index = data.draw(st.integers(0, size - 1))
    path = fp.inclusion_proof(leaves, index)
    assert fp.root_from_inclusion(leaves[index], index, size, path) == fp.root(leaves)
    assert fp.root_from_inclusion(fp.leaf_hash(b"other"), index, size, path) != fp.root(leaves)


@given(st.integers(1, 600))
def test_growing_leaf_by_leaf_gives_the_root_of_the_whole(size: int) -> None:
    leaves = [fp.leaf_hash(i.to_bytes(2, "big")) for i in range(size)]
    edge: list[bytes] = []
    for i, leaf in enumerate(leaves):
        fp.append(edge, i, leaf)
    assert fp.root_of_edge(edge) == _recursive(leaves)


def _recursive(leaves: list[bytes]) -> bytes:
    """The definition of RFC 6962 section 2.1, written out."""
    if len(leaves) == 1:
        return leaves[0]
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return fp.node_hash(_recursive(leaves[:k]), _recursive(leaves[k:]))


# Certificate Transparency reference test data for RFC 6962: consistency proofs between trees of LEAVES,
# (old size, new size): first digits of each hash, from memory.
CONSISTENCY = {
    (1, 1): [],
    (1, 8): ["96a296d2", "5f083f0a", "6b47aaf2"],
    (6, 8): ["0ebc5d34", "ca854ea1", "d37ee418"],
    (2, 5): ["5f083f0a", "bc1a0643"],
}


@pytest.mark.parametrize(("old", "new"), sorted(CONSISTENCY))
def test_the_published_consistency_proofs(old: int, new: int) -> None:
    leaves = [fp.leaf_hash(leaf) for leaf in LEAVES]
    path = fp.consistency_proof(old, new, lambda low, high: fp.root(leaves[low:high]))
    assert [one.hex()[:8] for one in path] == CONSISTENCY[old, new]
    assert fp.consistent(old, bytes.fromhex(ROOTS[old]), new, bytes.fromhex(ROOTS[new]), path)


# The tree of seven leaves drawn in RFC 6962 section 2.1.3: PROOF(3, D[7]) = [c, d, g, l],
# PROOF(4, D[7]) = [l], PROOF(6, D[7]) = [i, j, k].
def test_the_consistency_proofs_drawn_in_the_standard() -> None:
    d = [fp.leaf_hash(bytes([i])) for i in range(7)]
    g, i, j = fp.node_hash(d[0], d[1]), fp.node_hash(d[4], d[5]), d[6]
    h = fp.node_hash(d[2], d[3])
    k, last = fp.node_hash(g, h), fp.node_hash(i, j)
    assert [fp.consistency_proof(n, 7, lambda low, high: fp.root(d[low:high])) for n in (3, 4, 6)] == [
        [d[2], d[3], g, last], [last], [i, j, k],
    ]  # fmt: skip


@given(st.integers(1, 70), st.data())
def test_a_consistency_proof_holds_for_its_heads_and_for_no_altered_one(new: int, data: st.DataObject) -> None:
    leaves = [fp.leaf_hash(bytes([i])) for i in range(new)]
    old = data.draw(st.integers(1, new))
    path = fp.consistency_proof(old, new, lambda low, high: fp.root(leaves[low:high]))
    then, now = fp.root(leaves[:old]), fp.root(leaves)
    assert fp.consistent(old, then, new, now, path)
    altered = leaves.copy()
    altered[data.draw(st.integers(0, old - 1))] = fp.leaf_hash(b"altered")
    assert not fp.consistent(old, then, new, fp.root(altered), path)
    forged = fp.consistency_proof(old, new, lambda low, high: fp.root(altered[low:high]))
    assert not fp.consistent(old, then, new, fp.root(altered), forged)
    if path:
        assert not fp.consistent(old, then, new, now, path[:-1])
    assert not fp.consistent(old, then, new, now, [*path, then])


def test_sizes_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="larger"):
        fp.consistency_proof(3, 2, lambda low, high: b"")
    assert not fp.consistent(3, b"", 2, b"", [])


@given(st.integers(1, 70), st.data())
def test_a_proof_from_ranges_is_the_proof_from_leaves(size: int, data: st.DataObject) -> None:
    leaves = [fp.leaf_hash(bytes([i])) for i in range(size)]
    index = data.draw(st.integers(0, size - 1))
    made = fp.inclusion_by_ranges(index, size, lambda low, high: fp.root(leaves[low:high]))
    assert made == fp.inclusion_proof(leaves, index)


@given(st.binary(min_size=32, max_size=32), st.integers(1, 10**9))
def test_a_printed_fingerprint_reads_back(digest: bytes, size: int) -> None:
    head = fp.Head(size, digest.hex())
    assert fp.parse_printed(head.short + " records") == (head.root_hex[:16], size)
    assert fp.parse_printed(f"Fingerprint {head.short.upper()}") == (head.root_hex[:16], size)
    assert fp.parse_printed(f"{head.root_hex} {size}") == (head.root_hex, size)
    assert fp.parse_printed(f"{head.root_hex[:16]},{size}") == (head.root_hex[:16], size)
    assert fp.parse_printed(f"{head.root_hex} {size:,} records") == (head.root_hex, size)
    assert fp.parse_printed(f"{head.root_hex[:16]}/{size}") == (head.root_hex[:16], size)
