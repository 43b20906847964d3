"""A network as plain affine layers, the form in which it is exported."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Layer:
    """An affine step.

    Attributes:
        offsets: frames of 10 ms whose values are put side by side.
        weight: (out, len(offsets) * in).
        bias: (out,).
        relu: whether it is rectified afterwards.
        residual: whether the value before the last residual layer is added afterwards.
    """

    offsets: tuple[int, ...]
    weight: Floats
    bias: Floats
    relu: bool = False
    residual: bool = False
