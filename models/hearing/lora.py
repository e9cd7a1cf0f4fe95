"""Low-rank adapters: beside each linear map W of a network a learnt B A, added to it.

An adapter is a set of arrays: '<module>.A', rank x inputs, and '<module>.B', outputs x rank,
so that the taught weights of a module are W + B A.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor, nn

# The cross-attention's queries and keys say which sound a word belongs to. Word times are
# read off them, so they stay as they were.
LEFT = (".cross_attn.query", ".cross_attn.key")


class Adapted(nn.Module):
    """A linear map with its adapter, which adds nothing before it has learnt."""

    def __init__(self, linear: nn.Linear, rank: int) -> None:
        super().__init__()
        self.linear = linear
        device = linear.weight.device
        start = torch.randn(rank, linear.in_features, device=device)
        self.A = nn.Parameter(start / math.sqrt(linear.in_features))
        self.B = nn.Parameter(torch.zeros(linear.out_features, rank, device=device))

    def forward(self, x: Tensor) -> Tensor:
        """W x + B A x."""
        return self.linear(x) + F.linear(F.linear(x, self.A), self.B)


def adapt(network: nn.Module, rank: int) -> list[nn.Parameter]:
    """Freeze the network and put adapters into it; what is to be learnt."""
    network.requires_grad_(requires_grad=False)
    found = {
        name: module
        for name, module in network.named_modules()
        if isinstance(module, nn.Linear) and not name.endswith(LEFT)
    }
    for name, linear in found.items():
        parent, _, last = name.rpartition(".")
        setattr(network.get_submodule(parent), last, Adapted(linear, rank))
    return [p for p in network.parameters() if p.requires_grad]


def adapter_of(network: nn.Module) -> dict[str, np.ndarray[Any, np.dtype[np.float16]]]:
    """The adapter as arrays, float16."""
    return {
        f"{name}.{side}": getattr(module, side).detach().cpu().numpy().astype(np.float16)
        for name, module in network.named_modules()
        if isinstance(module, Adapted)
        for side in ("A", "B")
    }
