"""`python -m tests.hearing.bench_front SPEECH [EVERY]`: what stands before the recognizer.

People's words and phrases kept for tuning, in recorded machine noise, as they are, softer, louder,
and with the noise taken out: does the Vosk model understand more? Prints, for each, how many of
what was said came out right, how many wrong, and how many with no rival near (margin 4 and more).

The filter is the decision-directed one of Y. Ephraim and D. Malah, "Speech enhancement using a
minimum mean-square error short-time spectral amplitude estimator", IEEE ASSP 32(6), 1984, with
Wiener's gain; it learns the noise from the third of a second before the speech.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from assistant.acoustics.evaluate import noisy
from assistant.acoustics.fit_pair import tuning_utterances
from assistant.acoustics.splits import noises
from assistant.engines import SHIPPED_MODEL, open_engine
from assistant.hearing.engines.opinion import first_meant, margin_of
from assistant.hearing.engines.vosk_engine import VoskEngine
from assistant.hearing.noise import from_pcm, to_pcm

Samples = npt.NDArray[np.float64]

_WIDTH, _HOP = 512, 256
_LEARN_FRAMES: Final = 18
"""0.3 s at 16 kHz."""
_SMOOTH: Final = 0.98
_FAR: Final = 4.0


def wiener(samples: Samples, least: float) -> Samples:
    """The sound with its noise taken out, but for a share `least` of its amplitude."""
    window = np.sqrt(np.hanning(_WIDTH + 1)[:-1])
    padded = np.concatenate([np.zeros(_HOP), samples, np.zeros(_WIDTH)])
    starts = range(0, len(padded) - _WIDTH, _HOP)
    spectra = np.array([np.fft.rfft(window * padded[at : at + _WIDTH]) for at in starts])
    noise = np.mean(np.abs(spectra[1:_LEARN_FRAMES]) ** 2, axis=0) + 1e-12
    clean = np.zeros(noise.shape)
    out = np.zeros(len(padded))
    for at, spectrum in zip(starts, spectra, strict=True):
        over = np.abs(spectrum) ** 2 / noise
        before = _SMOOTH * clean / noise + (1 - _SMOOTH) * np.maximum(over - 1, 0)
        gain = np.maximum(before / (1 + before), least)
        clean = np.abs(gain * spectrum) ** 2
        out[at : at + _WIDTH] += window * np.fft.irfft(gain * spectrum)
    return out[_HOP : _HOP + len(samples)]


WAYS: Final[dict[str, Callable[[Samples], Samples]]] = {
    "as it is": lambda x: x,
    "20 dB softer": lambda x: x * 0.1,
    "10 dB softer": lambda x: x * 10**-0.5,
    "6 dB louder": lambda x: x * 2,
    "noise 6 dB down": lambda x: wiener(x, 0.5),
    "noise 12 dB down": lambda x: wiener(x, 0.25),
    "noise 20 dB down": lambda x: wiener(x, 0.1),
}


def main() -> None:
    """Measure and print."""
    speech, every = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1
    engine = open_engine(f"vosk:{SHIPPED_MODEL}")
    assert isinstance(engine, VoskEngine)
    beds, counts = noises(speech, "train"), Counter[tuple[str, float | None, str]]()
    for said in tuning_utterances(speech, Path("audio_fixtures"), ())[::every]:
        if not said.trial.text:
            continue
        pcm = from_pcm(noisy(said.trial, said.snr_db, beds))
        lead = np.resize(pcm[: 16 * 300], 16 * 300)  # the same room before it
        engine.use(said.grammar)
        for name, way in WAYS.items():
            engine.start()
            engine.feed(to_pcm(np.clip(way(np.concatenate([lead, pcm])), -1, 1)))
            texts = engine.texts()
            _, means = first_meant(texts, engine.meaning)
            sure = margin_of(texts, engine.meaning, means) >= _FAR if means else False
            right = means is not None and means == engine.meaning(said.trial.text)
            kind = "right" if right else "wrong" if means is not None else "nothing"
            counts[name, said.snr_db, kind] += 1
            counts[name, said.snr_db, f"sure {kind}"] += sure
    levels = sorted({snr for _, snr, _ in counts}, key=lambda snr: -(snr or 99))
    for name in WAYS:
        cells = []
        for snr in levels:
            n = sum(counts[name, snr, kind] for kind in ("right", "wrong", "nothing"))
            figures = [counts[name, snr, k] for k in ("right", "wrong", "sure right", "sure wrong")]
            cells.append(
                f"{snr or 'clean'}: {figures[0]}/{figures[1]} ({figures[2]}/{figures[3]}) of {n}"
            )
        sys.stdout.write(f"{name:18} " + "; ".join(cells) + "\n")


if __name__ == "__main__":
    main()
