#!/usr/bin/env bash
# Shares of whole outlines that may not slip: seed and case count are fixed, each bound lies two or
# three cases under the share measured with them. Percent at the steady, ordinary and shaky hand.
set -euo pipefail
cd "$(dirname "$0")/.."
board=target/checks/scoreboard

"$board" --cases 4 --seed 1000 --least 98,96,91
"$board" --cases 2 --seed 2000 --form drift --least 95,92,79
"$board" --cases 2 --seed 2000 --form tremor --least 98,98,87
"$board" --cases 2 --seed 2000 --form overrun --least 95,95,89
"$board" --cases 2 --seed 3000 --input strokes --least 95,97,85
"$board" --cases 2 --seed 3000 --input touched --least 95,89,79
"$board" --cases 2 --seed 3000 --input cloud --least 98,98,88
