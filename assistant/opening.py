"""Opening a job and taking one up again: checklist, people, record and texts put together."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from assistant import __version__, packaged, shelf
from assistant.checklist.expand import expand
from assistant.checklist.loader import Loaded
from assistant.checklist.model import OptionValue
from assistant.checklist.plan import Plan
from assistant.errors import BadInput, RecordDamaged
from assistant.job.machine import advance
from assistant.job.serial import wrench_from_data, wrench_to_data
from assistant.job.state import JobState, Mode, Setting, ShopWrench
from assistant.job.table import ALARMS
from assistant.record.entry import Entry
from assistant.record.folder import is_job_id, jobs_home, new_job_id, taken_ids
from assistant.record.journal import Journal
from assistant.record.journal import now as clock
from assistant.record.keeper import (
    KEPT,
    Header,
    RecordKeeper,
    copies_folder,
    events_in,
    header_in,
)
from assistant.record.signing import ShopKey
from assistant.shop_phrases import with_shop_phrases
from assistant.words import Words

_NOTHING_LEARNED: Mapping[str, float] = MappingProxyType({})
_MOST_PLANS = 50
_plans: dict[object, Plan] = {}
_NAMED_SLOTS = ("unit", "part", "reason", "trouble")


@dataclass(frozen=True, slots=True)
class OpenJob:
    """A job with its record open and locked by this process."""

    setting: Setting
    words: Words
    keeper: RecordKeeper
    state: JobState
    header: Header

    @property
    def folder(self) -> Path:
        """The record folder."""
        return self.keeper.journal.folder

    def refuse_stranger(self, person: str) -> None:
        """Only people of the job's roster may take it up.

        Raises:
            BadInput: this person isn't on it; names who is.
        """
        if person not in self.setting.roster:
            names = ", ".join(self.setting.roster)
            msg = f'"{person}" is not on the roster of this job: {names}'
            raise BadInput(msg)


def setting_of(
    plan: Plan,
    roster: Mapping[str, str],
    apprentices: Iterable[str] = (),
    wrenches: Iterable[ShopWrench] = (),
    learned: Mapping[str, float] = _NOTHING_LEARNED,
) -> Setting:
    """The fixed setting of a job in the plan's language."""
    book = packaged.phrasebook(plan.language)
    names = {
        slot: {value: ways[0] for value, ways in book.slots[slot].items()}
        for slot in _NAMED_SLOTS
        if slot in book.slots
    }
    # An alarm is kept as a trouble; it is called by the phrase that raised it.
    names["trouble"] = {**names.get("trouble", {}), **{a: book.taught(a) for a in ALARMS}}
    stops = packaged.stop_texts(plan.language)
    return Setting(
        plan,
        stops,
        names,
        dict(roster),
        apprentices=frozenset(apprentices),
        wrenches=tuple(wrenches),
        units=book.slots.get("unit", {}),
        learned=dict(learned),
    )


def words_of(language: str, home: Path | None = None) -> Words:
    """The texts of a language, with the phrases that a shop has added in its own folder.

    Raises:
        BadFile: the shop's phrases are not right.
    """
    book = packaged.phrasebook(language)
    return Words(
        book=book if home is None else with_shop_phrases(book, home),
        prompts=packaged.prompts(language),
        wording=packaged.wording(language),
        numbers=packaged.numbers_of(language),
        keys=packaged.keys(language),
    )


def open_job(  # noqa: PLR0913 - the facts of a new job
    loaded: Loaded,
    options: Mapping[str, OptionValue],
    roster: Mapping[str, str],
    *,
    now: tuple[str, float],
    engine: str,
    jobs: Path | None = None,
    job: str | None = None,
    clips: bool = True,
    apprentices: Iterable[str] = (),
    wrenches: Iterable[ShopWrench] = (),
    learned: Mapping[str, float] = _NOTHING_LEARNED,
) -> OpenJob:
    """Begin a job: its record exists on disk, with copies of the checklist, when this returns.

    Args:
        loaded: the checklist.
        options: chosen values; the rest have their defaults.
        roster: person id -> display name.
        now: wall time (RFC 3339) and monotonic seconds.
        engine: the recogniser, for the record.
        jobs: folder of all jobs; the user's own if left out.
        job: id of the job; from the time if left out.
        clips: whether what is said is kept as sound.
        apprentices: ids of those whose safety stops a second person reads back too.
        wrenches: the shop's torque wrenches.
        learned: step id -> minutes that it takes in this shop.

    Raises:
        BadInput: bad option or job id, or the job exists.
        JournalUnwritable: the record can't be begun.
    """
    plan = expand(loaded, options)
    home = jobs or jobs_home()
    wall, mono = now
    if job is not None and not is_job_id(job):
        msg = f"{job!r} can't be the id of a job: use small letters, digits and single hyphens"
        raise BadInput(msg)
    key = ShopKey.load(jobs_home().parent)
    journal = Journal.create(home / (job or new_job_id(wall, taken_ids(home))))
    keeper = RecordKeeper(journal, clips=clips, key=key)
    main = Path(loaded.file).name
    header = Header(
        program=__version__,
        language=plan.language,
        main=main,
        checklist=plan.checklist,
        version=plan.version,
        sha256=plan.sha256,
        options=dict(plan.options),
        stops_sha256=packaged.stop_texts(plan.language).sha256,
        roster=dict(roster),
        engine=engine,
        apprentices=tuple(apprentices),
        source=str(Path(loaded.file).absolute()),
        wrenches=tuple(wrench_to_data(wrench) for wrench in wrenches),
        learned=dict(learned),
        clips=clips,
    )
    try:
        copies = {source.name: source.text.encode() for source in loaded.sources}
        keeper.begin(header, copies, wall, mono)
    except BaseException:
        journal.close()
        raise
    setting = setting_of(plan, roster, header.apprentices, _wrenches(header), header.learned)
    words = words_of(plan.language, jobs_home().parent)
    return OpenJob(setting, words, keeper, JobState(), header)


