"""`gloveson start`: a live job."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from assistant import people, shelf
from assistant.checklist.expand import expand, read_option
from assistant.cli.output import add_options, tell
from assistant.errors import BadInput

if TYPE_CHECKING:
    from assistant.bay import Bay
    from assistant.job.events import Earlier, Event


_LONGEST_VEHICLE: Final = 120


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    from assistant.cli import live_options  # noqa: PLC0415 - light: no audio library

    command = commands.add_parser(
        "start",
        help="a live job: microphone, loudspeaker, keys",
        description="Runs a checklist as a live job and keeps its record.",
    )
    command.add_argument("checklist", help="file or id")
    command.add_argument("--who", required=True, metavar="NAME", help="who does the job")
    command.add_argument("--second", metavar="NAME", help="second person for marked steps")
    command.add_argument(
        "--apprentice",
        action="store_true",
        help="who does the job is an apprentice: the second person reads back each safety stop too",
    )
    command.add_argument(
        "--vehicle", default="", type=_vehicle, help="plate, frame number or shop tag"
    )
    command.add_argument(
        "--kit", action="store_true", help="check the kit by voice before the first step"
    )
    command.add_argument("--job", metavar="ID", help="id of the job; from the time if left out")
    add_options(command)
    live_options.add_to(command)
    command.set_defaults(run=run)


def _vehicle(text: str) -> str:
    """What the machine is called: it goes into the record, onto screens and pages."""
    if len(text) > _LONGEST_VEHICLE or not text.isprintable():
        msg = (
            f"{text[:60]!a} is no plate, frame number or tag: up to {_LONGEST_VEHICLE} plain signs"
        )
        raise argparse.ArgumentTypeError(msg)
    return text


def run(given: argparse.Namespace) -> int:
    """Open the job and run it."""
    from assistant.cli import live  # noqa: PLC0415 - loads the audio libraries
    from assistant.job.events import Opened  # noqa: PLC0415 - as above
    from assistant.opening import open_job, setting_of, words_of  # noqa: PLC0415 - as above
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above
    from assistant.record.journal import now  # noqa: PLC0415 - as above

    loaded = shelf.load_checklist(shelf.find_checklist(given.checklist))
    options = dict(read_option(loaded, pair) for pair in given.option)
    who = people.person_id(given.who)
    second = people.person_id(given.second) if given.second else None
    if second == who:
        msg = "the second person can't be the one who does the job; name another with --second"
        raise BadInput(msg)
    plan = expand(loaded, options)
    if second is None and given.apprentice:
        msg = "an apprentice's safety stops need a second person; name one with --second NAME"
        raise BadInput(msg)
    if second is None and any(planned.step.second_person for planned in plan.steps):
        msg = "this checklist has steps for a second person; name one with --second NAME"
        raise BadInput(msg)
    live.refuse_if_unsound(loaded)
    shop = people.load_shop(jobs_home().parent)
    roster = people.roster_with(shop, given.who, given.second)
    apprentices = (who,) if given.apprentice else ()
    today = datetime.now().astimezone().date()  # calibration ends with the shop's own day
    wrenches = [wrench.for_job(today) for wrench in shop.wrenches]
    learned = _learned(plan.checklist)
    earlier = _earlier(given.vehicle, now()[0])
    setting = setting_of(plan, roster, apprentices, wrenches, learned)
    with live.gear_for(given, setting, words_of(plan.language, jobs_home().parent)) as gear:
        job = open_job(
            loaded,
            options,
            roster,
            now=now(),
            engine=gear.name,
            job=given.job,
            clips=shop.clips and not given.no_clips,
            apprentices=apprentices,
            wrenches=wrenches,
            learned=learned,
        )

        def first(bay: Bay) -> Event:
            return Opened(
                bay.stamp(), job.folder.name, given.vehicle, who, second, given.kit, earlier
            )

        return live.run_live(job, given, gear, first)


def _learned(checklist: str) -> dict[str, float]:
    """Minutes that the steps take in this shop; a job begins without them where need be."""
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above
    from assistant.store.index import INDEX_FILE  # noqa: PLC0415 - as above
    from assistant.store.pace import learned_in  # noqa: PLC0415 - as above

    jobs = jobs_home()
    try:
        return learned_in(jobs, jobs.parent / INDEX_FILE, checklist)
    except BadInput as problem:
        tell(f"expected times are the checklist's own this time: {problem}")
        return {}


def _earlier(vehicle: str, wall: str) -> tuple[Earlier, ...]:
    """What earlier jobs left open on this machine; a job begins without it where need be."""
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above
    from assistant.store.earlier import left_open  # noqa: PLC0415 - as above
    from assistant.store.index import INDEX_FILE  # noqa: PLC0415 - as above

    jobs = jobs_home()
    try:
        return left_open(jobs, jobs.parent / INDEX_FILE, vehicle, wall)
    except BadInput as problem:
        tell(f"earlier jobs on this machine are not looked through this time: {problem}")
        return ()
