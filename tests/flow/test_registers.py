"""The register by command: what is typed stands in the files, and the gate goes by it at once."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing

import pytest


@pytest.fixture
def call(room):
    def call_it(*words, expect=0):
        return room.call(*words, "--site", str(room.root), expect=expect)

    return call_it


def rows(call, *words, expect=0):
    return json.loads(call(*words, "--json", expect=expect).stdout)


def test_a_new_meter_is_known_to_the_gate_at_once(room, call, sheet):
    room.drop("1.csv", sheet(job="1", meter="T-11"))
    room.sweep()
    assert "meter.known" in room.holds("1")
    said = call("meters", "add", "T-11", "--calibrated", "2026-11-19", "--filter", "visual")
    assert said.stdout == "meter T-11: register/meters.yaml\n"
    room.drop("2.csv", sheet(job="2", meter="T-11"))
    room.sweep()
    assert "meter.known" not in room.holds("2")


def test_edits_stand_in_the_audit_chain(room, call):
    call("meters", "add", "T-11", "--calibrated", "2026-11-19")
    with closing(sqlite3.connect(room.root / "state/history.sqlite")) as history:
        found = history.execute("SELECT kind, subject, document FROM events").fetchall()
    kind, subject, document = found[-1]
    assert (kind, subject) == ("register changed", "meter T-11")
    assert json.loads(document)["given"] == {"calibrated": ["2026-11-19"]}


def test_a_lot_of_a_new_stock_is_entered_with_it(call):
    alone = call("films", "add", "X-1", "--stock", "gloss-7mil", expect=2)
    assert 'describes the stock "gloss-7mil"' in alone.stderr
    assert "as it would be: X-1: {stock: gloss-7mil}" in alone.stderr
    assert "films.yaml:" not in alone.stderr, "it stands in no file"
    assert 'films add LOT --stock NAME --kind "ink film"' in alone.stderr
    stock = ("--stock", "gloss-7mil", "--kind", "ink film", "--thickness-mil", "7")
    call("films", "add", "X-1", *stock, "--opened", "2026-11-20")
    (row,) = (row for row in rows(call, "films", "list") if row["name"] == "X-1")
    assert row == {"name": "X-1", "stock": "gloss-7mil", "opened": "2026-11-20"}
    assert call("rules", "check").code == 0


def test_film_left_is_counted_from_the_films_that_were_measured(room, call, sheet):
    call("films", "set", "M5-0317", "--length-m", "30", "--length-per-film-m", "0.8")
    for number in range(3):
        room.drop(f"{number}.csv", sheet(job=str(number)))
    room.sweep()
    again = sheet(job="0").replace("50.8", "50.9")  # the same film, measured once more
    room.drop("0.csv", again)
    room.sweep()
    (row,) = (row for row in rows(call, "films", "list") if row["name"] == "M5-0317")
    assert (row["films"], row["length_left_m"]) == (3, pytest.approx(27.6))


def test_what_is_over_is_told_by_the_exit_status(call):
    over = rows(call, "meters", "due", expect=1)
    assert over[0]["subject"] == "meter T-02"
    assert over[0]["days_left"] < 0
    call("meters", "set", "T-02", "--calibrated", "2099-01-01")
    for name in ("T-04", "T-05", "T-07", "T-09"):
        call("meters", "set", name, "--calibrated", "2099-01-01")
    assert "OVER" not in call("meters", "due").stdout


def test_printers_are_listed_and_their_curves_are_due(call):
    names = [row["name"] for row in rows(call, "printers", "list")]
    assert names == ["P1", "P2", "L1"]
    call("printers", "add", "P3", "--resolution-dpi", "720", "--resolution-dpi", "1440")
    assert rows(call, "printers", "list")[-1] == {"name": "P3", "resolution_dpi": [720.0, 1440.0]}
    subjects = [row["subject"] for row in rows(call, "printers", "due", expect=None)]
    assert all(subject.startswith("curve of ") for subject in subjects)


def test_a_slip_is_explained_and_nothing_is_written(room, call):
    before = (room.root / "register/meters.yaml").read_text()
    done = call("meters", "set", "T-044", "--calibrated", "2026-11-20", expect=2)
    assert 'nearest known one is "T-04"' in done.stderr
    assert (room.root / "register/meters.yaml").read_text() == before
