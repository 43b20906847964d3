"""The loudspeaker plays what it is given, stops when told, and comes back after a loss."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.errors import AudioUnavailable
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.speech import Speech
from tests.speaking.fake_sound import FakePortAudioError, FakeSound
from tests.virtual_sound import VirtualSound, virtual_sound


def _tone(seconds: float, rate: int = 22_050, hertz: float = 440.0) -> Speech:
    time_s = np.arange(round(seconds * rate)) / rate
    return Speech.from_samples(10_000 * np.cos(2 * np.pi * hertz * time_s), rate)


def _loud(pcm: bytes, channels: int = 1) -> NDArray[np.int64]:
    """Where the sound is above a tenth of the tone's peak, in samples."""
    samples = np.frombuffer(pcm, dtype="<i2").reshape(-1, channels)[:, 0].astype(int)
    return np.flatnonzero(np.abs(samples) > 1_000)


@pytest.fixture
def sound() -> FakeSound:
    """A sound system without devices."""
    return FakeSound()


@pytest.fixture
def loudspeaker(sound: FakeSound) -> Iterator[Loudspeaker]:
    """A loudspeaker on it."""
    made = Loudspeaker(sound=sound)
    yield made
    made.close()


def test_every_sample_is_played_once(loudspeaker: Loudspeaker, sound: FakeSound) -> None:
    """The device gets exactly the samples, after a lead of silence and in one piece."""
    speech = _tone(0.213)
    played = loudspeaker.play(speech, threading.Event())
    assert played.seconds == pytest.approx(speech.seconds)
    assert not played.cut
    assert bytes(sound.streams[0].pcm).count(speech.pcm) == 1
    assert not any(sound.streams[0].pcm.split(speech.pcm)[0])


def test_the_end_is_when_the_last_sample_has_sounded(
    loudspeaker: Loudspeaker, sound: FakeSound
) -> None:
    """The device's delay is waited for: the microphone must not be open before that."""
    sound.dac_s = 0.5
    loudspeaker.open()
    before = time.monotonic()
    played = loudspeaker.play(_tone(0.1), threading.Event())
    assert played.began_mono >= before + 0.5
    assert played.ended_mono >= played.began_mono + 0.1
    assert time.monotonic() >= played.ended_mono


@pytest.mark.parametrize("dac_s", [-5.0, 1e9])
def test_a_driver_without_times_is_taken_at_its_latency(
    loudspeaker: Loudspeaker, sound: FakeSound, dac_s: float
) -> None:
    """Times that can't be are replaced by the stream's latency."""
    sound.dac_s, sound.latency = dac_s, 0.04
    loudspeaker.open()
    before = time.monotonic()
    played = loudspeaker.play(_tone(0.05), threading.Event())
    assert before + 0.04 <= played.began_mono < before + 3


def test_the_stream_stays_open(loudspeaker: Loudspeaker, sound: FakeSound) -> None:
    """Two speeches, also of another rate, use one stream."""
    loudspeaker.open()
    first = loudspeaker.play(_tone(0.05), threading.Event())
    second = loudspeaker.play(_tone(0.05, rate=16_000), threading.Event())
    assert len(sound.streams) == 1
    assert second.began_mono >= first.ended_mono
    assert second.seconds == pytest.approx(0.05, abs=0.001)


def test_a_cut_is_silence_at_once(loudspeaker: Loudspeaker, sound: FakeSound) -> None:
    """After the event the device gets a 5 ms fade and then nothing; the rest is never played."""
    cut = threading.Event()
    timer = threading.Timer(0.3, cut.set)
    loudspeaker.open()
    timer.start()
    played = loudspeaker.play(_tone(30), cut)
    assert played.cut
    assert 0.2 < played.seconds < 5
    at_end = len(sound.streams[0].pcm)
    loudspeaker.play(Speech.silence(0.1, 22_050), threading.Event())
    loud = _loud(bytes(sound.streams[0].pcm))
    assert loud[-1] * 2 <= at_end
    assert (loud[-1] - loud[0]) / 22_050 == pytest.approx(played.seconds, abs=0.006)


def test_a_cut_empties_a_device_that_stores_much(
    loudspeaker: Loudspeaker, sound: FakeSound
) -> None:
    """Where half a second is in store, the stream is aborted and started again."""
    sound.latency = 0.5
    cut = threading.Event()
    loudspeaker.open()
    threading.Timer(0.1, cut.set).start()
    assert loudspeaker.play(_tone(30), cut).cut
    assert sound.streams[0].starts == 2
    assert not loudspeaker.play(_tone(0.05), threading.Event()).cut


