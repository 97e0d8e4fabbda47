"""One-time codes of an authenticator: six digits, a new one every 30 s (RFC 6238)."""

from __future__ import annotations

import hmac
from pathlib import Path

from brinehouse.workbench import clock, sealing

STEP = 30


def secret() -> str:
    """A new secret, 160 bits."""
    import pyotp

    return pyotp.random_base32()


def address(secret: str, name: str, hall: str) -> str:
    """The address an authenticator reads from a square code."""
    from pyotp import totp

    return totp.TOTP(secret, interval=STEP).provisioning_uri(name=name, issuer_name=hall)


def picture(text: str) -> str:
    """A square code as a data address, for a page whose policy lets no script make it."""
    import segno

    return segno.make(text, error="m").svg_data_uri(scale=4, dark="#000", light="#fff")


def step(folder: Path, sealed: str, code: str) -> int | None:
    """Which step a code is of: the present one, or the one before or after; None where it is of none."""
    from pyotp import totp

    plain = "".join(code.split())
    codes = totp.TOTP(sealing.unseal(folder, sealed), interval=STEP)
    now = int(clock.now().timestamp()) // STEP
    for near in (now, now - 1, now + 1):
        if hmac.compare_digest(codes.generate_otp(near).encode(), plain.encode()):
            return near
    return None
