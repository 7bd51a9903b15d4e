#!/usr/bin/env bash
# Lines of the core that the tests run through: a table by file and the whole. `tests/coverage.sh LEAST`
# fails under that many percent; target/coverage/missed.txt lists every line that no test reached.
#
# Only the crates of the workspace are measured, and the tests of many random inputs, which take long
# here, are left out. Needs rustup's component llvm-tools; where that cannot be had it says so and ends
# with status 3.
set -euo pipefail
cd "$(dirname "$0")/.."

bin=$(rustc --print sysroot)/lib/rustlib/$(rustc -vV | sed -n 's/^host: //p')/bin
if [ ! -x "$bin/llvm-profdata" ]; then
    rustup component add llvm-tools >/dev/null 2>&1 || {
        echo "tests: coverage needs rustup's component llvm-tools, which could not be had; it is left out." >&2
        exit 3
    }
fi

out=target/coverage
mkdir -p "$out"
find "$out" -maxdepth 1 -name '*.profraw' -delete
cat >"$out/rustc" <<'W'
#!/bin/sh
rustc=$1
shift
exec "$rustc" "$@" -Cinstrument-coverage
W
chmod +x "$out/rustc"
export RUSTC_WORKSPACE_WRAPPER=$PWD/$out/rustc CARGO_TARGET_DIR=$PWD/$out
test=(cargo test --locked --profile checks -p trued -p trued-tests --all-features)
LLVM_PROFILE_FILE=$PWD/$out/%p-%8m.profraw "${test[@]}" --no-fail-fast -- --skip nasty_traces --skip a_thousand \
    >"$out/log" 2>&1 || tail -n 30 "$out/log" >&2
"$bin/llvm-profdata" merge -sparse "$out"/*.profraw -o "$out/all.profdata"
# Only what was run just now: older programs still lie about, with other lines.
objects=()
while IFS= read -r program; do
    objects+=(-object "$program")
done < <("${test[@]}" --no-run --message-format=json 2>/dev/null | sed -n 's/.*"executable":"\([^"]*\)".*/\1/p')
"$bin/llvm-cov" export --format=lcov -instr-profile "$out/all.profdata" "${objects[@]}" -sources core/src >"$out/lines.info"
python3 - "$out/lines.info" "$out/missed.txt" "${1:-0}" <<'P'
import os, sys

lines, missed, least = sys.argv[1], sys.argv[2], float(sys.argv[3])
files, here = {}, None
for line in open(lines):
    if line.startswith("SF:"):
        here = files.setdefault(os.path.relpath(line[3:].strip()), {})
    elif line.startswith("DA:"):
        number, count = line[3:].split(",")[:2]
        here[int(number)] = max(here.get(int(number), 0), int(count))
run = whole = 0
with open(missed, "w") as out:
    for name in sorted(files):
        # What stands under `mod tests` is the test itself.
        text = open(name).read().split("\n")
        end = next((i for i, t in enumerate(text) if t.startswith("#[cfg(test)]")), len(text))
        if name.endswith("tests.rs"):
            continue
        got = {n: c for n, c in files[name].items() if n <= end}
        hit = sum(c > 0 for c in got.values())
        run, whole = run + hit, whole + len(got)
        print(f"{100 * hit / max(1, len(got)):6.1f} %  {hit:5} of {len(got):5}  {name}")
        out.writelines(f"{name}:{n}: {text[n - 1]}\n" for n, c in sorted(got.items()) if c == 0)
share = 100 * run / max(1, whole)
print(f"{share:6.1f} %  {run:5} of {whole:5}  lines of the core run by tests; the others are listed in {missed}")
sys.exit(share < least)
P
