"""Runs a command of ours with the PDF engine taken out: the pages it would render are kept in a folder instead."""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Mapping
from pathlib import Path

from pipeline.cli import run
from pipeline.reports import pdf, rendering


def main(kept: Path, words: list[str]) -> int:
    """The command's exit code."""

    def keep(documents: Mapping[str, rendering.Document], *_: object, **__: object) -> dict[str, bytes]:
        for path, document in documents.items():
            name = hashlib.sha256(path.encode()).hexdigest()[:16]
            (kept / f"{name}.html").write_text(document.html, encoding="utf-8")
        return dict.fromkeys(documents, b"%PDF-kept as HTML")

    def keep_one(html: str, *_: object) -> bytes:
        (kept / f"{hashlib.sha256(html.encode()).hexdigest()[:16]}.html").write_text(html, encoding="utf-8")
        return b"%PDF-kept as HTML"

    # Leaflets call the engine by its module.
    pdf.render = keep_one
    # Those who took the function by name before have it still: they are imported here, then handed the other one.
    import pipeline.letters.making
    import pipeline.reports.writing  # noqa: F401

    for module in list(sys.modules.values()):
        if module.__name__.startswith("pipeline.") and hasattr(module, "render_documents"):
            module.render_documents = keep  # type: ignore[attr-defined]
    sys.argv = ["mutual-moon", *words]
    return run()


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2:]))
