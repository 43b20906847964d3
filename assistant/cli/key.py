"""`gloveson key`: the shop's own key, with which records are signed when they are sealed."""

from __future__ import annotations

import argparse
from typing import Any

from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "key",
        help="the shop's key, which signs records",
        description="Shows the shop's public key. With --new it makes one; from then on every "
        "record is signed when it is sealed.",
    )
    command.add_argument("--new", action="store_true", help="make the shop's key")
    command.add_argument("--json", action="store_true", help="the key as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Show or make the key."""
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - keeps `--help` fast
    from assistant.record.signing import (  # noqa: PLC0415 - as above
        KEY_FILE,
        ShopKey,
        key_fingerprint,
    )

    home = jobs_home().parent
    key = ShopKey.create(home) if given.new else ShopKey.load(home)
    if key is None:
        answer("this shop has no key; records are sealed but not signed. gloveson key --new")
        return NOT_ALL_RIGHT
    if given.json:
        answer_json({"key": key.public, "fingerprint": key_fingerprint(key.public)})
        return ALL_RIGHT
    answer(f"key {key.public}")
    answer(f"fingerprint {key_fingerprint(key.public)}")
    answer(f"kept in {home / KEY_FILE}: copy it to a safe place, and show it to nobody")
    return ALL_RIGHT
