"""Recordings as spreadsheet programs save them, and with columns moved, added or taken out: the same
figures, or refused with file, line, reason and what to do.

Python's csv module writes the files, so that it is the outside check of the reader.  The forms are
common practice: German spreadsheets write semicolons and decimal commas, "CSV UTF-8" begins with a
byte-order mark, old ones end rows in CR, some leave out empty fields at the end of a row.

usage: spreadsheet_cases.py AIRLEASH FIXTURES
"""
import csv
import io
import json
import pathlib
import random
import subprocess
import sys
import tempfile

airleash, fixtures = sys.argv[1], pathlib.Path(sys.argv[2])
faults = []


def check(good, *said):
    if not good:
        faults.append(" ".join(str(part) for part in said))


def run(*args):
    return subprocess.run([airleash, *map(str, args)], capture_output=True, text=True, timeout=60)


def rows_of(path):
    with open(path, newline="", encoding="utf-8", errors="surrogateescape") as file:
        return list(csv.reader(file))


def write(path, rows, mark=False, comma=False, short=False, **form):
    distance = rows[0].index("distance_m") if "distance_m" in rows[0] else None
    out = io.StringIO()
    writer = csv.writer(out, **{"lineterminator": "\r\n", **form})
    for number, row in enumerate(rows):
        row = list(row)
        if comma and distance is not None:
            row[distance] = row[distance].replace(".", ",")
        while short and number > 0 and len(row) > 1 and row[-1] == "":
            row.pop()
        writer.writerow(row)
    text = ("\ufeff" if mark else "") + out.getvalue()
    path.write_bytes(text.encode("utf-8", "surrogateescape"))


def moved(rows, dice):
    order = list(range(len(rows[0])))
    dice.shuffle(order)
    return [[row[i] for i in order] for row in rows]


def added(rows):
    """Columns of a person's own, in between and at the end; one without a name."""
    return [row[:4] + ["own" if i == 0 else f"w, {i}"] + row[4:] + ["" if i == 0 else "x"]
            for i, row in enumerate(rows)]


def upper(rows):
    return [[name.upper() for name in rows[0]], *rows[1:]]


FORMS = {
    "semicolons": {"delimiter": ";", "comma": True, "mark": True},
    "tabs": {"delimiter": "\t"},
    "quotes": {"quoting": csv.QUOTE_ALL, "lineterminator": "\n"},
    "CR": {"lineterminator": "\r"},
    "short rows": {"delimiter": ";", "short": True},
}


def answers(path, marks):
    """What the commands say of it, byte for byte."""
    said = []
    for args in (("figures", "--json"), ("judge", "--json"), ("walk", "--json"), ("stops",))[
            :4 if marks else 2]:
        done = run(*args, path)
        said.append((args, done.returncode, done.stdout, done.stderr.count("\n")))
    return said


def same_figures(folder):
    dice = random.Random(1)
    sources = {}
    for name in ("weak", "failsafe", "damaged", "bare"):
        path = folder / f"{name}.csv"
        run("record", fixtures / f"{name}.log", "--out", path, "--force")
        sources[name] = rows_of(path)
    for name in ("walk-falling", "walk-empty-stop", "supply-good", "failsafe-bad-second-motor"):
        sources[name] = rows_of(fixtures / "cases" / f"{name}.csv")
    for name, rows in sources.items():
        path, marks = folder / "it.csv", name.startswith("walk")
        write(path, rows)
        wanted = answers(path, marks)
        check(wanted[0][1] == 0, name, wanted[0])
        for form, how in FORMS.items():
            for what, change in (("", lambda r: r), ("moved", lambda r: moved(r, dice)),
                                 ("added", added), ("upper", upper)):
                write(path, change(rows), **how)
                check(answers(path, marks) == wanted, name, form, what, "differs")
        write(path, moved(added(rows), dice))
        check(answers(path, marks) == wanted, name, "commas, moved and added, differs")


