# shellcheck shell=sh
# Keeps .venv beside pyproject.toml in step with a lock file. Sourced, in POSIX sh:
#
#     set_up_venv ROOT LOCK      ROOT is the absolute path of the checkout, LOCK counts from there
#
# Costs next to nothing when nothing is to be done. Otherwise it works quietly; when it cannot, it
# says why and returns 2.

set_up_venv() {
    root=$1 lock=$2 venv=$1/.venv
    stamp=$venv/.installed-$(printf '%s' "$lock" | tr / -)

    # One state for both locks and the project file: after a change in any of them, nothing that
    # was installed before is trusted.
    state=$(cd "$root" && cat pyproject.toml requirements.lock tests/requirements.lock | cksum)
    for known in "$venv"/.installed-*; do
        [ "$(cat "$known" 2>/dev/null)" = "$state" ] || rm -f "$known"
    done
    if venv_is_whole; then
        [ ! -f "$stamp" ] || return 0
    else
        make_venv || return 2
    fi
    install_locked || return 2
    printf '%s\n' "$state" >"$stamp"     # last, so that an interrupted run starts over
}

new_enough='import sys; sys.exit(sys.version_info < (3, 11))'

# Whole: its Python runs, is new enough and has pip, and its scripts name this very folder, which
# they do not after the checkout was moved or copied.
venv_is_whole() {
    "$venv/bin/python" -c "import pip; $new_enough" 2>/dev/null &&
        grep -qF "$venv/bin/python" "$venv/bin/pip" 2>/dev/null
}

make_venv() {
    find_python || return 2
    if [ -e "$venv" ]; then
        echo 'Making .venv anew: it is incomplete, or was moved, or its Python is gone ...' >&2
    else
        echo "Making .venv with $python ..." >&2
    fi
    "$python" -m venv --clear "$venv" && return 0
    echo "$python could not make $venv; the reason is above." >&2
    return 2
}

# Sets $python. To be found says nothing (the name may be a version switch's placeholder), so each
# candidate is run.
find_python() {
    bare=
    if [ -n "${PYTHON-}" ]; then set -- "$PYTHON"; else
        set -- python3.13 python3.12 python3.11 python3
    fi
    for python in "$@"; do
        "$python" -c "$new_enough" 2>/dev/null || continue
        "$python" -c 'import ensurepip, venv' 2>/dev/null && return 0
        bare=$python
    done
    if [ -n "$bare" ]; then
        echo "$bare is new enough, but lacks what makes a virtual environment." >&2
        echo '  Debian, Ubuntu   apt-get install python3-venv, or by version: python3.12-venv' >&2
    else
        echo "gatekeeper needs Python 3.11 or newer, and none was found as: $*" >&2
        echo '  Debian, Ubuntu   apt-get install python3 python3-venv' >&2
        echo '  Fedora           dnf install python3' >&2
    fi
    echo '  elsewhere        say which one: PYTHON=/path/to/python3 before the command' >&2
    return 2
}

install_locked() {
    echo "Installing what $lock names into .venv ..." >&2
    {
        pip_install --require-hashes -r "$root/$lock" &&
            (cd "$root" && pip_install --no-deps --no-build-isolation -e .)
    } >"$venv/install.log" 2>&1 && return 0
    tail -n 25 "$venv/install.log" >&2
    echo 'The packages could not be installed; the lines above end .venv/install.log.' >&2
    echo 'Once this machine reaches a Python package index, run the same command again.' >&2
    return 2
}

pip_install() { "$venv/bin/python" -m pip install --quiet --disable-pip-version-check "$@"; }
