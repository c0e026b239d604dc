"""Links that open one thing without a password: its random number, and our signature beside it.

The database holds the number alone, so who reads the database cannot make the link.
"""

import base64
import binascii
import uuid

from django.utils.crypto import constant_time_compare, salted_hmac

# 16 bytes each: 128 random bits, and 128 bits of the signature.
_BYTES = 16
_LETTERS = 22


def code_of(what: str, uid: uuid.UUID) -> str:
    """The code of one thing's link; ``what`` keeps a calendar's code from opening a note."""
    signature = salted_hmac(f"link to a {what}", uid.bytes, algorithm="sha256").digest()
    return _written(uid.bytes) + _written(signature[:_BYTES])


def uid_of(what: str, code: str) -> uuid.UUID | None:
    """The number in a code that we signed for this kind of thing; None for any other code."""
    if len(code) != 2 * _LETTERS or not code.isascii():
        return None
    try:
        uid = uuid.UUID(bytes=base64.urlsafe_b64decode(f"{code[:_LETTERS]}=="))
    except (binascii.Error, ValueError):
        return None
    return uid if constant_time_compare(code, code_of(what, uid)) else None


def _written(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode("ascii").rstrip("=")
