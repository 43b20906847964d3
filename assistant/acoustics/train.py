"""Trains a network on synthetic speech and people's clips, on one accelerator or, slowly, without.

python -m assistant.acoustics.train DATA OUT --seconds S [--human 0.2] ...

DATA holds what `recipe` laid out: `human.json` and `human/`, `noise/`, and synthesized `*.npz`.
"""

from __future__ import annotations

import argparse
import copy
import json
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import soundfile
import torch
import torch.nn.functional as F  # noqa: N812 - its usual name
from torch import Tensor

from assistant.acoustics.augment import Augment, masked
from assistant.acoustics.bank import ANSWER_SAMPLES, Bank, Part, Piece
from assistant.acoustics.features import Cepstra
from assistant.acoustics.fragments import fragments
from assistant.acoustics.net import Net, Shape
from assistant.acoustics.scoring import chosen, log_probabilities, phone_errors

WARPS: Final = (0.84, 0.88, 0.91, 0.94, 0.97, 1.0, 1.03, 1.06, 1.1, 1.14, 1.18)


@dataclass(frozen=True, slots=True)
class Plan:
    """How to train.

    Attributes:
        seconds: of wall clock.
        rows: of ten seconds in a step.
        human: share of pieces that people speak; the rest is shared by the synthesizers.
        rate: highest learning rate.
        drop: dropout.
        shape: of the network.
        steps: at most so many.
        steady: keep the rate to the end, for a stage that another one follows.
        warm_up: steps over which the rate rises.
        parts: share of people's pieces that are parts of words, see `fragments`.
        noisy, lowest_db: see `Augment`.
        compiled: let torch fuse the network's operations; needs a C compiler. On an H100 a step of
            72 rows took 24 ms instead of 34, after 44 s.
        apart: look for each piece's phones only where it lies in its row, and for none between.
            A training of few and small steps hears phones only so: after 500 steps of four
            rows without it, a network still answered with nothing but the blank.
    """

    seconds: float
    rows: int = 72
    human: float = 0.25
    rate: float = 2e-3
    drop: float = 0.05
    shape: Shape = field(default_factory=Shape)
    steps: int = 1_000_000
    steady: bool = False
    warm_up: int = 400
    parts: float = 0.0
    apart: bool = False
    noisy: float = 0.75
    lowest_db: float = -8.0
    compiled: bool = False

    def shares(self) -> dict[str, float]:
        """Share of the pieces of each kind."""
        rest = 1 - self.human
        return {
            "human": self.human * (1 - self.parts),
            "fragment": self.human * self.parts,
            "neural": 0.60 * rest,
            "rhvoice": 0.14 * rest,
            "pico": 0.10 * rest,
            "flite": 0.08 * rest,
            "espeak": 0.08 * rest,
        }


def synthetic_pieces(folder: Path) -> list[Piece]:
    """What `synthesize` wrote; a file's kind is the beginning of its name."""
    found = []
    kinds = Plan(0).shares()
    for path in sorted(each for kind in kinds for each in folder.glob(f"{kind}-*.npz")):
        with np.load(path) as file:
            parts = {name: file[name] for name in file.files}
        start = first = 0
        for end, last in zip(parts["ends"].tolist(), parts["class_ends"].tolist(), strict=True):
            classes = parts["classes"][first:last].tolist()
            piece = Piece(parts["samples"][start:end], classes, path.stem.split("-")[0])
            if end - start > 1600 and ANSWER_SAMPLES * len(classes) < end - start < 120_000:
                found.append(piece)
            start, first = end, last
    return found


def _sound(path: Path) -> Any:  # noqa: ANN401 - an array of int16
    samples, rate = soundfile.read(path, dtype="int16", always_2d=True)
    if rate != 16_000:
        raise ValueError(f"{path}: {rate} Hz, 16000 are needed")
    return samples[:, 0]


def human_rows(folder: Path) -> list[dict[str, Any]]:
    """People's clips with their sound."""
    rows = json.loads((folder / "human.json").read_text(encoding="utf-8"))
    return [row | {"samples": _sound(folder / "human" / row["file"])} for row in rows]


def human_pieces(rows: list[dict[str, Any]]) -> list[Piece]:
    """Those of people's clips that are trained on."""
    return [
        Piece(row["samples"], row["classes"], "human", row["text"])
        for row in rows
        if row["split"] == "train"
    ]


def recorded_noise(folder: Path) -> list[Tensor]:
    """The recordings in `noise/`."""
    return [torch.from_numpy(_sound(path)) for path in sorted((folder / "noise").iterdir())]


