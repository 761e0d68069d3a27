"""Keys for signing results: Ed25519, the private one readable by its owner only, and never printed.

Owns      making keys, reading them, the files they stand in.
Not here  what is signed (``signatures``).
Source    RFC 8032 (Ed25519); RFC 5958, 8410 (PKCS #8). Mark: memory (the numbers: the algorithms are the library's).
"""

from __future__ import annotations

import base64
import hashlib
import json
import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.errors import DebriefError, OutputError, Place
from debrief.whole_files import on_one_line, read_ordinary

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

PUBLIC_SUFFIX = ".pub"
_OWNER_ONLY = 0o600
_FORMAT = 1
_REMEDY = "Give the file that debrief keys new made."


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicKey:
    """Who can be told from a signature."""

    name: str
    key: bytes  # 32

    @property
    def text(self) -> str:
        """In Base64."""
        return base64.b64encode(self.key).decode()

    @property
    def fingerprint(self) -> str:
        """Sixteen digits by which two people compare a key over the telephone."""
        return fingerprint(self.key)


def fingerprint(key: bytes) -> str:
    """The first digits of a public key's sum, in fours.

    >>> fingerprint(bytes(32))
    '6668-7aad-f862-bd77'
    """
    digits = hashlib.sha256(key).hexdigest()[:16]
    return "-".join(digits[at : at + 4] for at in range(0, 16, 4))


def new_key(path: Path, name: str) -> PublicKey:
    """Make a key: the private one into ``path``, owner only, the public one into ``path`` with ``.pub`` at its end.

    Raises ``OutputError`` where either file is there already, or cannot be written; then neither is left.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    if not name.strip():
        raise DebriefError("a key needs a name", remedy="Say whose it is with --name.")
    if path.suffix == PUBLIC_SUFFIX:
        raise DebriefError(
            f"a private key's name does not end in {PUBLIC_SUFFIX}",
            where=Place(path=path),
            remedy=f"That is for the public one, which is written beside it: name it {path.with_suffix('').name or 'my.key'}.",
        )
    private = Ed25519PrivateKey.generate()
    pem = private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    public = PublicKey(name=on_one_line(name), key=_raw(private))
    beside = path.parent / f"{path.name}{PUBLIC_SUFFIX}"
    told = {"format": _FORMAT, "kind": "Ed25519 public key", "name": public.name, "key": public.text}
    _write_new(path, pem, _OWNER_ONLY)
    try:
        _write_new(beside, (json.dumps(told, indent=1, ensure_ascii=False) + "\n").encode(), 0o644)
    except OutputError:
        path.unlink(missing_ok=True)
        raise
    return public


def _write_new(path: Path, content: bytes, mode: int) -> None:
    """A file that was not there before, with its rights from the first byte on; whole, or not at all."""
    where = Place(path=path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    except FileExistsError as error:
        raise OutputError(
            "it is there already", where=where, remedy="A key is never overwritten: give another name."
        ) from error
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or str(error)
        raise OutputError(
            f"cannot be written: {said}", where=where, remedy="Give another place for the key."
        ) from error
    try:
        with os.fdopen(number, "wb") as file:
            file.write(content)
    except OSError as error:
        path.unlink(missing_ok=True)
        raise OutputError(
            f"cannot be written: {error.strerror}", where=where, remedy="Make room on the disk."
        ) from error


def read_private(path: Path) -> tuple[Ed25519PrivateKey, PublicKey]:
    """A private key, and its public one with the name it was made for.

    Raises ``DebriefError`` where it is none, or others than its owner may read it.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    where = Place(path=path)
    if path.suffix == PUBLIC_SUFFIX:
        raise DebriefError(
            "this is a public key, which only checks signatures",
            where=where,
            remedy=f"Give the private one: {path.with_suffix('').name}.",
        )
    try:
        private = load_pem_private_key(read_ordinary(path), password=None)
        others_may = os.name == "posix" and bool(stat.S_IMODE(path.stat().st_mode) & 0o077)
    except OSError as error:
        raise DebriefError(
            f"the key cannot be read: {error.strerror}", where=where, remedy=_REMEDY
        ) from error
    except (ValueError, TypeError) as error:
        raise DebriefError("this is no private key", where=where, remedy=_REMEDY) from error
    if others_may:
        raise DebriefError(
            "others may read this private key",
            where=where,
            remedy="Run chmod 600 on it, or make a new one.",
        )
    if not isinstance(private, Ed25519PrivateKey):
        raise DebriefError("this is no Ed25519 key", where=where, remedy=_REMEDY)
    beside = path.with_name(path.name + PUBLIC_SUFFIX)
    name = read_public(beside).name if beside.is_file() else path.name
    return private, PublicKey(name=name, key=_raw(private))


def _raw(private: Ed25519PrivateKey) -> bytes:
    return private.public_key().public_bytes_raw()


def read_public(path: Path) -> PublicKey:
    """A public key. Raises ``DebriefError`` where it is none."""
    where = Place(path=path)
    try:
        told = json.loads(read_ordinary(path).decode("utf-8"))
        key = base64.b64decode(told["key"], validate=True)
        name = str(told["name"])
    except OSError as error:
        raise DebriefError(
            f"the key cannot be read: {error.strerror}", where=where, remedy=_REMEDY
        ) from error
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise DebriefError(
            "this is no public key", where=where, remedy=f"Give the file that ends in {PUBLIC_SUFFIX}."
        ) from error
    if len(key) != 32:
        raise DebriefError(
            "this is no Ed25519 key", where=where, remedy=f"Give the file that ends in {PUBLIC_SUFFIX}."
        )
    return PublicKey(name=name, key=key)