def one_column_missing(folder):
    """Each column in turn: no figure of another key changes, and what the column told is unknown
    where the recording without that key would have it unknown."""
    run("record", fixtures / "weak.log", "--out", folder / "weak.csv", "--force")
    rows = rows_of(folder / "weak.csv")
    for column in rows[0]:
        if column in ("kind", "note"):
            continue
        at, path = rows[0].index(column), folder / "it.csv"
        pair = {"heard_hits": "heard_looks", "heard_looks": "heard_hits",
                "noise_hits": "noise_looks", "noise_looks": "noise_hits"}.get(column)
        empty = {at} | ({rows[0].index(pair)} if pair else set())
        if column[:2] in ("ch", "in") and column[2:].isdigit():
            empty |= {i for i, name in enumerate(rows[0]) if name[:2] == column[:2] and
                      name[2:].isdigit() and int(name[2:]) > int(column[2:])}
        write(path, [rows[0]] + [["" if i in empty else v for i, v in enumerate(row)]
                                 for row in rows[1:]])
        wanted = answers(path, False)
        write(path, [[v for i, v in enumerate(row) if i != at] for row in rows])
        check(answers(path, False) == wanted, "without", column, "differs from an empty one")


def refused(folder):
    path = folder / "bad.csv"
    rows = rows_of(fixtures / "cases" / "walk-falling.csv")
    head = rows[0]
    cases = {
        "a column twice": ([head[:-1] + ["seq"], *rows[1:]], {}, 1, "(column seq)", "rename"),
        "no kind": ([["sort", *head[1:]], *rows[1:]], {}, 1, "kind", "first line"),
        "a short row by commas": ([*rows[:9], rows[9][:12], *rows[10:]], {}, 10,
                                  "12, and the header names 61", ""),
    }
    for name, (table, form, line, reason, step) in cases.items():
        write(path, table, **form)
        said = run("figures", path).stderr
        check(f"{path}:{line}: " in said and reason in said and step in said, name, said)
    path.write_bytes(("\ufeff" + "\t".join(head) + "\r\n").encode("utf-16-le"))
    done = run("figures", path)
    check(f"{path}:1: saved as UTF-16" in done.stderr and "UTF-8" in done.stderr, done.stderr)
    check(done.returncode != 0, done)
    text = io.StringIO()
    csv.writer(text, delimiter=";").writerows(rows)
    path.write_text(text.getvalue()[:-9], newline="")  # a torn last row
    done = run("figures", path)
    check(f"{path}:{len(rows)}: the last row is torn" in done.stderr, done.stderr)
    path.write_text("kind|".join(head))
    check(run("figures", path).returncode != 0, "no header at all")


def marks_in_other_forms(folder):
    """Marks are added in the file's own form, and what is there stays, unknown columns too."""
    rows = rows_of(fixtures / "cases" / "walk-falling.csv")
    path = folder / "it.csv"
    write(path, rows)
    changes = ("--add", "31:25", "--move", "1:2.5", "--strike", "2")
    wanted = run("stops", path, *changes).stdout
    check("added" in wanted and "struck" in wanted, wanted)
    walk = run("walk", "--json", path).stdout
    for form, how in {**FORMS, "commas": {}}.items():
        write(path, added(rows), **how)
        before = path.read_bytes()
        check(run("stops", path, *changes).stdout == wanted, form, "stops differ")
        check(path.read_bytes().startswith(before), form, "something was lost")
        check(run("stops", path).stdout == wanted, form, "stops differ when read again")
        check(run("walk", "--json", path).stdout == walk, form, "the walk differs")
    write(path, [[v for v, name in zip(row, rows[0]) if name != "note"] for row in rows])
    before = path.read_bytes()
    done = run("stops", path, "--add", "31:25")
    check(done.returncode != 0 and "no column note" in done.stderr, done)
    check(path.read_bytes() == before, "changed a file that has no notes")


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        for test in (same_figures, one_column_missing, refused, marks_in_other_forms):
            test(folder)
    for fault in faults[:20]:
        print(fault[:1500])
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
