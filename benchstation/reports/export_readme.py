"""The plain words that lie in an export of everything."""

README = """\
All records of a bench, as they stood when this export was begun (index.json says when).

Nothing here needs the program that wrote it. Texts are UTF-8; a file that ends in .jsonl holds one
JSON value a line. Values are SI; pressures are absolute unless the name says gauge; times are UTC.
Keep the folder private: the journal holds the names of people and salted hashes of their PINs.

index.json            what is here: each chain with its number of entries and its last hash, and
                      each file with its size and SHA-256
schema/               the JSON Schema of each kind of line
journal/BENCH-N.jsonl every fact in its order. The SHA-256 of a line, without its line's end, is the
                      hash of the entry; "prev" is the hash of the line before, 64 zeros in the
                      first. "shop" is the shop's own chain as this bench took it
journal/BENCH.heads.jsonl  the bench's signatures: Ed25519 over the JSON of the other members and
                      "purpose": "benchstation tree head 1", keys in order, no spaces. "root" is the
                      root of the Merkle tree (RFC 9162, 2.1) over the first "size" entries; a leaf
                      is the 32 bytes of an entry's hash. The public keys are in the journal itself,
                      in entries of the kind "bench.key"
records/              each filed unit: its record, its traces, QA's standing, and the proof that it
                      stands in the journal
content/traces-N.jsonl  all traces as numbers
content/traces/       the same as they are stored; the name of a file is its SHA-256
content/photos/       photographs; the name of a file is its SHA-256
papers/               the certificate of each unit as PDF, where --pdf was given
settings/             the settings and this bench's own profiles. They hold no password; the
                      bench's private key is not here

To prove it: hash each line of the journal and follow "prev"; make the tree's root from the hashes
and compare it with a head; check the head's signature with the bench's public key; compare the
SHA-256 of the content with its names.
"""
