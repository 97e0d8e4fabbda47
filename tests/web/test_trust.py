"""The sheet that teaches a phone to trust the hall, and the two doors of a hall that serves by https."""

import datetime as dt
import http.client
import json
import signal
import ssl
import subprocess
import sys
import threading
import warnings

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes

from brinehouse.cli import running
from brinehouse.logbook import lock
from brinehouse.web import secure, serving
from brinehouse.workbench import clock, starting, tls
from brinehouse.workbench import hall as halls
from conftest import FIVE


def test_without_a_certificate_the_sheet_says_what_does_not_work_and_who_can_change_it(small):
    page = small.get("/trust")
    assert page.status_code == 200
    assert "serve --tls" in page.text
    assert "This sheet came by plain http." in page.text
    assert "ca.crt" not in page.text
    assert small.get("/trust/ca.crt").status_code == 404


def test_the_sheet_is_there_before_there_is_a_hall(nowhere):
    assert nowhere.get("/trust").status_code == 200


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    at = tmp_path_factory.mktemp("trust") / "hall"
    told = {**FIVE, "tanks": FIVE["tanks"].split("\n"), "meters": FIVE["meters"].split("\n")}
    assert starting.begin(at, **told).written
    return at


@pytest.fixture(scope="module")
def served(folder):
    """``brinehouse serve --tls`` in a process of its own, ended by its number."""
    command = [sys.executable, "-m", "brinehouse", "serve", str(folder), "--tls", "--name", "hall.lan",
               "--name", "192.168.1.20", "--port", "0", "--plain-port", "0", "--json"]  # fmt: skip
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as server:
        told = ""
        while "}" not in told and (line := server.stdout.readline()):
            told += line
        if "}" not in told:
            pytest.fail(server.stderr.read())
        yield json.loads(told), server.pid
        server.send_signal(signal.SIGINT)
        assert (server.wait(30), server.stderr.read()) == (0, "")
        assert lock.owner(folder) is None


def port(address):
    return int(address.rpartition(":")[2].partition("/")[0])


@pytest.fixture
def by_https(served, folder):
    def get(path, host="hall.lan", method="GET"):
        trusted = ssl.create_default_context(cafile=str(folder / tls.FOLDER / tls.AUTHORITY))
        trusted.check_hostname = False  # which names it holds for is asked in test_tls
        line = http.client.HTTPSConnection(
            "127.0.0.1", port(served[0]["address"]), timeout=20, context=trusted
        )
        line.request(method, path, headers={"host": host})
        reply = line.getresponse()
        reply.text = reply.read().decode()
        line.close()
        return reply

    return get


@pytest.fixture
def by_http(served):
    def ask(path, host="hall.lan", method="GET", **headers):
        line = http.client.HTTPConnection("127.0.0.1", port(served[0]["trust"]), timeout=20)
        line.request(method, path, headers={"host": host, **headers})
        reply = line.getresponse()
        reply.body = reply.read()
        line.close()
        return reply

    return ask


def test_a_phone_that_trusts_the_hall_opens_its_pages(by_https):
    page = by_https("/now", "localhost")  # a hall without people is open to its own machine
    assert page.status == 200
    assert "Test Hall" in page.text


def test_a_phone_that_does_not_is_warned(served):
    line = http.client.HTTPSConnection(
        "127.0.0.1", port(served[0]["address"]), timeout=20, context=ssl.create_default_context()
    )
    with pytest.raises(ssl.SSLCertVerificationError):
        line.request("GET", "/now")
    line.close()


def test_old_ways_of_hiding_what_is_said_are_not_spoken(served):
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.check_hostname, old.verify_mode = False, ssl.CERT_NONE
    old.set_ciphers("DEFAULT:@SECLEVEL=0")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        old.minimum_version, old.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
    line = http.client.HTTPSConnection("127.0.0.1", port(served[0]["address"]), timeout=20, context=old)
    with pytest.raises((ssl.SSLError, ConnectionError)):
        line.request("GET", "/now")
    line.close()


def test_a_browser_insists_on_https_only_where_it_came_by_a_name(by_https, by_http):
    assert by_https("/trust").getheader("strict-transport-security") == f"max-age={secure.REMEMBER}"
    for host in ("192.168.1.20", "localhost", "127.0.0.1"):
        assert by_https("/trust", host).getheader("strict-transport-security") is None
    assert by_http("/trust").getheader("strict-transport-security") is None  # a browser would not heed it


