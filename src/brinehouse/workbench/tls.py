"""The hall's own certificate authority: its pages by https on a network that nobody else can vouch for.

A phone keeps its offline round, its camera and its passkeys from a page that comes by plain http. No public
authority signs for a machine in a basement, so the hall makes one of its own, and each phone is told once to
trust it. What that trust can be used for is kept small: the authority can sign for the hall's names and
addresses and nothing else, for servers only, for five years; its key never leaves the folder.
"""

from __future__ import annotations

import ipaddress
import os
import re
import socket
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brinehouse import findings
from brinehouse.workbench import clock, mishaps

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec

FOLDER = "tls"
AUTHORITY, AUTHORITY_KEY = "authority.crt", "authority.key"
SERVER, SERVER_KEY = "server.crt", "server.key"
YEARS = 5
LEAF, RENEW = timedelta(days=30), timedelta(days=10)
EARLY = timedelta(days=1)
"""How much a phone's clock may be behind."""

ALWAYS = ("localhost", "127.0.0.1", "::1")
_NAME = re.compile(r"(?=.{1,253}$)(?!-)[a-z0-9-]{1,63}(?<!-)(\.(?!-)[a-z0-9-]{1,63}(?<!-))*")


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What a hall's authority is and what it may sign for.

    Attributes
    ----------
    name : str
        As a phone lists it.
    fingerprint : str
        SHA-256 of the authority's certificate, in groups of four.
    covers : tuple of str
        Names and addresses it can sign for.
    made, until : datetime
        From when and until when it holds.
    serves : tuple of str
        Names and addresses of the certificate the pages are served with; empty where there is none.
    serves_until : datetime or None
        Until when that one holds; it is renewed ten days before.
    """

    name: str
    fingerprint: str
    covers: tuple[str, ...]
    made: datetime
    until: datetime
    serves: tuple[str, ...] = ()
    serves_until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """Files to serve with, and what a person should know of them."""

    certificate: Path
    key: Path
    state: State
    renewed: bool
    findings: tuple[findings.Finding, ...] = ()


def hosts(names: Iterable[str] = ()) -> tuple[str, ...]:
    """Names and addresses in their plain form; refused where one is neither.

    >>> hosts(["Hall.LAN", "192.168.1.20"])
    ('hall.lan', '192.168.1.20')
    """
    found: list[str] = []
    for name in names:
        plain = name.strip().strip("[]").rstrip(".").lower()
        if _address(plain) is None and (not _NAME.fullmatch(plain) or plain.rpartition(".")[2].isdigit()):
            raise mishaps.Refused(
                _stop(
                    "tls/not-a-host",
                    f"'{name}' is not the name or address of a machine",
                    "a name as phones type it, such as hall.lan, or an address such as 192.168.1.20",
                )
            )
        if plain not in found:
            found.append(plain)
    return tuple(found)


def of_machine() -> tuple[str, ...]:
    """The machine's own names and addresses, as far as it knows them itself."""
    own = socket.gethostname().lower()
    names = [own] if "." in own else [own, f"{own}.local"]
    names = [name for name in names if _NAME.fullmatch(name)]
    addresses: list[str] = []
    for family, nowhere in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as asked:
                asked.connect((nowhere, 9))  # nothing is sent: it only says by which address it would be
                addresses.append(asked.getsockname()[0])
        except OSError:
            continue
    return tuple(dict.fromkeys([*names, *addresses]))


def ready(folder: Path, hall: str, names: Sequence[str] = ()) -> Ready:
    """The files to serve with: the authority is made where there is none, the certificate where it is due.

    Parameters
    ----------
    folder : Path
        The hall's folder.
    hall : str
        Its name, as phones will list the authority.
    names : sequence of str
        Names and addresses people use; the machine's own where none are given.

    Raises
    ------
    mishaps.Refused
        Where a given name is outside of what the authority may sign for, or it has run out.
    """
    given = hosts(names)
    at = folder / FOLDER
    if not (at / AUTHORITY).exists():
        make(folder, hall, given)
    authority = _authority(folder)
    covers = _covers(authority)
    if outside := [name for name in given if not _covered(name, covers)]:
        raise mishaps.Refused(_outside(outside, covers, findings.Level.STOP))
    now = clock.now()
    if authority.not_valid_after_utc <= now:
        raise mishaps.Refused(_ended(authority.not_valid_after_utc))
    served = [*dict.fromkeys([*(given or covers), *ALWAYS])]
    told = list(_told(authority, now))
    if not given and (moved := _moved(covers)):
        told.append(_outside(moved, covers, findings.Level.WATCH))
    renewed = not _holds(folder, authority, served, now)
    if renewed:
        _sign(folder, authority, served, now)
    return Ready(
        certificate=at / SERVER, key=at / SERVER_KEY, state=_state(folder), renewed=renewed,
        findings=tuple(told),
    )  # fmt: skip


