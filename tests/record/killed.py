"""One job whose program is killed, life after life, and what its record then holds."""

from __future__ import annotations

import re
import shutil
import signal
import threading
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from assistant.record.folder import is_job_id
from tests.end_to_end.running import NO_LOUDSPEAKER, Live, environment, gloveson
from tests.end_to_end.shift import CHECKLIST, Shift, entries_of
from tests.record.calls import CALLS

_ACKNOWLEDGED = re.compile(r"(^|[:.] )(Logged\.|The job is released\.)$")
_SPARE_LIVES = 2
"""After the last kill: one may be needed to begin the job anew, no more to end it."""

_LONG_S = 40.0


@dataclass(frozen=True)
class Cut:
    """How a life of the program ends.

    Attributes:
        kind: "instant" (after its start), "rehearsal" (the same, spoken), "typed" (after a line
            was typed), "logged" (after an acknowledgment was on the screen) or "call" (on entering
            a system call).
        answers: answered whole before the one in question.
        wait_s: from that moment to the kill, seconds.
        call: the system call's name.
        when: the how-manieth of that name on the job's folder.
    """

    kind: str
    answers: int = 0
    wait_s: float = 0.0
    call: str = ""
    when: int = 0


@dataclass
class Killed:
    """What became of one job.

    Attributes:
        kills: lives that were ended by a kill, not by the job's own end.
        not_begun: kills before the job was open, with no more than a header on record; another
            job was then started.
        acknowledged: confirmations, readings and releases that the screen told, all lives.
        lost: acknowledged or on record, and after a kill not on record.
        doubled: on record twice, or more replies on record than lines were typed.
        released: it went on to its release and seal.
        audit_ok: `gloveson audit` says so of the sealed record.
        wrong: what went against the rules, in words.
    """

    row: str
    kills: int = 0
    not_begun: int = 0
    acknowledged: int = 0
    lost: int = 0
    doubled: int = 0
    released: bool = False
    audit_ok: bool = False
    wrong: list[str] = field(default_factory=list)


class Traced(Live):
    """A live job that the kernel kills on entering a system call, or whose calls are listed."""

    def __init__(self, home: Path, folder: Path, extra: list[str], *arguments: str) -> None:
        names = ["", "journal.jsonl", "clips", "checklist", "checklist/shared"]
        names += [f"checklist/{CHECKLIST}.yaml"]
        names += [f"checklist/shared/{name}.yaml" for name in ("secure-machine", "full-lock-check")]
        paths = [word for name in names for word in ("-P", str(folder / name).rstrip("/"))]
        trace = ["strace", "-f", "-qq", "-o", str(home / "calls"), *paths]
        trace += ["-e", f"trace={','.join(CALLS)}", *extra]
        super().__init__(home, *arguments, environment=environment(home), under=trace)


def acknowledgments(screen: list[str]) -> int:
    """How many confirmations, readings and releases the screen has told."""
    return sum(_ACKNOWLEDGED.search(line) is not None for line in screen)


