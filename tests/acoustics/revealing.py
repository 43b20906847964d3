"""Makes Vosk tell what its network gave for a stretch of sound, through the costs of forced texts.

Vosk's interface gives texts with their likelihoods and nothing from inside. So a graph is built
whose words are one phone each, and the recognizer is given one such word at a time and sound for
just one answer of the network: the text's likelihood then is that phone's answer, and a constant
of the graph that is the same for all words.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from assistant.acoustics.graph import Prices, build_graph
from assistant.acoustics.phones import PHONES, Dictionary
from assistant.engines import SHIPPED_MODEL

SHIPPED: Final = Path(__file__).parents[2] / "assistant/hearing/data/models" / SHIPPED_MODEL
WORDS: Final = tuple(f"only-{phone.lower()}" for phone in PHONES)
_SETTINGS: Final = """--min-active=200
--max-active=3000
--beam=10000.0
--lattice-beam=10000.0
--acoustic-scale=1.0
--frame-subsampling-factor=3
--endpoint.silence-phones=1:2
"""


def finish_model(folder: Path) -> None:
    """Put what is still lacking beside `am/final.mdl`.

    The shipped features, settings that drop no path, and the graph of single phones.
    """
    (folder / "conf").mkdir()
    shutil.copy(SHIPPED / "conf" / "mfcc.conf", folder / "conf")
    (folder / "conf" / "model.conf").write_text(_SETTINGS, encoding="ascii")
    ways: Dictionary = {word: [(phone,)] for word, phone in zip(WORDS, PHONES, strict=True)}
    build_graph(folder / "graph", WORDS, ways, Prices())


class Revealed:
    """A model of `finish_model` in the real recognizer.

    Args:
        folder: of the model.
        every: only every so many-th phone is asked for, to save time.
    """

    def __init__(self, folder: Path, every: int = 1) -> None:
        import vosk  # noqa: PLC0415 - slow to load

        vosk.SetLogLevel(-1)
        self._model = vosk.Model(str(folder))
        self._recognizers: list[tuple[str, Any]] = []
        for word in WORDS[::every]:
            recognizer = vosk.KaldiRecognizer(self._model, 16_000, json.dumps([word]))
            recognizer.SetMaxAlternatives(5)
            self._recognizers.append((word, recognizer))

    def forced(self, pcm: npt.NDArray[np.int16]) -> npt.NDArray[np.float64]:
        """The log likelihood of each word as the only one in this sound, but for a constant.

        With sound for a single answer (one to three frames) that is the network's answer.

        Args:
            pcm: 16 kHz.

        Returns:
            A value for each phone asked for, in their order.
        """
        return np.array([self._forced(*pair, pcm) for pair in self._recognizers])

    @staticmethod
    def _forced(word: str, recognizer: Any, pcm: npt.NDArray[np.int16]) -> float:  # noqa: ANN401
        recognizer.Reset()
        recognizer.AcceptWaveform(pcm.tobytes())
        found = json.loads(recognizer.FinalResult()).get("alternatives", ())
        return next(float(each["confidence"]) for each in found if each["text"] == word)
