"""The exported layers against the network that was trained."""

from __future__ import annotations

import numpy as np
import pytest

torch = pytest.importorskip(
    "torch", reason="torch is only for training; its wheel is too large for the test extra"
)


def test_exported_layers_answer_like_the_network() -> None:
    """Affine layers applied frame by frame give what the network gives, every third frame."""
    from assistant.acoustics.net import Net, Shape  # noqa: PLC0415 - needs torch

    torch.manual_seed(2)
    net = Net(Shape(width=24, narrow=8, early=2, late=((-1, 0, 1), (-4, 0, 1), (-6, -3, 0))))
    for module in net.modules():
        if isinstance(module, torch.nn.BatchNorm1d):
            module.running_mean.normal_(0, 0.3)
            module.running_var.uniform_(0.5, 2.0)
    net.mean.normal_()
    net.scale.uniform_(0.5, 2.0)
    net.eval()
    cepstra = torch.randn(1, 90, 40)
    with torch.no_grad():
        wanted = net(cepstra)[0].numpy()
    around = net.shape.before, net.shape.after
    values = np.pad(cepstra[0].numpy(), (around, (0, 0)), mode="edge")
    block = values
    for layer in net.layers():
        spliced = np.concatenate([np.roll(values, -at, axis=0) for at in layer.offsets], axis=1)
        values = spliced @ layer.weight.T + layer.bias
        if layer.relu:
            values = np.maximum(values, 0)
        if layer.residual:
            values = values + block
        if layer.relu:
            block = values
    found = values[around[0] : -around[1] : 3]
    assert found.shape == wanted.shape
    assert np.abs(found - wanted).max() < 1e-3
