"""Where templates, the demo and the fonts lie: inside an installed package, or at the top of a checkout.

A wheel carries the two top-level folders as `pipeline/templates` and `pipeline/demo`.
"""

from __future__ import annotations

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent


def _carried(inside: str, beside: str) -> Path:
    for folder in (PACKAGE / inside, PACKAGE.parent / beside):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the folder {beside} is missing from this installation; install Mutual Moon again")


def templates_folder() -> Path:
    """The Jinja2 templates and the stylesheet."""
    return _carried("templates", "templates")


def demo_folder() -> Path:
    """The demo season and its stations."""
    return _carried("demo", "stations")


def fonts_folder() -> Path:
    """The folder of Source Sans Pro in its package."""
    import font_source_sans_pro

    return Path(font_source_sans_pro.font_directory)
