#!/bin/sh
# Writes the two lock files from pyproject.toml; `sh .ci/lock.sh --upgrade` takes newer versions.
# Needs uv.
#
# The locks name versions and hashes only. Where packages come from is the business of the machine
# that installs them: no index address, link or path may stand in them. The last lines make sure.
#
# Extras stay in the locks (`coverage[toml]==…`): a pip of 2023 does not see that `coverage==…` answers
# `coverage[toml]>=…`, and refuses the whole lock from the day a newer coverage is published.
set -eu
cd "$(dirname -- "$0")/.."
PATH=$PWD/.venv/bin:$PATH

compile() {
    lock=$1
    shift
    uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-annotate --no-strip-extras \
        --no-emit-index-url --no-emit-find-links --custom-compile-command 'sh .ci/lock.sh' \
        --output-file "$lock" "$@"
}

compile requirements.lock pyproject.toml --group build --extra postgres --extra spreadsheets "$@"
# What the tests run with is what runs in the plate room.
compile tests/requirements.lock pyproject.toml --group build --all-extras --constraint requirements.lock "$@"

if grep -nE '://|^ *-[a-z-]|(^|[^a-z])/[a-z]|@ ' requirements.lock tests/requirements.lock | grep -v -- '--hash='; then
    echo 'lock.sh: the lines above name a place; see --no-emit-index-url and the settings of uv' >&2
    exit 1
fi