def test_it_is_closed_while_portaudio_starts_anew(
    loudspeaker: Loudspeaker, sound: FakeSound
) -> None:
    """`apart` closes an idle device, and the next speech opens it again."""
    loudspeaker.play(_tone(0.05), threading.Event())
    with loudspeaker.apart() as closed:
        assert closed
        assert sound.streams[0].closed
    loudspeaker.play(_tone(0.05), threading.Event())
    assert len(sound.streams) == 2


def test_it_is_never_closed_while_it_speaks(loudspeaker: Loudspeaker, sound: FakeSound) -> None:
    """While something is being played `apart` closes nothing, and says so."""
    cut = threading.Event()
    player = threading.Thread(target=loudspeaker.play, args=(_tone(5.0), cut))
    player.start()
    while not sound.streams:
        time.sleep(0.01)
    with loudspeaker.apart() as closed:
        assert not closed
        assert not sound.streams[0].closed
    cut.set()
    player.join()


def test_an_event_set_before_plays_nothing(loudspeaker: Loudspeaker, sound: FakeSound) -> None:
    """What is cut before it begins doesn't even open the device."""
    cut = threading.Event()
    cut.set()
    played = loudspeaker.play(_tone(1), cut)
    assert played.cut
    assert played.seconds == 0
    assert not sound.streams


@pytest.mark.parametrize(
    ("takes", "rate", "channels"),
    [((22_050, 2), 22_050, 2), ((48_000, 1), 48_000, 1), ((48_000, 2), 48_000, 2)],
)
def test_a_device_gets_the_shape_it_takes(takes: tuple[int, int], rate: int, channels: int) -> None:
    """Two channels are filled alike and another rate is converted to, with the length kept."""
    sound = FakeSound(takes=frozenset({takes}))
    loudspeaker = Loudspeaker(sound=sound)
    loudspeaker.play(_tone(0.2), threading.Event())
    loudspeaker.close()
    pcm = bytes(sound.streams[0].pcm)
    samples = np.frombuffer(pcm, dtype="<i2").reshape(-1, channels)
    assert (samples == samples[:, :1]).all()
    loud = _loud(pcm, channels)
    assert (loud[-1] - loud[0]) / rate == pytest.approx(0.2, abs=0.002)


def test_no_shape_fits(sound: FakeSound) -> None:
    """A device that takes none of them is an error that says so."""
    sound.takes = frozenset()
    with pytest.raises(AudioUnavailable, match="Invalid sample rate"):
        Loudspeaker(sound=sound).open()


@pytest.mark.parametrize("how", ["unplugged", "hung"])
def test_a_device_lost_while_playing(loudspeaker: Loudspeaker, sound: FakeSound, how: str) -> None:
    """Both an ended and a silent stream are noticed, and the next call opens another."""
    loudspeaker.open()

    def lose() -> None:
        if how == "unplugged":
            sound.streams[0].vanish()
        else:
            sound.asking = False

    threading.Timer(0.1, lose).start()
    with pytest.raises(AudioUnavailable, match="lost"):
        loudspeaker.play(_tone(30), threading.Event())
    assert sound.streams[0].closed
    sound.asking = True
    assert loudspeaker.play(_tone(0.05), threading.Event()).seconds > 0
    assert len(sound.streams) == 2


def test_a_device_lost_while_idle_is_opened_again(
    loudspeaker: Loudspeaker, sound: FakeSound
) -> None:
    """A loss between two utterances is not an error if the device is back."""
    loudspeaker.open()
    sound.streams[0].vanish()
    assert loudspeaker.play(_tone(0.05), threading.Event()).seconds > 0
    assert len(sound.streams) == 2


def test_a_device_that_cannot_be_opened_is_tried_again(
    loudspeaker: Loudspeaker, sound: FakeSound
) -> None:
    """Each call tries; the message names the device and PortAudio's reason."""
    sound.problem = FakePortAudioError("Device unavailable")
    with pytest.raises(AudioUnavailable, match=r"default.*Device unavailable"):
        loudspeaker.play(_tone(0.05), threading.Event())
    sound.problem = None
    assert loudspeaker.play(_tone(0.05), threading.Event()).seconds > 0