class Follower:
    """A job's state made from its entries as they are read; it holds none of them.

    Attributes:
        state: after the last entry taken.
        clips: whether replies' sound is kept at that point.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._begun: tuple[Header, Setting] | None = None
        self.state = JobState()
        self.clips = True

    def take(self, entry: Entry) -> None:
        """The next entry; the first must be the header.

        Raises:
            RecordDamaged: it isn't one this program knows, or the record's checklist is not the
                one the job was begun with.
        """
        if self._begun is None:
            header = header_in(self._folder.name, [entry])
            self._begun = header, setting_from_record(self._folder, header)
            self.clips = header.clips is not False
        elif entry.kind == KEPT:
            self.clips = entry.data.get("kept") is not False
        for event in events_in(self._folder.name, [entry]):
            self.state, _ = advance(self._begun[1], self.state, event)

    def begun(self) -> tuple[Header, Setting]:
        """What the first entry fixed.

        Raises:
            RecordDamaged: there was none.
        """
        if self._begun is None:
            header_in(self._folder.name, [])
        assert self._begun is not None  # noqa: S101 - header_in refuses a record without entries
        return self._begun


def resume_job(folder: Path, *, clips: bool = True) -> OpenJob:
    """Take a job up again from its record alone: the state is the replay of its events.

    A job that keeps no sound goes on without; `clips` off says in the record that it stops here.

    Raises:
        BadInput: no such job, or it is sealed, or nothing was ever begun in it.
        JobInUse: another process has it.
        RecordDamaged: the record does not verify, or its checklist is not the one it was begun
            with.
    """
    follower = Follower(folder)
    journal = Journal.open(folder, reader=follower.take)
    try:
        return _taken_up(journal, follower, clips=clips)
    except BaseException:
        journal.close()
        raise


def _taken_up(journal: Journal, follower: Follower, *, clips: bool) -> OpenJob:
    if journal.sealed:
        msg = f"job {journal.job} is released and sealed; nothing can be added to it"
        raise BadInput(msg)
    header, setting = follower.begun()
    if follower.state.mode is Mode.NEW:
        msg = f"job {journal.job} was never begun; nothing is in its record. Start another one"
        raise BadInput(msg)
    key = ShopKey.load(jobs_home().parent)
    keeper = RecordKeeper(journal, clips=follower.clips, key=key)
    if follower.clips and not clips:
        keeper.keep_no_clips(*clock())
    words = words_of(header.language, jobs_home().parent)
    return OpenJob(setting, words, keeper, follower.state, header)


def changed_since(header: Header) -> bool:
    """Whether the checklist's file is still there but no longer what the job began with."""
    if not header.source or not Path(header.source).exists():
        return False
    try:
        return shelf.load_checklist(header.source).sha256 != header.sha256
    except BadInput:
        return True  # it can't be read as a checklist any more


def setting_from_record(folder: Path, header: Header) -> Setting:
    """The setting of a recorded job, from the copies in its record.

    Raises:
        RecordDamaged: the copies are not what the header says.
    """
    plan = _plan(folder, header)
    try:
        wrenches = _wrenches(header)
        return setting_of(plan, header.roster, header.apprentices, wrenches, header.learned)
    except ValueError as error:
        msg = f"job {folder.name}: the record's header: {error}"
        raise RecordDamaged(msg) from error


def _plan(folder: Path, header: Header) -> Plan:
    """The plan of a record's copies; the last few dozen are kept, since many jobs share one."""
    copies = copies_folder(folder)
    try:
        key = (_digests(copies), header.main, header.sha256, repr(header.options))
        if key in _plans:
            return _plans[key]
        loaded = shelf.load_checklist(copies / header.main)
    except (BadInput, OSError) as error:
        msg = f"job {folder.name}: the record's copy of the checklist can't be read: {error}"
        raise RecordDamaged(msg) from error
    if loaded.sha256 != header.sha256:
        msg = f"job {folder.name}: the record's checklist is not the one the job was begun with"
        raise RecordDamaged(msg)
    if len(_plans) >= _MOST_PLANS:
        _plans.pop(next(iter(_plans)))
    _plans[key] = expand(loaded, header.options)
    return _plans[key]


def _digests(copies: Path) -> tuple[tuple[str, str], ...]:
    """Each copy by its name with its SHA-256."""
    found = []
    for path in sorted(one for one in copies.rglob("*") if one.is_file()):
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        found.append((path.relative_to(copies).as_posix(), digest))
    return tuple(found)


def _wrenches(header: Header) -> tuple[ShopWrench, ...]:
    return tuple(wrench_from_data(data) for data in header.wrenches)
