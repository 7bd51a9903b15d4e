#!/usr/bin/env bash
# Every feature of the core builds by itself and without a warning, and whoever wants `true_up` alone builds few crates.
# Procedural macros and what they stand on (syn and its kin) run in the compiler and are not counted.
set -euo pipefail
cd "$(dirname "$0")/.."

most=16

for features in "" formats cut kurbo geo-types photo types; do
    cargo clippy --quiet --locked --profile checks -p trued --no-default-features --features "$features" -- -D warnings
done

# A procedural macro and its own dependencies stand in no tree from which macros are left out.
crates=$(cargo tree --locked -p trued --no-default-features --edges normal,no-proc-macro --prefix none --format '{p}' | sort -u)
count=$(wc -l <<<"$crates")
if [ "$count" -gt "$most" ]; then
    printf 'features: true_up alone builds %d crates, more than %d:\n%s\n' "$count" "$most" "$crates" >&2
    exit 1
fi
printf 'features: true_up alone builds %d crates of at most %d.\n' "$count" "$most"
