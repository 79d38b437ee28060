"""Reads station and season files (YAML) into frozen dataclasses and says in plain words what is wrong with them."""
