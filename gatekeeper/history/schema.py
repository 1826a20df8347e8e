"""The tables of the history, in one place.

Version 1   the first: rule_sets, events, verdicts, sheets, judged, negatives, readings, findings,
            tallies, schema_versions.

Every row names its site, so that many plate rooms can share one database. Moments are UTC. What a
program looks for has a column; what is only read back with the rest is JSON in a text column.

How the questions stay as fast at a million jobs as at a thousand: `verdicts.newest` marks the last
word on each job, so that a list walks one index backwards and stops at its limit; `tallies` carries
the counts, so that nothing is ever counted by looking at all of it.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    Table,
    UniqueConstraint,
)

from gatekeeper.history.columns import Instant, RowId, Words

VERSION = 1

metadata = MetaData()

# What was done to this database, one row a step.
schema_versions = Table(
    "schema_versions",
    metadata,
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("step", Words, nullable=False),
    Column("at", Instant, nullable=False),
    Column("program", Words, nullable=False),
)

# The rules in force, once per fingerprint. The fingerprint is over what the rules say; the text has
# the file and line of each limit too, as they were when the rules were first seen.
rule_sets = Table(
    "rule_sets",
    metadata,
    Column("site", Words, primary_key=True),
    Column("fingerprint", Words, primary_key=True),
    Column("text", Words, nullable=False),
    Column("first_seen", Instant, nullable=False),
)

# The audit chain, one a site: each event carries the SHA-256 of the one before. Only ever appended
# to: triggers refuse everything else, and the chain shows what got past them. `at` is text because
# its characters are sealed.
events = Table(
    "events",
    metadata,
    Column("site", Words, primary_key=True),
    Column("sequence", RowId, primary_key=True, autoincrement=False),  # 1, 2, 3, … without a gap
    Column("at", Words, nullable=False),
    Column("kind", Words, nullable=False),
    Column("subject", Words, nullable=False),
    Column("document", Words, nullable=False),
    Column("previous_sha256", Words, nullable=False),
    Column("sha256", Words, nullable=False),
    # What is no verdict is one event in a thousand, and is asked for by its kind.
    Index("events_kind", "site", "kind", "sequence"),
)

# One row a decision. `home` is the job's folder but for approved or held, which makes it one job
# for life; `job_key` is how people find it, however spelt. Later verdicts have later tickets.
verdicts = Table(
    "verdicts",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("site", Words, nullable=False),
    Column("ticket", Words, nullable=False),
    Column("sequence", RowId, nullable=False),  # of its event
    Column("newest", Boolean, nullable=False),  # the last word on this job
    Column("workflow", Words, nullable=False),
    Column("job", Words, nullable=False),
    Column("job_key", Words, nullable=False),
    Column("home", Words, nullable=False),
    Column("customer", Words, nullable=False),
    Column("decision", Words, nullable=False),
    Column("was", Words, nullable=False),
    Column("concession", Words),
    Column("reason", Words, nullable=False),  # what the first finding that holds says
    Column("rules_fingerprint", Words, nullable=False),
    Column("arrived_at", Instant, nullable=False),
    Column("filed_at", Instant, nullable=False),
    Column("printer", Words, nullable=False),  # for lists: of all its negatives, joined
    Column("film_lot", Words, nullable=False),
    Column("meter", Words, nullable=False),
    Column("program", Words, nullable=False),
    Column("folder", Words, nullable=False),
    Column("measurements", Integer, nullable=False),
    Column("remarks", Words, nullable=False),  # JSON: companions, job tickets, notes, status
    UniqueConstraint("site", "ticket"),
    UniqueConstraint("site", "sequence"),
    ForeignKeyConstraint(["site", "sequence"], ["events.site", "events.sequence"]),
    CheckConstraint("decision IN ('approved', 'held')", name="decision_known"),
    # One job: all of its verdicts, and the newest.
    Index("verdicts_job", "site", "job_key", "ticket"),
    Index("verdicts_home", "site", "home", "newest"),
    # The newest jobs: all, approved or held, of a workflow, of a customer.
    Index("verdicts_newest", "site", "newest", "filed_at", "ticket"),
    Index("verdicts_decision", "site", "newest", "decision", "filed_at", "ticket"),
    Index("verdicts_workflow", "site", "newest", "workflow", "filed_at", "ticket"),
    Index("verdicts_customer", "site", "newest", "customer", "filed_at", "ticket"),
)

# How many jobs have this as their newest verdict.
tallies = Table(
    "tallies",
    metadata,
    Column("site", Words, primary_key=True),
    Column("workflow", Words, primary_key=True),
    Column("decision", Words, primary_key=True),
    Column("jobs", RowId, nullable=False, autoincrement=False),
)

# One row a file of readings; it stays in its job's folder for good and may be judged many times.
sheets = Table(
    "sheets",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("site", Words, nullable=False),
    Column("ticket", Words, nullable=False),  # with which it arrived
    Column("name", Words, nullable=False),
    Column("dropped_as", Words, nullable=False),  # the name it came under, where that is another
    Column(
        "stem", Words, nullable=False
    ),  # of that name, without its last suffix: companions have it
    Column("sha256", Words, nullable=False),
    Column("workflow", Words, nullable=False),
    Column("job", Words, nullable=False),
    Column("job_key", Words, nullable=False),
    Column("home", Words, nullable=False),
    Column("separations", Words, nullable=False),  # JSON
    Column("read_as", Words, nullable=False),
    UniqueConstraint("site", "ticket", "name"),
    Index("sheets_job", "site", "job_key", "ticket"),
    Index("sheets_sha256", "site", "sha256", "ticket"),
    Index("sheets_stem", "site", "stem", "ticket"),
)

# Which sheets a verdict covers; `current` is false where a newer one had replaced it.
judged = Table(
    "judged",
    metadata,
    Column("verdict_id", ForeignKey("verdicts.id"), primary_key=True),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("site", Words, nullable=False),
    Column("sheet_id", ForeignKey("sheets.id"), nullable=False),
    Column("current", Boolean, nullable=False),
    sqlite_with_rowid=False,
)

# One row a film of a sheet.
negatives = Table(
    "negatives",
    metadata,
    Column("sheet_id", ForeignKey("sheets.id"), primary_key=True),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("site", Words, nullable=False),
    Column("separation", Words, nullable=False),
    Column("printer", Words, nullable=False),
    Column("film_lot", Words, nullable=False),
    Column("meter", Words, nullable=False),
    Column("measured_at", Instant),
    # SHA-256 of its readings' digits; none where nothing was read that tells one film from another,
    # and for sheets that are made to read alike, such as wedges.
    Column("digits", Words),
    Column("sheet_ticket", Words, nullable=False),  # of its sheet, for the index below
    Column("particulars", Words, nullable=False),  # JSON: the whole head
    # Films of the same digits, the latest first.
    Index("negatives_digits", "site", "digits", "sheet_ticket"),
    sqlite_with_rowid=False,
)

# One row a patch. Densities in ISO 5 log10 units, dot and transmittance in percent, lengths in mm;
# `nominal` is percent for a tint, mm for a length.
readings = Table(
    "readings",
    metadata,
    Column("sheet_id", RowId, primary_key=True, autoincrement=False),
    Column("negative", Integer, primary_key=True, autoincrement=False),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("site", Words, nullable=False),
    Column("kind", Words, nullable=False),
    Column("nominal", Double),
    Column("density", Double),
    Column("net_density", Double),
    Column("dot_read_percent", Double),  # the meter's own
    Column("dot_percent", Double),  # calculated
    Column("transmittance_percent", Double),
    Column("length_mm", Double),
    Column("bound", Words, nullable=False),
    Column("where", Words, nullable=False),
    Column("name", Words, nullable=False),
    Column("place", Words, nullable=False),  # in the file
    ForeignKeyConstraint(["sheet_id", "negative"], ["negatives.sheet_id", "negatives.position"]),
    sqlite_with_rowid=False,
)

# One row an answer. A measured value or limit is a number or a word, never both.
findings = Table(
    "findings",
    metadata,
    Column("verdict_id", ForeignKey("verdicts.id"), primary_key=True),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("site", Words, nullable=False),
    Column("check", Words, nullable=False),
    Column("rule", Words, nullable=False),
    Column("outcome", Words, nullable=False),
    Column("says", Words, nullable=False),
    Column("separation", Words, nullable=False),
    Column("measured", Double),
    Column("measured_words", Words),
    Column("limit", Double),
    Column("limit_words", Words),
    Column("unit", Words, nullable=False),
    Column("where", Words, nullable=False),
    Column("off", Double),
    Column("origin", Words, nullable=False),
    Column("trace", Words, nullable=False),
    Column("do", Words, nullable=False),  # JSON: order, says, caution
    sqlite_with_rowid=False,
)
