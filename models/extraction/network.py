"""The network: a small pretrained encoder that also sees what the rules found.

Input per token: its word pieces, and five features (thing kind, number shape, label,
date, respelled) whose embeddings are added to the piece embeddings. On the token states
stand plain linear heads, and three pointers:

    fact -> hive mention, none, all  which hive the fact is about
    fact -> date or none             when, if not today
    number -> fact or none           which fact a number belongs to

Only the encoder becomes an ONNX graph; the heads are small and are kept as arrays.
"""

from __future__ import annotations

from typing import Any

import torch
from torch import Tensor, nn

from fieldvoice.extraction.places import BETWEEN_SIZE, FAR_SIZE, SENTENCES_SIZE

WIDTH = 128


class Encoder(nn.Module):
    """Word pieces and features to states, as one graph."""

    def __init__(self, bert: Any, feature_sizes: tuple[int, ...]) -> None:
        super().__init__()
        self.bert = bert
        self.features = nn.ModuleList(
            nn.Embedding(n, bert.config.hidden_size) for n in feature_sizes
        )
        for table in self.features:
            nn.init.normal_(table.weight, std=0.02)

    def forward(self, pieces: Tensor, features: Tensor, mask: Tensor) -> Tensor:
        """Pieces and mask [b, p], features [b, p, 5] -> states [b, p, h]."""
        embedded = self.bert.embeddings.word_embeddings(pieces)
        for number, table in enumerate(self.features):
            # feature 0 is "nothing found" and adds nothing
            found = features[..., number]
            embedded = embedded + table(found) * (found > 0).unsqueeze(-1)
        return self.bert(inputs_embeds=embedded, attention_mask=mask).last_hidden_state


class Pointer(nn.Module):
    """Scores of candidates for a query, and of answers besides them: none, or all hives."""

    def __init__(self, size: int, besides: int = 1) -> None:
        super().__init__()
        self.query = nn.Linear(size, WIDTH)
        self.key = nn.Linear(size, WIDTH)
        self.none = nn.Linear(size, besides)
        self.far = nn.Embedding(FAR_SIZE, 1)
        self.sentence = nn.Embedding(SENTENCES_SIZE, 1)
        self.between = nn.Embedding(BETWEEN_SIZE, 1)
        for table in (self.far, self.sentence, self.between):
            nn.init.zeros_(table.weight)

    def forward(self, query: Tensor, keys: Tensor, places: Tensor) -> Tensor:
        """query [n, h], keys [m, h], places [n, m, 3] (bucket indices) -> [n, m + besides]."""
        score = self.query(query) @ self.key(keys).T / WIDTH**0.5
        score = score + self.far(places[..., 0]).squeeze(-1)
        score = score + self.sentence(places[..., 1]).squeeze(-1)
        score = score + self.between(places[..., 2]).squeeze(-1)
        return torch.cat([score, self.none(query)], dim=1)


class Heads(nn.Module):
    """All that is read off the token states."""

    def __init__(self, size: int, sizes: dict[str, int]) -> None:
        super().__init__()
        self.fact = nn.Sequential(nn.Linear(size, size), nn.GELU(), nn.Dropout(0.2))
        self.anchor = nn.Linear(size, 1)
        self.of_fact = nn.ModuleDict(
            {k: nn.Linear(size, n) for k, n in sizes.items() if k in FACT_HEADS}
        )
        self.number = nn.Sequential(nn.Linear(size, size), nn.GELU(), nn.Dropout(0.2))
        self.of_number = nn.ModuleDict(
            {k: nn.Linear(size, n) for k, n in sizes.items() if k in NUMBER_HEADS}
        )
        self.pointers = nn.ModuleDict(
            {"hive": Pointer(size, 2), "date": Pointer(size), "value": Pointer(size)}
        )


FACT_HEADS = ("kind", "action", "status", "item")
NUMBER_HEADS = ("role", "unit")


class Network(nn.Module):
    """Encoder and heads."""

    def __init__(self, bert: Any, feature_sizes: tuple[int, ...], sizes: dict[str, int]) -> None:
        super().__init__()
        self.encoder = Encoder(bert, feature_sizes)
        self.heads = Heads(bert.config.hidden_size, sizes)
        self.dropout = nn.Dropout(0.1)
