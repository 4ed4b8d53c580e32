#!/bin/sh
# run.sh TARGET SECONDS SEEDS: fuzzes for so long, with what it finds kept out of the seeds.
set -eu
target=$1 seconds=$2 seeds=$3
corpus=$(mktemp -d)
trap 'rm -rf "$corpus"' EXIT
test -n "$(ls "$seeds"/valid "$seeds"/edge "$seeds"/malformed)"
"$target" -max_total_time="$seconds" -max_len=8192 -timeout=10 -print_final_stats=1 \
  "$corpus" "$seeds/valid" "$seeds/edge" "$seeds/malformed" 2>"$corpus.log" || {
  tail -40 "$corpus.log"
  exit 1
}
grep -E 'number_of_executed_units|cov:' "$corpus.log" | tail -2
rm -f "$corpus.log"
