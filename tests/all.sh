#!/usr/bin/env bash
# Passes all the tests, doing all of its own set-up. `tests/all.sh STEP…` runs only those steps.
#
#   format    cargo fmt
#   lint      clippy, warnings are errors
#   docs      documentation, warnings are errors
#   tests     unit tests, properties, metamorphic harness, goldens, handbooks, examples
#   score     the scoreboard, with shares that may not slip
#   soak      random traces and broken files through every stage, a short slice
#   outside   comparisons with general-purpose libraries in Python
#   wasm      the page and its core as WebAssembly
#   page      the page and its core run in a browser
set -euo pipefail
cd "$(dirname "$0")/.."

steps=(format lint docs tests score soak outside wasm page)
began=$SECONDS

need() { # need PROGRAM WHAT-FOR HOW
    command -v "$1" >/dev/null && return
    echo "tests: $1 is needed $2 and is not installed. $3" >&2
    exit 1
}

# The programs, with the features of `tests`, so that nothing is built twice.
build() { cargo build --locked --profile checks --workspace --all-features --bins; }

step_format() { cargo fmt --all --check; }

step_lint() { cargo clippy --locked --workspace --all-targets --all-features -- -D warnings; }

# The essays of public rooms may point to private ones.
step_docs() {
    RUSTDOCFLAGS="-D warnings -A rustdoc::private-intra-doc-links" cargo doc --locked --workspace --no-deps --all-features
}

step_tests() { cargo test --locked --profile checks --workspace --all-features; }

# Bounds lie a little under the measured shares (DEVELOPERS.md says by how much and why).
step_score() {
    build
    tests/bounds.sh
}

# Panics fail at once; of the rest, wild scribbles whose outline crosses itself are most.
step_soak() {
    build
    target/checks/soak --traces 1500 --files 2000 --most 10
}

step_outside() {
    build
    tests/outside/run.sh
}

step_wasm() {
    tests/setup-wasm.sh
    build
    target/checks/trued-web build
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
printf '\nAll passed in %d s.\n' $((SECONDS - began))
