#!/usr/bin/env bash
# The same bits: outline documents of all demos and of random shapes by a shaky hand are the same,
# byte for byte, from a debug build, an optimised one, one thread, many threads, and WebAssembly; plans
# are the same after rounding to 1e-9 mm. Needs the programs of `checks` and the module in www/pkg.
set -euo pipefail
cd "$(dirname "$0")/.."

out=target/bits
rm -rf "$out"
mkdir -p "$out"/{in,checks,debug,one,many} "$out"/plans/{checks,debug}
cp examples/traces/*.csv "$out/in"
number=0
sed -n 's/^ *name: "\(.*\)",$/\1/p' tests/src/shapes.rs >"$out/families"
while IFS= read -r family; do
    number=$((number + 1))
    target/checks/scoreboard --dump "$family" 7 --hand shaky >"$out/in/random_$number.csv"
done <"$out/families"

cargo build --locked --quiet -p trued --features cli

outlines() { # outlines PROGRAM FOLDER
    "$1" outline "$out"/in/*.csv --out-dir "$out/$2" --format json --quiet 2>"$out/log" || {
        cat "$out/log" >&2
        exit 1
    }
}
plans() { # plans PROGRAM FOLDER
    local file name
    for file in "$out/checks"/*.json; do
        # What cannot be cut is refused; the same by all. Units are said, as some traces are in inches.
        name=$(basename "$file" .json)
        "$1" cut "$file" --kerf 1.5mm --feed 2000mm --pierce 0.5 --hole 6mm --accept-doubts all --out-units mm -o "$out/plans/$2/$name.dxf" >/dev/null 2>"$out/plans/$2/$name.said" || true
    done
}
outlines target/checks/trued checks
outlines target/debug/trued debug
RAYON_NUM_THREADS=1 outlines target/checks/trued one
RAYON_NUM_THREADS=8 outlines target/checks/trued many
plans target/checks/trued checks
plans target/debug/trued debug

command -v node >/dev/null || {
    echo "tests: node is needed to run the WebAssembly module. Install Node.js 20 or newer." >&2
    exit 1
}
node tests/bits.mjs "$out"
