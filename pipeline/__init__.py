"""Mutual Moon: plans a season of moonbounce contacts, from station files to a calendar on paper."""

import os

# The matrices here are small: threads for their products wait for each other, and take eight times the processor time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# No other package's plugins look at what is read here; to search for them takes longer than to read a station file.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

__version__ = "0.1.0"
