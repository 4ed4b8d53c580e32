#!/bin/sh
# Fuzzes each target for so long, one after the other, and says how much was executed and reached:
# edges by libFuzzer's own count, lines of src/ by clang's coverage.
#
# usage: measure.sh BUILD SECONDS CORPUS [TARGET...]
#
# BUILD is made when it isn't there; CORPUS keeps what was found, and is taken up again. What
# crashes stays in CORPUS/TARGET-crash-...; then the status is 1.
set -eu
build=$1 seconds=$2 corpus=$3
shift 3
source=$(cd "$(dirname "$0")/../.." && pwd)
seeds=$source/tests/fuzz/seeds
command -v llvm-profdata >/dev/null || {
  echo "measure.sh: llvm-profdata is missing (Debian: llvm)" >&2
  exit 2
}
[ $# -gt 0 ] || set -- $(ls "$seeds")

[ -f "$build/build.ninja" ] || CC=clang meson setup "$build" "$source" -Db_lundef=false \
  -Db_sanitize=address,undefined -Dc_link_args=-fprofile-instr-generate \
  -Dc_args='-fsanitize=fuzzer-no-link -fprofile-instr-generate -fcoverage-mapping' >/dev/null
for name; do
  ninja -C "$build" "tests/fuzz/fuzz_$name" >/dev/null
done
ninja -C "$build" tests/fuzz/telemetry.dict tests/fuzz/recording.dict tests/fuzz/model.dict \
  tests/fuzz/options.dict >/dev/null

dictionary_of() {
  case $1 in
  trial) ;;
  model | options | telemetry) echo "-dict=$build/tests/fuzz/$1.dict" ;;
  *) echo "-dict=$build/tests/fuzz/recording.dict" ;;
  esac
}

# Lines of src/ in that program that were executed.
lines_of() {
  llvm-profdata merge -o "$corpus/$1.profdata" "$corpus/$1.profraw"
  llvm-cov report "$build/tests/fuzz/fuzz_$1" -instr-profile="$corpus/$1.profdata" \
    -ignore-filename-regex='(^|/)tests/' | awk '$1 == "TOTAL" { print $8 - $9 " of " $8 }'
}

status=0
export UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1
printf '%-10s %10s %8s %16s %18s\n' target executed inputs edges lines
for name; do
  mkdir -p "$corpus/$name"
  # shellcheck disable=SC2046
  TMPDIR="$corpus" LLVM_PROFILE_FILE="$corpus/$name.profraw" "$build/tests/fuzz/fuzz_$name" \
    -max_total_time="$seconds" -timeout=30 -print_final_stats=1 $(dictionary_of "$name") \
    -artifact_prefix="$corpus/$name-" "$corpus/$name" "$seeds/$name/valid" "$seeds/$name/edge" \
    "$seeds/$name/malformed" 2>"$corpus/$name.log" || { status=1; tail -25 "$corpus/$name.log"; continue; }
  printf '%-10s %10s %8s %16s %18s\n' "$name" \
    "$(awk '/number_of_executed_units/ { print $2 }' "$corpus/$name.log")" \
    "$(ls "$corpus/$name" | wc -l)" \
    "$(grep -a -o 'cov: [0-9]*' "$corpus/$name.log" | tail -1 | cut -d' ' -f2) of $(
      sed -n 's/.*Loaded [0-9]* modules *(\([0-9]*\) inline.*/\1/p' "$corpus/$name.log")" \
    "$(lines_of "$name")"
done

raw=
objects=
for name; do
  [ ! -f "$corpus/$name.profdata" ] || raw="$raw $corpus/$name.profdata"
  objects="$objects ${objects:+-object} $build/tests/fuzz/fuzz_$name"
done
# shellcheck disable=SC2086
llvm-profdata merge -o "$corpus/all.profdata" $raw
# shellcheck disable=SC2086
llvm-cov report $objects -instr-profile="$corpus/all.profdata" -ignore-filename-regex='(^|/)tests/' \
  >"$corpus/lines.txt"
awk '$1 ~ /^src\// { split($1, part, "/"); all[part[2]] += $8; missed[part[2]] += $9 }
  END { for (f in all) printf "%-10s %5d of %5d lines, %.1f %%\n", f, all[f] - missed[f], all[f],
          100 * (all[f] - missed[f]) / all[f] }' "$corpus/lines.txt" | sort
echo "each file: $corpus/lines.txt"
exit $status
