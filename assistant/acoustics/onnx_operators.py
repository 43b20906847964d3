"""The ONNX operators of a quantized speech synthesizer, in PyTorch.

Nothing is quantized here: scales are one and zero points nought, weights come expanded.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import torch
import torch.nn.functional as F  # noqa: N812 - its usual name
from onnx import numpy_helper
from torch import Tensor

Operator = Callable[..., Any]

_TYPES = {1: torch.float32, 6: torch.int32, 7: torch.int64, 9: torch.bool, 11: torch.float64}
OPERATORS: dict[str, Operator] = {}
"""By ONNX name: (attributes, inputs...) -> output or outputs."""


def _operator(function: Operator) -> Operator:
    OPERATORS[function.__name__.lstrip("_")] = function
    return function


def _ints(tensor: Tensor) -> list[int]:
    return [int(value) for value in tensor.reshape(-1).tolist()]


def _binary(function: Callable[[Tensor, Tensor], Tensor]) -> Operator:
    def run(_: dict[str, Any], a: Tensor, b: Tensor) -> Tensor:
        if a.device != b.device:
            device = a.device if b.device.type == "cpu" else b.device
            a, b = a.to(device), b.to(device)
        return function(a, b)

    return run


def _divide(a: Tensor, b: Tensor) -> Tensor:
    if a.is_floating_point():
        return a / b
    return torch.div(a, b, rounding_mode="trunc")


OPERATORS |= {
    name: _binary(function)
    for name, function in {
        "Add": torch.add,
        "Sub": torch.sub,
        "Mul": torch.mul,
        "Div": _divide,
        "Pow": torch.pow,
        "MatMul": torch.matmul,
        "Equal": torch.eq,
        "Greater": torch.gt,
        "Less": torch.lt,
        "GreaterOrEqual": torch.ge,
        "And": torch.logical_and,
    }.items()
}
OPERATORS |= {
    name: lambda _, x, function=function: function(x)
    for name, function in {
        "Sqrt": torch.sqrt,
        "Sin": torch.sin,
        "Cos": torch.cos,
        "Exp": torch.exp,
        "Atan": lambda x: torch.atan(x).nan_to_num(0.0),  # the phase of nothing: 0/0
        "Tanh": torch.tanh,
        "Sigmoid": torch.sigmoid,
        "Floor": torch.floor,
        "Round": torch.round,
    }.items()
}


@_operator
def _DynamicQuantizeLinear(_: dict[str, Any], x: Tensor) -> tuple[Tensor, Tensor, Tensor]:  # noqa: N802
    """Not quantized: scale one, zero point nought."""
    return x, torch.ones(()), torch.zeros(())


@_operator
def _DequantizeLinear(_: dict[str, Any], x: Tensor, scale: Tensor, zero: Tensor) -> Tensor:  # noqa: N802
    return (x.float() - zero.float().to(x.device)) * scale.to(x.device)


@_operator
def _MatMulInteger(_: dict[str, Any], a: Tensor, b: Tensor, *_zeros: Tensor) -> Tensor:  # noqa: N802
    return a @ b


def _paddings(at: dict[str, Any]) -> tuple[int, int]:
    before, after = at.get("pads", [0, 0])
    return before, after


@_operator
def _ConvInteger(at: dict[str, Any], x: Tensor, w: Tensor, *_zeros: Tensor) -> Tensor:  # noqa: N802
    return _Conv(at, x, w)


@_operator
def _Conv(at: dict[str, Any], x: Tensor, w: Tensor, b: Tensor | None = None) -> Tensor:  # noqa: N802
    before, after = _paddings(at)
    if before != after:
        x, before = F.pad(x, (before, after)), 0
    stride, dilation = at.get("strides", [1])[0], at.get("dilations", [1])[0]
    return F.conv1d(x, w, b, stride, before, dilation, at.get("group", 1))


@_operator
def _ConvTranspose(at: dict[str, Any], x: Tensor, w: Tensor, b: Tensor | None = None) -> Tensor:  # noqa: N802
    more = at.get("output_padding", [0])[0]
    padding, stride = _paddings(at)[0], at["strides"][0]
    return F.conv_transpose1d(x, w, b, stride, padding, more, at.get("group", 1))


@_operator
def _DynamicQuantizeLSTM(at: dict[str, Any], x: Tensor, *given: Tensor | None) -> Tensor:  # noqa: N802
    del at
    module: Any = given[0]
    return module(x)


@_operator
def _Cast(at: dict[str, Any], x: Tensor) -> Tensor:  # noqa: N802
    return x.to(_TYPES[at["to"]])


@_operator
def _Shape(_: dict[str, Any], x: Tensor) -> Tensor:  # noqa: N802
    return torch.tensor(x.shape, dtype=torch.int64)


@_operator
def _Gather(at: dict[str, Any], x: Tensor, index: Tensor) -> Tensor:  # noqa: N802
    axis = at.get("axis", 0) % x.dim()
    index = index.to(x.device).long()
    flat = x.index_select(axis, index.reshape(-1) % x.shape[axis])
    return flat.reshape([*x.shape[:axis], *index.shape, *x.shape[axis + 1 :]])


@_operator
def _Unsqueeze(_: dict[str, Any], x: Tensor, axes: Tensor) -> Tensor:  # noqa: N802
    for axis in sorted(_ints(axes)):
        x = x.unsqueeze(axis)
    return x


@_operator
def _Squeeze(_: dict[str, Any], x: Tensor, axes: Tensor) -> Tensor:  # noqa: N802
    for axis in sorted(_ints(axes), reverse=True):
        x = x.squeeze(axis)
    return x


@_operator
def _Reshape(_: dict[str, Any], x: Tensor, shape: Tensor) -> Tensor:  # noqa: N802
    wanted = [x.shape[at] if size == 0 else size for at, size in enumerate(_ints(shape))]
    return x.reshape(wanted)


@_operator
def _ReduceMean(at: dict[str, Any], x: Tensor, axes: Tensor) -> Tensor:  # noqa: N802
    return x.mean(_ints(axes), keepdim=bool(at.get("keepdims", 1)))


@_operator
def _ReduceSum(at: dict[str, Any], x: Tensor, axes: Tensor) -> Tensor:  # noqa: N802
    return x.sum(_ints(axes), keepdim=bool(at.get("keepdims", 1)))


@_operator
def _Transpose(at: dict[str, Any], x: Tensor) -> Tensor:  # noqa: N802
    return x.permute(at["perm"])


@_operator
def _Split(at: dict[str, Any], x: Tensor, sizes: Tensor) -> tuple[Tensor, ...]:  # noqa: N802
    return x.split(_ints(sizes), at.get("axis", 0))


@_operator
def _Concat(at: dict[str, Any], *parts: Tensor) -> Tensor:  # noqa: N802
    device = next((part.device for part in parts if part.device.type != "cpu"), parts[0].device)
    return torch.cat([part.to(device) for part in parts], at["axis"])


@_operator
def _Slice(  # noqa: N802
    _: dict[str, Any],
    x: Tensor,
    starts: Tensor,
    ends: Tensor,
    axes: Tensor | None = None,
    steps: Tensor | None = None,
) -> Tensor:
    first, last = _ints(starts), _ints(ends)
    which = _ints(axes) if axes is not None else range(len(first))
    each = _ints(steps) if steps is not None else [1] * len(first)
    for start, end, axis, step in zip(first, last, which, each, strict=True):
        index = [slice(None)] * x.dim()
        index[axis] = slice(start, min(end, 1 << 40), step)
        x = x[tuple(index)]
    return x


@_operator
def _LeakyRelu(at: dict[str, Any], x: Tensor) -> Tensor:  # noqa: N802
    return F.leaky_relu(x, at.get("alpha", 0.01))


@_operator
def _LayerNormalization(at: dict[str, Any], x: Tensor, w: Tensor, b: Tensor) -> Tensor:  # noqa: N802
    return F.layer_norm(x, w.shape, w, b, at["epsilon"])


@_operator
def _SkipLayerNormalization(  # noqa: N802, PLR0913, PLR0917 - as ONNX has it
    at: dict[str, Any], x: Tensor, skip: Tensor, w: Tensor, b: Tensor, bias: Tensor | None = None
) -> Tensor:
    whole = x + skip if bias is None else x + skip + bias
    return F.layer_norm(whole, w.shape, w, b, at["epsilon"])


@_operator
def _FastGelu(_: dict[str, Any], x: Tensor, bias: Tensor | None = None) -> Tensor:  # noqa: N802
    return F.gelu(x if bias is None else x + bias, approximate="tanh")


@_operator
def _FusedMatMul(at: dict[str, Any], a: Tensor, b: Tensor) -> Tensor:  # noqa: N802
    a = a.transpose(-1, -2) if at.get("transA") else a
    b = b.transpose(-1, -2) if at.get("transB") else b
    return (a.to(b.device) if b.device.type != "cpu" else a) @ b.to(a.device) * at["alpha"]


@_operator
def _Softmax(at: dict[str, Any], x: Tensor) -> Tensor:  # noqa: N802
    return x.softmax(at.get("axis", -1))


@_operator
def _Where(_: dict[str, Any], where: Tensor, a: Tensor, b: Tensor) -> Tensor:  # noqa: N802
    device = next((t.device for t in (where, a, b) if t.device.type != "cpu"), where.device)
    return torch.where(where.to(device), a.to(device), b.to(device))


@_operator
def _ConstantOfShape(at: dict[str, Any], shape: Tensor) -> Tensor:  # noqa: N802
    value = torch.from_numpy(numpy_helper.to_array(at["value"]).copy())
    return value.expand(_ints(shape)).clone()


@_operator
def _Expand(_: dict[str, Any], x: Tensor, shape: Tensor) -> Tensor:  # noqa: N802
    return x.expand(torch.broadcast_shapes(tuple(x.shape), tuple(_ints(shape))))


@_operator
def _Resize(at: dict[str, Any], x: Tensor, *given: Tensor | None) -> Tensor:  # noqa: N802
    scales = next(each for each in given if each is not None)
    factor = float(scales.reshape(-1)[-1])
    if at["mode"] == b"nearest":
        return x.repeat_interleave(round(factor), -1)
    return F.interpolate(x, scale_factor=factor, mode="linear", align_corners=False)


@_operator
def _CumSum(_: dict[str, Any], x: Tensor, axis: Tensor) -> Tensor:  # noqa: N802
    return x.cumsum(int(axis))


@_operator
def _Range(_: dict[str, Any], start: Tensor, end: Tensor, step: Tensor) -> Tensor:  # noqa: N802
    return torch.arange(int(start), int(end), int(step))


@_operator
def _Pad(at: dict[str, Any], x: Tensor, pads: Tensor, *_value: Tensor) -> Tensor:  # noqa: N802
    sides = _ints(pads)
    return F.pad(x, (sides[x.dim() - 1], sides[-1]), mode=at["mode"].decode())


@_operator
def _Clip(_: dict[str, Any], x: Tensor, low: Tensor, *_high: Tensor) -> Tensor:  # noqa: N802
    return x.clamp(min=float(low))


@_operator
def _STFT(_: dict[str, Any], x: Tensor, step: Tensor, window: Tensor, size: Tensor) -> Tensor:  # noqa: N802
    wave = x.reshape(x.shape[0], -1)
    made = torch.stft(wave, int(size), int(step), window=window, center=False, return_complex=True)
    return torch.view_as_real(made.transpose(1, 2))


@_operator
def _NonZero(_: dict[str, Any], x: Tensor) -> Tensor:  # noqa: N802
    return x.nonzero().T


@_operator
def _ScatterND(_: dict[str, Any], x: Tensor, index: Tensor, new: Tensor) -> Tensor:  # noqa: N802
    made = x.clone()
    made[tuple(index.to(x.device).movedim(-1, 0))] = new.to(x.device)
    return made
