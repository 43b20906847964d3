"""A sound card without hardware: PulseAudio null sinks as one bay's loudspeaker and microphone.

`virtual_sound(folder)` starts a private PulseAudio daemon whose socket, state and ALSA settings
lie in `folder`, and points this process (and the children that it starts meanwhile) at it:
PortAudio's devices "pulse" and "default" are then the virtual loudspeaker and microphone.

    with virtual_sound(tmp_path) as sound:
        sound.speak(pcm)              # into the microphone; returns when it has been played
        with sound.listen() as heard: # what the loudspeaker gets
            ...
        heard.pcm                     # 16 kHz mono s16le

Needs the system parts pulseaudio, pulseaudio-utils, libasound2-plugins and libportaudio2.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import time
import wave
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from assistant.hearing.source import room_tone
from tests.real_parts import require

RATE = 16_000
LOUDSPEAKER = "shop_loudspeaker"
MICROPHONE = "shop_microphone"
HEADSET = "bench_headset"
"""The microphone's name in ALSA's list, where it stands only while it is plugged in."""
_FEED = "shop_microphone_feed"
_PLUGGED = ("module-remap-source", f"source_name={MICROPHONE}", f"master={_FEED}.monitor")
_SHAPE = (f"--rate={RATE}", "--channels=1", "--format=s16le", "--raw")

_ALSA = """\
</usr/share/alsa/alsa.conf>
pcm.pulse {{ type pulse server "{server}" }}
ctl.pulse {{ type pulse server "{server}" }}
pcm.!default {{ type pulse server "{server}" }}
ctl.!default {{ type pulse server "{server}" }}
"""

_HEADSET = """\
pcm.bench_headset {{
    type pulse
    server "{server}"
    device "shop_microphone"
    hint {{ show on description "headset" }}
}}
"""


@dataclass
class Heard:
    """What the loudspeaker got: 16 kHz mono s16le, complete once `listen` is left."""

    pcm: bytes = b""


@dataclass
class VirtualSound:
    """A running sound daemon with one loudspeaker and one microphone.

    Attributes:
        folder: holds the daemon's socket, state and the ALSA settings.
        environment: variables that point a child process at this daemon; already set here.
    """

    folder: Path
    environment: dict[str, str]
    _daemon: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def running(self) -> bool:
        """Whether the daemon is alive."""
        return self._daemon is not None and self._daemon.poll() is None

    def start(self) -> None:
        """Start the daemon (again) and wait until it answers.

        Raises:
            RuntimeError: it ended or did not answer within ten seconds; holds its last words.
        """
        log = self.folder / "pulseaudio.log"
        modules = (
            f"module-null-sink sink_name={LOUDSPEAKER} rate=48000 channels=2",
            f"module-null-sink sink_name={_FEED} rate=48000 channels=1",
            " ".join(_PLUGGED),
            # Last, so that nobody connects to a daemon that has no devices yet.
            f"module-native-protocol-unix auth-anonymous=1 socket={self.folder}/native",
        )
        command = ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--disable-shm=yes"]
        command += ["--use-pid-file=no", "--realtime=no", "--high-priority=no"]
        command += [f"--load={module}" for module in modules]
        with log.open("wb") as out:
            self._daemon = subprocess.Popen(
                command, env=os.environ | self.environment, stdout=out, stderr=out
            )
        for _ in range(100):
            if self._answers():
                return
            if not self.running:
                break
            time.sleep(0.1)
        self.stop()
        raise RuntimeError(f"pulseaudio did not start:\n{log.read_text(errors='replace')[-2000:]}")

    def _answers(self) -> bool:
        asked = subprocess.run(
            ["pactl", "list", "short", "sources"],
            env=os.environ | self.environment,
            capture_output=True,
            check=False,
            timeout=10,
        )
        return asked.returncode == 0 and MICROPHONE.encode() in asked.stdout

    def stop(self) -> None:
        """End the daemon at once, as when a device is unplugged or a sound server dies."""
        if self._daemon is not None:
            self._daemon.kill()
            self._daemon.wait()
            self._daemon = None

    def plug_microphone(self) -> None:
        """Put the microphone back: the sound server has it again, and so has ALSA's list."""
        self._pactl("load-module", *_PLUGGED)
        self._list_devices(plugged=True)

    def unplug_microphone(self) -> None:
        """Pull the microphone out: the sound server and ALSA's list of devices lose it."""
        modules = self._pactl("list", "short", "modules").splitlines()
        (number,) = (line.split("\t")[0] for line in modules if f"={MICROPHONE} " in line)
        self._pactl("unload-module", number)
        self._list_devices(plugged=False)

    def _pactl(self, *command: str) -> str:
        return subprocess.run(
            ["pactl", *command],
            env=os.environ | self.environment,
            capture_output=True,
            text=True,
            check=True,
            timeout=10,
        ).stdout

    def _list_devices(self, *, plugged: bool) -> None:
        """Write ALSA's list; a program that has read it already sees this only when it looks."""
        text = _ALSA.format(server=self.environment["PULSE_SERVER"])
        if plugged:
            text += _HEADSET.format(server=self.environment["PULSE_SERVER"])
        (self.folder / "asound.conf").write_text(text)

    @contextlib.contextmanager
    def quiet_room(self) -> Iterator[None]:
        """The microphone hears a quiet room instead of exact zeros, for up to five minutes."""
        noise = self.folder / "room.raw"
        noise.write_bytes(room_tone(20 * RATE, dbfs=-65.0) * 15)
        with noise.open("rb") as sound:
            player = subprocess.Popen(
                ["pacat", "--playback", f"--device={_FEED}", *_SHAPE],
                env=os.environ | self.environment,
                stdin=sound,
            )
        try:
            yield
        finally:
            player.terminate()
            player.wait()

    def speak(self, pcm: bytes, rate: int = RATE, tail_s: float = 0.0) -> None:
        """Play mono s16le samples into the microphone; return when they have been played.

        Args:
            pcm: samples.
            rate: their rate in Hz.
            tail_s: seconds of silence to play after them.
        """
        shape = ("--channels=1", "--format=s16le", "--raw", "--latency-msec=50")
        subprocess.run(
            ["pacat", "--playback", f"--device={_FEED}", f"--rate={rate}", *shape],
            env=os.environ | self.environment,
            input=pcm + bytes(2 * int(rate * tail_s)),
            check=True,
        )

    def speak_file(self, path: Path, tail_s: float = 0.0) -> None:
        """Play a 16-bit mono WAV file into the microphone."""
        with wave.open(str(path)) as wav:
            if (wav.getnchannels(), wav.getsampwidth()) != (1, 2):
                raise ValueError(f"{path}: not a 16-bit mono WAV file")
            self.speak(wav.readframes(wav.getnframes()), wav.getframerate(), tail_s)

    @contextlib.contextmanager
    def listen(self) -> Iterator[Heard]:
        """Capture what the loudspeaker gets until the block is left."""
        heard = Heard()
        raw = self.folder / f"loudspeaker-{time.monotonic_ns()}.raw"
        with raw.open("wb") as out:
            recorder = subprocess.Popen(
                ["parec", f"--device={LOUDSPEAKER}.monitor", *_SHAPE, "--latency-msec=20"],
                env=os.environ | self.environment,
                stdout=out,
            )
            for _ in range(100):
                if raw.stat().st_size:
                    break
                time.sleep(0.05)
            begun = raw.stat().st_size
            try:
                yield heard
                time.sleep(0.2)  # what is still on its way through the daemon
            finally:
                recorder.terminate()
                recorder.wait()
        if not begun:
            raise RuntimeError("the recorder on the virtual loudspeaker got no samples")
        pcm = raw.read_bytes()
        heard.pcm = pcm[: len(pcm) // 2 * 2]


def refresh_devices() -> None:
    """Let PortAudio look for devices again when this process has loaded it already."""
    sounddevice = sys.modules.get("sounddevice")
    if sounddevice is not None:
        sounddevice._terminate()
        sounddevice._initialize()


def missing_parts() -> str:
    """Which system part is missing for virtual sound, or "" when all are here."""
    for program in ("pulseaudio", "pactl", "pacat", "parec"):
        if shutil.which(program) is None:
            return f"{program} is not installed (apt: pulseaudio pulseaudio-utils)"
    if not any(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        return "ALSA's pulse plug-in is not installed (apt: libasound2-plugins)"
    try:
        import sounddevice  # noqa: F401, PLC0415 - the import itself is what is tried
    except OSError as problem:
        return f"PortAudio is not installed (apt: libportaudio2): {problem}"
    return ""


@contextlib.contextmanager
def virtual_sound(folder: Path) -> Iterator[VirtualSound]:
    """Give this process a virtual loudspeaker and microphone; skip the test if parts lack."""
    missing = missing_parts()
    require(not missing, missing)
    server = f"unix:{folder}/native"
    alsa = folder / "asound.conf"
    environment = {
        "PULSE_SERVER": server,
        "PULSE_RUNTIME_PATH": str(folder),
        "PULSE_STATE_PATH": str(folder),
        "PULSE_CONFIG_PATH": str(folder),
        "PULSE_SINK": LOUDSPEAKER,
        "PULSE_SOURCE": MICROPHONE,
        "XDG_RUNTIME_DIR": str(folder),
        "ALSA_CONFIG_PATH": str(alsa),
    }
    sound = VirtualSound(folder, environment)
    sound._list_devices(plugged=True)
    before = {name: os.environ.get(name) for name in environment}
    os.environ.update(environment)
    try:
        sound.start()
        refresh_devices()
        yield sound
    finally:
        sound.stop()
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
        refresh_devices()
