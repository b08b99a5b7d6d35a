"""Checks a record book by its documentation (../doc.go) alone, apart from Go.

    python3 book.py BOOK [PROOF...]

Recomputes every root and every path from the entries by RFC 6962, section 2.1, and
checks the signatures of the heads when python3-cryptography is installed.
"""
import base64, hashlib, json, pathlib, sys

try:
    from cryptography.hazmat.primitives.serialization import load_pem_public_key
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
except ImportError:
    load_pem_public_key = None


def sha(b):
    return hashlib.sha256(b).digest()


def split(n):
    k = 1
    while 2 * k < n:
        k *= 2
    return k


def mth(d):
    if not d:
        return sha(b"")
    if len(d) == 1:
        return sha(b"\0" + d[0])
    k = split(len(d))
    return sha(b"\1" + mth(d[:k]) + mth(d[k:]))


def path(m, d):
    if len(d) == 1:
        return []
    k = split(len(d))
    return path(m, d[:k]) + [mth(d[k:])] if m < k else path(m - k, d[k:]) + [mth(d[:k])]


def subproof(m, d, b=True):
    if m == len(d):
        return [] if b else [mth(d)]
    k = split(len(d))
    return subproof(m, d[:k], b) + [mth(d[k:])] if m <= k else subproof(m - k, d[k:], False) + [mth(d[:k])]


book = pathlib.Path(sys.argv[1])
entries = [f.read_bytes() for f in sorted((book / "entries").iterdir())]
heads = [f.read_text("utf-8") for f in sorted((book / "heads").iterdir())]
assert len(heads) == len(entries) + 1
key = load_pem_public_key((book / "house.pub").read_bytes()) if load_pem_public_key else None


def check(head):
    """The size of a head that is that of the book."""
    origin, size, root, empty, signature, end = head.split("\n")
    assert empty == end == ""
    assert base64.b64decode(root) == mth(entries[: int(size)]), size
    dash, name, sig = signature.split(" ")
    assert dash == "\u2014" and name == origin == "latchproof.invalid/records/Linden%20Street"
    sig = base64.b64decode(sig, validate=True)
    if key:
        raw = key.public_bytes(Encoding.Raw, PublicFormat.Raw)
        assert sig[:4] == sha(origin.encode() + b"\n\1" + raw)[:4]
        key.verify(sig[4:], f"{origin}\n{size}\n{root}\n".encode())
    return int(size)


for n, head in enumerate(heads):
    assert check(head) == n

# The hashes: the leaf of each entry and then the nodes that it completes.
want = b""
for i in range(len(entries)):
    level = 0
    while True:
        first = i + 1 - (1 << level)
        want += mth(entries[first : i + 1])
        if not i >> level & 1:
            break
        level += 1
assert (book / "hashes").read_bytes() == want

for name in sys.argv[2:]:
    p = json.loads(pathlib.Path(name).read_text("utf-8"))
    if p["proof"] == "inclusion":
        d = entries[: check(p["head"])]
        want, leaf = path(p["index"], d), sha(b"\0" + d[p["index"]])
        assert leaf.hex() == p["leaf"]
    else:
        want = subproof(check(p["old"]), entries[: check(p["new"])])
    assert [h.hex() for h in want] == p["path"]

print(f"{len(entries)} entries, {len(heads)} heads, {len(sys.argv) - 2} proofs; signatures of the heads {'checked' if key else 'not checked'}")
