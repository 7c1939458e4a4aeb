# Sourced by tests/run and simulator/demo: makes the environment .venv in the root of the repository, or finds it
# made. Sets `root` and `python`. What is in .venv/stamp-GROUP says for which pyproject.toml, Python and place that
# group was installed, so that a second run installs nothing and needs no network.

root=$(cd -P -- "$(dirname -- "${BASH_SOURCE[0]}")/.." && pwd)
python=$root/.venv/bin/python

# Nothing from outside changes what is installed or imported here.
unset PYTHONPATH PYTHONHOME PIP_USER PIP_TARGET PIP_PREFIX
export PYTHONNOUSERSITE=1 PIP_DISABLE_PIP_VERSION_CHECK=1

say() { printf '%s\n' "$*" >&2; }

# Is this a Python we run on, with what it takes to make an environment?
suits() { "$1" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' 2>/dev/null; }
complete() { "$1" -c 'import ensurepip, venv' 2>/dev/null; }

find_python() {
    local name version tried=
    for name in python3.13 python3.12 python3.11 python3 python; do
        version=$("$name" -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null) || continue
        if ! suits "$name"; then
            tried+="${tried:+, }$name is $version"
        elif ! complete "$name"; then
            tried+="${tried:+, }$name is $version but lacks venv and ensurepip (Debian package python$version-venv)"
        else
            echo "$name"
            return
        fi
    done
    say "dawnline needs Python 3.11, 3.12 or 3.13 with venv and ensurepip; found: ${tried:-no Python at all}."
    say "On Debian 12 or newer: apt install python3 python3-venv"
    return 1
}

# The requirements of one group of pyproject.toml, one a line (pip itself knows groups only from 25.1 on).
requirements() {
    "$python" -c 'import sys, tomllib
with open(sys.argv[1], "rb") as file:
    print("\n".join(tomllib.load(file)["dependency-groups"][sys.argv[2]]))' "$root/pyproject.toml" "$1"
}

stamp() { printf '%s\n' "$(cksum <"$root/pyproject.toml") $root $("$python" -c 'import sys; print(sys.version)')"; }
installed() { [[ -f $root/.venv/stamp-$1 && $(<"$root/.venv/stamp-$1") == "$(stamp)" ]]; }

make_venv() {
    suits "$python" && "$python" -c 'import pip' 2>/dev/null && return
    local base
    base=$(find_python) || return
    say "making $root/.venv with $("$base" --version)"
    "$base" -m venv --clear "$root/.venv" || { say "could not make $root/.venv"; return 1; }
}

install_groups() {
    local group listed wanted=() packages=()
    for group in run "$@"; do
        installed "$group" || wanted+=("$group")
    done
    ((${#wanted[@]})) || return 0
    say "installing dawnline and what it needs (${wanted[*]})"
    for group in "${wanted[@]}"; do
        [[ $group == run ]] && continue
        listed=$(requirements "$group") || return
        mapfile -t -O "${#packages[@]}" packages <<<"$listed"
    done
    if ! "$python" -m pip install --quiet --quiet --no-input --editable "$root" "${packages[@]}"; then
        say "could not install ${wanted[*]}: the first run needs a package index that pip can reach"
        return 1
    fi
    for group in "${wanted[@]}"; do
        stamp >"$root/.venv/stamp-$group"
    done
}

# environment GROUP...: .venv with the run-time dependencies and these groups. One at a time on one clone.
environment() {
    (
        if command -v flock >/dev/null; then flock 9; fi
        make_venv && install_groups "$@"
    ) 9<"$root/pyproject.toml" </dev/null
}
