#!/bin/sh
# Proves the wheel by itself: built from the source archive, holding every file that it should,
# installed with nothing but the runtime lock, and used from an empty folder.
# The tests run beside the sources and cannot notice a template or a YAML file left out.
# shellcheck disable=SC2086  # $quiet is several options
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
cd "$root"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
trap 'exit 130' INT TERM
quiet='-qq --disable-pip-version-check --no-deps'

.venv/bin/python -m hatchling build -t sdist -d "$work/dist" >"$work/log" 2>&1 || {
    cat "$work/log"
    exit 1
}
.venv/bin/python -m pip wheel $quiet --no-build-isolation -w "$work/dist" "$work"/dist/*.tar.gz

git ls-files gatekeeper config examples systemd >"$work/expected"
.venv/bin/python - "$work/expected" "$work"/dist/*.whl <<'PYTHON'
import sys
import zipfile
from pathlib import Path

expected = {
    name if name.startswith("gatekeeper/") else f"gatekeeper/bundled/{name}"
    for name in Path(sys.argv[1]).read_text().splitlines()
}
held = {name for name in zipfile.ZipFile(sys.argv[2]).namelist() if ".dist-info/" not in name}
for name in sorted(expected - held):
    print(f"not in the wheel: {name}")
for name in sorted(held - expected):
    print(f"in the wheel, but not in the repository: {name}")
for needed in ("gatekeeper/bundled/config/", "gatekeeper/bundled/examples/", "gatekeeper/bundled/systemd/"):
    if not any(name.startswith(needed) for name in held):
        sys.exit(f"the wheel holds nothing under {needed}")
sys.exit(held != expected)
PYTHON

.venv/bin/python -m venv "$work/venv"
"$work/venv/bin/python" -m pip install $quiet --require-hashes -r requirements.lock
"$work/venv/bin/python" -m pip install $quiet "$work"/dist/*.whl

cd "$work"
mkdir empty
cd empty
unset GATEKEEPER_SITE
"$work/venv/bin/gatekeeper" init "$work/site" >/dev/null
"$work/venv/bin/gatekeeper" --site "$work/site" rules check
"$work/venv/bin/gatekeeper" demo "$work/demo" >/dev/null
"$work/venv/bin/gatekeeper" --site "$work/site" service install --dry-run --root "$work/empty" \
    --program /opt/gatekeeper/bin/gatekeeper >/dev/null
echo 'The wheel is complete; init, rules check and demo work from it.'
