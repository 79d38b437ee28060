"""`record/uid_key.txt`: the random part behind the identifiers of slots, drawn once and kept for life.

Nobody can make up the identifier of a slot from calls and month: a keyed hash (RFC 2104) of its name stands in it, and
each partner sees the hashes of its own slots alone. Only `letters` draws, and only where there is no key yet.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from pathlib import Path

from pipeline.inputs.bounds import UID_KEY as SIZE
from pipeline.inputs.bounds import TooMuch
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.record.model import FOLDER, UID_KEY

NAME = f"{FOLDER}/{UID_KEY}"
# 128 bits are drawn and 64 of each hash are shown: nobody tries that many mails.
KEY_BYTES = 16
SHOWN_DIGITS = 16
KEY = re.compile(r"[0-9a-f]{32}", re.ASCII)


def read_uid_key(folder: Path) -> str:
    """The key in the record of a season's folder, empty where none was drawn; InputFaults where it is damaged."""
    path = folder / FOLDER / UID_KEY
    try:
        raw = SIZE.read(path)
    except FileNotFoundError:
        return ""
    except TooMuch:
        raw = b""
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise InputFaults([Fault(NAME, None, "", f"the file cannot be read ({reason}).")]) from None
    key = raw.decode("ascii", "replace").strip()
    if not KEY.fullmatch(key):
        advice = (
            "put the file back from a copy, or delete it: slots that were sent keep their identifiers all the same."
        )
        raise InputFaults([Fault(NAME, 1, "", f"32 hexadecimal digits are meant; {advice}")])
    return key


def random_part(key: str, name: str) -> str:
    """What stands behind a slot's name in its identifier: hexadecimal digits."""
    return hmac.new(bytes.fromhex(key), name.encode(), hashlib.sha256).hexdigest()[:SHOWN_DIGITS]
