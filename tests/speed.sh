#!/usr/bin/env bash
# How fast, beside what. `tests/speed.sh PART…` runs only those parts.
#
#   tables   stages and whole beside general-purpose libraries in Rust, the whole program
#   outside  a pipeline of Python's general-purpose libraries on the same traces
#   growth   time and memory against points, edges, strokes, parts, files; draws the plot
set -euo pipefail
cd "$(dirname "$0")/.."

part_tables() { cargo run --locked --quiet --release -p trued-tests --bin speed; }

part_growth() {
    cargo build --locked --quiet --release -p trued --features cli --bin trued
    cargo run --locked --quiet --release -p trued-tests --bin growth
}

part_outside() {
    local venv=target/venv wanted=tests/outside/pipeline.txt
    [ -x "$venv/bin/python" ] || python3 -m venv "$venv" || {
        echo "tests: python3 with venv is needed; install it (Debian: apt-get install python3 python3-venv)." >&2
        exit 1
    }
    cmp -s "$wanted" "$venv/pipeline.txt" || {
        "$venv/bin/pip" install --quiet --disable-pip-version-check -r "$wanted"
        cp "$wanted" "$venv/pipeline.txt"
    }
    cargo run --locked --quiet --release -p trued-tests --bin pipeline-cases -- target/speed/cases
    "$venv/bin/python" tests/outside/pipeline.py target/speed/cases
}

parts=(tables outside growth)
for part in "${@:-${parts[@]}}"; do
    declare -F "part_$part" >/dev/null || {
        echo "tests: there is no part $part; there are: ${parts[*]}" >&2
        exit 2
    }
    "part_$part"
done
