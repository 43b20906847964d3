"""The network: a time-delay network of bottleneck blocks that ends in phones and a blank.

It hears 40 cepstra a frame of 10 ms and answers every third frame. Each block squeezes three
frames into a narrow layer, widens again and is added to what went in; batch normalization is
folded into the weights for export.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812 - its usual name
from torch import Tensor, nn

from assistant.acoustics.features import CEPSTRA
from assistant.acoustics.layers import Floats, Layer
from assistant.acoustics.phones import CLASSES

STRIDE: Final = 3
_FIRST: Final = (-2, -1, 0, 1, 2)
_NEAR: Final = (-1, 0, 1)


@dataclass(frozen=True, slots=True)
class Shape:
    """Sizes of a network.

    Attributes:
        width: of the blocks' outputs.
        narrow: of their bottlenecks; one figure for all, or one for each (see `shrink`).
        early: blocks before every third frame is kept; each looks one frame (10 ms) ahead.
        late: which answers (of 30 ms) each later block looks at. They reach back about a second,
            where the noise is heard that the words are in, and ahead a third of one.
    """

    width: int = 640
    narrow: int | tuple[int, ...] = 224
    early: int = 2
    late: tuple[tuple[int, ...], ...] = (
        _NEAR, _NEAR, _NEAR, _NEAR, _NEAR, (-2, 0, 1), (-2, 0, 1), (-3, 0, 1), (-4, 0, 1),
        (-5, 0, 1), (-6, -3, 0), (-8, -4, 0),
    )  # fmt: skip

    @property
    def bottlenecks(self) -> tuple[int, ...]:
        """Width of each block's bottleneck, from the first on."""
        if isinstance(self.narrow, int):
            return (self.narrow,) * (self.early + len(self.late))
        return self.narrow

    @property
    def before(self) -> int:
        """Frames of 10 ms before an answer's own that it depends on."""
        return 2 + self.early - STRIDE * sum(min(taps) for taps in self.late)

    @property
    def after(self) -> int:
        """The same after it."""
        return 2 + self.early + STRIDE * sum(max(taps) for taps in self.late)

    def as_dict(self) -> dict[str, Any]:
        """For a file beside the weights."""
        return asdict(self)


def _side_by_side(x: Tensor, taps: Sequence[int], stride: int = 1) -> Tensor:
    """Values of several frames as those of one, (batch, frames, taps * width)."""
    first, reach = min(taps), max(taps) - min(taps)
    last = (x.shape[1] - reach - 1) // stride * stride + 1
    return torch.cat([x[:, tap - first : tap - first + last : stride] for tap in taps], 2)


class _Normal(nn.BatchNorm1d):
    """Batch normalization of (batch, frames, width)."""

    def forward(self, input: Tensor) -> Tensor:  # noqa: A002 - torch's name
        return super().forward(input.flatten(0, 1)).view_as(input)


class Block(nn.Module):
    """One block of the network, see the module."""

    def __init__(self, width: int, narrow: int, taps: Sequence[int], stride: int = 1) -> None:
        super().__init__()
        self.taps, self.stride = tuple(taps), stride
        self.squeeze = nn.Linear(width * len(taps), narrow, bias=False)
        self.widen = nn.Linear(narrow, width, bias=False)
        self.norm = _Normal(width)

    def forward(self, x: Tensor, drop: float) -> Tensor:
        """Output of the block, with dropout while training."""
        return self.rest(x, self.squeezed(x), drop)

    def squeezed(self, x: Tensor) -> Tensor:
        """What passes the bottleneck."""
        made: Tensor = self.squeeze(_side_by_side(x, self.taps, self.stride))
        return made

    def rest(self, x: Tensor, squeezed: Tensor, drop: float = 0.0) -> Tensor:
        """The block's output, from its input and what passed the bottleneck."""
        y = F.relu(self.norm(self.widen(squeezed)))
        if drop and self.training:
            y = F.dropout(y, drop)
        here = -min(self.taps)
        last = here + (y.shape[1] - 1) * self.stride + 1
        return y + x[:, here : last : self.stride]


class Net(nn.Module):
    """See the module. `mean` and `scale` normalize the cepstra."""

    mean: Tensor
    scale: Tensor

    def __init__(self, shape: Shape) -> None:
        super().__init__()
        self.shape = shape
        self.register_buffer("mean", torch.zeros(CEPSTRA))
        self.register_buffer("scale", torch.ones(CEPSTRA))
        self.first = nn.Linear(CEPSTRA * len(_FIRST), shape.width, bias=False)
        self.norm = _Normal(shape.width)
        taps = [_NEAR] * shape.early + list(shape.late)
        self.blocks = nn.ModuleList(
            Block(shape.width, narrow, taps[at], STRIDE if at == shape.early - 1 else 1)
            for at, narrow in enumerate(shape.bottlenecks)
        )
        self.last = nn.Linear(shape.width, CLASSES)

    def forward(self, cepstra: Tensor, drop: float = 0.0) -> Tensor:
        """Unnormalized log probabilities, (batch, ceil(frames / 3), classes).

        Args:
            cepstra: (batch, frames, 40); the first and last frame are repeated around it.
            drop: dropout while training.
        """
        x = self.begun(cepstra)
        for block in self.blocks:
            x = block(x, drop)
        answers = -(-cepstra.shape[1] // STRIDE)
        return self.last(x)[:, :answers].float()

    def begun(self, cepstra: Tensor) -> Tensor:
        """What the first block hears."""
        x = ((cepstra - self.mean) * self.scale).transpose(1, 2)
        more = (-cepstra.shape[1]) % STRIDE
        x = F.pad(x, (self.shape.before, self.shape.after + more), mode="replicate")
        return F.relu(self.norm(self.first(_side_by_side(x.transpose(1, 2), _FIRST))))

    @torch.no_grad()
    def layers(self) -> Iterator[Layer]:
        """The same network as plain affine layers, without log softmax at the end."""
        weight, bias = _folded(self.first.weight, self.norm)
        weight = weight * self.scale.double().repeat(len(_FIRST))
        bias = bias - weight @ self.mean.double().repeat(len(_FIRST))
        yield Layer(_FIRST, _floats(weight), _floats(bias), relu=True)
        for number, block in enumerate(self.blocks):
            unit = STRIDE if number >= self.shape.early else 1
            nothing = np.zeros(len(block.squeeze.weight), np.float32)
            offsets = tuple(unit * tap for tap in block.taps)
            yield Layer(offsets, _floats(block.squeeze.weight), nothing)
            weight, bias = _folded(block.widen.weight, block.norm)
            yield Layer((0,), _floats(weight), _floats(bias), relu=True, residual=True)
        yield Layer((0,), _floats(self.last.weight), _floats(self.last.bias))


def _floats(values: Tensor | None) -> Floats:
    assert values is not None  # noqa: S101 - every layer exported has a bias
    return np.asarray(values.detach().float().cpu().numpy(), np.float32)


def _folded(weight: Tensor, norm: nn.BatchNorm1d) -> tuple[Tensor, Tensor]:
    """Weights and bias of a layer and the normalization after it, in one."""
    assert norm.running_mean is not None and norm.running_var is not None  # noqa: S101, PT018
    gain = norm.weight.double() / torch.sqrt(norm.running_var.double() + norm.eps)
    bias = norm.bias.double() - norm.running_mean.double() * gain
    return weight.double() * gain[:, None], bias
