"""Random dialogues: whatever is said, typed or misheard, in whatever order, the invariants hold.

The default run takes at least 30,000 steps, shown at the end of the test run; GLOVESON_LONG=1
takes at least 200,000. `python -m tests.job.explore` prints more about such a run.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable

import pytest

from tests.job.bench import SLOTS
from tests.job.echo import WORDS
from tests.job.explore import NIGHTLY, SHARES, explore

LONG = os.environ.get("GLOVESON_LONG") == "1"
STEPS = NIGHTLY if LONG else 30_000


@pytest.mark.parametrize("kind", SHARES)
def test_no_dialogue_passes_a_stop_without_its_read_back(
    kind: str, record_property: Callable[[str, object], None]
) -> None:
    """The kinds together take all the steps; each judge looks at every one of them."""
    first = secrets.randbelow(10**9) if LONG else 0  # a long run is another one every time
    record_property("first seed", first)
    found = explore(kind, int(STEPS * SHARES[kind]), first_seed=first)
    record_property("explored", f"{kind}: {found.told()}")
    assert found.steps >= STEPS * SHARES[kind]
    # They are steps that mean something: many are admitted, and all sorts of things happen.
    assert found.admitted > found.steps / 3
    assert found.lacks() == ()


def test_the_shares_make_a_whole() -> None:
    """All kinds of scenes together take as many steps as are asked for."""
    assert sum(SHARES.values()) == 1


def test_every_intent_with_slots_is_filled() -> None:
    """The dialogues say every intent of the phrasebook in full."""
    for name, entry in WORDS.book.intents.items():
        assert (name in SLOTS) is any("<" in phrase for phrase in entry.phrases), name
