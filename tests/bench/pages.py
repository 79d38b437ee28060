"""The PDF engine alone on kept pages and on one page of the old kind, in turns; prints processor seconds as JSON.

The old page has a cell for every figure and all rules of all pages. It stays as it is, so that a busy machine, another
engine or another Python changes both figures and their ratio tells what our markup costs.
"""

from __future__ import annotations

import gc
import json
import sys
import time
from pathlib import Path

from tests.bench.measure import RUNS

OLD_PAGE = Path(__file__).parent / "old_page.html"


def seconds(pages: list[Path]) -> float:
    """Processor seconds to make PDFs of some pages."""
    import weasyprint
    from weasyprint.text.fonts import FontConfiguration

    before = time.process_time()
    for page in pages:
        html = weasyprint.HTML(string=page.read_text(encoding="utf-8"))
        html.write_pdf(font_config=FontConfiguration(), pdf_variant="pdf/ua-1")
    return time.process_time() - before


if __name__ == "__main__":
    gc.disable()
    kept = sorted(Path(sys.argv[1]).iterdir())
    seconds([OLD_PAGE])
    runs = [(seconds([OLD_PAGE]), seconds(kept)) for _ in range(RUNS)]
    print(json.dumps({"old page": [old for old, _ in runs], "pages": [ours for _, ours in runs]}))
