"""Noise rises in words: one figure with its doubt, or that this antenna cannot show it."""

from __future__ import annotations

from pipeline.wording import formats
from pipeline.wording.safe_side import rounded


def with_doubt(rise_db: float, doubt_db: float) -> str:
    """`11.2 ± 0.6 dB` in one piece; the doubt is rounded up, so that it is never told smaller than it is."""
    doubt = max(rounded(doubt_db, "up", 1), 0.1)
    return f"{formats.signed(rise_db, 1)} ± {doubt:.1f} dB".replace(" ", "\N{NO-BREAK SPACE}")


def not_with_this(antenna: str, rise_db: float) -> str:
    """`Not with this dish: 0.3 dB.`"""
    return f"Not with this {antenna}: {formats.signed(rise_db, 1)} dB."
