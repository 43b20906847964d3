"""Makes the spoken clips and their manifest, or checks that they are all there.

    python -m audio_fixtures.make                  every clip anew
    python -m audio_fixtures.make --only missing   only those that are not there yet
    python -m audio_fixtures.make --voice espeak-us
    python -m audio_fixtures.make --check          says what is missing or wrong; exit code 1

The list of what to say is read from the phrasebook, so a new phrase needs no change here.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Iterable, Iterator, Mapping

import numpy as np
import numpy.typing as npt
import soundfile

from assistant.errors import BadInput
from assistant.hearing.noise import active_level_db
from audio_fixtures.phrases import HERE, SAID, Line, all_lines, load_yaml
from audio_fixtures.voices import VOICES, Samples, Voice

RATE_HZ = 16_000
# Active speech level, as assistant/hearing/noise.py measures it (after ITU-T P.56).
LEVEL_DBFS = -23.0
# A voice with high peaks stays fainter: its peaks may reach this share of full scale, no more.
PEAK = 0.95
FAINTER_DB, LOUDER_DB = 3.0, 0.5
EDGE_S = 0.15
LIMIT_BYTES = 20_000_000
SHORTEST_S, LONGEST_S = 0.45, 8.0
# Samples are rounded to 11 of their 16 bits, which FLAC then stores in half the room.
# The rounding noise lies some 48 dB under the speech, far below any workshop's.
KEPT_BITS = 11
# What lies this far under a clip's active level counts as silence when its ends are trimmed.
SILENCE_DB = 36.0

MANIFEST = HERE / "manifest.csv"
COLUMNS = (
    "file", "kind", "transcript", "speaker", "snr_db",
    "intent", "split", "synthesis", "engine_version", "license",
)  # fmt: skip
Row = dict[str, str]


def resampled(samples: Samples, rate: int) -> Samples:
    """The whole clip at RATE_HZ, by cutting its spectrum (exact below the lower Nyquist limit)."""
    if rate == RATE_HZ:
        return samples
    # Silence on both sides keeps the ends from running into each other: the transform is circular.
    padded = np.pad(samples, rate // 10)
    length = round(len(padded) * RATE_HZ / rate)
    spectrum = np.fft.rfft(padded)
    kept = np.zeros(length // 2 + 1, dtype=complex)
    bins = min(len(spectrum), len(kept))
    kept[:bins] = spectrum[:bins]
    return np.fft.irfft(kept, length) * (length / len(padded))


def loud_span(samples: Samples) -> tuple[int, int]:
    """First and past-the-last sample of what is not silence, to 10 ms."""
    frame = RATE_HZ // 100
    count = len(samples) // frame
    power = np.mean(samples[: count * frame].reshape(count, frame) ** 2, axis=1)
    threshold_db = active_level_db(samples, RATE_HZ) - SILENCE_DB
    loud = np.flatnonzero(power > 10 ** (threshold_db / 10))
    return int(loud[0]) * frame, int(loud[-1] + 1) * frame


def finished(samples: Samples, rate: int) -> npt.NDArray[np.int16]:
    """Resampled, centered, trimmed to EDGE_S of silence, at LEVEL_DBFS, as 16-bit samples."""
    clip = resampled(samples, rate)
    clip = clip - clip.mean()
    start, end = loud_span(clip)
    edge = round(EDGE_S * RATE_HZ)
    clip = np.pad(clip, edge)[start : end + 2 * edge]
    gain = 10 ** ((LEVEL_DBFS - active_level_db(clip, RATE_HZ)) / 20)
    clip = clip * min(gain, PEAK / np.abs(clip).max())
    step = 2 ** (16 - KEPT_BITS)
    return (np.rint(clip * 32768 / step) * step).astype(np.int16)


def wanted(voice: Voice, lines: Iterable[Line]) -> tuple[Line, ...]:
    """The lines that this voice carries."""
    return tuple(line for line in lines if voice.full or line.short)


def clip_path(voice: Voice, line: Line) -> str:
    """Path of a clip, relative to this folder."""
    return f"en/{voice.name}/{line.slug}.flac"


def make_clip(voice: Voice, line: Line, respelled: Mapping[str, str]) -> None:
    """Speaks one line into its file."""
    words = " ".join(respelled.get(word, word) for word in line.transcript.split())
    clip = finished(*voice.speak(words))
    path = HERE / clip_path(voice, line)
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, clip, RATE_HZ, format="FLAC", subtype="PCM_16", compression_level=1.0)


def read_manifest() -> list[Row]:
    """The rows of the manifest; none when it doesn't exist yet."""
    if not MANIFEST.exists():
        return []
    with MANIFEST.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _row(voice: Voice, line: Line, engine: str) -> Row:
    return {
        "file": clip_path(voice, line),
        "kind": line.kind,
        "transcript": line.transcript,
        "speaker": voice.name,
        "snr_db": "",
        "intent": line.intent,
        "split": voice.split,
        "synthesis": voice.synthesis,
        "engine_version": engine,
        "license": voice.license,
    }