def test_plain_http_leads_to_https_and_takes_no_change(served, by_http):
    at = port(served[0]["address"])
    moved = by_http("/now?x=1%2F2")
    assert (moved.status, moved.getheader("location")) == (307, f"https://hall.lan:{at}/now?x=1%2F2")
    assert by_http("//elsewhere.example/x").getheader("location").startswith(f"https://hall.lan:{at}/")
    assert by_http("/log/new", method="POST").status == 403
    assert by_http("/trust", method="POST").status == 403
    for path in ("/now", "/trust"):
        assert by_http(path, "elsewhere.example").status == 421


def test_the_sheet_and_the_file_are_there_by_plain_http(served, folder, by_http):
    page = by_http("/trust")
    text = page.body.decode()
    assert page.status == 200
    assert "<svg" in text
    assert f"http://hall.lan:{port(served[0]['trust'])}/trust" in text
    assert f"https://hall.lan:{port(served[0]['address'])}/" in text
    file = by_http("/trust/ca.crt")
    assert file.getheader("content-type") == "application/x-x509-ca-cert"
    digest = x509.load_der_x509_certificate(file.body).fingerprint(hashes.SHA256())
    groups = tls.grouped(digest).split()
    assert all(group in text for group in groups)
    assert served[0]["fingerprint"] == " ".join(groups)
    assert b"PRIVATE" not in file.body


def test_no_key_is_served(by_https, by_http):
    for path in (
        "/tls/authority.key",
        "/trust/authority.key",
        "/static/../tls/server.key",
        "/trust/../tls/server.key",
    ):
        assert by_https(path).status in (303, 404)
        assert by_http(path).status in (307, 404)


def test_a_command_on_this_machine_still_hands_over_its_batch(served, folder):
    assert running.run(["note", "strainer cleaned", str(folder), "--by", "Lark"]) == 0
    assert lock.owner(folder).pid == served[1]
    with halls.open_hall(folder) as hall:
        assert [one.note for one in hall.facts(["note"])] == ["strainer cleaned"]


def test_the_command_says_what_the_authority_is_and_how_to_take_it_off_a_phone(served, folder, capsys):
    assert running.run(["tls", str(folder)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert served[0]["fingerprint"] in said
    assert "hall.lan" in said
    assert "remove" in said


def test_a_hall_without_an_authority_is_told_so_and_can_have_one_made(tmp_path, folder, capsys):
    other = tmp_path / "other"
    other.mkdir()
    (other / "facility.toml").write_bytes((folder / "facility.toml").read_bytes())
    assert running.run(["tls", str(other)]) == 2
    assert "tls/not-made" in capsys.readouterr().err
    assert running.run(["tls", str(other), "--anew", "--name", "quay.lan", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["covers"][0] == "quay.lan"


def test_a_name_that_is_no_name_serves_nothing(folder, capsys):
    assert running.run(["serve", str(folder), "--tls", "--name", "two words", "--port", "0"]) == 2
    assert "tls/not-a-host" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("host", "shown"), [("0.0.0.0", "127.0.0.1"), ("::", "[::1]"), ("fd00::2", "[fd00::2]")]
)
def test_an_address_is_shown_as_it_can_be_typed(host, shown):
    assert serving._shown(host) == shown


def test_a_running_server_takes_up_a_renewed_certificate_by_itself(tmp_path):
    loaded, ended = [], threading.Event()

    class Context:
        def load_cert_chain(self, certificate, key):
            loaded.append((certificate.read_bytes(), key.read_bytes()))
            ended.set()

    first = tls.ready(tmp_path, "Test Hall", ["hall.lan"])
    was = first.certificate.read_bytes()
    clock.freeze(clock.now() + dt.timedelta(days=25))
    try:
        serving.renewing(ended, Context(), lambda: tls.ready(tmp_path, "Test Hall", ["hall.lan"]), 0.01)
    finally:
        clock.freeze(None)
    assert len(loaded) == 1
    assert loaded[0][0] != was


def test_the_code_for_phones_never_leads_to_the_phone_itself(by_http, served):
    at = port(served[0]["trust"])
    page = by_http("/trust", "127.0.0.1").body.decode()
    assert f"http://hall.lan:{at}/trust" in page
    assert f"http://127.0.0.1:{at}/trust" not in page
