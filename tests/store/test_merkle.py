"""The tree against published vectors, and against the definition written out naively.

Vectors: the Certificate Transparency project's own tests of RFC 6962, repository
google/certificate-transparency, python/ct/crypto/merkle_test.py.
"""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.store import merkle
from benchstation.store.merkle import (
    Frontier,
    consistency_proof,
    frontier_at,
    grown,
    inclusion_proof,
    leaf_hash,
    node_hash,
    proves_consistency,
    proves_inclusion,
)

LEAVES = [
    bytes.fromhex(text)
    for text in (
        "", "00", "10", "2021", "3031", "40414243", "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]  # fmt: skip
ROOTS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
CONSISTENCY = {
    (1, 1): [],
    (1, 8): [
        "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
    ],
    (6, 8): [
        "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ],
    (2, 5): [
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    ],
}
# A leaf of a public log: its hash and its path in a tree whose size is no power of two.
LOGGED_LEAF = "7a395c866d5ecdb0cccb623e011dbc392cd348d1d1d72776174e127a24b09c78"
LOGGED_AT, LOGGED_SIZE = 848_049, 3_630_887
LOGGED_ROOT = "78316a05c9bcf14a3a4548f5b854a9adfcd46a4c034401b3ce7eb7ac2f1d0ecb"
LOGGED_PATH = """
1a208aeebcd1b39fe2de247ee8db9454e1e93a312d206b87f6ca9cc6ec6f1ddd
0a1b78b383f580856f433c01a5741e160d451c185910027f6cc9f828687a40c4
3d1745789bc63f2da15850de1c12a5bf46ed81e1cc90f086148b1662e79aab3d
9095b61e14d8990acf390905621e62b1714fb8e399fbb71de5510e0aef45affe
0a332b91b8fab564e6afd1dd452449e04619b18accc0ff9aa8393cd4928451f2
2336f0181d264aed6d8f3a6507ca14a8d3b3c3a23791ac263e845d208c1ee330
b4ce56e300590500360c146c6452edbede25d4ed83919278749ee5dbe178e048
933f6ddc848ea562e4f9c5cfb5f176941301dad0c6fdb9d1fbbe34fac1be6966
b95a6222958a86f74c030be27c44f57dbe313e5e7c7f4ffb98bcbd3a03bb52f2
daeeb3ce5923defd0faeb8e0c210b753b85b809445d7d3d3cd537a9aabaa9c45
7fadd0a13e9138a2aa6c3fdec4e2275af233b94812784f66bcca9aa8e989f2bc
1864e6ba3e32878610546539734fb5eeae2529991f130c575c73a7e25a2a7c56
12842d1202b1dc6828a17ab253c02e7ce9409b5192430feba44189f39cc02d66
29af64b16fa3053c13d02ac63aa75b23aa468506e44c3a2315edc85d2dc22b11
b527b99934a0bd9edd154e449b0502e2c499bba783f3bc3dfe23364b6b532009
4584db8ae8e351ace08e01f306378a92bfd43611714814f3d834a2842d69faa8
86a9a41573b0d6e4292f01e93243d6cc65b30f06606fc6fa57390e7e90ed580f
a88b98fbe84d4c6aae8db9d1605dfac059d9f03fe0fcb0d5dff1295dacba09e6
06326dc617a6d1f7021dc536026dbfd5fffc6f7c5531d48ef6ccd1ed1569f2a1
f41fe8fdc3a2e4e8345e30216e7ebecffee26ff266eeced208a6c2a3cf08f960
40cf5bde8abb76983f3e98ba97aa36240402975674e120f234b3448911090f8d
b3222dc8658538079883d980d7fdc2bef9285344ea34338968f736b04aeb387a
"""


def naive_root(leaves):
    """Return the Merkle tree hash as RFC 9162, 2.1.1 defines it."""
    if not leaves:
        return hashlib.sha256().digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\0" + leaves[0]).digest()
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    return hashlib.sha256(b"\1" + naive_root(leaves[:split]) + naive_root(leaves[split:])).digest()


def nodes_of(leaves):
    """Return a lookup of whole nodes by the naive definition."""

    def node(level, number):
        part = leaves[number << level : (number + 1) << level]
        assert len(part) == 1 << level
        return naive_root(part)

    return node


def data(count):
    return [bytes([number % 256, number // 256]) for number in range(count)]


def test_published_hashes_of_leaf_node_and_nothing():
    assert merkle.EMPTY_ROOT.hex() == (
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    )
    assert leaf_hash(bytes(range(0x10, 0x20))).hex() == (
        "3bfb960453ebaebf33727da7a1f4db38acc051d381b6da20d6d4e88f0eabfd7a"
    )
    assert node_hash(bytes(range(0x20)), bytes(range(0x20, 0x40))).hex() == (
        "1a378704c17da31e2d05b6d121c2bb2c7d76f6ee6fa8f983e596c2d034963c57"
    )


def test_published_roots_at_each_size():
    frontier = Frontier()
    for leaf, root in zip(LEAVES, ROOTS, strict=True):
        frontier.push(leaf_hash(leaf))
        assert frontier.root().hex() == root


@pytest.mark.parametrize(("sizes", "path"), CONSISTENCY.items())
def test_published_consistency_proofs(sizes, path):
    earlier, size = sizes
    proof = consistency_proof(earlier, size, nodes_of(LEAVES))
    assert [part.hex() for part in proof] == path
    old, new = (bytes.fromhex(ROOTS[count - 1]) for count in sizes)
    assert proves_consistency(earlier, old, size, new, proof)


def test_published_path_in_a_large_tree():
    path = [bytes.fromhex(line) for line in LOGGED_PATH.split()]
    leaf, root = bytes.fromhex(LOGGED_LEAF), bytes.fromhex(LOGGED_ROOT)
    assert proves_inclusion(leaf, LOGGED_AT, LOGGED_SIZE, path, root)
    assert not proves_inclusion(leaf, LOGGED_AT + 1, LOGGED_SIZE, path, root)
    assert not proves_inclusion(leaf, LOGGED_AT, LOGGED_SIZE, path[:-1], root)
    assert not proves_inclusion(leaf, LOGGED_AT, LOGGED_SIZE, [*path, root], root)


def test_every_proof_of_every_small_tree():
    for size in range(1, 34):
        leaves = data(size)
        node, root = nodes_of(leaves), naive_root(leaves)
        for index in range(size):
            path = inclusion_proof(index, size, node)
            own = leaf_hash(leaves[index])
            assert proves_inclusion(own, index, size, path, root)
            assert not proves_inclusion(leaf_hash(b"other"), index, size, path, root)
            old = naive_root(leaves[: index + 1])
            steps = consistency_proof(index + 1, size, node)
            assert proves_consistency(index + 1, old, size, root, steps)
            other = naive_root([b"changed", *leaves[1 : index + 1]])
            assert not proves_consistency(index + 1, other, size, root, steps)
            assert len(steps) <= size.bit_length() + 1


@given(st.lists(st.binary(max_size=8), max_size=200))
def test_the_growing_root_is_the_defined_one(leaves):
    assert grown(map(leaf_hash, leaves)).root() == naive_root(leaves)


@given(st.data())
def test_a_spoilt_proof_proves_nothing(draw):
    size = draw.draw(st.integers(2, 120))
    leaves = data(size)
    node, root = nodes_of(leaves), naive_root(leaves)
    index = draw.draw(st.integers(0, size - 1))
    path = inclusion_proof(index, size, node)
    place, bit = draw.draw(st.integers(0, len(path) - 1)), draw.draw(st.integers(0, 255))
    path[place] = (int.from_bytes(path[place]) ^ 1 << bit).to_bytes(32)
    assert not proves_inclusion(leaf_hash(leaves[index]), index, size, path, root)
    earlier = draw.draw(st.integers(1, size - 1))
    steps = consistency_proof(earlier, size, node)
    old = naive_root(leaves[:earlier])
    spoilt = list(steps)
    place = draw.draw(st.integers(0, len(steps) - 1))
    spoilt[place] = (int.from_bytes(steps[place]) ^ 1 << bit).to_bytes(32)
    assert not proves_consistency(earlier, old, size, root, spoilt)
    assert not proves_consistency(earlier, old, size, root, steps[:-1])
    assert not proves_consistency(earlier, old, size, root, [*steps, old])


def test_nodes_that_are_kept_give_the_frontier_back():
    leaves, kept, frontier = data(300), {}, Frontier()
    for number, leaf in enumerate(leaves):
        kept[0, number] = leaf_hash(leaf)
        for made in frontier.push(leaf_hash(leaf)):
            kept[made.level, made.number] = made.hash
        again = frontier_at(number + 1, lambda *place: kept[place])
        assert (again.size, again.tops) == (frontier.size, frontier.tops)
    assert len(frontier.tops) == bin(300).count("1")


@pytest.mark.parametrize(("index", "size"), [(-1, 3), (3, 3), (0, 0)])
def test_a_leaf_outside_the_tree_has_no_proof(index, size):
    with pytest.raises(ValueError, match="not in a tree"):
        inclusion_proof(index, size, nodes_of(data(3)))
    assert not proves_inclusion(b"", index, size, [], b"")


@pytest.mark.parametrize(("earlier", "size"), [(0, 3), (4, 3)])
def test_a_tree_that_does_not_follow_has_no_proof(earlier, size):
    with pytest.raises(ValueError, match="does not follow"):
        consistency_proof(earlier, size, nodes_of(data(3)))
    assert not proves_consistency(earlier, b"", size, b"", [])
