"""The microphone's watchdog with hand-made streams, and the real thing on a virtual sound card."""

from __future__ import annotations

import itertools
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from assistant.errors import AudioUnavailable
from assistant.hearing.ear import Ear, Heard, Nothing, Trouble
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.microphone import (
    Callback,
    GuardedStream,
    Microphone,
    ThirdRate,
    rescan_devices,
)
from assistant.hearing.source import FRAME_BYTES, room_tone
from tests.hearing.clips import clip
from tests.hearing.phrases import Phrases
from tests.virtual_sound import HEADSET, virtual_sound

PHRASES = Phrases.of("step complete", "say again", "what torque", "stand by")


class Flags:
    """PortAudio's status flags."""

    def __init__(self, *, overflow: bool) -> None:
        self.input_overflow = overflow

    def __bool__(self) -> bool:
        return self.input_overflow


FINE = Flags(overflow=False)


class HandStream:
    """A stream whose callbacks the test makes."""

    def __init__(self, callback: Callback) -> None:
        self.callback = callback
        self.active = True
        self.closed = False

    def give(self, sound: bytes, status: Flags = FINE) -> None:
        """One callback."""
        self.callback(memoryview(sound), len(sound) // 2, None, status)

    def close(self) -> None:
        """Remember that it was closed."""
        self.closed = True


class HandDevice:
    """Opens hand-made streams, on a clock that the test sets."""

    def __init__(self, *, rates: tuple[int, ...] = (16_000,)) -> None:
        self.rates = rates
        self.present = True
        self.now = 0.0
        self.streams: list[HandStream] = []
        self.tries = 0

    def open(self, device: str | None, rate: int, block: int, callback: Callback) -> HandStream:
        """Open a stream if the device is there and takes this rate."""
        self.tries += 1
        if not self.present or rate not in self.rates:
            raise AudioUnavailable(f"microphone {device} can't be opened")
        assert block == 512 * rate // 16_000
        self.streams.append(HandStream(callback))
        return self.streams[-1]

    def microphone(self, **options: float) -> Microphone:
        """A microphone on this device."""
        return Microphone("hand", opener=self.open, clock=lambda: self.now, **options)  # type: ignore[arg-type] # only numbers are given here


FRAME = b"\1\0" * 512


def test_sound_comes_through_in_order() -> None:
    """What the callbacks bring is what the frames are."""
    device = HandDevice()
    microphone = device.microphone()
    for number in range(5):
        device.streams[0].give(bytes([number, 0]) * 512)
    frames = list(itertools.islice(microphone.frames(), 5))
    assert [frame[0] for frame in frames] == [0, 1, 2, 3, 4]
    assert {len(frame) for frame in frames} == {FRAME_BYTES}


def test_slow_reader_loses_sound_and_it_is_counted() -> None:
    """The queue is bounded: what does not fit is dropped and counted, never blocked on."""
    device = HandDevice()
    microphone = device.microphone(queue_s=0.32)
    for _ in range(25):
        device.streams[0].give(FRAME)
    assert microphone.dropped == 15


def test_overflow_of_the_device_is_counted() -> None:
    """Sound that PortAudio says it lost before a block counts as dropped."""
    device = HandDevice()
    microphone = device.microphone()
    device.streams[0].give(FRAME, Flags(overflow=True))
    assert microphone.dropped == 1


def test_deaf_microphone_queues_nothing() -> None:
    """While deaf nothing is kept, nor counted as dropped."""
    device = HandDevice()
    microphone = device.microphone(queue_s=0.32)
    microphone.deafen(True)
    for _ in range(100):
        device.streams[0].give(FRAME)
    microphone.deafen(False)
    device.streams[0].give(b"\2\0" * 512)
    assert next(microphone.frames()) == b"\2\0" * 512
    assert microphone.dropped == 0


def test_silence_of_callbacks_is_a_loss() -> None:
    """No callback for half a second, and the microphone is lost and its stream closed."""
    device = HandDevice()
    microphone = device.microphone()
    frames = microphone.frames()
    device.streams[0].give(FRAME)
    assert next(frames) == FRAME
    device.now = 0.4
    assert next(frames) == b""
    assert not microphone.lost
    device.now = 0.6
    next(frames)
    assert microphone.lost
    assert device.streams[0].closed


def test_last_blocks_of_a_lost_microphone_do_not_bring_it_back() -> None:
    """A stream that gives what it still has while it is closed is lost all the same."""
    device = HandDevice()
    microphone = device.microphone()
    frames = microphone.frames()
    device.streams[0].active = False
    device.present = False
    next(frames)
    device.streams[0].give(FRAME)
    assert next(frames) == FRAME
    assert microphone.lost


def test_inactive_stream_is_a_loss_at_once() -> None:
    """A stream that says it is inactive is lost without waiting."""
    device = HandDevice()
    microphone = device.microphone()
    device.streams[0].active = False
    next(microphone.frames())
    assert microphone.lost


def test_slow_start_is_no_loss() -> None:
    """A stream that has just been opened gets some seconds to its first callback."""
    device = HandDevice()
    microphone = device.microphone()
    device.now = 4.0
    next(microphone.frames())
    assert not microphone.lost
    device.now = 6.0
    next(microphone.frames())
    assert microphone.lost


def test_lost_microphone_is_taken_back() -> None:
    """It is tried again about once a second, and is no longer lost when it gives sound."""
    device = HandDevice()
    microphone = device.microphone()
    frames = microphone.frames()
    device.streams[0].active = False
    device.present = False
    next(frames)
    for tenth in range(1, 31):
        device.now = tenth / 10
        next(frames)
    assert 4 <= device.tries - 1 <= 8  # two rates at each of two or three tries
    device.present = True
    device.now = 4.5
    next(frames)
    assert microphone.lost
    device.streams[-1].give(FRAME)
    assert next(frames) == FRAME
    assert not microphone.lost


def test_devices_are_looked_for_again_at_every_third_try() -> None:
    """A microphone that stays away lets the device list be made anew, if that is allowed."""
    device = HandDevice()
    scans: list[float] = []
    microphone = Microphone(
        "hand",
        opener=device.open,
        clock=lambda: device.now,
        rescan=lambda: scans.append(device.now),
    )
    frames = microphone.frames()
    device.streams[0].active = False
    device.present = False
    for second in range(8):
        device.now = float(second)
        next(frames)
    assert scans == [3.0, 6.0]


def test_absent_microphone_is_named() -> None:
    """A microphone that can't be opened at the start is an error that names it."""
    device = HandDevice()
    device.present = False
    with pytest.raises(AudioUnavailable, match="hand"):
        device.microphone()


def test_microphone_of_48_khz_is_brought_down() -> None:
    """A device without 16 kHz is opened at 48 kHz and brought down, pitch kept, without a seam."""
    device = HandDevice(rates=(48_000,))
    microphone = device.microphone()
    tone = 8_000 * np.sin(2 * np.pi * 1_000 * np.arange(48_000) / 48_000)
    pcm = tone.astype("<i2").tobytes()
    for at in range(0, len(pcm) - 3_071, 3_072):
        device.streams[0].give(pcm[at : at + 3_072])
    blocks = len(pcm) // 3_072
    sound = b"".join(itertools.islice(microphone.frames(), blocks))
    samples = np.frombuffer(sound, dtype="<i2").astype(float)[100:]
    # A sine of 1 kHz at 16 kHz moves by at most 2·pi/16 of its amplitude a sample (arithmetic).
    assert np.max(np.abs(np.diff(samples))) <= 8_000 * 2 * np.pi / 16 * 1.01
    assert np.sqrt(np.mean(samples**2)) == pytest.approx(8_000 / np.sqrt(2), rel=0.01)


def test_bringing_down_leaves_out_what_would_fold_back() -> None:
    """A 10 kHz tone at 48 kHz is 50 dB down after the low-pass (sampling theorem)."""
    tone = 8_000 * np.sin(2 * np.pi * 10_000 * np.arange(48_000) / 48_000)
    low = np.frombuffer(ThirdRate()(tone.astype("<i2").tobytes()), dtype="<i2")[100:]
    assert np.max(np.abs(low)) < 8_000 * 10 ** (-50 / 20)


def test_stream_that_never_closes_is_left_to_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """Closing a stream that hangs comes back, and PortAudio is not ended any more at exit."""
    forgotten: list[object] = []
    release = threading.Event()

    class Hanging:
        active = True

        def close(self) -> None:
            release.wait()

    class Library:
        def _exit_handler(self) -> None:
            raise AssertionError

    library = Library()
    monkeypatch.setattr(GuardedStream, "stuck", False)
    monkeypatch.setattr("assistant.hearing.microphone._CLOSING_S", 0.05)
    monkeypatch.setattr("atexit.unregister", forgotten.append)
    GuardedStream(Hanging(), library).close()
    release.set()
    assert GuardedStream.stuck
    assert forgotten == [library._exit_handler]


def test_real_microphone_hears_a_command(tmp_path: Path) -> None:
    """A command played into a virtual microphone is accepted through PortAudio."""
    with virtual_sound(tmp_path) as sound:
        microphone = Microphone("pulse")
        ear = Ear(microphone, PocketSphinxEngine())
        assert ear.hear(PHRASES, patience_s=1.0) == Nothing("silence")
        speaker = threading.Thread(
            target=sound.speak, args=(room_tone(4_800) + clip("step complete"),)
        )
        speaker.start()
        heard = ear.hear(PHRASES, patience_s=10.0)
        speaker.join()
        ear.close()
    assert isinstance(heard, Heard)
    assert (heard.verdict, heard.text) == ("accepted", "step complete")


def test_real_microphone_does_not_hear_what_was_said_while_deaf(tmp_path: Path) -> None:
    """What is played while the ear is shut is not heard afterwards."""
    with virtual_sound(tmp_path) as sound:
        ear = Ear(Microphone("pulse"), PocketSphinxEngine())
        ear.hear(PHRASES, patience_s=1.0)
        ear.deafen()
        sound.speak(clip("step complete"), tail_s=0.2)
        ear.listen_again()
        heard = ear.hear(PHRASES, patience_s=1.5)
        ear.close()
    assert heard == Nothing("silence")


def test_real_microphone_survives_the_death_of_the_sound_server(tmp_path: Path) -> None:
    """When the sound server dies that is told within seconds, and it is taken back afterwards."""
    told: list[Trouble] = []
    with virtual_sound(tmp_path) as sound:
        ear = Ear(Microphone("pulse"), PocketSphinxEngine(), trouble=told.append)
        assert ear.hear(PHRASES, patience_s=1.0) == Nothing("silence")
        sound.stop()
        began = time.monotonic()
        assert ear.hear(PHRASES, patience_s=20.0) == Nothing("lost")
        assert time.monotonic() - began < 10
        sound.start()
        while ear.hear(PHRASES, patience_s=2.0) == Nothing("lost"):
            assert time.monotonic() - began < 60
        speaker = threading.Thread(target=sound.speak, args=(room_tone(4_800) + clip("stand by"),))
        speaker.start()
        heard = ear.hear(PHRASES, patience_s=10.0)
        speaker.join()
        ear.close()
    assert told[:2] == ["lost", "back"]
    assert isinstance(heard, Heard)
    assert heard.text == "stand by"


def test_real_microphone_plugged_in_again_is_found_by_a_new_list(tmp_path: Path) -> None:
    """A headset that has left the list of devices is found again, by name, once it is back."""
    with virtual_sound(tmp_path) as sound, sound.quiet_room():
        microphone = Microphone(HEADSET, rescan=rescan_devices)
        frames = microphone.frames()
        assert any(any(frame) for frame in itertools.islice(frames, 100))
        sound.unplug_microphone()
        assert any(microphone.lost for _ in itertools.islice(frames, 100))
        time.sleep(0.1)
        for _ in itertools.islice(frames, 50):  # five seconds: the list is made anew without it
            assert microphone.lost
        sound.plug_microphone()
        assert any(not microphone.lost for _ in itertools.islice(frames, 200))
        microphone.close()
