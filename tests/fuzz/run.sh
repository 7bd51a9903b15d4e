#!/usr/bin/env bash
# Coverage-guided fuzzing of one target, or of all one after the other, on one core.
#
#   tests/fuzz/run.sh TARGET|all SECONDS     csv svg dxf document sides trace plan
#   tests/fuzz/run.sh again FILE TARGET      one input once more
#   tests/fuzz/run.sh merge TARGET           what was found is added to the corpus, the least of it
#
# It needs a nightly compiler and a C++ compiler. Where there is none it says so and ends with status 3.
# The first corpus is made of the examples (cargo run -p trued-tests --bin fuzz-seeds -- examples tests/fuzz/corpus) and of
# files drawn_… that hold what else drawings and tables from elsewhere are made of; words/ holds words of their formats.
# New inputs are kept under target/fuzz; what breaks is left in target/fuzz/finds with how to see it
# again. No input may take more than 512 MB, or a minute: all is several times slower here, on a busy
# machine many times (the soak holds inputs to two seconds).
set -euo pipefail
cd "$(dirname "$0")/../.."

targets=(csv svg dxf document sides trace plan)
triple=$(rustc -vV | sed -n 's/^host: //p')
built=target/fuzz/build/$triple/release
work=target/fuzz

cargo +nightly --version >/dev/null 2>&1 || {
    echo "tests: fuzzing needs a nightly Rust compiler (rustup toolchain install nightly); it is left out." >&2
    exit 3
}
command -v c++ >/dev/null || {
    echo "tests: fuzzing needs a C++ compiler (Debian: apt-get install g++); it is left out." >&2
    exit 3
}

# What cargo-fuzz passes, without asking for it to be installed; without its tracing of every compare,
# which makes readings of traces many times slower.
export RUSTFLAGS="--cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
-Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table -Ccodegen-units=1"
(cd tests/fuzz && CARGO_TARGET_DIR=../../target/fuzz/build cargo +nightly build --release --quiet --target "$triple")

one() { # one TARGET SECONDS
    mkdir -p "$work/corpus/$1" "$work/finds"
    local log=$work/$1.log words=()
    if [ -f "tests/fuzz/words/$1" ]; then words=(-dict="tests/fuzz/words/$1"); fi
    if ! "$built/$1" "$work/corpus/$1" "tests/fuzz/corpus/$1" -max_total_time="$2" -timeout=60 \
        "${words[@]}" -rss_limit_mb=512 -max_len=8192 -print_final_stats=1 -artifact_prefix="$work/finds/$1-" >"$log" 2>&1; then
        grep -aE "panicked|ERROR|Test unit written" -A 2 "$log" | head -20
        echo "fuzz: $1 broke; tests/fuzz/run.sh again $work/finds/$1-… $1 shows it again, all of it is in $log" >&2
        return 1
    fi
    local runs cover
    runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")
    cover=$(grep -aoE 'cov: [0-9]+ ft: [0-9]+' "$log" | tail -n 1)
    printf 'fuzz: %-8s %9s inputs in %4s s, %s, no find\n' "$1" "$runs" "$2" "$cover"
}

case ${1:-} in
merge)
    mkdir -p "$work/least/$2" "$work/corpus/$2"
    "$built/$2" -merge=1 -max_len=2048 -rss_limit_mb=2048 "$work/least/$2" "tests/fuzz/corpus/$2" "$work/corpus/$2"
    ;;
again)
    "$built/$3" -timeout=60 -rss_limit_mb=512 "$2"
    ;;
all)
    for target in "${targets[@]}"; do one "$target" "$2"; done
    ;;
*)
    one "$1" "$2"
    ;;
esac
