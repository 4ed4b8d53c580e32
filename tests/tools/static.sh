#!/bin/sh
# cppcheck, clang-tidy and one rule of our own over src/, by the compile database of a build; a finding
# is an error.  .clang-tidy says what is looked for, and why the rest isn't.
#
# usage: static.sh BUILD
#
# The analyzer's paths are cut at 60000 nodes a function instead of 225000: that takes a third of
# the time, and found the same where both were tried.
set -eu
build=$1
cd "$(dirname "$0")/../.."

# A floating number becomes a whole one in src/base/whole.h alone: a cast of what doesn't fit isn't
# defined.  The match of that header shows that the rule finds what it looks for.
found=$(git ls-files 'src/*.c' ':!src/board' | xargs -P2 -n20 clang-query -p "$build" \
  -c 'match castExpr(hasCastKind("CK_FloatingToIntegral"))' | grep 'binds here' | sort -u)
echo "$found" | grep -q 'src/base/whole\.h:' || { echo "clang-query finds no cast at all" >&2; exit 1; }
if echo "$found" | grep -v -e 'src/base/whole\.h:' -e 'src/link/measure\.c:' >&2; then
  echo "these casts of a floating number go through base/whole.h instead" >&2
  exit 1
fi

cppcheck --project="$build/compile_commands.json" --file-filter='*src/*' --std=c11 --quiet -j2 \
  --enable=warning,performance,portability --inline-suppr --error-exitcode=1

said=$(mktemp)
trap 'rm -f "$said"' EXIT
python3 - "$build" <<'EOF' | xargs -0 -P2 -n1 clang-tidy -p "$build" --quiet \
  --extra-arg=-Xclang --extra-arg=-analyzer-config --extra-arg=-Xclang --extra-arg=max-nodes=60000 \
  2>"$said" || { grep -v 'warnings\{0,1\} generated' "$said" >&2; exit 1; }
import json, os, sys
build = os.path.realpath(sys.argv[1])
files = {os.path.realpath(os.path.join(entry["directory"], entry["file"]))
         for entry in json.load(open(build + "/compile_commands.json"))}
sys.stdout.write("".join(f + "\0" for f in sorted(files) if f.startswith(os.getcwd() + "/src/")))
EOF
