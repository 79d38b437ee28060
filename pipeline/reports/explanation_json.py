"""An explanation as JSON: the keys of samples.csv, the headline in words and the lines, section by section."""

from __future__ import annotations

from pipeline.explain.explanation import Explanation, Line, Section
from pipeline.reports.precision import rounded_tree
from pipeline.wording.explain import headline_words, note_words, source_words


def explanation_json(explanation: Explanation) -> dict[str, object]:
    """The columns, the headline and, as `sections`, the lines."""
    columns: dict[str, object] = rounded_tree(explanation.columns)
    return columns | {
        **({"site": explanation.site} if explanation.site else {}),
        "headline": headline_words(explanation.headline),
        "sections": [_section(section) for section in explanation.sections],
    }


def _section(section: Section) -> dict[str, object]:
    return {
        "title": section.title,
        "note": note_words(section.note) if section.note else "",
        "lines": [_line(line) for line in section.lines],
    }


def _line(line: Line) -> dict[str, object]:
    return {
        "quantity": line.quantity,
        "value": rounded_tree(line.value),
        "unit": line.unit,
        "formula": line.formula,
        "source": source_words(line.source),
        "assumed": line.assumed,
    }
