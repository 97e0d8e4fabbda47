"""The hall's own certificate authority vouches for the hall and for nobody else."""

import datetime as dt
import socket
import ssl
import stat
import subprocess
import threading

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from brinehouse.findings import Level
from brinehouse.workbench import clock, mishaps, tls

NAMES = ("hall.lan", "192.168.1.20")
NOW = dt.datetime.now(dt.UTC)  # the two outside judges look at their own clock


@pytest.fixture
def folder(tmp_path):
    return tmp_path


@pytest.fixture
def made(folder):
    return tls.ready(folder, "Test Hall", NAMES)


def verified(folder, leaf, *more):
    """What openssl says of a certificate, with nothing but the hall's authority to go by."""
    authority = folder / tls.FOLDER / tls.AUTHORITY
    command = [
        "openssl",
        "verify",
        "-x509_strict",
        "-purpose",
        "sslserver",
        "-CAfile",
        authority,
        *more,
        leaf,
    ]
    return subprocess.run(command, capture_output=True, text=True)


def planted(folder, *names):
    """A certificate signed with the hall's own key for names of somebody else."""
    at = folder / tls.FOLDER
    authority = x509.load_pem_x509_certificate((at / tls.AUTHORITY).read_bytes())
    signs = serialization.load_pem_private_key((at / tls.AUTHORITY_KEY).read_bytes(), None)
    tls._sign(folder, authority, names, clock.now())
    assert isinstance(signs, ec.EllipticCurvePrivateKey)
    return at / tls.SERVER


def handshake(certificate, key, authority, name):
    """What Python's own client makes of a server with this certificate; None where it is content."""
    side = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    side.load_cert_chain(certificate, key)
    client = ssl.create_default_context(cafile=str(authority))
    client.verify_flags |= ssl.VERIFY_X509_STRICT
    ours, theirs = socket.socketpair()

    def serve():
        try:
            with side.wrap_socket(ours, server_side=True) as line:
                line.recv(1)
        except OSError:
            pass

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        with client.wrap_socket(theirs, server_hostname=name) as line:
            line.send(b"x")
        return None
    except ssl.SSLCertVerificationError as fault:
        return fault.verify_message
    finally:
        theirs.close()
        ours.close()
        thread.join()


@pytest.mark.parametrize("name", ["hall.lan", "192.168.1.20", "localhost", "127.0.0.1", "::1"])
def test_a_client_that_trusts_the_authority_opens_the_hall_by_each_of_its_names(made, folder, name):
    at = folder / tls.FOLDER
    assert handshake(made.certificate, made.key, at / tls.AUTHORITY, name) is None
    option = "-verify_ip" if name[0].isdigit() or ":" in name else "-verify_hostname"
    said = verified(folder, made.certificate, option, name)
    assert said.returncode == 0, said.stderr


@pytest.mark.parametrize(
    "names", [("bank.example",), ("10.0.0.9",), ("2001:db8::9",), ("hall.lan", "bank.example")]
)
def test_with_the_halls_own_key_nobody_can_vouch_for_another_machine(made, folder, names):
    leaf = planted(folder, *names)
    said = verified(folder, leaf)
    assert said.returncode != 0
    assert "permitted subtree violation" in said.stderr
    heard = handshake(leaf, leaf.with_name(tls.SERVER_KEY), folder / tls.FOLDER / tls.AUTHORITY, names[-1])
    assert heard == "permitted subtree violation"


def test_without_the_constraint_anybody_could_be_vouched_for(folder, monkeypatch):
    """The control: the same planted certificate passes under an authority that may sign for all."""
    monkeypatch.setattr(tls, "_subtree", lambda _: x509.DNSName(""))
    tls.make(folder, "Test Hall", ("hall.lan",))
    assert verified(folder, planted(folder, "bank.example")).returncode == 0


def test_a_hall_with_one_kind_of_address_has_the_other_kind_shut(folder, monkeypatch):
    monkeypatch.setattr(tls, "ALWAYS", ("localhost",))
    tls.make(folder, "Test Hall", ("hall.lan", "192.168.1.20"))
    assert verified(folder, planted(folder, "192.168.1.20")).returncode == 0
    assert verified(folder, planted(folder, "2001:db8::9")).returncode != 0


def test_the_authority_can_make_no_other_authority_and_vouch_for_servers_only(made, folder):
    authority = x509.load_pem_x509_certificate((folder / tls.FOLDER / tls.AUTHORITY).read_bytes())
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    assert (basic.critical, basic.value.ca, basic.value.path_length) == (True, True, 0)
    names = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert names.critical
    leaf = x509.load_pem_x509_certificate(made.certificate.read_bytes())
    assert not leaf.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    assert verified(folder, made.certificate, "-purpose", "sslclient").returncode != 0


