"""Makes a trained network smaller: each bottleneck keeps only what the sound needs.

python -m assistant.acoustics.shrink DATA WEIGHTS OUT --units 1800

A large network trains better, but few of the directions that its bottlenecks could pass are used.
Each bottleneck's own output on training sound tells which combinations matter for what comes out
of its block (principal components of that output); the least of them, over all blocks, are left
out. A unit costs the same in every block, so the blocks share a number of units.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

import torch
from torch import Tensor

from assistant.acoustics.augment import Augment
from assistant.acoustics.bank import Bank
from assistant.acoustics.features import Cepstra
from assistant.acoustics.net import Block, Net
from assistant.acoustics.train import (
    WARPS,
    Plan,
    batch,
    human_pieces,
    human_rows,
    load,
    recorded_noise,
    save,
    synthetic_pieces,
)

_ROWS: Final = 4
_TINY: Final = 1e-6


class Components(NamedTuple):
    """What one block's bottleneck passes, most important first.

    Attributes:
        share: of each component in the variance of what leaves the block.
        squeeze: the bottleneck's weights for the components, (components, taps * width).
        widen: what each adds to the output, (width, components).
    """

    share: Tensor
    squeeze: Tensor
    widen: Tensor


def components(block: Block, squeezed: Sequence[Tensor], out: Sequence[Tensor]) -> Components:
    """Principal components of what a block adds before its rectifier.

    Args:
        block: with its weights.
        squeezed: what passed its bottleneck, (batch, answers, narrow) each.
        out: what left the block.
    """
    passed = torch.cat([each.flatten(0, 1) for each in squeezed]).double()
    left = torch.cat([each.flatten(0, 1) for each in out]).double()
    spread = passed.T @ passed / len(passed)
    spread += _TINY * spread.diagonal().mean() * torch.eye(len(spread), dtype=torch.float64)
    norm = block.norm
    assert norm.running_var is not None  # noqa: S101 - batch normalization keeps it
    gain = (norm.weight / torch.sqrt(norm.running_var + norm.eps)).double()
    scaled = gain[:, None] * block.widen.weight.double()
    directions, sizes, _ = torch.linalg.svd(
        scaled @ torch.linalg.cholesky(spread), full_matrices=False
    )
    root = sizes.sqrt()
    squeeze = (directions / root).T @ scaled @ block.squeeze.weight.double()
    widen = directions * root / gain[:, None]
    share = sizes.square() / left.var(0).sum()
    return Components(share, squeeze.float(), widen.float())


@torch.no_grad()
def shrunk(net: Net, cepstra: Sequence[Tensor], units: int) -> Net:
    """The network with so many units in all bottlenecks together.

    Args:
        net: trained.
        cepstra: what it may hear, (batch, frames, 40) each.
        units: to share out, at most as many as there are; each block keeps eight at least.
    """
    net.eval()
    heard = [net.begun(each) for each in cepstra]
    found: list[Components] = []
    for block in net.blocks:
        assert isinstance(block, Block)  # noqa: S101 - there are no others
        squeezed = [block.squeezed(each) for each in heard]
        heard = [block.rest(x, y) for x, y in zip(heard, squeezed, strict=True)]
        found.append(components(block, squeezed, heard))
    shares = torch.cat([each.share for each in found]).sort(descending=True).values
    limit = shares[min(units, len(shares)) - 1]
    narrow = tuple(max(8, int((each.share >= limit).sum())) for each in found)
    small = Net(replace(net.shape, narrow=narrow))
    state = dict(net.state_dict())
    for number, (each, kept) in enumerate(zip(found, narrow, strict=True)):
        state[f"blocks.{number}.squeeze.weight"] = each.squeeze[:kept]
        state[f"blocks.{number}.widen.weight"] = each.widen[:, :kept]
    small.load_state_dict(state)
    return small.eval()


@torch.no_grad()
def difference(net: Net, small: Net, cepstra: Sequence[Tensor]) -> tuple[float, float]:
    """How the two differ: divergence an answer (Kullback-Leibler), share of other best answers."""
    before = torch.cat([net(each).log_softmax(-1).flatten(0, 1) for each in cepstra])
    after = torch.cat([small(each).log_softmax(-1).flatten(0, 1) for each in cepstra])
    apart = (before.exp() * (before - after)).sum(-1).mean()
    other = (before.argmax(-1) != after.argmax(-1)).float().mean()
    return float(apart), float(other)


def main(arguments: Sequence[str] | None = None) -> None:
    """Shrink once, and tell what it changed on other sound."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("weights", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--units", type=int, required=True, help="left in all bottlenecks")
    parser.add_argument("--rows", type=int, default=48, help="of ten seconds, to look at")
    given = parser.parse_args(arguments)
    torch.manual_seed(1)
    net, about = load(given.weights)
    plan = Plan(0)
    pieces = [*human_pieces(human_rows(given.data)), *synthetic_pieces(given.data)]
    bank = Bank(pieces, plan.shares(), "cpu")
    augment = Augment(recorded_noise(given.data), "cpu", plan.noisy, plan.lowest_db)
    cepstra = Cepstra("cpu", WARPS)
    heard = [batch(bank, augment, cepstra, _ROWS, "cpu")[0] for _ in range(-(-given.rows // _ROWS))]
    small = shrunk(net, heard, given.units)
    others = [batch(bank, augment, cepstra, _ROWS, "cpu")[0] for _ in range(4)]
    apart, other = difference(net, small, others)
    sys.stdout.write(
        f"bottlenecks {small.shape.bottlenecks}; other best answers {100 * other:.2f} %, "
        f"divergence {apart:.5f} an answer\n"
    )
    save(small, given.out, {name: value for name, value in about.items() if name != "shape"})


if __name__ == "__main__":
    main()
