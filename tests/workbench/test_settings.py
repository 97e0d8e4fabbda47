"""A hall whose logbook is in a PostgreSQL database is used like any other."""

import json
import pathlib
import signal
import subprocess
import sys
from datetime import UTC, datetime

import pytest

from brinehouse import records
from brinehouse.cli import running
from brinehouse.demo import building
from brinehouse.logbook import kept, lock
from brinehouse.workbench import hall as halls
from brinehouse.workbench import logging_book, settings

pytestmark = pytest.mark.part("postgresql")
AT = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


def reading(id="0a"):
    return records.Reading(
        id=id, measured=AT, entered=AT, place="mangrove", quantity="temperature", value=25.4, unit="°C",
        text="25.4 °C",
    )  # fmt: skip


def files(folder):
    return {path.name for path in folder.iterdir() if path.suffix in (".sqlite", ".hall")}


def test_looking_at_a_hall_begins_no_logbook_in_the_database(set_database, hall):
    assert not halls.Hall.has_book(hall.folder)
    assert logging_book.verify(hall, None)[1] == (0, "0" * 64)
    assert files(hall.folder) == set()
    assert set_database.ask("SELECT count(*) FROM entry") == [(0,)]


def test_what_a_hall_writes_is_in_the_database_and_in_no_file(set_database, hall):
    assert hall.write([reading()])[0].state == "new"
    assert halls.Hall.has_book(hall.folder)
    assert files(hall.folder) == {settings.MARK}
    assert set_database.ask("SELECT text FROM entry WHERE kind = 'reading'") == [("25.4 °C",)]
    with halls.open_hall(hall.folder) as again:
        assert again.history() == [reading()]
        assert logging_book.verify(again, None)[0] == []


def test_a_command_that_lacks_the_address_is_told_and_writes_nowhere(set_database, hall, monkeypatch, capsys):
    hall.write([reading()])
    monkeypatch.delenv(settings.DATABASE)
    assert running.run(["note", "strainer cleaned", str(hall.folder), "--by", "Lark"]) == 2
    said = capsys.readouterr().err
    assert "logbook/in-a-database" in said
    assert set_database.server.password not in said
    assert files(hall.folder) == {settings.MARK}


def test_the_address_of_another_kind_of_database_is_refused(hall, monkeypatch, capsys):
    monkeypatch.setenv(settings.DATABASE, "sqlite:///elsewhere.sqlite")
    assert running.run(["note", "strainer cleaned", str(hall.folder), "--by", "Lark"]) == 2
    assert "logbook/address" in capsys.readouterr().err


def test_the_commands_do_the_same_on_either_database(set_database, folder, tmp_path, capsys):
    page = tmp_path / "round.csv"
    page.write_text(
        "time,place,quantity,value,unit,by\n2026-03-01T06:40+00:00,mangrove,salinity,34.1,PSU,Wren\n", "utf-8"
    )
    at = str(folder)
    assert running.run(["read", "mangrove", "temperature", "25.4 °C", at, "--by", "Lark", "--json"]) == 0
    id = json.loads(capsys.readouterr().out)["id"]
    told = ["--value", "25.6 °C", "--reason", "misread", "--by", "Moss"]
    assert running.run(["log", at, "--supersede", id[:8], *told]) == 0
    assert running.run(["import", str(page), at, "--by", "Wren", "--json"]) == 0
    assert running.run(["verify", at]) == 0
    assert "salinity" in (running.run(["log", at]), capsys.readouterr().out)[1]
    assert running.run(["now", at]) in (0, 1)
    assert "25.6" in capsys.readouterr().out
    assert files(folder) == {settings.MARK}


def test_the_invented_hall_is_built_in_a_database(set_database, tmp_path, still_clock):
    built = building.build(tmp_path / "demo", days=1, end="2026-03-14 06:40")
    assert built.readings > 10
    again = building.build(tmp_path / "demo")
    assert (again.again, again.readings) == (True, built.readings)
    assert files(tmp_path / "demo") == {settings.MARK}
    assert running.run(["verify", str(tmp_path / "demo")]) == 0


def test_a_hall_that_began_in_a_file_is_not_split_in_two(hall, monkeypatch, request):
    hall.write([reading()])
    hall.close()
    database = request.getfixturevalue("set_database")
    with halls.open_hall(hall.folder) as again, pytest.raises(kept.Refused, match="logbook/two-logbooks"):
        again.history()
    assert database.ask("SELECT count(*) FROM entry") == [(0,)]


def test_a_command_hands_its_batch_to_the_server_that_writes_the_database(set_database, folder):
    command = [sys.executable, "-m", "brinehouse", "serve", str(folder), "--port", "0", "--json"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as server:
        told = ""
        while "}" not in told and (line := server.stdout.readline()):
            told += line
        try:
            assert "}" in told, server.stderr.read()
            assert lock.owner(folder).pid == server.pid
            with halls.open_hall(folder) as hall:
                assert hall.write([reading()])[0].state == "new"
                assert [one.id for one in hall.history()] == ["0a"]
            writers = "SELECT application_name FROM pg_stat_activity WHERE application_name LIKE '%writes%'"
            assert [name for (name,) in set_database.ask(writers) if f"process {server.pid} " in name]
            shown = pathlib.Path(f"/proc/{server.pid}/cmdline").read_text()
            assert set_database.server.password not in shown
        finally:
            server.send_signal(signal.SIGINT)
            assert server.wait(30) == 0
    with halls.open_hall(folder) as hall:
        assert logging_book.verify(hall, None)[0] == []
