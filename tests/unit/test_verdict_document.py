import dataclasses
import json
from importlib.resources import files
from math import inf, nan

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.verdict import (
    Decision,
    Finding,
    JudgedSheet,
    JudgedTicket,
    Outcome,
    Status,
    Step,
    Verdict,
)
from gatekeeper.verdict_document import (
    NotAVerdictError,
    VerdictRecord,
    from_bytes,
    to_bytes,
    to_document,
)

SCHEMA = json.loads(files("gatekeeper").joinpath("schemas/verdict.schema.json").read_bytes())
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)

THIN = Finding(
    check="solid_density",
    rule="solid_density.min",
    outcome=Outcome.HOLD,
    says="The solid on the left reads 2.695; this workflow asks for 2.70.",
    separation="black",
    measured=2.695,
    limit=2.70,
    unit="density",
    where="left",
    off=0.005,
    origin="workflows/liquid-plate.yaml:5",
    trace="line 18, column 3",
    do=(
        Step(30, "Print the negative again on fresh film."),
        Step(10, "Clean the film and measure again.", "Film cleaner burns: no flame, gloves."),
    ),
)
CLEAR = Finding(
    check="clear_density",
    rule="clear_density.max",
    outcome=Outcome.PASS,
    says="Clear film is clear.",
    measured=0.0,
    limit=0.1,
    unit="density",
)
HELD = Verdict(
    ticket="20261120T090600-000001",
    job="1041 Größe 2",
    workflow="liquid-plate",
    customer="Quillmark Cartons",
    decision=Decision.HELD,
    rules_fingerprint="ab" * 32,
    arrived="2026-11-20T10:06:00+01:00",
    program="gatekeeper 0.1.0",
    findings=(THIN, CLEAR),
    sheets=(JudgedSheet("1041.csv", "cd" * 32, "t1", ("black",), "typed sheet (CSV)"),),
    companions=("1041.pdf", "1041.yaml"),
    job_tickets=(JudgedTicket("1041.yaml", "ef" * 32, "1041.yaml"),),
    status=(Status("meter", "T-04, calibrated 80 days ago", "black"),),
    notes=("the ending is .txt",),
    was="approved",
    measurements=2,
)
APPROVED = dataclasses.replace(HELD, decision=Decision.APPROVED, findings=(CLEAR,))


def edited(**changes):
    return (json.dumps(to_document(HELD) | changes) + "\n").encode()


def with_finding(**changes):
    document = to_document(HELD)
    document["findings"][0] |= changes
    return (json.dumps(document) + "\n").encode()


text = st.text(max_size=12)
number = st.floats(allow_nan=False, allow_infinity=False)
value = st.none() | number | text
steps = st.lists(st.builds(Step, st.integers(-9, 99), text, text), max_size=3).map(tuple)
findings = st.builds(
    Finding,
    check=text,
    rule=text,
    outcome=st.sampled_from(Outcome),
    says=text,
    separation=text,
    measured=value,
    limit=value,
    unit=text,
    where=text,
    off=st.none() | number,
    origin=text,
    trace=text,
    do=steps,
)
texts = st.lists(text, max_size=3).map(tuple)
verdicts = st.builds(
    Verdict,
    ticket=text,
    job=text,
    workflow=text,
    customer=text,
    decision=st.just(Decision.HELD),
    rules_fingerprint=text,
    arrived=text,
    program=text,
    findings=st.lists(findings, max_size=3).map(tuple),
    sheets=st.lists(
        st.builds(JudgedSheet, text, text, text, texts, text, st.booleans()), max_size=2
    ).map(tuple),
    companions=texts,
    job_tickets=st.lists(st.builds(JudgedTicket, text, text, text, st.booleans()), max_size=2).map(
        tuple
    ),
    status=st.lists(st.builds(Status, text, text, text), max_size=2).map(tuple),
    notes=texts,
    concession=st.none() | text,
    was=st.sampled_from(["", "approved", "held"]),
    measurements=st.integers(1, 99),
)


