"""The bench's own key: made once, kept beside the settings, never in the records or a log."""

import os
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

from benchstation.atomic_file import private_folder, write_private
from benchstation.store.errors import StoreError
from benchstation.store.schema import utc_text
from benchstation.store.signed_heads import SignedHead

KEY_FILE = "bench_key.pem"


class BenchKeyError(StoreError):
    """The key cannot be made, read or used."""


@dataclass(frozen=True, slots=True)
class BenchKey:
    """The key of this computer; only its public half is ever shown."""

    _private: Ed25519PrivateKey = field(repr=False)
    public: str = field(init=False)
    """The public key, hexadecimal."""

    def __post_init__(self) -> None:
        """Work the public half out once: it is asked for at each filing."""
        object.__setattr__(self, "public", self._private.public_key().public_bytes_raw().hex())

    def plain(self) -> bytes:
        """Return the private key as it is kept beside the settings; for a move alone."""
        return self._private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())

    def sign(self, bench: str, size: int, root: bytes, utc: datetime) -> SignedHead:
        """Return a signed head of the bench's journal."""
        head = SignedHead(bench, size, root.hex(), utc_text(utc), self.public)
        return replace(head, signature=self._private.sign(head.signed_bytes()).hex())

    def signature_over(self, content: bytes) -> str:
        """Return the signature over what names its own purpose, hexadecimal."""
        return self._private.sign(content).hex()


def bench_key(folder: Path) -> BenchKey:
    """Return the key in a folder, made now if there is none. Raises :class:`BenchKeyError`."""
    path = folder / KEY_FILE
    try:
        private_folder(folder)
        if not path.exists():
            new = Ed25519PrivateKey.generate()
            write_private(
                path, new.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
            )
        text = path.read_bytes()
        if os.name == "posix" and path.stat().st_mode & 0o077:
            path.chmod(0o600)
        found = load_pem_private_key(text, None)
    except OSError as error:
        raise BenchKeyError(
            f"the bench's key cannot be made or read ({error.strerror}).",
            where=str(path),
            advice="Nothing was changed. See that you may read and write that folder.",
            detail=repr(error),
        ) from error
    except (ValueError, TypeError) as error:
        raise _unusable(path, repr(error)) from error
    if not isinstance(found, Ed25519PrivateKey):
        raise _unusable(path, type(found).__name__)
    return BenchKey(found)


def signed_by(public: str, signature: str, content: bytes) -> bool:
    """Return True when the signature over the content is the key's; both hexadecimal."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public))
        key.verify(bytes.fromhex(signature), content)
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


def sealed(key: BenchKey, passphrase: str) -> bytes:
    """Return a key as it may travel: encrypted with a passphrase (PKCS #8)."""
    found = load_pem_private_key(key.plain(), None)
    seal = BestAvailableEncryption(passphrase.encode())
    return found.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, seal)


def unsealed(path: Path, passphrase: str) -> BenchKey:
    """Return the key that a passphrase opens. Raises :class:`BenchKeyError`."""
    try:
        found = load_pem_private_key(path.read_bytes(), passphrase.encode())
    except (OSError, ValueError, TypeError) as error:
        raise BenchKeyError(
            "the key cannot be opened: the passphrase is another, or the file is damaged.",
            where=str(path),
            advice="Nothing was changed. Type the passphrase of the move again.",
            detail=repr(error),
        ) from error
    if not isinstance(found, Ed25519PrivateKey):
        raise _unusable(path, type(found).__name__)
    return BenchKey(found)


def known_public_key(folder: Path) -> str:
    """Return the public key of a folder's key; empty: there is none. Makes nothing."""
    return bench_key(folder).public if (folder / KEY_FILE).is_file() else ""


def _unusable(path: Path, detail: str) -> BenchKeyError:
    return BenchKeyError(
        "the bench's key is damaged or of another kind.",
        where=str(path),
        advice="The records were not touched. Put the file back from its copy; if it is lost, "
        "move this one away and run 'benchstation new-key': a lead signs for the new one.",
        detail=detail,
    )
