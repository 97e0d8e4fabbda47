"""What must stay secret: a key in the hall's folder, hashes of what people type, and tickets.

Passwords and PINs are kept as Argon2id. A PIN is short, so it is mixed with the folder's key first: whoever
has the logbook but not ``house.key`` cannot try PINs on it. A password needs no key, so that it still opens
the door where the logbook was brought back without one.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import hmac
import os
import secrets
import threading
from collections.abc import Generator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from brinehouse import findings
from brinehouse.workbench import mishaps

if TYPE_CHECKING:
    import argon2  # loaded when somebody types a password

FILE = "house.key"
AT_ONCE = 4
"""How many hashes are worked out at once; each takes `Cost.memory` KiB."""
PATIENCE = 10.0
"""How long one waits for its turn. [s]"""

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""What codes are made of: no sign that is taken for another."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What one hash costs: passes over so much memory [KiB], in so many lanes."""

    passes: int
    memory: int
    lanes: int


PRODUCT = Cost(passes=2, memory=19 * 1024, lanes=1)
"""As the OWASP password storage cheat sheet gives it for Argon2id: 19 MiB, two passes, one lane."""

cost = PRODUCT
"""What new hashes cost; tests lower it, and one of them sees that nobody else does."""

_turns = threading.BoundedSemaphore(AT_ONCE)


# The folder's key ------------------------------------------------------------


def key(folder: Path, *, make: bool = False) -> bytes:
    """The folder's key; made, readable by its owner alone, where there is none and `make` is set.

    Raises
    ------
    mishaps.Refused
        Where it is not there: PINs and one-time codes cannot be checked without it.
    """
    path = folder / FILE
    if make:
        with contextlib.suppress(FileExistsError):
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w", encoding="ascii") as page:
                page.write(secrets.token_hex(32) + "\n")
                page.flush()
                os.fsync(page.fileno())
    try:
        found = bytes.fromhex(path.read_text("ascii").strip())
    except (FileNotFoundError, ValueError):
        found = b""
    if len(found) != 32:
        raise mishaps.Refused(
            findings.Finding(
                code="people/no-key",
                level=findings.Level.STOP,
                text=f"{FILE} is not in the hall's folder, or is not whole: PINs and codes cannot be checked",
                hint="enter with a password or passkey, take the old file away, and set PINs and codes anew",
            )
        )
    return found


def _part(folder: Path, purpose: str) -> bytes:
    return hmac.digest(key(folder), f"brinehouse {purpose}".encode(), "sha256")


def seal(folder: Path, secret: str) -> str:
    """A secret that only this folder's key opens."""
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

    nonce = secrets.token_bytes(12)
    sealed = AESGCM(_part(folder, "seal")).encrypt(nonce, secret.encode(), None)
    return base64.b64encode(nonce + sealed).decode("ascii")


def unseal(folder: Path, sealed: str) -> str:
    """A secret as it was; refused where it was sealed with another key."""
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

    whole = base64.b64decode(sealed)
    try:
        return AESGCM(_part(folder, "seal")).decrypt(whole[:12], whole[12:], None).decode()
    except InvalidTag:
        raise mishaps.Refused(
            findings.Finding(
                code="people/other-key",
                level=findings.Level.STOP,
                text="The secret of the one-time codes was sealed with another key",
                hint="an administrator resets this person, who then sets up codes anew",
            )
        ) from None


# What people type ------------------------------------------------------------


def with_key(folder: Path, pin: str) -> str:
    """A PIN mixed with the folder's key: what is hashed in its place."""
    return hmac.new(_part(folder, "pin"), pin.encode(), "sha256").hexdigest()


def hashed(text: str) -> str:
    """The Argon2id hash of something typed."""
    with _turn():
        return _hasher().hash(text)


def fits(kept: str, text: str) -> bool:
    """Whether something typed is what was hashed; without a hash the same work is done for nothing."""
    import argon2

    with _turn():
        try:
            return _hasher().verify(kept or _decoy(), text) and bool(kept)
        except (argon2.exceptions.VerificationError, argon2.exceptions.InvalidHashError):
            return False


def outdated(kept: str) -> bool:
    """Whether a hash was made at another cost than today's."""
    return bool(kept) and _hasher().check_needs_rehash(kept)


def _hasher() -> argon2.PasswordHasher:
    import argon2

    return argon2.PasswordHasher(time_cost=cost.passes, memory_cost=cost.memory, parallelism=cost.lanes)


_decoys: dict[Cost, str] = {}


def _decoy() -> str:
    """A hash that nothing fits, at today's cost."""
    if cost not in _decoys:
        _decoys[cost] = _hasher().hash(secrets.token_hex(32))
    return _decoys[cost]


@contextlib.contextmanager
def _turn() -> Generator[None]:
    if not _turns.acquire(timeout=PATIENCE):
        raise mishaps.Refused(
            findings.Finding(
                code="people/crowded",
                level=findings.Level.STOP,
                text="Too many people are coming in at this moment",
                hint="try again in a few seconds",
            )
        )
    try:
        yield
    finally:
        _turns.release()


# Tickets and codes ------------------------------------------------------------


def ticket() -> str:
    """256 random bits for a cookie."""
    return secrets.token_urlsafe(32)


def digest(text: str) -> str:
    """What is kept of a ticket: it cannot be used to come in."""
    return hashlib.sha256(text.encode()).hexdigest()


def short_id() -> str:
    """A short number of a device, that is no secret."""
    return secrets.token_hex(6)


def code() -> str:
    """A code to tell somebody: ten signs, 49 bits.

    >>> len(code()), code()[5]
    (11, '-')
    """
    signs = "".join(secrets.choice(ALPHABET) for _ in range(10))
    return f"{signs[:5]}-{signs[5:]}"


def code_digest(folder: Path, typed: str) -> str:
    """What is kept of a code: made with the folder's key, whatever case and dashes it was typed with."""
    plain = "".join(sign for sign in typed.upper() if sign in ALPHABET)
    return hmac.new(_part(folder, "code"), plain.encode(), "sha256").hexdigest()