def batch(
    bank: Bank, augment: Augment, cepstra: Cepstra, rows: int, device: str
) -> tuple[Tensor, list[list[int]], npt.NDArray[np.float64]]:
    """Cepstra, the classes of each row, and where in it each piece lies (`Bank.plan`)."""
    places, classes = bank.plan(rows)
    sound = augment(bank.sound(places, rows))
    warp = torch.randint(0, len(WARPS), (rows,), device=device)
    return cepstra.cepstra(masked(cepstra.log_mel(sound, warp))), classes, places


def _loss(scores: Tensor, classes: list[list[int]]) -> Tensor:
    lengths = torch.tensor([len(row) for row in classes])
    target = torch.tensor([one for row in classes for one in row], device=scores.device)
    answers = torch.full((len(classes),), scores.shape[1])
    loss = F.ctc_loss(
        scores.log_softmax(-1).transpose(0, 1),
        target,
        answers,
        lengths,
        reduction="sum",
        zero_infinity=True,
    )
    return loss / lengths.sum()


def _loss_apart(scores: Tensor, parts: Sequence[Part]) -> Tensor:
    logs = scores.log_softmax(-1)
    silent = torch.ones(logs.shape[:2], device=logs.device)
    for part in parts:
        silent[part.row, max(0, part.first - 1) : part.end + 1] = 0
    answers = [logs[part.row, part.first : part.end] for part in parts]
    lengths = torch.tensor([len(part.classes) for part in parts])
    loss = F.ctc_loss(
        torch.nn.utils.rnn.pad_sequence(answers),
        torch.tensor([one for part in parts for one in part.classes], device=logs.device),
        torch.tensor([len(each) for each in answers]),
        lengths,
        reduction="sum",
        zero_infinity=True,
    )
    return (loss - (logs[:, :, 0] * silent).sum()) / lengths.sum()


def measure(net: Net, device: str, rows: list[dict[str, Any]]) -> dict[str, float]:
    """Phones wrong and words chosen right, of the clips kept for tuning."""
    cepstra = Cepstra(device)
    made = {}
    for split in ("tuning", "held words"):
        some = [row for row in rows if row["split"] == split]
        if not some:
            continue
        clips = [torch.from_numpy(row["samples"]) for row in some]
        scores = log_probabilities(net, cepstra, clips)
        wanted = [row["classes"] for row in some]
        made[f"{split}: phones wrong"] = phone_errors(scores, wanted)
        texts = {row["text"]: row["classes"] for row in rows if len(row["text"].split()) == 1}
        single = [at for at, row in enumerate(some) if row["text"] in texts]
        right = sum(
            list(texts)[chosen(scores[at], list(texts.values()))] == some[at]["text"]
            for at in single
        )
        made[f"{split}: words right"] = right / max(1, len(single))
    return made


@torch.no_grad()
def _averaged(average: Net, net: Net, keep: float) -> None:
    for ours, theirs in zip(average.parameters(), net.parameters(), strict=True):
        ours.lerp_(theirs, 1 - keep)
    for ours, theirs in zip(average.buffers(), net.buffers(), strict=True):
        if ours.is_floating_point():
            ours.lerp_(theirs, 1 - keep)


def train(  # noqa: PLR0913, PLR0917 - what a training is made of
    bank: Bank,
    noise: list[Tensor],
    plan: Plan,
    device: str,
    dev: list[dict[str, Any]],
    earlier: Net | None = None,
    keep: Callable[[Net], object] = id,
) -> Net:
    """Train for the time planned, from an earlier network if there is one.

    Ten times on the way it shows how well it hears, and gives what it has to `keep`.

    Returns:
        The network of the running average of the weights.
    """
    torch.manual_seed(1)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    augment = Augment(noise, device, plan.noisy, plan.lowest_db)
    cepstra = Cepstra(device, WARPS)
    net = (earlier or Net(plan.shape)).to(device)
    if earlier is None:
        few = min(16, plan.rows)
        some = torch.cat([batch(bank, augment, cepstra, few, device)[0] for _ in range(4)])
        net.mean.copy_(some.mean((0, 1)))
        net.scale.copy_(1 / some.std((0, 1)))
    average = copy.deepcopy(net)
    heard: Callable[..., Tensor] = torch.compile(net) if plan.compiled else net
    optimizer = torch.optim.AdamW(
        net.parameters(), lr=plan.rate, weight_decay=0.01, fused=device == "cuda"
    )
    began, step, shown = time.monotonic(), 0, 0.0
    while True:
        done = max((time.monotonic() - began) / plan.seconds, step / plan.steps)
        if done >= 1:
            break
        for group in optimizer.param_groups:
            fall = 1.0 if plan.steady else max(0.01, (1 - done) / 0.75)
            group["lr"] = plan.rate * min(1.0, (step + 1) / plan.warm_up, fall)
        net.train()
        cepstra_now, classes, places = batch(bank, augment, cepstra, plan.rows, device)
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            scores = heard(cepstra_now, plan.drop)
        loss = _loss_apart(scores, bank.parts(places)) if plan.apart else _loss(scores, classes)
        optimizer.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimizer.step()
        step += 1
        _averaged(average, net, min(0.999, step / (step + 10)))
        if done - shown > 0.1:
            shown = done
            keep(average)
            _say(step, time.monotonic() - began, loss.item(), measure(average, device, dev))
    _say(step, time.monotonic() - began, loss.item(), measure(average, device, dev))
    return average