@given(verdicts, st.none() | text)
def test_what_is_written_reads_back_equal_and_fits_the_schema(verdict, digest):
    written = to_bytes(verdict, report_sha256=digest)
    assert from_bytes(written) == VerdictRecord(verdict, digest)
    VALIDATOR.validate(json.loads(written))
    assert json.loads(written) == to_document(verdict, report_sha256=digest)


def test_contract_keys_are_there_with_their_words():
    document = json.loads(to_bytes(HELD))
    assert document["format"] == "gatekeeper verdict"
    assert document["version"] == 2
    assert document["decision"] == "held"
    assert document["concession"] is None
    finding = document["findings"][0]
    assert finding["outcome"] == "hold"
    assert (finding["measured"], finding["limit"], finding["unit"]) == (2.695, 2.7, "density")
    assert finding["origin"] == "workflows/liquid-plate.yaml:5"
    assert finding["do"] == [
        "Print the negative again on fresh film.",
        "Clean the film and measure again. Caution: Film cleaner burns: no flame, gloves.",
    ]


def test_document_of_version_1_reads_as_one_without_job_tickets():
    older = to_document(HELD) | {"version": 1}
    del older["job_tickets"]
    read = from_bytes((json.dumps(older) + "\n").encode()).verdict
    assert read == dataclasses.replace(HELD, job_tickets=())


@pytest.mark.parametrize(
    ("document", "source"),
    [
        (to_document(HELD), HELD),
        (to_document(HELD)["findings"][0], THIN),
        (to_document(HELD)["findings"][0]["steps"][0], THIN.do[0]),
        (to_document(HELD)["sheets"][0], HELD.sheets[0]),
        (to_document(HELD)["job_tickets"][0], HELD.job_tickets[0]),
        (to_document(HELD)["status"][0], HELD.status[0]),
    ],
)
def test_no_field_of_a_verdict_is_left_out(document, source):
    assert {field.name for field in dataclasses.fields(source)} <= document.keys()


def test_text_stays_readable_and_what_acts_on_a_terminal_is_escaped():
    name = "a\x1b[2J\x7f\x9b\u202eb\udcff\U000e0001Größe"
    written = to_bytes(dataclasses.replace(HELD, companions=(name,)))
    assert "Größe".encode() in written
    assert all(
        character == "\n" or character.isprintable() for character in written.decode("utf-8")
    )
    assert from_bytes(written).verdict.companions == (name,)


def test_equal_verdicts_give_equal_bytes_however_their_numbers_were_made():
    whole = dataclasses.replace(THIN, measured=3, limit=0.0)
    broken = dataclasses.replace(THIN, measured=3.0, limit=-0.0)
    assert whole == broken
    one, other = (dataclasses.replace(HELD, findings=(item,)) for item in (whole, broken))
    assert to_bytes(one) == to_bytes(other)


def test_the_document_ends_with_a_newline_and_no_shorter_piece_of_it_is_a_verdict():
    written = to_bytes(HELD)
    assert written.endswith(b"}\n")
    for end in range(len(written)):
        with pytest.raises(NotAVerdictError):
            from_bytes(written[:end])


@pytest.mark.parametrize("number", [nan, inf, -inf, 10**400])
def test_a_number_that_is_not_finite_is_never_written(number):
    verdict = dataclasses.replace(HELD, findings=(dataclasses.replace(THIN, measured=number),))
    with pytest.raises(NotAVerdictError, match=r"solid_density\.min is not finite"):
        to_bytes(verdict)


@pytest.mark.parametrize("findings", [(), (THIN,), (THIN, CLEAR)])
def test_approved_against_its_own_findings_is_neither_written_nor_read(findings):
    verdict = dataclasses.replace(HELD, findings=findings)
    with pytest.raises(NotAVerdictError, match="no concession"):
        to_bytes(dataclasses.replace(verdict, decision=Decision.APPROVED))
    forged = json.loads(to_bytes(verdict)) | {"decision": "approved"}
    with pytest.raises(NotAVerdictError, match="no concession"):
        from_bytes((json.dumps(forged) + "\n").encode())
    assert not VALIDATOR.is_valid(forged)


def test_approved_is_read_when_its_findings_pass_or_a_concession_was_given():
    conceded = dataclasses.replace(
        HELD, decision=Decision.APPROVED, concession="JV: short run, customer agreed"
    )
    for verdict in (APPROVED, conceded):
        assert from_bytes(to_bytes(verdict)).verdict == verdict
        VALIDATOR.validate(to_document(verdict))


