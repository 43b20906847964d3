"""What voice activity, cutting and masking do to words before a recognizer hears them; figures.

Run with: python -m tests.hearing.bench_activity [EVERY]. People's words kept for tuning and the
phrasebook in the voices for tuning, each in recorded machine noise of the training split that
begins 2.5 s before it, go through the real ear; the recognizer only notes what it is given. Per
hundred utterances a row tells:

never    no utterance was begun while they were said
front    the first of them began after the first voiced sound
lead     so much noise before them was taken for their beginning: 0.6 s and more over the pre-roll
looked   a look (0.125 s of silence) came before the last voiced sound: cut in two if it convinces
early    the utterance was over before the last voiced sound
in two   they became more than one utterance
gone     an utterance was begun, but nothing of it came out: taken for a click, masked, too far off
under    measured under -3 dB, which is the bar of the pair for a value and a confirmation
masked   the ear said that noise masks speech

Then how late after the last voiced sound the last voiced frame was (median and 95 % in ms), and
measured less mixed ratio (5, 50 and 95 % in dB). Where words begin and end is where their clean
sound is less than 15.9 dB under its active level (ITU-T P.56's margin; `trial/sound.py`).

Last the same noise without words, 20 s of each recording at three levels: utterances begun a
minute, the share of the time that they last, and the processor's share of real time.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from assistant.acoustics.splits import noises, share
from assistant.acoustics.trials import Trial, synthetic, tuning
from assistant.hearing.acceptance import shipped_bars
from assistant.hearing.activity import PRE_ROLL_S
from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.engines import Recognized
from assistant.hearing.lines import Grammar
from assistant.hearing.noise import (
    MARGIN_DB,
    Samples,
    active_level_db,
    at_level_db,
    from_pcm,
    to_pcm,
    white,
)
from assistant.hearing.source import RATE, PcmSource, read_audio
from assistant.packaged import phrasebook
from assistant.soundcheck.run import grammar_of
from tests.hearing.bench_floor import SPEECH
from tests.hearing.clips import FIXTURES

LEAD_S: Final = 2.5
AFTER_S: Final = 2.0
RATIOS: Final = (None, 10.0, 5.0, 0.0)
LEVELS: Final = (-30.0, -40.0, -50.0)
_BED_S: Final = 20
_BLOCK: Final = RATE // 100
_TAKEN_BACK_S: Final = 0.15
_CHATTER: Final = "ccs_inaudible_chatter"
"""A recording of people talking: voice activity is right to find voices in it."""


@dataclass
class Note:
    """One utterance: when its sound begins, when it was looked at, when it was over, in seconds."""

    begin_s: float = 0.0
    looks: list[float] = field(default_factory=list)
    over_s: float = 0.0

    def shares(self, begin_s: float, end_s: float) -> bool:
        """Whether it holds some of these words, or came too late for them by at most 0.2 s.

        Noise that is taken back when words begin holds at most the first tenth of a second.
        """
        return self.begin_s < end_s + 0.2 and self.over_s > begin_s + _TAKEN_BACK_S


class Listening:
    """A recognizer that notes what it is given and understands nothing."""

    name = "pair"
    model = "none"

    def __init__(self) -> None:
        self.notes: list[Note] = []
        self.now_s: Callable[[], float] = lambda: 0.0
        self._fresh = False

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """None."""
        del words
        return frozenset()

    def use(self, grammar: Grammar) -> None:
        """Anything may be said."""

    def start(self) -> None:
        """A new note."""
        self.notes.append(Note())
        self._fresh = True

    def feed(self, pcm: bytes) -> None:
        """Only times matter."""
        note = self.notes[-1]
        if self._fresh:
            note.begin_s = self.now_s() - len(pcm) / (2 * RATE)
            self._fresh = False
        note.over_s = self.now_s()

    def partial(self) -> str:
        """Nothing."""
        return ""

    def glance(self) -> Recognized | None:
        """Note the look."""
        self.notes[-1].looks.append(self.now_s())
        return None

    def finish(self) -> Recognized:
        """Nothing."""
        return Recognized("", 0.0)


def listen(sound: Samples, grammar: Grammar) -> tuple[list[Note], list[Heard], bool]:
    """Every utterance that the ear makes of a sound, those it gives out, and if noise masked."""
    engine = Listening()
    ear = Ear(PcmSource(to_pcm(sound), tail_s=0.0), engine, bars=shipped_bars()["pair"])
    engine.now_s = lambda: ear.now_s
    heard: list[Heard] = []
    masked = False
    while True:
        found = ear.hear(grammar)
        if isinstance(found, Nothing):
            masked = masked or found.reason == "noise"
            if found.reason == "ended":
                return engine.notes, heard, masked
        else:
            heard.append(found)


def beds() -> list[tuple[str, Samples]]:
    """Recorded noise of the training split that is no silence."""
    found = [(path.stem, from_pcm(read_audio(path))) for path in noises(SPEECH, "train")]
    return [(name, each) for name, each in found if np.mean(each**2) > 1e-7]


def trials(every: int) -> Iterator[tuple[str, Trial]]:
    """Every so-manieth of people's tuning words, a quarter as many of the phrasebook."""
    for number, trial in enumerate(tuning(SPEECH)):
        if number % every == 0:
            yield "people", trial
    for number, trial in enumerate(synthetic(FIXTURES, "tuning")):
        if number % (4 * every) == 0:
            yield "phrases", trial


