"""Features and network against what Vosk itself computes inside.

Vosk tells it through the costs of forced texts, see `revealing`. The features are compared with
kaldi-native-fbank (k2-fsa, an implementation of Kaldi's features of its own, Apache-2.0) and,
where torch is, with ours.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import kaldi_native_fbank as knf
import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from assistant.acoustics.graph import ANSWERS, tools_missing
from assistant.acoustics.kaldi import write_model
from assistant.acoustics.layers import Layer
from tests.acoustics.model_reader import Floats, context_of, read_nodes, run
from tests.acoustics.revealing import SHIPPED, Revealed, finish_model
from tests.real_parts import require

Sound = npt.NDArray[np.int16]

_CLIP = Path(__file__).parents[2] / "audio_fixtures/en/flite-rms/step-complete.flac"
_FRAME, _SHIFT = 400, 160
_ANSWERS_8 = _FRAME + 23 * _SHIFT
_EVERY = 4
_SHOWN = 38
"""Cepstra that one model shows: 39 phones, one of which is kept at nothing for comparison."""


def _spoken() -> npt.NDArray[np.float64]:
    samples, _ = soundfile.read(_CLIP, dtype="int16")
    return np.asarray(samples, float)


def _whole(samples: npt.NDArray[np.float64]) -> Sound:
    return samples.round().clip(-32768, 32767).astype(np.int16)


_SOUNDS: dict[str, Callable[[], Sound]] = {
    "as it is": lambda: _whole(_spoken()),
    "quiet": lambda: _whole(_spoken() * 0.003),
    "loud": lambda: _whole(_spoken() * 32767 / np.abs(_spoken()).max()),
    "clipped": lambda: _whole(_spoken() * 12),
    "offset": lambda: _whole(_spoken() * 0.3 + 6000),
    "noise": lambda: _whole(np.random.default_rng(5).normal(0, 900, 16_000)),
    "nothing": lambda: np.zeros(16_000, np.int16),
}


def _kaldi_cepstra(pcm: Sound) -> Floats:
    options = knf.MfccOptions()
    options.frame_opts.dither = 0
    options.frame_opts.samp_freq = 16_000
    options.mel_opts.num_bins = options.num_ceps = 40
    options.mel_opts.low_freq, options.mel_opts.high_freq = 20, 7600
    options.use_energy = False
    computer = knf.OnlineMfcc(options)
    computer.accept_waveform(16_000, pcm.astype(float).tolist())
    computer.input_finished()
    return np.stack([computer.get_frame(at) for at in range(computer.num_frames_ready)])


def _our_cepstra(pcm: Sound) -> Floats:
    torch = pytest.importorskip(
        "torch", reason="torch is only for training; its wheel is too large for the test extra"
    )
    from assistant.acoustics.features import Cepstra  # noqa: PLC0415 - needs torch

    found = Cepstra("cpu")(torch.tensor(pcm[None].astype(np.float32)))[0]
    return np.asarray(found.numpy(), float)


def _passing(first: int, folder: Path) -> Revealed:
    """A model whose network hands on 38 cepstra, from this one on, and one that is always 0."""
    require(not tools_missing(), tools_missing())
    weight, bias = np.zeros((40, 40), np.float32), np.zeros(40, np.float32)
    for number in range(_SHOWN):
        weight[1 + number, first + number] = 1
    bias[0] = -1e3  # never a blank
    (folder / "am").mkdir(parents=True)
    write_model(folder / "am" / "final.mdl", ANSWERS, [Layer((0,), weight, bias)], 40, (0, 0))
    finish_model(folder)
    return Revealed(folder)


@pytest.fixture(scope="module")
def passing(tmp_path_factory: pytest.TempPathFactory) -> tuple[Revealed, Revealed]:
    """Two models that show all 40 cepstra between them."""
    folder = tmp_path_factory.mktemp("passing")
    return _passing(0, folder / "low"), _passing(40 - _SHOWN, folder / "high")


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> Revealed:
    """The shipped network with the graph that makes it tell."""
    require(not tools_missing(), tools_missing())
    folder = tmp_path_factory.mktemp("shipped")
    (folder / "am").symlink_to(SHIPPED / "am")
    finish_model(folder)
    return Revealed(folder, _EVERY)


@pytest.mark.parametrize("cepstra", [_kaldi_cepstra, _our_cepstra])
@pytest.mark.parametrize("sound", _SOUNDS)
def test_features_are_what_vosk_computes(
    passing: tuple[Revealed, Revealed], sound: str, cepstra: Callable[[Sound], Floats]
) -> None:
    """All 40 cepstra of frames all over a clip: most to four decimals.

    Where a band holds nearly nothing its logarithm magnifies the rounding of 32-bit floats: there
    two implementations differ by up to 0.003 (and Kaldi's own two by 0.002).
    """
    pcm = _SOUNDS[sound]()
    wanted = cepstra(pcm)
    apart = []
    for at in range(0, len(wanted), 9):
        one = pcm[at * _SHIFT : at * _SHIFT + _FRAME]
        low, high = (model.forced(one) for model in passing)
        found = np.concatenate([(low - low[_SHOWN])[:2], (high - high[_SHOWN])[:_SHOWN]])
        apart.append(np.abs(found - wanted[at]).max())
    assert np.median(apart) < 2e-4
    assert max(apart) < 5e-3


def _only_one(answers: Floats) -> Floats:
    """Log likelihood of each phone as the only one: blanks, the phone for a while, blanks."""
    blank = answers[:, 0]
    made = []
    for phone in range(1, answers.shape[1]):
        gain = answers[:, phone] - blank
        best = running = gain[0]
        for value in gain[1:]:
            running = max(running, 0.0) + value
            best = max(best, running)
        made.append(blank.sum() + best)
    return np.array(made)


@pytest.mark.parametrize("sound", ["as it is", "clipped"])
def test_the_shipped_network_is_what_vosk_computes(shipped: Revealed, sound: str) -> None:
    """The weights, read back and run in numpy, give Vosk's costs of ten texts, 8 answers long."""
    pcm = _SOUNDS[sound]()
    path = SHIPPED / "am" / "final.mdl"
    nodes, context = read_nodes(path), context_of(path)
    for start in range(2400, len(pcm) - _ANSWERS_8, 6000):
        some = pcm[start : start + _ANSWERS_8]
        wanted = _only_one(run(nodes, _kaldi_cepstra(some), context))[::_EVERY]
        found = shipped.forced(some)
        assert np.ptp(wanted) > 3  # else it would say little
        assert np.abs((found - found[0]) - (wanted - wanted[0])).max() < 5e-3


def test_the_shipped_network_answer_by_answer(shipped: Revealed) -> None:
    """Ten phones' log probabilities for three frames alone, at several places of a clip."""
    pcm = _SOUNDS["as it is"]()
    path = SHIPPED / "am" / "final.mdl"
    nodes, context = read_nodes(path), context_of(path)
    for start in range(2400, len(pcm) - 1000, 5000):
        some = pcm[start : start + _FRAME + 2 * _SHIFT]
        wanted = run(nodes, _kaldi_cepstra(some), context)[0, 1::_EVERY]
        found = shipped.forced(some)
        assert np.abs((found - found[0]) - (wanted - wanted[0])).max() < 1e-3
