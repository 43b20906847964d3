"""Puts a rehearsal together: voice, room, ear, record, people."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assistant.checklist.loader import Loaded
from assistant.checklist.model import OptionValue
from assistant.engines import open_engine
from assistant.enrolled import VoiceAtWork
from assistant.hearing.room import Room
from assistant.opening import open_job
from assistant.record.audit import audit
from assistant.rehearsal.audible import AudibleMouth
from assistant.rehearsal.cast import Cast
from assistant.rehearsal.play import Rehearsal, RehearsalClock, WatchedEar, result
from assistant.rehearsal.script import Script
from assistant.rehearsal.track import save_track
from assistant.speaking.file_mouth import FileMouth
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.renderer import Renderer

_CAST_VOICE = "en-gb"


@dataclass(frozen=True, slots=True)
class Stage:
    """What a rehearsal is to be.

    Attributes:
        checklist: loaded and whole.
        options: chosen values.
        engine: as `assistant.engines.open_engine` takes it.
        noise: kind of noise, with `snr_db` how far speech stands above it; None: a quiet room.
        realtime: let time pass as a person would hear it.
        out: folder that the record goes into.
        show: takes each line of the dialogue.
        kit: the kit is checked first.
        clips: whether replies are kept as sound.
        enrollment: whether the enrolled voice of who is at work is used.
    """

    checklist: Loaded
    script: Script
    options: Mapping[str, OptionValue]
    engine: str
    noise: str | None
    snr_db: float | None
    realtime: bool
    out: Path
    show: Callable[[str], None]
    kit: bool = False
    clips: bool = True
    enrollment: bool = True


def play_on(stage: Stage) -> dict[str, Any]:
    """Play the rehearsal; returns what `rehearse --json` prints."""
    engine = open_engine(stage.engine)
    room = Room(stage.noise or "quiet", stage.snr_db, realtime=stage.realtime)
    roster = {person: known.name for person, known in stage.script.people.items()}
    clock = RehearsalClock()
    with Renderer() as voice, Renderer(_CAST_VOICE) as second_voice:
        job = open_job(
            stage.checklist,
            stage.options,
            roster,
            now=(clock.wall(), clock.mono()),
            engine=f"{engine.name}: {engine.model}",
            jobs=stage.out,
            clips=stage.clips,
            apprentices=[p for p, known in stage.script.people.items() if known.apprentice],
        )
        mouth = _mouth(stage, voice)
        beside = VoiceAtWork(engine, roster, lambda said: stage.show(f"  {job.words.shown(said)}"))
        try:
            played = Rehearsal(
                job,
                stage.script.for_steps(
                    {planned.id for planned in job.setting.plan.steps},
                    {step.step for _, _, step in stage.checklist.steps()},
                ),
                cast=Cast(stage.script.people, second_voice),
                ear=WatchedEar(room, beside.engine if stage.enrollment else engine),
                room=room,
                mouth=mouth,
                clock=clock,
                show=stage.show,
                realtime=stage.realtime,
                kit=stage.kit,
                at_work=beside.at_work if stage.enrollment else None,
            )
            played.play()
        finally:
            mouth.close()
            job.keeper.journal.close()
    heard = save_track(mouth, stage.out / f"{job.folder.name}.flac")
    checked = audit(job.folder)
    return {
        **result(job, played, stage.engine),
        "audit": {"ok": checked.ok, "entries": checked.entries, "problem": checked.problem},
        "heard": str(heard),
    }


def _mouth(stage: Stage, voice: Renderer) -> FileMouth:
    if stage.realtime:
        return AudibleMouth(voice, Loudspeaker(), stage.show)
    return FileMouth(voice)
