"""Derives `usual_letters.json`: the letters of nearly every page as embedded fonts, so that no run cuts them anew.

From Source Sans Pro of the package font-source-sans-pro (SIL Open Font License 1.1), through `reports.fonts`.
Run by hand: python -m pipeline.data.derive_usual_letters
"""

from __future__ import annotations

import base64
import json
from pathlib import Path

from pipeline.reports.fonts import USUAL, USUAL_LETTERS, WEIGHTS, fonts_folder, subset


def main() -> None:
    """Write the table beside this module."""
    fonts = {
        str(weight): base64.b64encode(subset(fonts_folder() / f"SourceSansPro-{name}.otf", USUAL)).decode()
        for weight, name in WEIGHTS.items()
    }
    table = {"letters": USUAL, "woff2": fonts}
    Path(USUAL_LETTERS).write_text(json.dumps(table, indent=1, ensure_ascii=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