def test_a_device_that_is_not_there_is_named(sound: FakeSound) -> None:
    """An unknown name is an error with the name in it."""
    with pytest.raises(AudioUnavailable, match="'none'"):
        Loudspeaker("none", sound=sound).open()


def test_without_portaudio_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the import fails, as it does without the library, the cure is named."""

    class Finder:
        def find_spec(self, name: str, _path: object = None, _target: object = None) -> None:
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Finder(), *sys.meta_path])
    with pytest.raises(AudioUnavailable, match="libportaudio2"):
        Loudspeaker().open()


def test_an_error_of_ours_is_not_disguised(loudspeaker: Loudspeaker, sound: FakeSound) -> None:
    """What is no failure of the sound system comes through as it is."""
    sound.problem = ZeroDivisionError()
    with pytest.raises(ZeroDivisionError):
        loudspeaker.open()


# On a real sound server and PortAudio, with a virtual device.


class _Recorder:
    """Takes what the virtual loudspeaker plays, with the time at which each piece came."""

    def __init__(self, sound: VirtualSound) -> None:
        device = "--device=shop_loudspeaker.monitor"
        shape = ("--rate=16000", "--channels=1", "--format=s16le", "--raw", "--latency-msec=10")
        self._process = subprocess.Popen(["parec", device, *shape], stdout=subprocess.PIPE)
        self.loud_at: list[float] = []
        self.pcm = bytearray()
        self.going = threading.Event()
        self._thread = threading.Thread(target=self._take, daemon=True)
        self._thread.start()
        assert sound.running

    def _take(self) -> None:
        assert self._process.stdout is not None
        with self._process.stdout as out:
            while piece := out.read(320):  # 10 ms
                now = time.monotonic()
                self.going.set()
                self.pcm += piece
                if len(_loud(piece)):
                    self.loud_at.append(now)

    def stop(self) -> None:
        time.sleep(0.3)
        self._process.terminate()
        self._process.wait()
        self._thread.join()


@pytest.fixture
def real(tmp_path: Path) -> Iterator[VirtualSound]:
    """A sound server with a virtual loudspeaker."""
    with virtual_sound(tmp_path) as sound:
        yield sound


def test_a_real_device_plays_and_tells_the_end(real: VirtualSound) -> None:
    """A second of tone arrives whole, also on a busy machine, and its end is known."""
    loudspeaker = Loudspeaker("pulse")
    loudspeaker.open()
    recorder = _Recorder(real)
    assert recorder.going.wait(10)
    played = loudspeaker.play(_tone(1.0), threading.Event())
    recorder.stop()
    loudspeaker.close()
    tone = _tone(1.0, rate=16_000)
    assert len(_loud(bytes(recorder.pcm))) == pytest.approx(len(_loud(tone.pcm)), rel=0.02)
    assert recorder.loud_at[-1] == pytest.approx(played.ended_mono, abs=0.5)
    assert recorder.loud_at[0] == pytest.approx(played.began_mono, abs=0.5)


def test_a_real_device_is_cut(real: VirtualSound) -> None:
    """Soon after the event it is silent (50 ms on an idle machine; a busy one may be late)."""
    loudspeaker = Loudspeaker("pulse")
    loudspeaker.open()
    recorder = _Recorder(real)
    assert recorder.going.wait(10)
    cut = threading.Event()
    moment: list[float] = []

    def set_it() -> None:
        moment.append(time.monotonic())
        cut.set()

    threading.Timer(0.4, set_it).start()
    played = loudspeaker.play(_tone(5.0), cut)
    recorder.stop()
    loudspeaker.close()
    assert played.cut
    assert recorder.loud_at[-1] - moment[0] < 1.0
    assert played.ended_mono - moment[0] < 1.0


def test_a_sound_server_that_dies_is_survived(real: VirtualSound) -> None:
    """Lost while playing, not there at the next try, and back at the one after."""
    loudspeaker = Loudspeaker("pulse")
    loudspeaker.open()
    threading.Timer(0.3, real.stop).start()
    with pytest.raises(AudioUnavailable, match="lost"):
        loudspeaker.play(_tone(10), threading.Event())
    with pytest.raises(AudioUnavailable, match=r"can't be opened|lost"):
        loudspeaker.play(_tone(0.1), threading.Event())
    real.start()
    with real.listen() as heard:
        loudspeaker.play(_tone(0.5), threading.Event())
    loudspeaker.close()
    assert len(_loud(heard.pcm)) > 0.3 * 16_000