@dataclass
class Player:
    """Plays one job over as many lives as it takes.

    Attributes:
        order: what an undisturbed job acknowledges, in its order.
    """

    home: Path
    order: list[str]
    result: Killed
    name: str = "kill-1"

    def __post_init__(self) -> None:
        """The folder for jobs is there, as after any earlier job."""
        (self.home / "jobs").mkdir(parents=True)
        self.shift = Shift(self.home / "jobs" / self.name)

    def sealed(self) -> bool:
        """Whether the record is closed."""
        entries = entries_of(self.shift.folder)
        return bool(entries) and entries[-1].kind == "sealed"

    def begun(self) -> bool:
        """Whether more than the record's header is there: the job has been opened."""
        return len(entries_of(self.shift.folder)) > 1

    def open(self, cut: Cut | None) -> Live:
        """The program, starting the job or going on with it."""
        words = ["resume", self.name] if self.begun() else ["start", CHECKLIST, "--job", self.name]
        words += ["--who", "Mara", "--typed", *NO_LOUDSPEAKER]
        if cut is not None and cut.kind == "rehearsal":
            words = ["rehearse", CHECKLIST, "--out", str(self.home / "jobs")]
        if cut is not None and cut.kind == "call":
            inject = ["-e", f"inject={cut.call}:signal=KILL:when={cut.when}"] if cut.when else []
            return Traced(self.home, self.shift.folder, inject, *words)
        return Live(self.home, *words, environment=environment(self.home))

    def life(self, cut: Cut | None) -> None:
        """One life of the program, cut short or to the job's end, and what is on record then."""
        before, seen = self.shift.agreed(), len(entries_of(self.shift.folder))
        job = self.open(cut)
        timer = threading.Timer(cut.wait_s if cut is not None else 0.0, job.child.kill)
        if cut is not None and cut.kind in ("instant", "rehearsal"):
            timer.start()
        spoken = cut is not None and cut.kind == "rehearsal"
        typed = 0 if spoken else self.answers(job, cut, seen)
        code = job.wait(_LONG_S if self.sealed() or spoken else 5.0)
        timer.cancel()
        if spoken:
            self._find()
        self.result.kills += code == -signal.SIGKILL
        self.result.acknowledged += acknowledgments(job.screen)
        self.check(str(cut), before, acknowledgments(job.screen))
        heard = sum(entry.kind == "heard" for entry in entries_of(self.shift.folder)[seen:])
        if not spoken and heard > typed:
            self.result.doubled += heard - typed
            self.result.wrong.append(f"{cut}: {heard} replies on record, {typed} typed")
        if code == -signal.SIGKILL and not self.begun():
            self._anew(job)
        elif code not in (0, -signal.SIGKILL) or (code == 0 and not self.sealed()):
            self.result.wrong.append(f"{cut}: ended with {code}: {job.screen[-3:]}")

    def answers(self, job: Live, cut: Cut | None, seen: int) -> int:
        """Answer until the job or the program is over; returns how many lines were typed."""
        typed = 0
        self.shift.waits(job, seen, _LONG_S)
        while not self.sealed() and job.child.poll() is None:
            due = cut is not None and typed >= cut.answers
            entries, screen = len(entries_of(self.shift.folder)), len(job.screen)
            typed += 1
            job.type(self.shift.words())
            if cut is not None and due and cut.kind == "typed":
                return _kill_after(job, cut.wait_s, typed)
            if not self.shift.waits(job, entries, _LONG_S) and job.child.poll() is None:
                self.result.wrong.append(f"{cut}: no answer: {job.screen[-3:]}")
                return _kill_after(job, 0.0, typed)
            if cut is not None and due and cut.kind == "logged" and _told(job, screen):
                return _kill_after(job, cut.wait_s, typed)
        return typed

    def _find(self) -> None:
        """A rehearsal chooses its job's name itself."""
        found = [path for path in (self.home / "jobs").iterdir() if is_job_id(path.name)]
        if found:
            self.name = found[0].name
            self.shift = Shift(found[0])

    def check(self, what: str, before: list[str], told: int) -> None:
        """What was on record is, what the screen told is, and nothing is there twice.

        Args:
            what: the life and its end, for people.
            before: what was on record when it began.
            told: how many acknowledgments its screen had.
        """
        after = self.shift.agreed()
        lost = max(0, len(before) + told - len(after), len(set(before) - set(after)))
        twice = len(after) - len(set(after))
        self.result.lost += lost
        self.result.doubled += twice
        if lost or twice or set(after) != set(self.order[: len(after)]):
            text = f"{what}: {told} told after {before}; then on record: {after}"
            self.result.wrong.append(text)

    def _anew(self, job: Live) -> None:
        """Killed before the job was open: nobody was told of a job, and another one is begun."""
        self.result.not_begun += 1
        if job.screen:
            self.result.wrong.append(f"there is no job, and the screen said {job.screen}")
        ran = gloveson(self.home, "resume", self.name, "--typed")
        said = any(words in ran.err for words in ("there is no job", "was never begun"))
        if ran.code not in (1, 2) or not said or "Traceback" in ran.err:
            self.result.wrong.append(f"resume of what had not begun: {ran.code} {ran.err}")
        self.name = f"kill-{self.result.not_begun + 1}"
        self.shift = Shift(self.home / "jobs" / self.name)


def _kill_after(job: Live, wait_s: float, typed: int) -> int:
    time.sleep(wait_s)
    job.child.kill()
    return typed


def _told(job: Live, after: int) -> bool:
    """Whether the screen tells an acknowledgment after this line, soon after the journal has it."""
    end = time.monotonic() + 0.1
    while time.monotonic() < end:
        if acknowledgments(job.screen[after:]):
            return True
        time.sleep(0.001)
    return False


def play(home: Path, row: str, cuts: Sequence[Cut], order: list[str]) -> Killed:
    """One job: a life for each cut, as long as it isn't over, then one to its end."""
    player = Player(home / "job", order, Killed(row))
    for cut in [*cuts, *[None] * _SPARE_LIVES]:
        player.life(cut)
        if player.sealed() or player.result.wrong:
            break
    player.result.released = player.sealed() and player.shift.agreed()[-1:] == ["release"]
    ran = gloveson(player.home, "audit", player.name, "--json")
    found = ran.json() if ran.code == 0 else {}
    player.result.audit_ok = bool(found.get("ok") and found.get("seal"))
    if not player.result.released or not player.result.audit_ok:
        player.result.wrong.append(f"not released, or the audit: {ran.out} {ran.err}")
    if not player.result.wrong:
        shutil.rmtree(home)
    return player.result


def undisturbed(home: Path) -> tuple[list[str], float]:
    """What a job acknowledges that nobody kills, in its order, and how long it takes, seconds."""
    player, order = Player(home / "job", [], Killed("")), list[str]()
    begun = time.monotonic()
    job = player.open(None)
    seen = 0
    while not player.sealed():
        assert player.shift.waits(job, seen), job.screen
        order += [thing for thing in player.shift.agreed() if thing not in order]
        seen = len(entries_of(player.shift.folder))
        if not player.sealed():
            job.type(player.shift.words())
    assert job.wait() == 0
    life_s = time.monotonic() - begun
    assert acknowledgments(job.screen) == len(order), (job.screen, order)
    return order, life_s


def calls_of_a_life(home: Path, order: list[str]) -> list[tuple[str, int]]:
    """(call, its number) for every call that a typed job makes on its folder, in its order."""
    player = Player(home / "job", order, Killed(""))
    player.life(Cut("call"))
    assert player.sealed()
    assert not player.result.wrong, player.result.wrong
    log = (player.home / "calls").read_text(encoding="utf-8")
    numbers: Counter[str] = Counter()
    found = []
    for call in re.findall(r"^\d+ +(\w+)\(", log, re.MULTILINE):
        numbers[call] += 1
        found.append((call, numbers[call]))
    return found
