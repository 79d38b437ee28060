"""The PDF engine alone on a folder of pages that our commands kept: what no caller of it could undercut."""

from __future__ import annotations

import multiprocessing
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path


def render(path: str) -> int:
    """One page of the folder; the number of bytes of its PDF."""
    import weasyprint
    from weasyprint.text.fonts import FontConfiguration

    page = weasyprint.HTML(string=Path(path).read_text(encoding="utf-8"))
    return len(page.write_pdf(font_config=FontConfiguration(), pdf_variant="pdf/ua-1"))


if __name__ == "__main__":
    pages = sorted(Path(sys.argv[1]).iterdir(), key=lambda path: -path.stat().st_size)
    with ProcessPoolExecutor(os.cpu_count(), mp_context=multiprocessing.get_context("spawn")) as pool:
        print(sum(pool.map(render, [str(path) for path in pages])))
