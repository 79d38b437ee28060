"""Mutual Moon: plans a season of moonbounce contacts, from station files to a calendar on paper."""

__version__ = "0.1.0"
