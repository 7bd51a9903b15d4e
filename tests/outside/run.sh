#!/usr/bin/env bash
# Builds its own Python environment under target/, has the project write its results, and compares
# them with general-purpose libraries. Prints the table of what was compared.
set -euo pipefail
cd "$(dirname "$0")/../.."

venv=target/venv
if [ ! -x "$venv/bin/python" ]; then
    command -v python3 >/dev/null || {
        echo "tests: python3 is needed for the outside comparisons; install it (Debian: apt-get install python3 python3-venv)." >&2
        exit 1
    }
    python3 -m venv "$venv" || {
        echo "tests: python3 has no venv here; install it (Debian: apt-get install python3-venv)." >&2
        exit 1
    }
fi
if ! cmp -s tests/outside/requirements.txt "$venv/requirements.txt"; then
    "$venv/bin/pip" install --quiet --disable-pip-version-check -r tests/outside/requirements.txt || {
        echo "tests: the Python packages of tests/outside/requirements.txt could not be had; the comparisons need a network once." >&2
        exit 1
    }
    cp tests/outside/requirements.txt "$venv/requirements.txt"
fi

out=target/outside
rm -rf "$out"
mkdir -p "$out"
outlines() { # outlines FOLDER FORMAT FILE…
    local folder=$1 format=$2
    shift 2
    target/checks/trued outline "$@" --out-dir "$folder" --format "$format" 2>"$out/log" || {
        cat "$out/log" >&2
        exit 1
    }
}
for format in json svg dxf; do
    outlines "$out" "$format" examples/traces/*.csv
done
"$venv/bin/python" tests/outside/lasa.py "$out/lasa"
outlines "$out/lasa" json "$out"/lasa/*.csv
target/checks/outside-cases > "$out/cases.json"
"$venv/bin/python" tests/outside/compare.py "$out"
# The plans of all demos, in every format and unit.
mkdir -p "$out/cuts"
for outline in "$out"/*.json; do
    stem=$(basename "$outline" .json)
    [ "$stem" = cases ] && continue
    cut() { # cut FILE FLAG…
        local file=$1
        shift
        target/checks/trued cut "$outline" --kerf 1.5mm --feed 2400mm --pierce 0.4 --hole 8mm --accept-doubts all -q "$@" -o "$out/cuts/$stem.$file" || exit 1
    }
    cut cut.json
    for unit in mm in; do
        name=; [ $unit = in ] && name=in.
        for file in ngc dxf svg; do
            cut "$name$file" --out-units $unit
        done
        cut "${name}dry.ngc" --out-units $unit --dry-run
        cut "${name}single.dxf" --out-units $unit --single
    done
done
"$venv/bin/python" tests/outside/cuts.py "$out"
# Blanks against random packing: a short slice; `blanks.py` without a number makes it 1,000.
cargo test --quiet --profile checks --workspace --all-features --test jobs every_layout >"$out/log" 2>&1 || {
    cat "$out/log" >&2
    exit 1
}
"$venv/bin/python" tests/outside/blanks.py 20
# Drawings from elsewhere: every entity and shape that is read, at random, against independent readers.
"$venv/bin/python" tests/outside/drawn.py "$out/drawn" 150
"$venv/bin/python" tests/outside/drawings.py target/checks/trued "$out/drawn"
