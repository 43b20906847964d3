"""The virtual sound card carries what is played into it."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np

from tests.virtual_sound import RATE, virtual_sound


def _tone(seconds: float, hertz: float) -> bytes:
    t = np.arange(int(RATE * seconds)) / RATE
    return (8000 * np.sin(2 * np.pi * hertz * t)).astype("<i2").tobytes()


def _pitch(pcm: bytes) -> float:
    """The strongest frequency in Hz."""
    samples = np.frombuffer(pcm, dtype="<i2").astype(float)
    spectrum = np.abs(np.fft.rfft(samples))
    return float(np.argmax(spectrum) * RATE / len(samples))


def test_microphone_hears_what_is_spoken_into_it(tmp_path: Path) -> None:
    """A tone played into the virtual microphone arrives through PortAudio at its pitch."""
    with virtual_sound(tmp_path) as sound:
        import sounddevice as sd  # noqa: PLC0415 - only where virtual sound has found it to be here

        taken: list[bytes] = []

        def keep(data: object, _frames: int, _times: object, _status: object) -> None:
            taken.append(bytes(data))  # type: ignore[call-overload] # a cffi buffer

        with sd.RawInputStream(
            samplerate=RATE, blocksize=512, device="pulse", channels=1, dtype="int16", callback=keep
        ):
            for _ in range(100):
                if taken:
                    break
                time.sleep(0.05)
            sound.speak(_tone(1.0, 700.0), tail_s=0.3)
    assert abs(_pitch(b"".join(taken)) - 700.0) < 5


def test_loudspeaker_is_overheard(tmp_path: Path) -> None:
    """A tone that PortAudio plays is captured from the virtual loudspeaker at its pitch."""
    with virtual_sound(tmp_path) as sound:
        import sounddevice as sd  # noqa: PLC0415 - only where virtual sound has found it to be here

        with sound.listen() as heard:
            tone = np.frombuffer(_tone(1.0, 500.0), dtype="<i2")
            sd.play(tone, RATE, device="pulse", blocking=True)
    assert len(heard.pcm) > RATE
    assert abs(_pitch(heard.pcm) - 500.0) < 5
