"""JSON Schemas of the files that an administrator writes, for editors that complete and check.

Made from the models that read the files, so they cannot say anything else. What one value says of
another (a min above a max, a floor) no schema can tell: `gatekeeper rules check` does.

Source   JSON Schema, draft 2020-12.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from pydantic.json_schema import GenerateJsonSchema
from typing_extensions import override

from gatekeeper.readers.profile import Profile
from gatekeeper.register.models import RegisterFile
from gatekeeper.rules.models import CustomerFile, JobTicketFile, WorkflowFile
from gatekeeper.site import SiteFile

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from pydantic import BaseModel
    from pydantic_core import core_schema

    from gatekeeper.filing.disk import Disk

KINDS: Mapping[str, type[BaseModel]] = {
    "site": SiteFile,
    "workflow": WorkflowFile,
    "customer": CustomerFile,
    "ticket": JobTicketFile,
    "register": RegisterFile,
    "profile": Profile,
}

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_BOUNDS = {
    "ge": "minimum",
    "gt": "exclusiveMinimum",
    "le": "maximum",
    "lt": "exclusiveMaximum",
}
_OWN = {"stricter", "is_setting", "title"}  # how layers are compared, and names of classes

FOLDER = "schemas"
"""Of a site, where its files look for them."""


class _Generator(GenerateJsonSchema):
    """Says what an editor needs: no titles made of key names, and no null, which files refuse."""

    @override
    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    @override
    def nullable_schema(self, schema: core_schema.NullableSchema) -> dict[str, Any]:
        return self.generate_inner(schema["schema"])


def schema_of(kind: str) -> dict[str, Any]:
    """Return the schema of a kind of file, such as `workflow` or `ticket`."""
    model = KINDS[kind]
    made = _tidied(model.model_json_schema(schema_generator=_Generator))
    return {"$schema": DIALECT, "title": f"{kind} file of gatekeeper", **made}


def schema_files() -> dict[str, bytes]:
    """Return the bytes of every schema by the name of its file."""
    return {
        f"{kind}.schema.json": (json.dumps(schema_of(kind), indent=2) + "\n").encode()
        for kind in KINDS
    }


def _tidied(schema: Any) -> Any:  # noqa: ANN401 -- JSON is that loose
    """Return the schema with its units and bounds as JSON Schema has them."""
    if isinstance(schema, list):
        return [_tidied(entry) for entry in schema]
    if not isinstance(schema, dict):
        return schema
    tidy: dict[str, Any] = {}
    for key, value in schema.items():
        if key == "properties":
            tidy[key] = {name: _tidied(entry) for name, entry in value.items()}
        elif key == "unit":
            tidy |= {"x-unit": value} if value else {}
        elif key in _BOUNDS:
            tidy[_BOUNDS[key]] = value
        elif key not in _OWN and not (key == "default" and value in (None, {}, [])):
            tidy[key] = _tidied(value)
    return tidy


def write_schemas(folder: Path, disk: Disk) -> list[str]:
    """Write the schemas into a folder; return the names of those that were not there as they are.

    Editors find them by the first line of each example file.
    """
    written: list[str] = []
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in schema_files().items():
        path = folder / name
        if not path.is_file() or path.read_bytes() != content:
            disk.unlink(path)
            disk.write_new(path, content)
            written.append(name)
    return written
