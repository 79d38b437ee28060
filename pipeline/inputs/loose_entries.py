"""Entries and groups without keys: points, landmarks and hours in bare figures and words, each given its keys."""

from __future__ import annotations

import re

from pipeline.inputs import entries_said, groups_said
from pipeline.inputs.yaml_tree import Tree

# What parts one value from the next.
ENDS = " \t,;|"


def entries_of(key: str, text: str) -> list[dict[str, str]]:
    """Keys and values of a group, or of each entry of a list, that has no keys; none where none is sure."""
    if key == "horizon":
        return [
            dict(zip(("azimuth_deg", "elevation_deg"), pair, strict=True)) for pair in entries_said.points_said(text)
        ]
    if key == "landmarks":
        where = re.fullmatch(
            r"([^\W\d].*?)[\s:=,;]+(-?\d+[.,]\d+)[,;/\s]+(-?\d+[.,]\d+)", text.strip(f"{ENDS}{{}}[]()")
        )
        if where:
            return [
                {
                    "name": where[1],
                    "latitude_deg": where[2].replace(",", "."),
                    "longitude_deg": where[3].replace(",", "."),
                }
            ]
        found = re.fullmatch(r"([^\W\d].*?)[\s:=,;]+(\d+(?:[.,]\d+)?)\s*°?", text.strip(f"{ENDS}{{}}[]()"))
        return [{"name": found[1], "azimuth_deg": found[2].replace(",", ".")}] if found else []
    if key == "available":
        if entries_said.UNIVERSAL.search(text):
            return []
        hours = entries_said.stretches_said(text)
        return [{"days": ", ".join(one.days), "from": one.start, "to": one.end} for one in hours]
    advice = groups_said.group_advice(Tree("", {}, {}), (key,), text.strip(f"{ENDS}{{}}[]()"))
    inside = re.fullmatch(r"write \{([^{}]*)\}\.", advice or "")
    if not inside or "..." in inside[1]:
        return []
    return [dict(re.findall(r"(\w+): ([^,]+)", inside[1]))]
