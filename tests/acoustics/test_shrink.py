"""A network made smaller against the one it was made from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from assistant.acoustics.net import Net

torch = pytest.importorskip(
    "torch", reason="torch is only for training; its wheel is too large for the test extra"
)

_BLOCKS = 4
_USED = 9


def _net() -> Net:
    """A network whose bottlenecks of 16 pass only nine combinations."""
    from assistant.acoustics.net import Block, Net, Shape  # noqa: PLC0415 - needs torch

    torch.manual_seed(4)
    net: Net = Net(Shape(width=24, narrow=16, early=2, late=((-1, 0, 1), (-4, 0, 1)))).eval()
    with torch.no_grad():
        for block in net.blocks:
            assert isinstance(block, Block)
            mixed = torch.randn(16, _USED) @ torch.randn(_USED, 72) / 20
            block.squeeze.weight.copy_(mixed)
            block.norm.running_var.uniform_(0.5, 2.0)
            block.norm.running_mean.normal_(0, 0.3)
    return net


def test_what_bottlenecks_do_not_pass_can_go() -> None:
    """With as many units as are used, the answers stay; each block keeps those it uses."""
    from assistant.acoustics.shrink import shrunk  # noqa: PLC0415 - needs torch

    net = _net()
    heard = [torch.randn(2, 120, 40) for _ in range(3)]
    small = shrunk(net, heard, _USED * _BLOCKS)
    assert small.shape.bottlenecks == (_USED,) * _BLOCKS
    other = torch.randn(2, 90, 40)
    with torch.no_grad():
        assert (net(other) - small(other)).abs().max() < 1e-3


def test_fewer_units_change_answers_a_little() -> None:
    """With fewer than are used the answers differ, more so the fewer there are."""
    from assistant.acoustics.shrink import difference, shrunk  # noqa: PLC0415 - needs torch

    net = _net()
    heard = [torch.randn(2, 120, 40) for _ in range(3)]
    apart = [difference(net, shrunk(net, heard, units), heard)[0] for units in (36, 34, 32)]
    assert 0 <= apart[0] < apart[1] < apart[2]
