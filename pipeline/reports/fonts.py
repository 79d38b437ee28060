"""Source Sans Pro for the pages: by file for the PDF, as small embedded subsets for the self-contained HTML.

The weights are light for titles, regular and semibold; the font's licence (OFL) allows both uses.
"""

from __future__ import annotations

import base64
from io import BytesIO
from pathlib import Path

from pipeline.reports.places import fonts_folder

WEIGHTS = {300: "Light", 400: "Regular", 600: "Semibold"}
FAMILY = "Source Sans Pro"


def _face(weight: int, source: str) -> str:
    return f'@font-face {{ font-family: "{FAMILY}"; font-weight: {weight}; src: {source}; }}'


def faces_by_file() -> str:
    """`@font-face` rules that point into the package's folder."""
    files = {weight: fonts_folder() / f"SourceSansPro-{name}.otf" for weight, name in WEIGHTS.items()}
    return "\n".join(_face(weight, f'url("{file.as_uri()}")') for weight, file in files.items())


def faces_embedded(text: str) -> str:
    """`@font-face` rules that carry the glyphs which `text` needs; the same text gives the same bytes."""
    characters = "".join(sorted(set(text)))
    rules = []
    for weight, name in WEIGHTS.items():
        data = base64.b64encode(_subset(fonts_folder() / f"SourceSansPro-{name}.otf", characters)).decode()
        rules.append(_face(weight, f'url("data:font/woff2;base64,{data}") format("woff2")'))
    return "\n".join(rules)


def _subset(file: Path, characters: str) -> bytes:
    from fontTools import subset
    from fontTools.ttLib import TTFont

    options = subset.Options(
        flavor="woff2", layout_features=["kern", "tnum", "lnum"], hinting=False, desubroutinize=True
    )
    options.recalc_timestamp = False
    with TTFont(file, recalcTimestamp=False) as font:
        subsetter = subset.Subsetter(options)
        subsetter.populate(text=characters)
        subsetter.subset(font)
        font.flavor = "woff2"
        target = BytesIO()
        font.save(target)
    return target.getvalue()
