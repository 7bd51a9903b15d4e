#!/usr/bin/env bash
# Shares of whole outlines that may not slip: seed and case count are fixed, each bound lies two or
# three cases under the share measured with them; square corners besides. Percent at the steady, ordinary and shaky hand.
set -euo pipefail
cd "$(dirname "$0")/.."
board=target/checks/scoreboard

"$board" --cases 4 --seed 1000 --least 98,97,89 --least-square 99.5,99.5,97
"$board" --cases 2 --seed 2000 --form drift --least 94,86,61
"$board" --cases 2 --seed 2000 --form tremor --least 98,94,76
"$board" --cases 2 --seed 2000 --form overrun --least 98,96,88
"$board" --cases 2 --seed 3000 --input strokes --least 98,96,86
"$board" --cases 2 --seed 3000 --input touched --least 98,92,87
"$board" --cases 2 --seed 3000 --input cloud --least 98,94,82
