"""The block `log` of site.yaml."""

from __future__ import annotations

from pydantic import Field

from gatekeeper.yamlfiles.fields import Block, CountField, WordField


class LogBlock(Block):
    """A file that the daemon writes its log to, beside the journal or standard error."""

    file: WordField | None = Field(
        default=None, description="file of the log, relative to the site's folder or absolute"
    )
    max_bytes: CountField = Field(
        default=5_000_000, gt=0, description="size at which the file is put aside (bytes)"
    )
    kept: CountField = Field(default=5, ge=1, le=1000, description="files put aside that are kept")
