"""The words of operators in `data/operator_words.yaml`: what they call keys, choices, notes, and what nobody knows."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import yaml

WORDS_FILE = Path(__file__).resolve().parent.parent / "data" / "operator_words.yaml"


@cache
def words_table() -> dict[str, Any]:
    """`keys` and `choices` by the word of the contract, `numbers` by their words, others as lists; all texts."""
    # The reader of stations rests on these words, so that this file is read without it; in C, where there is that, in a
    # tenth of the time.
    loader = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
    table: dict[str, Any] = yaml.load(WORDS_FILE.read_text("utf-8"), Loader=loader)
    return table
