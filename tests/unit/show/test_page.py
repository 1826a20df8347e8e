"""The pages as text: what stands in them, what may not, and that no foreign text gets through."""

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import pytest
from charted import CURVE, FACTS
from hypothesis import given, settings
from hypothesis import strategies as st
from morning import CAUTION, MORNING, QUIET, approved, held
from several_rooms import AWAY
from several_rooms import ROOMS as SHARED

from gatekeeper.show.earlier import courses, judgements
from gatekeeper.show.facts import facts_of
from gatekeeper.show.page import (
    INDEX,
    STILL,
    WALL,
    JobPage,
    WorkflowPage,
    index_page,
    job_page,
    rooms_page,
    workflow_page,
)
from gatekeeper.show.room_facts import Alarm, RoomFacts, Waits

WRITTEN = "24 Nov 17:00"
LONDON = ZoneInfo("Europe/London")
VOID = {"meta", "link", "br"}
NASTY = "</style><script>alert(1)</script><img src=x onerror=\"alert('2')\">{{ 7 * 7 }}"


class Reader(HTMLParser):
    """Every tag with its attributes, the visible words, and whether all that opens is closed."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.words, self._open = [], [], []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        if self._open and self._open[-1] != "style":
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())

    def of(self, name):
        return [attributes for tag, attributes in self.tags if tag == name]


def job_facts(verdict):
    return JobPage(
        room="Ferrybank Plate Room",
        workflow="liquid-plate",
        workflow_href="workflows/liquid-plate.html",
        report=facts_of(verdict, title="Liquid photopolymer"),
        judged=judgements([verdict, verdict]),
        courses=courses([verdict, verdict]),
    )


WORKFLOW = WorkflowPage(
    room="Ferrybank Plate Room",
    facts=MORNING.workflows[0],
    written=WRITTEN,
    zone=LONDON,
    held=MORNING.held,
    approved=MORNING.approved,
    dues=MORNING.dues,
    limits=(("solid_density.min", "2.7 density", "workflows/liquid-plate.yaml:12"),),
    curves=(CURVE,),
)


@pytest.fixture
def pages(gold_verdict):
    return [
        index_page(MORNING, written=WRITTEN),
        index_page(MORNING, written=WRITTEN, name=WALL),
        index_page(QUIET, written=WRITTEN, name=STILL),
        job_page(job_facts(gold_verdict("held"))),
        job_page(job_facts(gold_verdict("separations"))),
        job_page(job_facts(gold_verdict("approved"))),
        workflow_page(WORKFLOW),
        rooms_page(replace(SHARED, alarms=(AWAY,)), written=WRITTEN),
    ]


def test_pages_are_well_formed_and_say_their_language(pages):
    for page in pages:
        reader = Reader(page)
        assert page.startswith("<!doctype html>")
        assert reader.of("html") == [{"lang": "en"}]
        assert len(reader.of("h1")) == 1
        assert len(reader.of("main")) == 1
        ids = [attributes["id"] for _, attributes in reader.tags if "id" in attributes]
        assert len(ids) == len(set(ids))


def digest(text):
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def test_the_policy_allows_the_page_its_own_style_and_reloading_and_nothing_else(pages):
    for page in pages:
        policy = Reader(page).of("meta")[1]["content"]
        style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)[1]
        assert "&" not in style  # an escaped sign would change the style
        allowed = f"default-src 'none'; style-src '{digest(style)}'; "
        for script in re.findall(r"<script>(.*?)</script>", page, re.DOTALL):
            assert script == "setTimeout(function(){location.reload()},20000)"
            allowed += f"script-src '{digest(script)}'; "
        assert policy == allowed + "base-uri 'none'; form-action 'none'"


def test_pages_fetch_nothing_and_only_the_rooms_page_runs_a_line(pages):
    assert [page.count("<script") for page in pages] == [1, 1, 0, 0, 0, 0, 0, 0]
    for page in pages:
        reader = Reader(page)
        assert not {tag for tag, _ in reader.tags} & {"img", "iframe", "object", "link"}
        for _, attributes in reader.tags:
            assert not [name for name in attributes if name.startswith("on") or name == "style"]
            assert "src" not in attributes
        for anchor in reader.of("a"):
            assert not anchor["href"].startswith(("http", "//", "javascript", "file"))


def test_the_room_is_told_with_the_newest_held_job_first():
    page = index_page(MORNING, written=WRITTEN)
    text = Reader(page).text
    assert "</strong><span" not in page, "two words would run into one"
    assert text.index("job 1044") < text.index("the solid is too thin") < text.index("job 2012")
    assert "7 HELD · 4 waiting · 412 approved · gate at work" in text
    assert f"CAUTION: {CAUTION}" in text
    assert "(and 2 more reasons)" in text
    assert "It was approved before" in text
    assert "ALARM RULES BROKEN" in text
    assert "UNDER CONCESSION: by the lead" in text
    assert "OVERDUE meter T-02 since 20 Aug: calibration (liquid-plate, stencil)" in text
    assert "DRIFTS mid-tone on P1 (matte-5mil, liquid-plate) has crept up" in text
    assert "Written 24 Nov 17:00" in text


def test_a_silent_gate_is_never_shown_as_peace():
    text = Reader(index_page(RoomFacts("R", is_at_work=False), written=WRITTEN)).text
    assert "GATE NOT AT WORK" in text
    assert "Nothing is held." not in text


def test_the_page_refreshes_unless_a_reader_needs_time():
    moving, wall, still = (
        index_page(QUIET, written=WRITTEN, name=name) for name in (INDEX, WALL, STILL)
    )
    for page, name in ((moving, INDEX), (wall, WALL)):  # for browsers without script
        refresh = {"http-equiv": "refresh", "content": f"20; url={name}"}
        assert refresh in Reader(page).of("meta")
    assert "refresh" not in str(Reader(still).of("meta"))
    assert {"href": "still.html"} in Reader(moving).of("a")
    assert {"href": "index.html"} in Reader(still).of("a")


def test_what_is_beyond_a_list_is_counted_and_the_command_that_tells_of_it_named():
    facts = replace(MORNING, held_in_all=258, waits_beyond=4997)
    text = Reader(index_page(facts, written=WRITTEN)).text
    assert "And 250 older held jobs: gatekeeper jobs --state held lists them" in text
    assert "And 4997 more files: gatekeeper jobs --state waiting" in text
    assert "And 405 older jobs: gatekeeper why JOB" in text
    text = Reader(workflow_page(WORKFLOW)).text
    assert f"And {WORKFLOW.facts.approved - len(WORKFLOW.approved)} older jobs" in text
    text = Reader(index_page(QUIET, written=WRITTEN)).text
    assert "gatekeeper jobs" not in text
    assert "gatekeeper why" not in text


def test_a_job_page_tells_reasons_steps_cautions_and_history(gold_verdict):
    page = job_page(job_facts(gold_verdict("held")))
    reader = Reader(page)
    assert "HELD job 1042" in reader.text
    assert "the weakest solid lets light through" in reader.text
    assert "CAUTION: film cleaner" in reader.text
    assert "50 ± 1.5 %" in reader.text
    assert "customers/quillmark.yaml:6" in reader.text
    assert "History of its measurements" in reader.text
    labels = [drawn["aria-label"] for drawn in reader.of("svg")]
    assert labels[0].startswith("measured 2.695 density, asked at least 2.85 density")
    assert {"href": "../../index.html"} in reader.of("a")
    assert {"href": "../../workflows/liquid-plate.html"} in reader.of("a")


def test_a_workflow_page_shows_limits_and_the_tone_curve():
    text = Reader(workflow_page(WORKFLOW)).text
    assert "solid_density.min 2.7 density workflows/liquid-plate.yaml:12" in text
    assert "Tone before and after the newest curve" in text
    assert {"href": "../jobs/liquid-plate/1044.html"} in Reader(workflow_page(WORKFLOW)).of("a")


def test_equal_facts_give_equal_bytes(gold_verdict):
    first, second = (index_page(facts, written=WRITTEN) for facts in (MORNING, replace(MORNING)))
    assert first == second
    facts = job_facts(gold_verdict("held"))
    assert job_page(facts) == job_page(replace(facts))


def test_text_from_outside_is_escaped_everywhere(gold_verdict):
    facts = RoomFacts(
        room=NASTY,
        is_at_work=True,
        alarms=(Alarm(NASTY, NASTY),),
        held=(held(NASTY, why=NASTY, do=NASTY, caution=NASTY, workflow=NASTY, customer=NASTY),),
        waits=(Waits(NASTY, NASTY, NASTY),),
        approved=(approved(NASTY, concession=NASTY, customer=NASTY, workflow=NASTY),),
    )
    verdict = gold_verdict("held")
    findings = tuple(replace(entry, says=NASTY, where=NASTY) for entry in verdict.findings)
    nasty = replace(verdict, job=NASTY, customer=NASTY, findings=findings, notes=(NASTY,))
    workflow = replace(WORKFLOW, room=NASTY, limits=((NASTY, NASTY, NASTY),), held=facts.held)
    for page in (
        index_page(facts, written=WRITTEN, name=STILL),
        job_page(job_facts(nasty)),
        workflow_page(workflow),
    ):
        reader = Reader(page)
        assert not {tag for tag, _ in reader.tags} & {"script", "img"}
        assert "alert(1)" in reader.text
        assert "{{ 7 * 7 }}" in reader.text or "{{ 7" in reader.text  # shown, not worked out


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_no_verdict_breaks_its_page(any_verdict, data):
    verdict = data.draw(any_verdict)
    page = job_page(job_facts(verdict))
    Reader(page)
    page.encode("utf-8")


def test_a_workflow_page_draws_its_charts_and_tells_their_signals_in_words():
    page = workflow_page(replace(WORKFLOW, charts=(FACTS,)))
    reader = Reader(page)
    assert "What the charts say" in reader.text
    assert "it has crept up" in reader.text
    assert "1: job 1012, 13 Oct, 51.4 %: beyond its control limit" in reader.text
    assert any(FACTS.title in drawn["aria-label"] for drawn in reader.of("svg"))
    assert reader.text.index("What the charts say") < reader.text.index("Held, the newest")
    quiet = Reader(workflow_page(replace(WORKFLOW, charts=(replace(FACTS, says=()),)))).text
    assert quiet.index("Held, the newest") < quiet.index("The readings of its printers")
    assert "charts" not in Reader(workflow_page(WORKFLOW)).text
