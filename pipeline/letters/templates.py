"""Letters through Jinja: our templates, or the user's own of the same name in `templates/` beside the season file.

A template of one's own runs in a sandbox: it can print what it is given and reach nothing else.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from jinja2 import ChoiceLoader, Environment, FileSystemLoader, StrictUndefined, TemplateSyntaxError
from jinja2.sandbox import ImmutableSandboxedEnvironment

from pipeline.reports.light_columns import in_halves
from pipeline.reports.page import printed
from pipeline.reports.places import templates_folder

FOLDER = "templates"
LETTER_TEXT, LETTER_HTML = "letter.txt.jinja", "letter.html.jinja"
MESSAGE, WINDOWS = "message.txt.jinja", "windows.html.jinja"
# The page takes it in, so that it may be replaced alone.
STYLE = "style.css"


class TemplateFault(RuntimeError):
    """A template of the user's own cannot be used; the text is one sentence."""


class Templates:
    """Renders the letters' templates of one season folder."""

    def __init__(self, season_folder: Path | None = None) -> None:
        own = season_folder / FOLDER if season_folder is not None else None
        self.own = {path.name for path in own.iterdir()} if own is not None and own.is_dir() else set()
        ours = FileSystemLoader(templates_folder())
        loader = ChoiceLoader([FileSystemLoader(own), ours]) if own is not None and self.own else ours
        self.environment: Environment = ImmutableSandboxedEnvironment(
            loader=loader,
            autoescape=lambda name: name is not None and ".html" in name,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            keep_trailing_newline=True,
            finalize=printed,
        )
        self.environment.filters["in_halves"] = in_halves

    def is_own(self, name: str) -> bool:
        """Whether the user has replaced it, or what it takes in."""
        return name in self.own or (name == WINDOWS and STYLE in self.own)

    def render(self, name: str, **values: Any) -> str:
        """The filled template; TemplateFault where one of the user's own fails, whatever it does."""
        if not self.is_own(name):
            return self.environment.get_template(name).render(**values)
        try:
            return self.environment.get_template(name).render(**values)
        except Exception as error:
            raise TemplateFault(self.sentence(name, error)) from error

    def sentence(self, name: str, error: Exception) -> str:
        """What is wrong, and where as far as known."""
        said = " ".join(str(error).split()) or type(error).__name__
        line = f" line {error.lineno}:" if isinstance(error, TemplateSyntaxError) else _line_of(error, name)
        return f"{FOLDER}/{name}:{line} {said}; mend it, or move it away to use the template that comes with us"


def _line_of(error: Exception, name: str) -> str:
    """The line of the template in the error's trace."""
    trace, found = error.__traceback__, ""
    while trace is not None:
        if trace.tb_frame.f_code.co_filename.endswith(name):
            found = f" line {trace.tb_lineno}:"
        trace = trace.tb_next
    return found