def test_the_keys_are_their_owners_alone_and_are_in_no_certificate(made, folder):
    at = folder / tls.FOLDER
    assert stat.S_IMODE(at.stat().st_mode) == 0o700
    for name in (tls.AUTHORITY_KEY, tls.SERVER_KEY):
        assert stat.S_IMODE((at / name).stat().st_mode) == 0o600
    assert b"PRIVATE" not in made.certificate.read_bytes() + (at / tls.AUTHORITY).read_bytes()
    assert tls.authority_file(folder)[:1] == b"0"  # DER: a sequence, and not a text with more in it
    assert sorted(path.name for path in at.iterdir()) == sorted(
        [tls.AUTHORITY, tls.AUTHORITY_KEY, tls.SERVER, tls.SERVER_KEY]
    )


def test_a_key_that_others_can_read_signs_nothing(made, folder):
    (folder / tls.FOLDER / tls.AUTHORITY_KEY).chmod(0o644)
    (folder / tls.FOLDER / tls.SERVER).unlink()
    with pytest.raises(mishaps.Refused) as refusal:
        tls.ready(folder, "Test Hall", NAMES)
    assert refusal.value.findings[0].code == "tls/key-open"


def test_the_certificate_is_renewed_by_itself_and_the_authority_stays(made, folder):
    try:
        clock.freeze(NOW + dt.timedelta(days=15))
        assert not tls.ready(folder, "Test Hall", NAMES).renewed
        clock.freeze(NOW + dt.timedelta(days=21))
        again = tls.ready(folder, "Test Hall", NAMES)
    finally:
        clock.freeze(None)
    assert again.renewed
    assert again.state.fingerprint == made.state.fingerprint
    assert again.state.serves_until - made.state.serves_until >= dt.timedelta(days=20)
    assert made.state.until.year - made.state.made.year == tls.YEARS


def test_an_authority_near_its_end_says_so_and_an_ended_one_serves_nothing(made, folder):
    try:
        clock.freeze(made.state.until - dt.timedelta(days=80))
        assert [(f.code, f.level) for f in tls.ready(folder, "Test Hall", NAMES).findings] == [
            ("tls/ends-soon", Level.WATCH)
        ]
        clock.freeze(made.state.until + dt.timedelta(seconds=1))
        with pytest.raises(mishaps.Refused) as refusal:
            tls.ready(folder, "Test Hall", NAMES)
    finally:
        clock.freeze(None)
    assert refusal.value.findings[0].code == "tls/ended"


def test_a_name_the_authority_was_not_made_for_is_said_and_the_rest_is_served(made, folder, monkeypatch):
    with pytest.raises(mishaps.Refused) as refusal:
        tls.ready(folder, "Test Hall", ["quay.lan"])
    assert refusal.value.findings[0].code == "tls/outside"
    monkeypatch.setattr(tls, "of_machine", lambda: ("box", "192.168.1.77"))  # a new address, as routers give
    again = tls.ready(folder, "Test Hall")
    assert set(again.state.serves) == {*NAMES, *tls.ALWAYS}
    assert [(f.code, f.level) for f in again.findings] == [("tls/outside", Level.WATCH)]
    assert "192.168.1.77" in again.findings[0].text
    assert set(tls.ready(folder, "Test Hall", ["tank.hall.lan"]).state.serves) == {
        "tank.hall.lan",
        *tls.ALWAYS,
    }


@pytest.mark.parametrize("name", ["", "two words", "-hall", "192.168.1", "hall_1", "http://hall", "a" * 64])
def test_what_is_no_name_of_a_machine_is_refused(name):
    with pytest.raises(mishaps.Refused) as refusal:
        tls.hosts([name])
    assert refusal.value.findings[0].code == "tls/not-a-host"


def test_made_anew_it_is_another(made, folder):
    again = tls.make(folder, "Test Hall", NAMES)
    assert again.fingerprint != made.state.fingerprint
    ready = tls.ready(folder, "Test Hall", NAMES)
    assert ready.renewed
    assert verified(folder, ready.certificate).returncode == 0


def test_a_damaged_certificate_is_said(made, folder):
    (folder / tls.FOLDER / tls.AUTHORITY).write_text("half a line")
    with pytest.raises(mishaps.Refused) as refusal:
        tls.ready(folder, "Test Hall", NAMES)
    assert refusal.value.findings[0].code == "tls/unreadable"


def test_the_fingerprint_is_the_one_openssl_shows(made, folder):
    command = [
        "openssl",
        "x509",
        "-in",
        folder / tls.FOLDER / tls.AUTHORITY,
        "-noout",
        "-fingerprint",
        "-sha256",
    ]
    said = subprocess.run(command, capture_output=True, text=True).stdout.partition("=")[2].strip()
    assert made.state.fingerprint.replace(" ", "") == said.replace(":", "")
    authority = x509.load_der_x509_certificate(tls.authority_file(folder))
    assert authority.fingerprint(hashes.SHA256()).hex().upper() == said.replace(":", "")


def test_the_machine_knows_names_of_its_own():
    assert tls.of_machine()
    assert tls.hosts(tls.of_machine())
