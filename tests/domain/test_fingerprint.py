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
