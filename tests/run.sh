#!/bin/sh
# Runs the tests, setting up .venv first where needed. Arguments go to pytest; paths count from the top folder.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
. "$root/.ci/venv.sh"
set_up_venv "$root" tests/requirements.lock
cd "$root"
exec .venv/bin/pytest "$@"
