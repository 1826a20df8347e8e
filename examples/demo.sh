#!/bin/sh
# Shows gatekeeper at work in an invented plate room, setting up .venv first where needed.
# Arguments go to `gatekeeper demo`.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
. "$root/.ci/venv.sh"
set_up_venv "$root" requirements.lock
exec "$root/.venv/bin/gatekeeper" demo "$@"