def _say(step: int, seconds: float, loss: float, measured: dict[str, float]) -> None:
    figures = ", ".join(f"{name} {value:.3f}" for name, value in measured.items())
    sys.stdout.write(f"step {step}, {seconds:.0f} s, loss a phone {loss:.3f}; {figures}\n")
    sys.stdout.flush()


def save(net: Net, path: Path, figures: dict[str, Any]) -> None:
    """Weights as 16-bit floats in one file, with the shape and figures beside them."""
    weights = {name: value.cpu() for name, value in net.state_dict().items()}
    halves = {
        name: value.numpy().astype(np.float16 if value.dim() > 1 else np.float32)
        for name, value in weights.items()
        if value.is_floating_point()
    }
    about = json.dumps({"shape": net.shape.as_dict()} | figures)
    np.savez(path, about=np.array(about), **halves)


def load(path: Path) -> tuple[Net, dict[str, Any]]:
    """What `save` wrote."""
    with np.load(path) as file:
        about = json.loads(str(file["about"]))
        given = about["shape"] | {"late": tuple(map(tuple, about["shape"]["late"]))}
        if not isinstance(given["narrow"], int):
            given["narrow"] = tuple(given["narrow"])
        net = Net(Shape(**given))
        state = {
            name: torch.from_numpy(file[name].astype(np.float32))
            for name in file.files
            if name != "about"
        }
    net.load_state_dict(state, strict=False)
    return net.eval(), about


def main(arguments: Sequence[str] | None = None) -> None:
    """Train once."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seconds", type=float, required=True)
    parser.add_argument("--rows", type=int, default=72)
    parser.add_argument("--human", type=float, default=0.25)
    parser.add_argument("--balance", type=float, default=0.7)
    parser.add_argument("--drop", type=float, default=0.05)
    parser.add_argument("--width", type=int, default=Shape().width)
    parser.add_argument("--narrow", type=int, default=Shape().narrow)
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--noisy", type=float, default=Plan(0).noisy, help="share of rows in noise")
    parser.add_argument(
        "--lowest-snr", type=float, default=Plan(0).lowest_db, help="dB, in those rows"
    )
    parser.add_argument("--recorded-noise", type=int, choices=(0, 1), default=1)
    parser.add_argument("--from", dest="earlier", type=Path, help="go on from these weights")
    parser.add_argument("--parts", type=float, default=0.0, help="needs --from")
    parser.add_argument("--warm-up", type=int, default=400, help="steps")
    parser.add_argument("--steps", type=int, default=1_000_000, help="at most so many")
    parser.add_argument("--apart", action="store_true", help="for a short training on few clips")
    parser.add_argument("--compiled", action="store_true", help="fuse operations; a C compiler")
    parser.add_argument("--steady", action="store_true", help="don't lower the rate at the end")
    given = parser.parse_args(arguments)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    rows = human_rows(given.data)
    people = human_pieces(rows)
    shape = Shape(given.width, given.narrow)
    plan = Plan(
        given.seconds,
        given.rows,
        given.human,
        given.rate,
        given.drop,
        shape,
        steady=given.steady,
        warm_up=given.warm_up,
        parts=given.parts,
        apart=given.apart,
        steps=given.steps,
        noisy=given.noisy,
        lowest_db=given.lowest_snr,
        compiled=given.compiled,
    )
    earlier = load(given.earlier)[0] if given.earlier else None
    if earlier and given.parts:
        people += fragments(
            [row for row in rows if row["split"] == "train"], earlier.to(device), device
        )
    bank = Bank([*people, *synthetic_pieces(given.data)], plan.shares(), device, given.balance)
    sys.stdout.write(f"{bank.seconds / 3600:.2f} h of speech, {plan}\n")
    noise = recorded_noise(given.data) if given.recorded_noise else []
    about = {"human": given.human, "balance": given.balance}
    kept = given.out.with_name(f"{given.out.stem}-so-far.npz")
    net = train(bank, noise, plan, device, rows, earlier, lambda some: save(some, kept, about))
    save(net, given.out, about)
    kept.unlink(missing_ok=True)


if __name__ == "__main__":
    main()
