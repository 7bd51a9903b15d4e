#!/usr/bin/env bash
# Passes all the tests, doing all of its own set-up. `tests/all.sh STEP…` runs only those steps.
#
#   format    cargo fmt
#   lint      clippy, warnings are errors; every feature by itself
#   docs      documentation, warnings are errors
#   tests     unit tests, properties, metamorphic harness, goldens, handbooks, examples
#   score     the scoreboard, with shares that may not slip
#   soak      random traces and broken files through every stage, a short slice
#   fuzz      coverage-guided fuzzing of every target, a short slice (where a nightly compiler is)
#   deny      licences, origins and versions of what is built in (where cargo-deny can be had)
#   outside   comparisons with general-purpose libraries in Python
#   wasm      the page and its core as WebAssembly
#   bits      debug, optimised, one thread, many and WebAssembly give the same bits
#   page      the page and its core run in a browser
# and, asked for by name, as it builds and runs the tests anew:
#   coverage  lines of the core that tests run through (where llvm-tools can be had)
set -euo pipefail
cd "$(dirname "$0")/.."

steps=(format lint docs tests score soak fuzz deny outside wasm bits page)
began=$SECONDS

need() { # need PROGRAM WHAT-FOR HOW
    command -v "$1" >/dev/null && return
    echo "tests: $1 is needed $2 and is not installed. $3" >&2
    exit 1
}

# The programs, with the features of `tests`, so that nothing is built twice.
build() { cargo build --locked --profile checks --workspace --all-features --bins; }

step_format() { cargo fmt --all --check; }

step_lint() {
    cargo clippy --locked --profile checks --workspace --all-targets --all-features -- -D warnings
    tests/features.sh
}

# The essays of public rooms may point to private ones. What the guides name must be there, too.
step_docs() {
    tests/links.sh
    RUSTDOCFLAGS="-D warnings -A rustdoc::private-intra-doc-links" cargo doc --locked --profile checks --workspace --no-deps --all-features
}

step_tests() { cargo test --locked --profile checks --workspace --all-features; }

# Bounds lie a little under the measured shares (DEVELOPERS.md says by how much and why).
step_score() {
    build
    tests/bounds.sh
}

# Any that panics or breaks a promise fails it; none was measured.
step_soak() {
    build
    target/checks/soak --traces 1500 --files 400
}

# What cannot be had here (status 3, or 4 for a part of it) has said so itself; it is left out, and named in the last lines.
left_out=()
where_it_can() { # where_it_can WHAT COMMAND…
    local status=0
    "${@:2}" || status=$?
    case $status in
    3) left_out+=("$1") ;;
    4) left_out+=("$1, in part") ;;
    *) return "$status" ;;
    esac
}

# The long run: `tests/fuzz/run.sh all 900`.
step_fuzz() { where_it_can "fuzzing" tests/fuzz/run.sh all 10; }

step_deny() { where_it_can "licences, origins and versions of dependencies" tests/deny.sh; }

step_coverage() { where_it_can "coverage" tests/coverage.sh 90; }

step_outside() {
    build
    tests/outside/run.sh
}

step_wasm() {
    tests/setup-wasm.sh
    build
    target/checks/trued-web build
}

step_bits() {
    build
    tests/bits.sh
}

step_page() {
    need npm "to check the page in a browser" "Install Node.js 20 or newer with npm."
    (cd tests/page && npm run --silent types && npm test --silent)
}

need cargo "to build anything" "Install Rust from https://rustup.rs, then run this again."

for step in "${@:-${steps[@]}}"; do
    declare -F "step_$step" >/dev/null || {
        echo "tests: there is no step $step; there are: ${steps[*]}" >&2
        exit 2
    }
    printf '\n== %s\n' "$step"
    start=$SECONDS
    "step_$step"
    printf '== %s passed in %d s\n' "$step" $((SECONDS - start))
done
printf '\nAll that ran passed in %d s.\n' $((SECONDS - began))
for what in "${left_out[@]}"; do
    printf 'NOT CHECKED here, see above why: %s\n' "$what"
done