REFUSED = {
    "empty": (b"", "it is empty"),
    "blank": (b" \n", "it is empty"),
    "zeros after a power cut": (b"\0" * 4096, "its end is missing"),
    "not text": (b"\xff\xfe}\n", "not JSON"),
    "not JSON": (b"{,}\n", "not JSON"),
    "nested without end": (b'{"a":' * 100_000 + b"}\n", "not JSON"),
    "a number of endless digits": (b'{"a": ' + b"9" * 5000 + b"}\n", "not JSON"),
    "a list": (b"[{}\n", "not JSON"),
    "another document": (b'{"name": "x"}\n', "format"),
    "another format": (edited(format="other"), "format"),
    "a newer version": (edited(version=3), "a newer gatekeeper wrote it: version 3"),
    "version as text": (edited(version="1"), "version"),
    "version true": (edited(version=True), "version"),
    "version zero": (edited(version=0), "version"),
    "a foreign key": (edited(extra=1), "'extra'"),
    "two keys alike": (
        to_bytes(HELD).replace(b'"job":', b'"decision": "held",\n"job":'),
        "twice",
    ),
    "NaN": (to_bytes(HELD).replace(b"2.695,", b"NaN,"), "NaN is no number"),
    "too large": (to_bytes(HELD).replace(b"2.695,", b"1e999,"), "not finite"),
    "unknown decision": (edited(decision="released"), "no decision"),
    "unknown earlier decision": (edited(was="lost"), "no decision"),
    "job as number": (edited(job=1041), "job of the document is a int"),
    "no measurement": (edited(measurements=0), "measurements"),
    "notes with a number": (edited(notes=["a", 1]), "notes"),
    "sheet as text": (edited(sheets=["1041.csv"]), "a sheet is not an object"),
    "a job ticket without its digest": (edited(job_tickets=[{"name": ""}]), "'current'"),
    "job tickets in version 1": (edited(version=1), "'job_tickets'"),
    "status without subject": (edited(status=[{"says": ""}]), "'separation'"),
    "unknown outcome": (with_finding(outcome="maybe"), "no outcome"),
    "measured true": (with_finding(measured=True), "measured of a finding"),
    "off as text": (with_finding(off="a bit"), "off of a finding"),
    "steps that do does not list": (with_finding(do=[]), "do and steps"),
    "a step without caution": (with_finding(steps=[{"order": 1, "says": ""}]), "'caution'"),
}


@pytest.mark.parametrize(("data", "reason"), REFUSED.values(), ids=REFUSED)
def test_what_is_no_verdict_is_refused_with_a_reason(data, reason):
    with pytest.raises(NotAVerdictError, match=reason) as caught:
        from_bytes(data)
    assert isinstance(caught.value, ValueError)


@given(st.binary(max_size=60))
def test_no_bytes_break_the_reader(data):
    with pytest.raises(NotAVerdictError):
        from_bytes(data)


def test_missing_keys_are_named():
    for key in to_document(HELD):
        document = to_document(HELD)
        del document[key]
        with pytest.raises(NotAVerdictError, match=key):
            from_bytes((json.dumps(document) + "\n").encode())
        assert not VALIDATOR.is_valid(document)


@pytest.mark.parametrize(
    "changes",
    [
        {"version": 3},
        {"decision": "released"},
        {"extra": 1},
        {"job": 1041},
        {"measurements": 0},
        {"was": "lost"},
        {"sheets": ["1041.csv"]},
        {"findings": [{"check": "solid_density"}]},
    ],
)
def test_a_broken_document_fails_the_schema(changes):
    assert VALIDATOR.is_valid(to_document(HELD))
    assert not VALIDATOR.is_valid(to_document(HELD) | changes)


def test_the_schema_is_valid_and_explains_every_key():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    parts = [SCHEMA, *SCHEMA["$defs"].values()]
    for part in parts:
        assert set(part["required"]) == set(part["properties"])
        for key, entry in part["properties"].items():
            assert entry["description"].strip(), key
