#!/usr/bin/env python3
"""Golden replays over fixtures/.

A fixture is files side by side: NAME.log (the capture), NAME.txt (its provenance), NAME.json (the
figures expected of it) and, of a simulated receiver, NAME.truth (what it really did).

usage: golden.py AIRLEASH FIXTURES check     compare, by every road; exit 1 on a difference
       golden.py AIRLEASH FIXTURES rebuild   write the expected figures anew; say why in the commit
       golden.py AIRLEASH FIXTURES view NAME show what the program says of a fixture
"""
import json
import pathlib
import subprocess
import sys
import tempfile

PROVENANCE = ("device:", "firmware:", "date:", "place:", "made by:", "what happens:")
# Of the road, not of the link.
LEFT_OUT = ("file", "recording", "read_to_end")


def figures(airleash, path, stdin=None):
    run = subprocess.run([airleash, "figures", path, "--json"], capture_output=True, stdin=stdin,
                         timeout=120)
    if run.returncode != 0:
        raise SystemExit(f"figures {path}: exit {run.returncode}: {run.stderr.decode()}")
    answer = json.loads(run.stdout)
    for key in LEFT_OUT:
        answer.pop(key, None)
    return answer


def differences(expected, seen, path=""):
    if isinstance(expected, dict) and isinstance(seen, dict):
        for key in sorted(set(expected) | set(seen)):
            yield from differences(expected.get(key, "(absent)"), seen.get(key, "(absent)"),
                                   f"{path}.{key}" if path else key)
    elif isinstance(expected, list) and isinstance(seen, list) and len(expected) == len(seen):
        for i, (a, b) in enumerate(zip(expected, seen)):
            yield from differences(a, b, f"{path}[{i}]")
    elif expected != seen:
        yield f"{path}: expected {expected}, got {seen}"


def recorded(airleash, log, folder):
    """The figures of the recording that `record` makes of the capture."""
    out = pathlib.Path(folder) / (log.stem + ".csv")
    with log.open("rb") as capture:
        run = subprocess.run([airleash, "record", "-", "--out", str(out)], stdin=capture,
                             capture_output=True, timeout=120)
    if run.returncode != 0:
        raise SystemExit(f"record {log.name}: exit {run.returncode}: {run.stderr.decode()}")
    return figures(airleash, str(out))


def piped(airleash, log):
    """The figures of the capture through a pipe, in uneven pieces."""
    feeder = subprocess.Popen([sys.executable, "-c", (
        "import sys, os\n"
        "data = open(sys.argv[1], 'rb').read()\n"
        "i = 0\n"
        "while i < len(data):\n"
        "    n = os.write(1, data[i:i + 1 + i * 7919 % 1531])\n"
        "    i += n\n"), str(log)], stdout=subprocess.PIPE)
    with feeder:
        return figures(airleash, "-", stdin=feeder.stdout)


def against_truth(log, answer):
    """What the simulated receiver did, written beside the capture by another part of the program.
    The newest packets before the end and before each restart are in no report."""
    path = log.with_suffix(".truth")
    if not path.exists() or answer["packets"]["got"] is None:
        return
    truth = dict(line.split("=", 1) for line in path.read_text().splitlines() if "=" in line)
    unreported = int(truth["received"]) - answer["packets"]["got"]
    if not 0 <= unreported <= 8 * (1 + int(truth["receiver_restarts"])):
        yield f"received {truth['received']}, figures say {answer['packets']['got']}"
    lost = answer["packets"]["lost"]
    if lost is None and answer["packets"]["got"] > 0:
        yield "lost unknown, although packets came"
    if lost is not None and not 0 <= int(truth["lost"]) - lost <= unreported:
        yield f"lost {truth['lost']}, figures say {lost}"
    for key, told in (("receiver_restarts", answer["restarts"]["receiver"]),
                      ("failsafe_entries", answer["failsafe"]["entries"])):
        if int(truth[key]) != told:
            yield f"{key} {truth[key]}, figures say {told}"


def check_one(airleash, log, folder):
    note = log.with_suffix(".txt")
    if not note.exists():
        yield f"{note.name} is missing: where does the capture come from?"
    else:
        text = note.read_text()
        for key in PROVENANCE:
            if key not in text:
                yield f"{note.name}: '{key}' is missing"
    expected_file = log.with_suffix(".json")
    if not expected_file.exists():
        yield f"{expected_file.name} is missing: look with `view`, then `rebuild`"
        return
    expected = json.loads(expected_file.read_text())
    for fault in against_truth(log, expected):
        yield f"{log.name}: in truth {fault}"
    roads = (("capture", lambda: figures(airleash, str(log))),
             ("recording of it", lambda: recorded(airleash, log, folder)),
             ("through a pipe", lambda: piped(airleash, log)))
    for name, road in roads:
        for difference in differences(expected, road()):
            yield f"{log.name}, {name}: {difference}"


def check(airleash, logs):
    faults = 0
    with tempfile.TemporaryDirectory() as folder:
        for log in logs:
            for fault in check_one(airleash, log, folder):
                print(fault)
                faults += 1
    print(f"{len(logs)} fixtures, {faults} faults")
    return 1 if faults or not logs else 0


def rebuild(airleash, logs):
    for log in logs:
        text = json.dumps(figures(airleash, str(log)), indent=2, sort_keys=True) + "\n"
        log.with_suffix(".json").write_text(text)
        print(f"{log.stem}.json written")
    return 0


def view(airleash, log):
    print(log.with_suffix(".txt").read_text())
    return subprocess.run([airleash, "figures", str(log)], check=False).returncode


def main():
    if len(sys.argv) < 4:
        raise SystemExit(__doc__)
    airleash, folder, what = sys.argv[1], pathlib.Path(sys.argv[2]), sys.argv[3]
    logs = sorted(folder.glob("*.log"))
    if what == "check":
        return check(airleash, logs)
    if what == "rebuild":
        return rebuild(airleash, logs)
    if what == "view" and len(sys.argv) == 5:
        return view(airleash, folder / (sys.argv[4] + ".log"))
    raise SystemExit(__doc__)


if __name__ == "__main__":
    sys.exit(main())
