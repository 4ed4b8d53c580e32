"""The benchmarks' input, from the simulated receiver, made once into a folder and kept there.

edge.log     raw lines with checksums
edge.csv     the same as a recording, with the computer's times as a live run has them
quoted.csv   that with every text of every tenth row in quotes, as spreadsheet programs write it
quoted10.csv that with every value of every tenth row in quotes
"""
import pathlib
import subprocess

LINE_BYTES, LINES_A_SECOND = 241, 20.0


def lines(airleash, path, megabytes):
    seconds = megabytes * 1e6 / LINE_BYTES / LINES_A_SECOND
    with open(path, "wb") as out:
        subprocess.run([airleash, "simulate", "--lines", "--fast", "--scene", "edge", "--for",
                        f"{seconds:.1f}"], stdout=out, check=True)


def recording(airleash, log, path):
    bare = path.with_suffix(".tmp")
    subprocess.run([airleash, "record", str(log), "--out", str(bare), "--force"], check=True,
                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    with open(bare, "rb") as rows, open(path, "wb") as out:
        for i, row in enumerate(rows):
            if row.startswith(b"rx,,"):
                uptime = row[4:row.index(b",", 4)]
                row = b"rx,%d,%s" % (int(uptime) * 1000 + i * 7919 % 2000, row[4:])
            out.write(row)
    bare.unlink()


def quoted(recording_path, path, everything):
    def quote(field):
        text = everything or not field.replace(b"-", b"").isdigit()
        return b'"%s"' % field if field and text else field

    with open(recording_path, "rb") as rows, open(path, "wb") as out:
        for i, row in enumerate(rows):
            if i % 10 == 5 and row.startswith(b"rx,"):
                row = b",".join(quote(field) for field in row.rstrip(b"\r\n").split(b",")) + b"\r\n"
            out.write(row)


def make(airleash, folder, megabytes):
    """The paths by name, of about that many megabytes each."""
    folder = pathlib.Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    made = {name: folder / name for name in ("edge.log", "edge.csv", "quoted.csv", "quoted10.csv")}
    if not made["edge.log"].exists():
        lines(airleash, made["edge.log"], megabytes)
    if not made["edge.csv"].exists():
        recording(airleash, made["edge.log"], made["edge.csv"])
    if not made["quoted.csv"].exists():
        quoted(made["edge.csv"], made["quoted.csv"], False)
    if not made["quoted10.csv"].exists():
        quoted(made["edge.csv"], made["quoted10.csv"], True)
    return {name: str(path) for name, path in made.items()}
