"""The torque wrench in hand: which one, whether it may be used, and what it is set to."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.checklist.fastening import Torque, Wrench
from assistant.checklist.tray import wrench_setting
from assistant.job.effects import Line, line
from assistant.job.state import JobState, Setting, ShopWrench
from assistant.trade.wrenches import TorqueWrench, choose


@dataclass(frozen=True, slots=True)
class Fitting:
    """A wrench for a torque.

    Attributes:
        torque: the step's, with this wrench written in.
    """

    name: str
    torque: Torque

    @property
    def set_to(self) -> str:
        """What the wrench shows, in its own unit."""
        return str(wrench_setting(self.torque, self.torque.value))

    def line(self) -> Line:
        """The wrench with its setting, as it is said with the torque."""
        adapter = self.torque.adapter
        if adapter is not None:
            return line(
                "step.wrench_adapter", wrench=self.name, adapter=adapter.name, setting=self.set_to
            )
        return line("step.wrench", wrench=self.name, setting=self.set_to)


def fitting(setting: Setting, state: JobState, torque: Torque) -> Fitting | None:
    """The wrench for a torque: the one in hand, else the shop's smallest that covers it.

    Where the shop names none of its own, the one that the checklist means.
    """
    wrench = _in_hand(setting, state) or _smallest(setting, torque)
    if wrench is not None and refused(wrench, torque) is None:
        return Fitting(wrench.name, torque.model_copy(update={"wrench": _as_written(wrench)}))
    if torque.wrench is not None and not setting.wrenches:
        return Fitting(torque.wrench.name, torque)
    return None


def wrench_lines(setting: Setting, state: JobState, torque: Torque) -> tuple[Line, ...]:
    """What is said of the wrench beside a torque; nothing where no wrench is known."""
    found = fitting(setting, state, torque)
    if found is not None:
        return (found.line(),)
    return (line("wrench.none_fits"),) if setting.wrenches else ()


def _in_hand(setting: Setting, state: JobState) -> ShopWrench | None:
    return next((w for w in setting.wrenches if w.name == state.wrench), None)


def _smallest(setting: Setting, torque: Torque) -> ShopWrench | None:
    usable = {w.name: w for w in setting.wrenches if not w.past_calibration}
    found = choose((w.wrench for w in usable.values()), torque.value)
    return usable[found[0].name] if found else None


def refused(wrench: ShopWrench, torque: Torque | None) -> Line | None:
    """Why a wrench may not be used for a torque, or None."""
    if wrench.past_calibration:
        return line("wrench.past_calibration", wrench=wrench.name)
    if torque is None:
        return None
    if not wrench.wrench.covers(torque.value):
        low, high = wrench.wrench.from_, wrench.wrench.most
        return line(
            "wrench.out_of_range", wrench=wrench.name, low=low, high=high, value=torque.value
        )
    if torque.adapter is not None and wrench.wrench.lever is None:
        return line("wrench.no_lever", wrench=wrench.name, adapter=torque.adapter.name)
    return None


def _as_written(wrench: ShopWrench) -> Wrench:
    """A shop's wrench as a checklist would write it."""
    own: TorqueWrench = wrench.wrench
    return Wrench(name=own.name, most=own.most, least=own.least, lever=own.lever)