def span(clip: Samples, level_db: float) -> tuple[float, float]:
    """Begin and end of the words in a clean clip in seconds: 30 ms near the active level."""
    blocks = clip[: len(clip) // _BLOCK * _BLOCK].reshape(-1, _BLOCK)
    loud = (blocks**2).mean(axis=1) >= 10 ** ((level_db - MARGIN_DB) / 10)
    runs = np.flatnonzero(np.convolve(loud, np.ones(3), "valid") == 3)
    if not len(runs):
        return 0.0, len(clip) / RATE
    return runs[0] * _BLOCK / RATE, (runs[-1] + 3) * _BLOCK / RATE


class Tally:
    """Counts and figures of one condition."""

    def __init__(self) -> None:
        self.number = 0
        self.kinds: dict[str, int] = dict.fromkeys(
            ("never", "front", "lead", "looked", "early", "in two", "gone", "under", "masked"), 0
        )
        self.late_ms: list[float] = []
        self.errors_db: list[float] = []

    def add(self, sound: Samples, begin_s: float, end_s: float, ratio_db: float | None) -> None:
        """Let the ear hear one mixture."""
        notes, heard, masked = listen(sound, GRAMMAR)
        self.number += 1
        mine = [note for note in notes if note.shares(begin_s, end_s)]
        found = [each for each in heard if each.began_s < end_s + 0.2 and each.ended_s > begin_s]
        self._count("masked", masked)
        self._count("never", not mine)
        if not mine:
            return
        self._count("front", mine[0].begin_s > begin_s)
        self._count("lead", mine[0].begin_s < begin_s - PRE_ROLL_S - 0.6)
        looks = [look for note in mine for look in note.looks]
        self._count("looked", any(begin_s < look < end_s for look in looks))
        self._count("early", mine[-1].over_s < end_s)
        self._count("in two", len(mine) > 1)
        self._count("gone", not found)
        if found:
            self.late_ms.append(1000 * (found[-1].ended_s - end_s))
            ratios = [each.snr_db for each in found if each.snr_db is not None]
            self._count("under", bool(ratios) and max(ratios) < -3)
            if ratio_db is not None and ratios:
                self.errors_db.append(max(ratios) - ratio_db)

    def _count(self, kind: str, so: bool) -> None:
        self.kinds[kind] += so

    def row(self) -> str:
        """The figures, in order."""
        shares = " ".join(f"{100 * each / self.number:7.1f}" for each in self.kinds.values())
        late = np.percentile(self.late_ms, [50, 95]) if self.late_ms else [np.nan] * 2
        error = np.percentile(self.errors_db, [5, 50, 95]) if self.errors_db else [np.nan] * 3
        return f"{self.number:4} {shares} {late[0]:6.0f} {late[1]:5.0f}   " + " ".join(
            f"{each:+6.1f}" for each in error
        )


GRAMMAR: Final = grammar_of(phrasebook("en"))


def mixture(clip: Samples, level_db: float, noise: Samples, ratio_db: float | None) -> Samples:
    """The clip in its room, at most full scale."""
    whole = np.zeros(int((LEAD_S + AFTER_S) * RATE) + len(clip))
    at = int(LEAD_S * RATE)
    whole[at : at + len(clip)] = clip
    if ratio_db is None:
        bed = at_level_db(white(len(whole), 1), -70.0)
    else:
        bed = at_level_db(np.resize(noise, len(whole)), level_db - ratio_db)
    peak = float(np.abs(whole).max() + np.abs(bed).max())
    return (whole + bed) * min(1.0, 0.99 / peak)


def words(every: int, found: list[tuple[str, Samples]]) -> None:
    """Print the table of what becomes of words."""
    tallies: dict[tuple[str, float | None], Tally] = {}
    for kind, trial in trials(every):
        clip = from_pcm(read_audio(trial.path))
        level_db = active_level_db(clip, RATE)
        begin_s, end_s = span(clip, level_db)
        key = f"{trial.path.parent.name} {trial.path.name}"
        _, noise = found[int(share(key) * len(found))]
        turned = np.roll(noise, -int(share(f"from {key}") * len(noise)))
        for ratio in RATIOS:
            sound = mixture(clip, level_db, turned, ratio)
            tally = tallies.setdefault((kind, ratio), Tally())
            tally.add(sound, LEAD_S + begin_s, LEAD_S + end_s, ratio)
    titles = " ".join(f"{each:>7}" for each in Tally().kinds)
    sys.stdout.write(f"{'':14}   n {titles}   late   95%   error 5 %, 50 %, 95 %\n")
    for (kind, ratio), tally in tallies.items():
        name = "clean" if ratio is None else f"{ratio:.0f} dB"
        sys.stdout.write(f"{kind:8}{name:>6} {tally.row()}\n")
    sys.stdout.flush()


def alone(found: list[tuple[str, Samples]]) -> None:
    """Print what noise alone begins."""
    for level_db in LEVELS:
        begun, lasted, longest, sound_s = 0, 0.0, 0.0, 0.0
        spent = time.process_time()
        for name, noise in found:
            if name == _CHATTER:
                continue
            bed = np.clip(at_level_db(np.resize(noise, _BED_S * RATE), level_db), -0.99, 0.99)
            notes, _, _ = listen(bed, GRAMMAR)
            lengths = [note.over_s - note.begin_s for note in notes]
            begun += len(notes)
            lasted += sum(lengths)
            longest = max([longest, *lengths])
            sound_s += _BED_S
        spent = time.process_time() - spent
        sys.stdout.write(
            f"noise alone at {level_db:.0f} dBFS: {60 * begun / sound_s:.2f} begun a minute,"
            f" {lasted / sound_s:.1%} of the time, longest {longest:.1f} s;"
            f" processor {spent / sound_s:.2%}\n"
        )
        sys.stdout.flush()


def main() -> None:
    """Print both tables."""
    every = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    found = beds()
    words(every, found)
    alone(found)


if __name__ == "__main__":
    main()
