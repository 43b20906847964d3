"""Runs a quantized ONNX speech synthesizer with PyTorch, on whatever device there is.

The neural voices come as one ONNX file in which weights are 8-bit integers and activations are
quantized as they pass. Here the weights are expanded once and activations stay as they are, so
the result is what the model was before it was quantized; on an accelerator it is fast enough to
make tens of hours of speech in minutes. Only the operators of that file are known.

Integer tensors (shapes, positions) stay in main memory, so that reading them waits for nothing.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import onnx
import torch
from onnx import numpy_helper
from torch import Tensor

from assistant.acoustics.onnx_operators import OPERATORS, Operator


class OnnxOnTorch:
    """An ONNX graph that runs on a PyTorch device.

    Args:
        path: the ONNX file.
        device: "cuda" or "cpu".

    Raises:
        KeyError: the graph holds an operator that isn't known here.
    """

    def __init__(self, path: Path, device: str) -> None:
        graph = onnx.load(str(path)).graph
        self._device = device
        self._constants = {
            each.name: torch.from_numpy(np.array(numpy_helper.to_array(each)))
            for each in graph.initializer
        }
        self._steps: list[tuple[str, Operator, dict[str, Any], list[str], list[str]]] = []
        for node in graph.node:
            self._add(node)
        self._constants = {name: self._placed(value) for name, value in self._constants.items()}
        self._outputs = [output.name for output in graph.output]
        self._last_use = {
            name: at for at, step in enumerate(self._steps) for name in step[3] if name
        }

    def _add(self, node: onnx.NodeProto) -> None:
        at = {each.name: onnx.helper.get_attribute_value(each) for each in node.attribute}
        inputs, name = list(node.input), node.op_type
        while inputs and not inputs[-1]:
            inputs.pop()
        if name in {"ConvInteger", "MatMulInteger"}:
            self._expand(inputs[1], inputs[3] if len(inputs) > 3 else None)
        if name == "DynamicQuantizeLSTM":
            inputs = [inputs[0], self._lstm(node)]
        # A bias is rounded to steps of the quantized product, which isn't quantized here.
        if "quant" in node.name and (name == "Floor" or at.get("to") == 6):
            function: Operator = lambda _, x: x  # noqa: E731
        else:
            function = OPERATORS[name]
        self._steps.append((name, function, at, inputs, list(node.output)))

    def _expand(self, name: str, zero: str | None) -> None:
        weight = self._constants[name]
        if not weight.is_floating_point():
            offset = self._constants[zero].float() if zero else torch.zeros(())
            self._constants[name] = weight.float() - offset

    def _lstm(self, node: onnx.NodeProto) -> str:
        """One module for the quantized layer; its gates stand in another order in PyTorch."""
        names = list(node.input)
        key = f"lstm of {node.name}"
        parts = [self._constants[names[at]] for at in (1, 2, 3, 8, 9, 10, 11)]
        w, r, bias, w_scale, w_zero, r_scale, r_zero = (part.float() for part in parts)
        hidden = r.shape[1]
        module = torch.nn.LSTM(w.shape[1], hidden, bidirectional=w.shape[0] == 2)
        with torch.no_grad():
            for way in range(w.shape[0]):
                end = "_reverse" if way else ""
                matrices = {
                    "weight_ih_l0": (w[way] - w_zero[way]) * w_scale[way],
                    "weight_hh_l0": (r[way] - r_zero[way]) * r_scale[way],
                }
                for place, matrix in matrices.items():
                    getattr(module, place + end).copy_(_reordered(matrix.T, hidden))
                for number, place in enumerate(("bias_ih_l0", "bias_hh_l0")):
                    half = bias[way].reshape(2, -1)[number]
                    getattr(module, place + end).copy_(_reordered(half, hidden))

        def run(x: Tensor) -> Tensor:
            made, _ = module(x)
            return made.reshape(*made.shape[:2], -1, hidden).movedim(2, 1)

        module.to(self._device).eval()
        self._constants[key] = run
        return key

    def _placed(self, value: Any) -> Any:  # noqa: ANN401 - a tensor or an LSTM
        if isinstance(value, Tensor) and value.dtype not in {torch.int32, torch.int64, torch.bool}:
            return value.to(self._device)
        return value

    @torch.inference_mode()
    def __call__(self, inputs: dict[str, Tensor], keep: tuple[str, ...] = ()) -> dict[str, Tensor]:
        """Run the graph.

        Args:
            inputs: by name.
            keep: names of tensors inside the graph to give back besides its outputs.

        Returns:
            The tensors by name.
        """
        values: dict[str, Any] = dict(inputs)
        wanted = {*self._outputs, *keep}
        for at, (_, function, attributes, names, outputs) in enumerate(self._steps):
            given = [
                None if not name else values[name] if name in values else self._constants[name]
                for name in names
            ]
            made = function(attributes, *given)
            several = made if isinstance(made, tuple) else (made,)
            values |= dict(zip(outputs, several, strict=False))
            for name in names:
                if name in values and self._last_use[name] == at and name not in wanted:
                    del values[name]
        return {name: values[name] for name in wanted}


def _reordered(gates: Tensor, hidden: int) -> Tensor:
    """ONNX has input, output, forget, cell; PyTorch input, forget, cell, output."""
    i, o, f, c = gates.split(hidden)
    return torch.cat([i, f, c, o])
