"""One-time codes by the clock (TOTP, RFC 6238) and the spare codes beside them."""

import base64
import hashlib
import secrets
from datetime import datetime
from urllib.parse import quote, urlencode

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.hotp import HOTP
from django.conf import settings

from plant.phone_codes import LETTERS

STEP_S = 30
FIGURES = 6
# A phone's clock may be one step behind or ahead; RFC 6238, section 5.2, asks for no more.
_STEPS = (0, -1, 1)
# RFC 4226, section 4, R6: a secret of 160 bits.
_BYTES = 20
SPARE_CODES = 10
# Sixteen of 31 letters are 79 bits, so a plain hash is enough.
SPARE_LETTERS = 16


def code_at(secret: bytes, step: int, *, figures: int = FIGURES) -> str:
    """The code of one time step.

    Source:
        RFC 6238, section 4.2, with the HOTP of RFC 4226; test vectors in RFC 6238, appendix B.
    """
    # SHA-1 is what the standard's default and every phone's program take; HMAC does not rest on
    # its resistance to collisions.
    maker = HOTP(secret, figures, SHA1(), enforce_key_length=False)  # noqa: S303
    return maker.generate(step).decode("ascii")


def step_of(at: datetime) -> int:
    return int(at.timestamp()) // STEP_S


def step_that_fits(secret: bytes, typed: str, *, at: datetime, after: int) -> int | None:
    """The time step whose code was typed, one step early or late at most; None when none fits.

    Args:
        after: the newest step that was taken; it and those before it fit no more.
    """
    now = step_of(at)
    found = None
    for away in _STEPS:
        # All three are compared, whatever was found, so that the time tells nothing.
        same = secrets.compare_digest(code_at(secret, now + away).encode(), typed.encode())
        if same and now + away > after and found is None:
            found = now + away
    return found


def new_secret() -> bytes:
    return secrets.token_bytes(_BYTES)


def as_text(secret: bytes) -> str:
    """The secret as it is typed into a program, in fours."""
    text = base64.b32encode(secret).decode("ascii").rstrip("=")
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


def address_of(secret: bytes, *, sign_in: str, issuer: str) -> str:
    """What the square code holds: the secret with the account and the site it is for."""
    label = quote(f"{issuer}:{sign_in}")
    text = base64.b32encode(secret).decode("ascii").rstrip("=")
    return f"otpauth://totp/{label}?{urlencode({'secret': text, 'issuer': issuer})}"


# --- As it is kept -------------------------------------------------------------------------
def locked(secret: bytes) -> str:
    """The secret as the database holds it: who reads the database alone cannot make codes."""
    return _box().encrypt(secret).decode("ascii")


def opened(kept: str) -> bytes | None:
    """None where it was locked by another key: the codes do not work until they are set up anew."""
    try:
        return _box().decrypt(kept.encode("ascii"))
    except InvalidToken:
        return None


def _box() -> Fernet:
    key = hashlib.sha256(b"one-time codes" + settings.SECRET_KEY.encode()).digest()
    return Fernet(base64.urlsafe_b64encode(key))


# --- Spare codes ---------------------------------------------------------------------------
def new_spare_codes() -> list[str]:
    return [
        "".join(secrets.choice(LETTERS) for _ in range(SPARE_LETTERS)) for _ in range(SPARE_CODES)
    ]


def spare_hash(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


def typed_spare(typed: str) -> str:
    """What was typed, without strokes and spaces and in capitals."""
    return "".join(c for c in typed.upper() if c.isascii() and c.isalnum())[:64]
