"""A history carried out as files and in again: equal, whole, and only where its chain holds."""

import csv
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.history import HistoryAwayError, carrying, delimited_tables, parquet_tables
from gatekeeper.history.carrying import about_of
from gatekeeper.history.delimited_tables import cell_of
from gatekeeper.history.schema import tallies
from gatekeeper.verdict import Decision, Finding, Outcome

ODD = '=HYPERLINK("x")\r\n\'quoted, \\N'


@pytest.fixture(params=[delimited_tables, parquet_tables], ids=["csv", "parquet"])
def form(request):
    return request.param


def told(history, make):
    """Tell of jobs with everything that a row may hold."""
    odd = Finding("job", "job.complete", Outcome.NOTE, ODD, measured="-1", off=-0.25)
    history.remember(make.filed("t001", decision=Decision.HELD))
    history.remember(make.filed("t002", was="held", concession="=L. Orrin"))
    history.remember(make.filed("t003", job="+7", findings=(odd,), customer="'Quillmark"))
    history.remember(make.filed("t004", job="ä", folder="held/w/ä", workflow="", sheets=()))
    history.remember(replace(make.filed("t005", job="5"), sheets=()))


def answers(history):
    jobs = history.jobs(limit=None)
    return (
        jobs,
        [history.job(line.job) for line in jobs],
        [history.negatives(line.job) for line in jobs],
        history.counts(),
        history.events(),
        history.rule_set("f" * 64),
    )


@pytest.fixture
def carried(file_room, make, form, tmp_path):
    """A folder with a history in it, and what that history answers."""
    folder = tmp_path / "carried"
    folder.mkdir()
    room = file_room()
    with room.open() as history:
        told(history, make)
        history.carry_out(folder, form)
        return folder, answers(history)


def taken_up(room, folder, form, **more):
    history = room.open(begins=False, **more)
    history.carry_in(folder, about_of(folder), form)
    return history


def test_what_is_carried_in_answers_as_what_was_carried_out(carried, room, form, make):
    folder, before = carried
    history = taken_up(room, folder, form)
    assert answers(history) == before
    assert history.verify().broken is None
    history.remember(make.filed("t009"))  # and goes on
    assert history.verify().events == before[4][-1].sequence + 1


def test_both_ways_tell_how_many_rows_are_done(carried, file_room, form, tmp_path, monkeypatch):
    monkeypatch.setattr(carrying, "AT_ONCE", 2)
    folder, _ = carried
    said = []
    room = file_room()
    history = room.open(begins=False)
    history.carry_in(folder, about_of(folder), form, lambda *done: said.append(done))
    rows = sum(about_of(folder)["rows"].values())
    assert said[-1] == (rows, rows)
    assert said == sorted(said)
    (tmp_path / "again").mkdir()
    told = []
    history.carry_out(tmp_path / "again", form, lambda done, total: told.append((done, total)))
    assert told
    assert {total for _, total in told} == {None}
    assert [done for done, _ in told] == list(range(2, rows + 1, 2))


def test_carried_out_again_the_files_are_the_same(carried, file_room, form, tmp_path):
    folder, _ = carried
    again = tmp_path / "again"
    again.mkdir()
    with taken_up(file_room(), folder, form) as history:
        history.carry_out(again, form)
    for path in folder.iterdir():
        if form is delimited_tables:
            assert (again / path.name).read_bytes() == path.read_bytes()
        else:
            assert (again / path.name).exists()


def test_numbers_of_another_site_in_the_same_database_stay_theirs(carried, server_room, form, make):
    folder, before = carried
    room = server_room()
    with room.open("south") as south:
        south.remember(make.filed("t001", site="south"))
    history = taken_up(room, folder, form)
    assert answers(history)[1:] == before[1:]
    assert [len(site.events()) for site in (history, room.open("south"))] == [6, 2]
    history.remember(make.filed("t010"))
    assert history.verify().broken is None


def rewritten(folder, table, change):
    """Change the rows of a CSV file as somebody with an editor can."""
    path = folder / f"{table}.csv"
    with path.open(newline="") as file:
        names, *lines = csv.reader(file)
    rows = [dict(zip(names, line, strict=True)) for line in lines]
    rows = change(rows) or rows
    with path.open("w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerows([names, *([row[name] for name in names] for row in rows)])


@pytest.mark.parametrize(
    ("table", "change", "says"),
    [
        ("events", lambda rows: rows[1].update(subject="9"), "event 2: event 2 was altered"),
        (
            "events",
            lambda rows: rows[:2] + rows[3:],
            "only appended",
        ),
        ("events", lambda rows: rows[::-1], "only appended"),
        ("verdicts", lambda rows: rows[0].update(decision="approved"), "decision of the verdict"),
        ("verdicts", lambda rows: rows[0].update(site="south"), 'rows of the site "south"'),
        ("verdicts", lambda rows: rows[0].update(newest="perhaps"), "line 2 cannot be read"),
        ("readings", lambda rows: rows[0].update(density="thick"), "line 2 cannot be read"),
    ],
)
@pytest.mark.parametrize("form", [delimited_tables], indirect=True, ids=["csv"])
def test_what_breaks_the_chain_is_refused_whole(carried, room, form, table, change, says):
    folder, _ = carried
    rewritten(folder, table, change)
    with pytest.raises(HistoryAwayError, match=says):
        taken_up(room, folder, form)
    assert room.sql("SELECT count(*) FROM verdicts") == [(0,)]
    assert room.sql("SELECT count(*) FROM events") == [(0,)]


def test_an_end_cut_off_is_found_by_the_newest_hash_that_the_folder_names(carried, room, form):
    folder, _ = carried
    about = about_of(folder) | {"head": "0" * 64}
    (folder / "about.json").write_text(json.dumps(about))
    with pytest.raises(HistoryAwayError, match="no event has the hash"):
        taken_up(room, folder, form)


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [("version", 99, "of version 99"), ("site", "south", 'rows of the site "south"')],
)
def test_an_export_of_another_version_or_site_is_refused(carried, room, form, key, value, says):
    folder, _ = carried
    about = about_of(folder) | {key: value}
    with pytest.raises(HistoryAwayError, match=says):
        room.open(begins=False).carry_in(folder, about, form)


def test_a_site_that_has_a_history_takes_none_up(carried, room, form, make):
    room.open().remember(make.filed("t001"))
    before = room.dump()
    with pytest.raises(HistoryAwayError, match="has a history here already"):
        taken_up(room, carried[0], form)
    assert room.dump() == before


@pytest.mark.parametrize("content", ["", "[]", '{"site": "north"}'])
def test_a_folder_that_is_no_export_is_said(tmp_path, content):
    (tmp_path / "about.json").write_text(content)
    with pytest.raises(HistoryAwayError, match="no exported history"):
        about_of(tmp_path)


@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=8))
def test_no_cell_begins_a_formula_and_each_reads_back(text):
    cell = cell_of(text)
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert cell.removeprefix("'") == text
    assert cell != delimited_tables.NOTHING


def test_reading_tables_leaves_the_limit_of_cells_that_sheets_are_read_under(tmp_path):
    before = csv.field_size_limit()
    path = tmp_path / "tallies.csv"
    delimited_tables.write(path, tallies, [])
    assert list(delimited_tables.read(path, tallies)) == []
    assert csv.field_size_limit() == before
