#!/usr/bin/env bash
# Licences, origins and versions of all dependencies, by .deny.toml. Advisories are looked up where
# their list can be fetched; where it cannot, that is said and the rest is checked. Where cargo-deny
# itself cannot be had, that is said, with status 3.
set -euo pipefail
cd "$(dirname "$0")/.."

deny=$(command -v cargo-deny || echo target/tools/bin/cargo-deny)
if [ ! -x "$deny" ]; then
    cargo install --locked --quiet --root target/tools cargo-deny || {
        echo "tests: cargo-deny could not be had (cargo install cargo-deny); licences are not checked." >&2
        exit 3
    }
fi
"$deny" --log-level error check --config .deny.toml bans licenses sources
if "$deny" --log-level off check --config .deny.toml --disable-fetch advisories 2>/dev/null \
    || timeout 60 "$deny" --log-level off fetch --config .deny.toml db >/dev/null 2>&1; then
    "$deny" --log-level error check --config .deny.toml --disable-fetch advisories
else
    echo "deny: the list of advisories could not be fetched here; advisories are not checked." >&2
fi
