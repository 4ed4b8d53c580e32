#!/usr/bin/python3
"""Lines and branches of src/ that the tests reached, a row a folder, as a table in Markdown.

usage: coverage_lines.py BUILD [FOLDER...]

BUILD was made with -Db_coverage=true and its tests have run.  A line counts once, however many
programs it was built into; of a branch each end counts that was taken in some run.  With
folders their lines that nothing reached are printed.  Firmware built for the board alone isn't in it.
"""
import collections
import json
import os
import pathlib
import subprocess
import sys


def notes(build):
    return sorted(p for p in (build / "src").rglob("*.gcda"))


def facts(build):
    """[(file, line, times, [times of each branch])], as gcov tells them."""
    for path in notes(build):
        told = subprocess.run(["gcov", "--json-format", "--stdout", "--branch-probabilities", path],
                              capture_output=True, check=True, cwd=build).stdout
        for line in told.splitlines():
            for file in json.loads(line)["files"]:
                name = os.path.realpath(os.path.join(build, file["file"]))
                for row in file["lines"]:
                    yield name, row["line_number"], row["count"], [b["count"] for b in
                                                                   row["branches"]]


def share(reached, of):
    return f"{100 * reached / of:.1f} %" if of else "-"


def main(build, folders):
    source = str(pathlib.Path(__file__).resolve().parents[2] / "src") + "/"
    lines, branches = {}, {}
    for name, number, times, ends in facts(build):
        if not name.startswith(source):
            continue
        place = name[len(source):], number
        lines[place] = lines.get(place, 0) + times
        before = branches.get(place, [0] * len(ends))
        if len(before) == len(ends):
            branches[place] = [a + b for a, b in zip(before, ends)]
    table = collections.defaultdict(lambda: [0, 0, 0, 0])
    for place, times in lines.items():
        for row in (table[place[0].split("/")[0]], table["all"]):
            row[0] += times > 0
            row[1] += 1
            row[2] += sum(1 for end in branches.get(place, []) if end > 0)
            row[3] += len(branches.get(place, []))
    print("| folder | lines | reached | branches reached |\n|---|---|---|---|")
    for folder in sorted(table, key=lambda f: (f == "all", f)):
        reached, of, taken, ends = table[folder]
        print(f"| `{folder}` | {of} | {share(reached, of)} | {share(taken, ends)} |")
    for (name, number), times in sorted(lines.items()):
        if times == 0 and name.split("/")[0] in folders:
            text = pathlib.Path(source + name).read_text().splitlines()[number - 1]
            print(f"{name}:{number}: {text.strip()}")


if __name__ == "__main__":
    main(pathlib.Path(sys.argv[1]).resolve(), sys.argv[2:])
