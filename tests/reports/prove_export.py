"""Prove an export of everything with the standard library and a signature library alone.

    python prove_export.py FOLDER

Nothing of the project is imported. Prints what was proven; a line that begins with NOT and exit
code 1 otherwise.
"""

import hashlib
import json
import sys
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey


class NotProven(Exception):
    pass


def require(what, words):
    if not what:
        raise NotProven(words)


def sha256(data):
    return hashlib.sha256(data).digest()


def root_of(leaves):
    """RFC 9162, 2.1.1: built level by level, an odd node at the end goes up as it is."""
    level = [sha256(b"\0" + leaf) for leaf in leaves]
    while len(level) > 1:
        pairs = [sha256(b"\1" + a + b) for a, b in zip(level[::2], level[1::2], strict=False)]
        level = pairs + ([level[-1]] if len(level) % 2 else [])
    return level[0]


def prove_files(folder, index):
    for file in index["files"]:
        data = (folder / file["path"]).read_bytes()
        require(len(data) == file["bytes"], f"{file['path']} has another size")
        require(sha256(data).hex() == file["sha256"], f"{file['path']} was altered")
    for file in (folder / "content").glob("*/*"):
        require(sha256(file.read_bytes()).hex() == file.stem, f"{file.name} is not its content")


def prove_chain(folder, chain):
    bench, prev, hashes, keys = chain["bench"], "0" * 64, [], []
    for file in sorted((folder / "journal").glob(f"{bench}-*.jsonl")):
        for line in file.read_bytes().splitlines():
            entry = json.loads(line)
            require(entry["seq"] == len(hashes) + 1, f"entry {entry['seq']} is out of order")
            require(entry["prev"] == prev, f"entry {entry['seq']} does not follow")
            prev = sha256(line).hex()
            hashes.append(bytes.fromhex(prev))
            if entry["kind"] == "bench.key":
                keys.append(entry["body"]["public_key"])
            for name in ("trace_sha256", "photo_sha256"):
                wanted = entry["body"].get(name)
                there = not wanted or list((folder / "content").glob(f"*/{wanted}.*"))
                require(there, f"content {wanted} is missing")
    require((len(hashes), prev) == (chain["entries"], chain["hash"]), f"{bench} ends elsewhere")
    heads = folder / "journal" / f"{bench}.heads.jsonl"
    proven = 0
    for line in heads.read_bytes().splitlines() if heads.exists() else ():
        head = json.loads(line)
        signature = bytes.fromhex(head.pop("signature"))
        said = {**head, "purpose": "benchstation tree head 1"}
        text = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        require(head["public_key"] in keys, "a head is signed with a key not on record")
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(head["public_key"]))
        key.verify(signature, text.encode())
        root = root_of(hashes[: head["size"]]).hex()
        require(root == head["root"], f"the head of {head['size']} is not of these entries")
        proven = head["size"]
    return len(hashes), proven


def main(folder):
    index = json.loads((folder / "index.json").read_bytes())
    prove_files(folder, index)
    for chain in index["chains"]:
        entries, signed = prove_chain(folder, chain)
        print(f"{chain['bench']}: {entries} entries, {signed} of them under a signature")
    units = 0
    for file in sorted((folder / "records").glob("*.jsonl")):
        for line in file.read_bytes().splitlines():
            record = json.loads(line)
            require(record["record"]["serial"], "a record names no unit")
            units += 1
    require(units == index["units"], "records are missing")
    require("benchstation" not in sys.modules, "the project was imported")
    print(f"{units} records")


if __name__ == "__main__":
    try:
        main(Path(sys.argv[1]))
    except (NotProven, InvalidSignature, LookupError, TypeError, ValueError, OSError) as error:
        print(f"NOT PROVEN: {error!r}")
        sys.exit(1)