def make(voices: Iterable[Voice], *, only_missing: bool) -> None:
    """Makes clips and writes the manifest; clips that nothing asks for any more are removed."""
    lines = all_lines()
    respelled = load_yaml(SAID)["respelled"]
    chosen = {voice.name for voice in voices}
    old = {row["file"]: row for row in read_manifest()}
    rows: list[Row] = []
    for voice in VOICES:
        for line in wanted(voice, lines):
            path = clip_path(voice, line)
            present = (HERE / path).exists() and path in old
            if voice.name in chosen and not (only_missing and present):
                make_clip(voice, line, respelled)
                rows.append(_row(voice, line, voice.engine()))
            elif present:
                rows.append(_row(voice, line, old[path]["engine_version"]))
        print(f"{voice.name}: {sum(row['speaker'] == voice.name for row in rows)} clips")
    with MANIFEST.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    known = {row["file"] for row in rows}
    for path in sorted(set(clips_on_disk()) - known):
        print(f"removed {path}: nothing asks for it any more")
        (HERE / path).unlink()


def clips_on_disk() -> list[str]:
    """Paths of all clips, relative to this folder, with forward slashes."""
    return sorted(path.relative_to(HERE).as_posix() for path in HERE.glob("en/*/*.flac"))


def _clip_problems(path: str) -> Iterator[str]:
    try:
        info = soundfile.info(HERE / path)
        samples, _ = soundfile.read(HERE / path, dtype="float64")
    except soundfile.LibsndfileError as error:
        yield f"{path}: it can't be read: {error}"
        return
    form = (info.format, info.subtype, info.samplerate, info.channels)
    if form != ("FLAC", "PCM_16", RATE_HZ, 1):
        yield f"{path}: {form}, it should be FLAC, 16 bits, {RATE_HZ} Hz, one channel"
        return
    seconds = len(samples) / RATE_HZ
    if not SHORTEST_S <= seconds <= LONGEST_S:
        yield f"{path}: {seconds:.2f} s long, it should be {SHORTEST_S} to {LONGEST_S} s"
    try:
        level = active_level_db(samples, RATE_HZ)
    except BadInput as error:
        yield f"{path}: {error}"
        return
    if not LEVEL_DBFS - FAINTER_DB <= level <= LEVEL_DBFS + LOUDER_DB:
        yield f"{path}: {level:.1f} dBFS, it should be about {LEVEL_DBFS} dBFS"
    if np.abs(samples).max() > PEAK + 0.01:
        yield f"{path}: it is clipped"


def _manifest_problems(rows: list[Row]) -> Iterator[str]:
    listed = [row["file"] for row in rows]
    for path in sorted({path for path in listed if listed.count(path) > 1}):
        yield f"{path}: more than one row of the manifest"
    disk = set(clips_on_disk())
    for path in sorted(set(listed) - disk):
        yield f"{path}: in the manifest, but there is no such file"
    for path in sorted(disk - set(listed)):
        yield f"{path}: a file that the manifest does not list"
    size = sum((HERE / path).stat().st_size for path in disk)
    if size >= LIMIT_BYTES:
        yield f"all clips together take {size} bytes, the limit is {LIMIT_BYTES}"


def check(lines: Iterable[Line] | None = None, rows: list[Row] | None = None) -> list[str]:
    """All that is missing or wrong, in words; empty when every phrase has its clips."""
    lines = tuple(all_lines() if lines is None else lines)
    rows = read_manifest() if rows is None else rows
    by_file = {row["file"]: row for row in rows}
    problems = list(_manifest_problems(rows))
    for voice in VOICES:
        for line in wanted(voice, lines):
            path = clip_path(voice, line)
            row = by_file.get(path)
            if row is None:
                problems.append(f"{voice.name}: no clip of {line.transcript!r} ({line.intent})")
            elif row != _row(voice, line, row["engine_version"]):
                problems.append(f"{path}: its row in the manifest is out of date")
    for path in sorted(set(by_file) & set(clips_on_disk())):
        problems.extend(_clip_problems(path))
    return problems


def main() -> int:
    """Command line; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="make nothing, say what is wrong")
    parser.add_argument("--only", choices=["missing"], help="make only clips that are not there")
    names = [voice.name for voice in VOICES]
    parser.add_argument("--voice", choices=names, action="append", help="only this voice")
    given = parser.parse_args()
    if not given.check:
        chosen = [voice for voice in VOICES if voice.name in (given.voice or names)]
        make(chosen, only_missing=given.only == "missing")
    problems = check()
    for problem in problems:
        print(problem, file=sys.stderr)
    print(f"{len(read_manifest())} clips listed, {len(problems)} problems")
    return 1 if problems else 0


if __name__ == "__main__":
    raise SystemExit(main())
