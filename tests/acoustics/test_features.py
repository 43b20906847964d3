"""Our features against another implementation of Kaldi's."""

from __future__ import annotations

import numpy as np
import pytest

torch = pytest.importorskip(
    "torch", reason="torch is only for training; its wheel is too large for the test extra"
)
knf = pytest.importorskip(
    "kaldi_native_fbank", reason="the other implementation (kaldi-native-fbank) is not here"
)


def test_cepstra_are_kaldis() -> None:
    """The same sound gives the same cepstra as kaldi-native-fbank, within a thousandth."""
    from assistant.acoustics.features import Cepstra  # noqa: PLC0415 - needs torch

    sound = np.random.default_rng(3).normal(0, 2000, 16_000).round()
    options = knf.MfccOptions()
    options.frame_opts.dither = 0
    options.frame_opts.samp_freq = 16_000
    options.mel_opts.num_bins = options.num_ceps = 40
    options.mel_opts.low_freq, options.mel_opts.high_freq = 20, 7600
    options.use_energy = False
    other = knf.OnlineMfcc(options)
    other.accept_waveform(16_000, sound.tolist())
    other.input_finished()
    wanted = np.stack([other.get_frame(at) for at in range(other.num_frames_ready)])
    found = Cepstra("cpu")(torch.tensor(sound[None], dtype=torch.float32))[0].numpy()
    assert found.shape == wanted.shape
    assert np.abs(found - wanted).max() < 2e-3
