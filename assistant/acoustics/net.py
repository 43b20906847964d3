"""The network: a time-delay network of bottleneck blocks that ends in phones and a blank.

It hears 40 cepstra a frame of 10 ms and answers every third frame. Each block squeezes three
frames into a narrow layer, widens again and is added to what went in; batch normalization is
folded into the weights for export. Context is `Shape.context` frames on either side.
"""

from __future__ import annotations

from collections.abc import Iterator
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


@dataclass(frozen=True, slots=True)
class Shape:
    """Sizes of a network.

    Attributes:
        width: of the blocks' outputs.
        narrow: of their bottlenecks.
        early: blocks before every third frame is kept; each looks one frame (10 ms) ahead.
        late: how many answers (30 ms) each later block looks ahead and back.
    """

    width: int = 640
    narrow: int = 192
    early: int = 2
    late: tuple[int, ...] = (1, 1, 1, 1, 1, 1, 2, 2)

    @property
    def context(self) -> int:
        """Frames of 10 ms that an answer depends on, on either side."""
        return 2 + self.early + STRIDE * sum(self.late)

    def as_dict(self) -> dict[str, Any]:
        """For a file beside the weights."""
        return asdict(self)


class _Block(nn.Module):
    def __init__(self, shape: Shape, dilation: int, stride: int = 1) -> None:
        super().__init__()
        self.dilation, self.stride = dilation, stride
        self.squeeze = nn.Conv1d(
            shape.width, shape.narrow, 3, stride=stride, dilation=dilation, bias=False
        )
        self.widen = nn.Conv1d(shape.narrow, shape.width, 1, bias=False)
        self.norm = nn.BatchNorm1d(shape.width)

    def forward(self, x: Tensor, drop: float) -> Tensor:
        y = F.relu(self.norm(self.widen(self.squeeze(x))))
        if drop and self.training:
            y = F.dropout(y, drop)
        kept = x[:, :, self.dilation : x.shape[2] - self.dilation : self.stride]
        return y + kept


class Net(nn.Module):
    """See the module. `mean` and `scale` normalize the cepstra."""

    mean: Tensor
    scale: Tensor

    def __init__(self, shape: Shape) -> None:
        super().__init__()
        self.shape = shape
        self.register_buffer("mean", torch.zeros(CEPSTRA))
        self.register_buffer("scale", torch.ones(CEPSTRA))
        self.first = nn.Conv1d(CEPSTRA, shape.width, 5, bias=False)
        self.norm = nn.BatchNorm1d(shape.width)
        early = [
            _Block(shape, 1, STRIDE if at == shape.early - 1 else 1) for at in range(shape.early)
        ]
        self.blocks = nn.ModuleList([*early, *(_Block(shape, ahead) for ahead in shape.late)])
        self.last = nn.Conv1d(shape.width, CLASSES, 1)

    def forward(self, cepstra: Tensor, drop: float = 0.0) -> Tensor:
        """Unnormalized log probabilities, (batch, ceil(frames / 3), classes).

        Args:
            cepstra: (batch, frames, 40); the first and last frame are repeated around it.
            drop: dropout while training.
        """
        context = self.shape.context
        x = ((cepstra - self.mean) * self.scale).transpose(1, 2)
        more = (-cepstra.shape[1]) % STRIDE
        x = F.pad(x, (context, context + more), mode="replicate")
        x = F.relu(self.norm(self.first(x)))
        for block in self.blocks:
            x = block(x, drop)
        answers = -(-cepstra.shape[1] // STRIDE)
        return self.last(x).transpose(1, 2)[:, :answers].float()

    @torch.no_grad()
    def layers(self) -> Iterator[Layer]:
        """The same network as plain affine layers, without log softmax at the end."""
        weight, bias = _folded(self.first.weight, self.norm)
        weight = weight * self.scale.double()[None, :, None]
        bias = bias - (weight * self.mean.double()[None, :, None]).sum((1, 2))
        yield Layer((-2, -1, 0, 1, 2), _side_by_side(weight), _floats(bias), relu=True)
        for number, block in enumerate(self.blocks):
            ahead = block.dilation * (STRIDE if number >= self.shape.early else 1)
            nothing = np.zeros(self.shape.narrow, np.float32)
            yield Layer((-ahead, 0, ahead), _side_by_side(block.squeeze.weight), nothing)
            weight, bias = _folded(block.widen.weight, block.norm)
            yield Layer((0,), _side_by_side(weight), _floats(bias), relu=True, residual=True)
        yield Layer((0,), _side_by_side(self.last.weight), _floats(self.last.bias))


def _floats(values: Tensor | None) -> Floats:
    assert values is not None  # noqa: S101 - every layer exported has a bias
    return np.asarray(values.detach().float().cpu().numpy(), np.float32)


def _side_by_side(weight: Tensor) -> Floats:
    return _floats(weight.permute(0, 2, 1).reshape(weight.shape[0], -1))


def _folded(weight: Tensor, norm: nn.BatchNorm1d) -> tuple[Tensor, Tensor]:
    """Weights and bias of a convolution and the normalization after it, in one."""
    assert norm.running_mean is not None and norm.running_var is not None  # noqa: S101, PT018
    gain = norm.weight.double() / torch.sqrt(norm.running_var.double() + norm.eps)
    bias = norm.bias.double() - norm.running_mean.double() * gain
    return weight.double() * gain[:, None, None], bias
