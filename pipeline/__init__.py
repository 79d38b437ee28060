"""Mutual Moon: plans a season of moonbounce contacts, from station files to a calendar on paper."""

import os

# The matrices here are small: threads for their products wait for each other, and take eight times the processor time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
