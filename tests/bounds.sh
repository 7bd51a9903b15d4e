#!/usr/bin/env bash
# Shares of whole outlines that may not slip: seed and case count are fixed, each bound lies a little
# under the share measured with them. Percent at the steady, ordinary and shaky hand.
set -euo pipefail
cd "$(dirname "$0")/.."
board=target/release/scoreboard

"$board" --cases 4 --seed 1000 --least 88,85,70
"$board" --cases 2 --seed 2000 --form drift --least 80,80,60
"$board" --cases 2 --seed 2000 --form tremor --least 80,80,60
"$board" --cases 2 --seed 2000 --form overrun --least 80,70,50
"$board" --cases 2 --seed 3000 --input strokes --least 70,70,50
"$board" --cases 2 --seed 4000 --input touched --least 50,40,0
"$board" --cases 2 --seed 5000 --input cloud --least 50,40,0
