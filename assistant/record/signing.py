"""The shop's key: signs a seal, so that a record tells who closed it. Ed25519 (RFC 8032)."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import rfc8785
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

from assistant.errors import BadInput
from assistant.record.entry import JSON

KEY_FILE: Final = "shop-key.pem"
_DOMAIN: Final = "gloves-on seal 1"
_LARGEST: Final = 4096


class ShopKey:
    """A shop's private key."""

    def __init__(self, private: Ed25519PrivateKey) -> None:
        self._private = private

    @classmethod
    def create(cls, home: Path) -> ShopKey:
        """Make a key and keep it in this folder, readable by its owner only.

        Raises:
            BadInput: there is one already, or the folder refuses.
        """
        private = Ed25519PrivateKey.generate()
        pem = private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        path = home / KEY_FILE
        try:
            home.mkdir(parents=True, exist_ok=True)
            number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(number, "wb") as file:
                file.write(pem)
                file.flush()
                os.fsync(file.fileno())
        except FileExistsError as error:
            msg = f"{path} is there already; records signed with it need it kept"
            raise BadInput(msg) from error
        except OSError as error:
            msg = f"{path} can't be written: {error}"
            raise BadInput(msg) from error
        return cls(private)

    @classmethod
    def load(cls, home: Path) -> ShopKey | None:
        """The key in this folder, None when the shop has none.

        Raises:
            BadInput: the file is there and is no such key; no job is sealed unsigned by mistake.
        """
        path = home / KEY_FILE
        if not os.path.lexists(path):  # a link to nowhere is no missing key
            return None
        if path.exists() and not path.is_file():  # a device never ends, a pipe never begins
            msg = f"{path} is not a shop key: it is not a file"
            raise BadInput(msg)
        try:
            with path.open("rb") as file:
                pem = file.read(_LARGEST)
            private = load_pem_private_key(pem, password=None)
        except (OSError, ValueError, TypeError, UnsupportedAlgorithm) as error:
            msg = f"{path} is not a shop key: {error}"
            raise BadInput(msg) from error
        if not isinstance(private, Ed25519PrivateKey):
            msg = f"{path} holds a key of another kind; gloveson key makes the right one"
            raise BadInput(msg)
        return cls(private)

    @property
    def public(self) -> str:
        """The public key, 64 hex digits."""
        return self._private.public_key().public_bytes_raw().hex()

    def sign(self, message: bytes) -> dict[str, JSON]:
        """Public key and signature of a message, as a seal holds them."""
        return {"key": self.public, "signature": self._private.sign(message).hex()}


def seal_message(job: str, prev: str, entries: int, files: JSON) -> bytes:
    """What a seal's signature is over: the job, the chain before the seal, and all files."""
    told: dict[str, JSON] = {
        "what": _DOMAIN,
        "job": job,
        "prev": prev,
        "entries": entries,
        "files": files,
    }
    return rfc8785.dumps(told)


def signer(data: Mapping[str, JSON], message: bytes) -> str | None:
    """The public key whose signature a seal holds, None when it holds none.

    Raises:
        ValueError: there is a signature, and it is not this message's.
    """
    signed = data.get("signed")
    if signed is None:
        return None
    if not isinstance(signed, Mapping):
        msg = "the signature can't be read: no key and signature"
        raise ValueError(msg)  # noqa: TRY004 - a wrong record, not a wrong call
    try:
        key, signature = str(signed["key"]), str(signed["signature"])
        public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(key))
        public.verify(bytes.fromhex(signature), message)
    except InvalidSignature as error:
        msg = "the signature does not fit the record"
        raise ValueError(msg) from error
    except (KeyError, TypeError, ValueError) as error:
        msg = f"the signature can't be read: {error}"
        raise ValueError(msg) from error
    return key


def key_fingerprint(public: str) -> str:
    """A public key in short, to compare by eye or ear: SHA-256's first 8 bytes in four groups."""
    digest = hashlib.sha256(bytes.fromhex(public)).hexdigest()
    return " ".join(digest[i : i + 4] for i in range(0, 16, 4))
