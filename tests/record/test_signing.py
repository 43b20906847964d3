"""The shop's key: a signed seal tells who closed the record, and fits this record only."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from assistant.errors import BadInput
from assistant.record.audit import audit
from assistant.record.journal import Journal
from assistant.record.seal import seal
from assistant.record.signing import KEY_FILE, ShopKey, key_fingerprint, signer
from tests.record.making import WALL, open_record

# RFC 8032, section 7.1, TEST 2.
SEED = "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb"
PUBLIC = "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"
SIGNATURE = (
    "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
    "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
)


def rfc_key() -> ShopKey:
    """The key of RFC 8032's test."""
    return ShopKey(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(SEED)))


def signed_record(folder: Path, key: ShopKey) -> Path:
    """A record sealed with a key."""
    record = open_record(folder)
    with Journal.open(record) as journal:
        seal(journal, WALL, 9.0, key)
    return record


def test_the_signature_is_that_of_the_standard() -> None:
    """Key and signature are RFC 8032's own, and verify; of another message they don't."""
    made = rfc_key().sign(b"\x72")
    assert made == {"key": PUBLIC, "signature": SIGNATURE}
    assert signer({"signed": made}, b"\x72") == PUBLIC
    with pytest.raises(ValueError, match="does not fit"):
        signer({"signed": made}, b"\x73")


@pytest.mark.parametrize("signed", ["x", {}, {"key": "zz", "signature": "00"}, {"key": PUBLIC}])
def test_what_is_no_signature_is_refused(signed: object) -> None:
    """A seal with anything else under signed is wrong, never taken for unsigned."""
    with pytest.raises(ValueError, match="signature"):
        signer({"signed": signed}, b"")  # type: ignore[dict-item]  # wrong on purpose


def test_a_signed_record_tells_its_key(tmp_path: Path) -> None:
    """Audit needs nothing but the folder."""
    found = audit(signed_record(tmp_path, rfc_key()))
    assert (found.ok, found.signed, found.key) == (True, True, PUBLIC)


def test_a_signature_fits_its_own_record_only(tmp_path: Path) -> None:
    """Put into another record's seal, with a chain made anew, it is found out."""
    one = signed_record(tmp_path / "a", rfc_key())
    two = open_record(tmp_path / "b")
    taken = json.loads((one / "journal.jsonl").read_text().splitlines()[-1])["data"]["signed"]

    class Forged(ShopKey):
        def sign(self, _message: bytes) -> dict[str, object]:  # type: ignore[override]  # a forger
            return dict(taken)

    with Journal.open(two) as journal:
        journal.append("heard", {"more": 1}, WALL, 8.0)
        seal(journal, WALL, 9.0, Forged(Ed25519PrivateKey.generate()))
    found = audit(two)
    assert not found.ok
    assert found.problem is not None
    assert "signature" in found.problem


def test_the_key_is_kept_for_its_owner_only_and_never_overwritten(tmp_path: Path) -> None:
    """Mode 600, the same key again when loaded, and a second one is refused."""
    made = ShopKey.create(tmp_path)
    assert stat.S_IMODE((tmp_path / KEY_FILE).stat().st_mode) == 0o600
    loaded = ShopKey.load(tmp_path)
    assert loaded is not None
    assert loaded.public == made.public
    with pytest.raises(BadInput, match="there already"):
        ShopKey.create(tmp_path)
    assert len(key_fingerprint(made.public).split()) == 4


def test_a_spoiled_key_stops_the_job_before_it_begins(tmp_path: Path) -> None:
    """No record is sealed unsigned because its key could not be read."""
    assert ShopKey.load(tmp_path) is None
    (tmp_path / KEY_FILE).write_text("no key")
    with pytest.raises(BadInput, match="not a shop key"):
        ShopKey.load(tmp_path)


def test_what_is_no_file_is_no_key(tmp_path: Path) -> None:
    """A device, a pipe and a link to nowhere are refused: no job is sealed unsigned by mistake."""
    for name in ("device", "pipe", "nowhere"):
        (tmp_path / name).mkdir()
    (tmp_path / "device" / KEY_FILE).symlink_to("/dev/zero")
    os.mkfifo(tmp_path / "pipe" / KEY_FILE)
    (tmp_path / "nowhere" / KEY_FILE).symlink_to("nothing")
    for name in ("device", "pipe", "nowhere"):
        with pytest.raises(BadInput, match="is not a shop key"):
            ShopKey.load(tmp_path / name)
