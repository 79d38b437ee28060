"""Who asks for a slot, who must answer and by when: from the slot's state and the season's `letters.reply_by`."""

from __future__ import annotations

import datetime as dt

from pipeline.wording import formats
from pipeline.wording.words import CONFIRMED, PROPOSED, TENTATIVE


def answer_words(state: str, home: str, partner: str, reply_by: dt.date | None) -> str:
    """`QM7TOR asks, QK3RED answers by Sat 20 Feb`; what is agreed waits for nobody."""
    by = f"by {formats.day(reply_by)}" if reply_by else "soon, no date is set"
    return {
        PROPOSED: f"{home} asks, {partner} answers {by}",
        TENTATIVE: f"{home} asked, {partner} said perhaps and decides {by}",
        CONFIRMED: f"agreed between {home} and {partner}",
    }.get(state, "")