def state(folder: Path) -> State | None:
    """What a folder's authority is; None where it has none."""
    return _state(folder) if (folder / FOLDER / AUTHORITY).exists() else None


def as_json(state: State) -> dict[str, Any]:
    """The state as plain data."""
    return {
        name: value.isoformat() if isinstance(value, datetime) else value
        for name, value in asdict(state).items()
    }


def authority_file(folder: Path) -> bytes | None:
    """The authority's certificate as phones take it in (DER); None where there is none."""
    if not (folder / FOLDER / AUTHORITY).exists():
        return None
    from cryptography.hazmat.primitives import serialization

    return _authority(folder).public_bytes(serialization.Encoding.DER)


def make(folder: Path, hall: str, names: Sequence[str] = ()) -> State:
    """Make the authority, or make it anew: phones that trusted the old one trust nothing of this one."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec

    covered = tuple(dict.fromkeys([*(hosts(names) or of_machine()), *ALWAYS]))
    now = clock.now().replace(microsecond=0)
    key = ec.generate_private_key(ec.SECP256R1())
    subject = _named(f"{hall.strip()[:40] or 'Hall'}, own pages, {now:%Y-%m-%d}")
    until = _years_on(now, YEARS)
    use = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=True, crl_sign=True, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    made = (
        _begun(subject, subject, key.public_key(), now - EARLY, until)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(use, critical=True)
        .add_extension(x509.ExtendedKeyUsage([_for_servers()]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.NameConstraints(
                permitted_subtrees=[_subtree(name) for name in covered], excluded_subtrees=None
            ),
            critical=True,
        )
        .sign(key, hashes.SHA256())
    )
    at = folder / FOLDER
    at.mkdir(mode=0o700, parents=True, exist_ok=True)
    at.chmod(0o700)
    for name in (SERVER, SERVER_KEY):
        (at / name).unlink(missing_ok=True)
    _write(at / AUTHORITY_KEY, _key_text(key), 0o600)
    _write(at / AUTHORITY, _text(made), 0o644)
    return _state(folder)


def grouped(digest: bytes) -> str:
    """A fingerprint as two people can compare it: capitals in groups of four.

    >>> grouped(bytes(range(6)))
    '0001 0203 0405'
    """
    text = digest.hex().upper()
    return " ".join(text[place : place + 4] for place in range(0, len(text), 4))


# -- what is signed ---------------------------------------------------------------------------------------


def _sign(folder: Path, authority: x509.Certificate, names: Sequence[str], now: datetime) -> None:
    """A fresh key and a certificate of thirty days for the names that are served."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    at = folder / FOLDER
    signs: Any = serialization.load_pem_private_key(_secret(at / AUTHORITY_KEY), None)
    key = ec.generate_private_key(ec.SECP256R1())
    begin = now.replace(microsecond=0) - EARLY
    until = min(now.replace(microsecond=0) + LEAF, authority.not_valid_after_utc)
    use = x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    made = (
        _begun(_named(f"pages of {names[0]}"), authority.subject, key.public_key(), begin, until)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(use, critical=True)
        .add_extension(x509.ExtendedKeyUsage([_for_servers()]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signs.public_key()), critical=False)
        .sign(signs, hashes.SHA256())
    )
    _write(at / SERVER_KEY, _key_text(key), 0o600)
    _write(at / SERVER, _text(made) + _text(authority), 0o644)


def _begun(
    subject: x509.Name, issuer: x509.Name, public: ec.EllipticCurvePublicKey, begin: datetime, until: datetime
) -> x509.CertificateBuilder:
    from cryptography import x509

    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begin)
        .not_valid_after(until)
    )


def _for_servers() -> x509.ObjectIdentifier:
    from cryptography.x509 import oid

    return oid.ExtendedKeyUsageOID.SERVER_AUTH


def _named(text: str) -> x509.Name:
    from cryptography import x509

    return x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, text[:64])])


def _address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def _general(name: str) -> x509.GeneralName:
    from cryptography import x509

    address = _address(name)
    return x509.DNSName(name) if address is None else x509.IPAddress(address)


def _subtree(name: str) -> x509.GeneralName:
    """One name with what stands below it, or one address and no other."""
    from cryptography import x509

    address = _address(name)
    return x509.DNSName(name) if address is None else x509.IPAddress(ipaddress.ip_network(address))


def _years_on(now: datetime, years: int) -> datetime:
    try:
        return now.replace(year=now.year + years)
    except ValueError:  # the 29th of February
        return now.replace(year=now.year + years, day=28)


# -- what is there ----------------------------------------------------------------------------------------


def _authority(folder: Path) -> x509.Certificate:
    from cryptography import x509

    path = folder / FOLDER / AUTHORITY
    try:
        return x509.load_pem_x509_certificate(path.read_bytes())
    except ValueError as fault:
        raise mishaps.Refused(_unreadable(path)) from fault


