#!/bin/sh
# run.sh TARGET SECONDS SEEDS [DICTIONARY]: fuzzes for so long, with what it finds kept out of the
# seeds.
set -eu
target=$(realpath "$1") seconds=$2 seeds=$(realpath "$3") dictionary=${4:+-dict=$(realpath "$4")}
corpus=$(mktemp -d)
trap 'rm -rf "$corpus"' EXIT
test -n "$(ls "$seeds"/valid "$seeds"/edge "$seeds"/malformed)"
export TMPDIR="$corpus"
mkdir "$corpus/found"
cd "$corpus" # what crashes is left here
# shellcheck disable=SC2086
"$target" -max_total_time="$seconds" -timeout=20 -print_final_stats=1 $dictionary \
  "$corpus/found" "$seeds/valid" "$seeds/edge" "$seeds/malformed" 2>"$corpus/log" || {
  tail -40 "$corpus/log"
  base64 "$corpus"/crash-* "$corpus"/timeout-* "$corpus"/leak-* "$corpus"/oom-* 2>/dev/null
  exit 1
}
grep -E 'number_of_executed_units|cov:' "$corpus/log" | tail -2
