"""Mail addresses as they stand where robots shall not read them: the words for their signs put back."""

from __future__ import annotations

import re

from pipeline.inputs.odd_characters import plain

# What the sign @ and the full stop are called (common practice, no source).
AT = (
    "at|kukac|zavin[aá]č?c?|ma[lł]pa|arroba|chiocciola|arobase|snabel-?a|krøll-?alfa|sobaka|собака|apestaartje|"
    "ät(?:-merkki)?"
)
DOT = "dot|punkt|punto|ponto|point|te[cč]ka|kropka|pont|piste|to[cč]ka|точка"
SIGN = re.compile(rf"\s*[\[({{<_]?\s*(?:\b(?:{AT})\b|@)\s*[\])}}>_]?\s*", re.IGNORECASE)
STOP = re.compile(rf"\s*[\[(]\s*(?:{DOT})\s*[\])]\s*", re.IGNORECASE)


def with_its_signs(text: str) -> str:
    """The text with `@` and `.` for the words that stand for them."""
    return STOP.sub(".", SIGN.sub("@", plain(text), count=1))