def _covers(authority: x509.Certificate) -> tuple[str, ...]:
    from cryptography import x509

    allowed = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees
    return tuple(_plain(one.value) for one in allowed or ())


def _plain(value: Any) -> str:
    return value if isinstance(value, str) else str(getattr(value, "network_address", value))


def _covered(name: str, covers: Sequence[str]) -> bool:
    return name in covers or (
        _address(name) is None and any(name.endswith(f".{one}") for one in covers if _address(one) is None)
    )


def _moved(covers: Sequence[str]) -> list[str]:
    """The machine's addresses, where the authority was made for addresses and none of these is among them."""
    then = [name for name in covers if name not in ALWAYS and _address(name) is not None]
    today = [name for name in of_machine() if _address(name) is not None]
    return today if then and today and not set(then) & set(today) else []


def _holds(folder: Path, authority: x509.Certificate, names: Sequence[str], now: datetime) -> bool:
    """Whether the certificate that is there is good for these names and not yet due."""
    from cryptography import exceptions, x509

    at = folder / FOLDER
    if not (at / SERVER).exists() or not (at / SERVER_KEY).exists():
        return False
    try:
        there = x509.load_pem_x509_certificate((at / SERVER).read_bytes())
        there.verify_directly_issued_by(authority)
        last = there.not_valid_after_utc
    except (ValueError, TypeError, exceptions.InvalidSignature):
        return False
    due = last - now < RENEW and last < authority.not_valid_after_utc
    return not due and there.not_valid_before_utc <= now < last and set(_serves(there)) == set(names)


def _serves(certificate: x509.Certificate) -> list[str]:
    from cryptography import x509

    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return [_plain(one.value) for one in names]


def _state(folder: Path) -> State:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    authority = _authority(folder)
    at = folder / FOLDER / SERVER
    there = x509.load_pem_x509_certificate(at.read_bytes()) if at.exists() else None
    return State(
        name=str(authority.subject.get_attributes_for_oid(x509.NameOID.COMMON_NAME)[0].value),
        fingerprint=grouped(authority.fingerprint(hashes.SHA256())),
        covers=_covers(authority),
        made=authority.not_valid_before_utc + EARLY,
        until=authority.not_valid_after_utc,
        serves=tuple(_serves(there)) if there else (),
        serves_until=there.not_valid_after_utc if there else None,
    )


def _secret(path: Path) -> bytes:
    """A key's bytes; refused where anybody but its owner could have read it."""
    if os.name == "posix" and path.stat().st_mode & 0o077:
        raise mishaps.Refused(
            _stop(
                "tls/key-open",
                f"{path} can be read by others than its owner, so others may sign in the hall's name",
                f"chmod 600 {path}, and if others use this machine: brinehouse tls --anew",
            )
        )
    return path.read_bytes()


def _key_text(key: ec.EllipticCurvePrivateKey) -> bytes:
    from cryptography.hazmat.primitives import serialization

    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _text(certificate: x509.Certificate) -> bytes:
    from cryptography.hazmat.primitives import serialization

    return certificate.public_bytes(serialization.Encoding.PEM)


def _write(path: Path, content: bytes, mode: int) -> None:
    """Write a file whole; it is never there with another mode, nor half."""
    fresh = path.with_name(f"{path.name}.{os.getpid()}")
    fresh.unlink(missing_ok=True)
    descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(descriptor, "wb") as page:
        page.write(content)
        page.flush()
        os.fsync(page.fileno())
    fresh.replace(path)


# -- what is said -----------------------------------------------------------------------------------------


def _told(authority: x509.Certificate, now: datetime) -> Iterable[findings.Finding]:
    left = authority.not_valid_after_utc - now
    if left < timedelta(days=90):
        yield findings.Finding(
            code="tls/ends-soon",
            level=findings.Level.WATCH,
            text=f"the hall's certificate authority ends on {authority.not_valid_after_utc:%Y-%m-%d}",
            hint="brinehouse tls --anew on a quiet day, then let each phone trust the new one",
        )


def _ended(when: datetime) -> findings.Finding:
    return _stop(
        "tls/ended",
        f"the hall's certificate authority ended on {when:%Y-%m-%d}",
        "brinehouse tls --anew, then let each phone trust the new one; if the date is wrong, set the clock",
    )


def _outside(names: Sequence[str], covers: Sequence[str], level: findings.Level) -> findings.Finding:
    own = ", ".join(name for name in covers if name not in ALWAYS) or "this machine alone"
    return findings.Finding(
        code="tls/outside",
        level=level,
        text=f"the hall's certificate authority cannot sign for {', '.join(names)}: it was made for {own}",
        hint="use one of those, or brinehouse tls --anew with --name for each; phones then trust it again",
    )


def _unreadable(path: Path) -> findings.Finding:
    return _stop(
        "tls/unreadable",
        f"{path} is not a certificate",
        "bring it back from a backup, or brinehouse tls --anew",
    )


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)
