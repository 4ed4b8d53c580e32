#!/usr/bin/env python3
"""Parts of the figures alone are those of the whole: over every fixture and every scene of the
simulated receiver, each as raw lines and as a recording, for each part, for two light ones
together (a quicker fold computes those), and for all of them.

usage: only.py AIRLEASH FIXTURES [N]

With N each N-th file alone: for builds under sanitizers, where all would take minutes.
"""
import json
import pathlib
import subprocess
import sys
import tempfile

# The JSON keys of each part.
PARTS = {
    "time": {"time"},
    "loss": {"packets", "loss", "steady"},
    "outages": {"outages"},
    "lines": {"lines"},
    "restarts": {"restarts"},
    "failsafe": {"failsafe"},
    "supply": {"supply", "radio"},
    "ends": {"channels"},
    "channels": {"channels"},
    "band": {"air"},
    "standards": {"drops", "bursts", "gaps", "gilbert", "timing", "jitter_ms"},
}
ALWAYS = {"format", "file", "recording", "read_to_end", "unknown_because"}
ENDS = {"number", "name", "low", "high"}
NOT_ASKED_FOR = {"state_at_end"}

failures = []


def run(*arguments):
    done = subprocess.run(arguments, capture_output=True, timeout=120)
    if done.returncode not in (0, 3):
        raise SystemExit(f"{arguments}: exit {done.returncode}: {done.stderr.decode()}")
    return done.stdout.decode()


def expected(whole, chosen):
    keys = set().union(*(PARTS[part] for part in chosen)) | ALWAYS
    answer = {key: value for key, value in whole.items() if key in keys}
    ends_only = "ends" in chosen and "channels" not in chosen
    if ends_only:
        answer["channels"] = [{k: v for k, v in c.items() if k in ENDS} for c in whole["channels"]]

    def told(path):
        head, _, last = path.partition(".")
        if ends_only and head.startswith("channels["):
            return last in ENDS
        return head.split("[")[0] in keys

    answer["unknown_because"] = {k: v for k, v in whole["unknown_because"].items() if told(k)}
    return answer


def check(airleash, path, whole, text, chosen):
    only = ",".join(chosen)
    part = json.loads(run(airleash, "figures", path, "--json", "--only", only))
    want = expected(whole, chosen)
    for key in sorted(set(want) | set(part)):
        if want.get(key, "(absent)") != part.get(key, "(absent)"):
            failures.append(f"{path} --only {only}: {key}: {part.get(key, '(absent)')} instead of "
                            f"{want.get(key, '(absent)')}")
    for line in run(airleash, "figures", path, "--only", only).splitlines():
        if "ends" not in chosen and line not in text and "unknown: no sweep" not in line:
            failures.append(f"{path} --only {only}: the whole text hasn't '{line}'")


def check_file(airleash, path):
    run_whole = run(airleash, "figures", path, "--json")
    if not run_whole:
        return 0
    whole = json.loads(run_whole)
    text = set(run(airleash, "figures", path, "--all").splitlines())
    if set(whole) != set().union(*PARTS.values()) | ALWAYS | NOT_ASKED_FOR:
        failures.append(f"{path}: keys of no part: {set(whole) ^ set().union(*PARTS.values())}")
    for part in PARTS:
        check(airleash, path, whole, text, [part])
    check(airleash, path, whole, text, ["loss", "ends"])
    check(airleash, path, whole, text, ["ends", "outages", "loss"])
    check(airleash, path, whole, text, list(PARTS))
    return 1


def main(airleash, fixtures, apart=1):
    checked = 0
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        logs = sorted(pathlib.Path(fixtures).glob("*.log"))
        for line in run(airleash, "simulate", "--scenes").splitlines():
            log = folder / f"{line.split()[0]}.scene.log"
            log.write_bytes(subprocess.run([airleash, "simulate", "--lines", "--fast", "--scene",
                                            line.split()[0]], capture_output=True).stdout)
            logs.append(log)
        for log in logs[::apart]:
            recording = folder / f"{log.stem}.csv"
            run(airleash, "record", str(log), "--out", str(recording))
            checked += check_file(airleash, str(log)) + check_file(airleash, str(recording))
    if checked < 40 // apart:
        failures.append(f"only {checked} files were checked")
    for failure in failures:
        print(failure)
    print(f"{checked} files, {len(failures)} differences")
    return bool(failures)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3], *map(int, sys.argv[3:])))
