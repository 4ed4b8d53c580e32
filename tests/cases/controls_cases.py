#!/usr/bin/env python3
"""Recordings of the trials of controls and supply that must not be passed, and those that must be.

usage: controls_cases.py AIRLEASH CASES_FOLDER

Made by a simulator that shares no code with the program; what is true of each is known from there.
Each is judged as text, as JSON and in the report.
"""
import json
import pathlib
import subprocess
import sys

PASSED, FAILED, NOT_SHOWN = "passed", "failed", "not shown"

# file: trial, verdicts that are right, findings {name: verdict}, words of the headline or a finding
CASES = {
    # in1 moves with ch2 and in2 with ch1
    "controls-bad-swapped": ("controls", {FAILED}, {"drives_ch1": FAILED, "drives_ch2": FAILED},
                             ["1 rudder: moved by the stick of channel 2, not by its own",
                              "channel 2: moved by the stick of 1 rudder, not by its own"]),
    # one potentiometer jumps by tens of microseconds while it moves
    "controls-bad-noisy-pot": ("controls", {FAILED, NOT_SHOWN}, {"smooth_ch2": FAILED},
                               ["channel 2 jumps while it moves"]),
    "controls-good": ("controls", {PASSED}, {}, ["All 6 sticks and switches"]),
    # USB fed the board; the person said "regulator"
    "supply-bad-usb-feeds": ("supply", {NOT_SHOWN}, {"power": NOT_SHOWN}, ["as USB's 5 V"]),
    "supply-good": ("supply", {PASSED}, {"power": PASSED}, ["lowest 4842 mV"]),
    # a damaged recording: one row tells 4294967295 mV
    "crash-supply-float-to-int": ("supply", {NOT_SHOWN}, {}, []),
}
PER_CHANNEL = 16  # lines of a passed trial as text, headings included

program, folder = sys.argv[1], pathlib.Path(sys.argv[2])
wrong = []


def run(*words):
    done = subprocess.run([program, *words], capture_output=True, text=True, timeout=60)
    if "runtime error" in done.stderr or "Sanitizer" in done.stderr:
        wrong.append(f"{' '.join(words)}: {done.stderr}")
    return done


def check(name, right, what):
    if not right:
        wrong.append(f"{name}: {what}")


def spaced(text):
    return " ".join(text.split())


for name, (trial, verdicts, findings, words) in CASES.items():
    path, model = str(folder / f"{name}.csv"), str(folder / "card.ini")
    told = json.loads(run("judge", path, "--model", model, "--json").stdout)
    entry = [t for t in told["trials"] if t["name"] == trial][-1]
    check(name, entry["verdict"] in verdicts, f"JSON says {entry['verdict']}: {entry['headline']}")
    seen = {f["name"]: f["verdict"] for f in entry["findings"]}
    for finding, verdict in findings.items():
        check(name, seen.get(finding) == verdict, f"{finding} is {seen.get(finding)}")
    all_words = " ".join([entry["headline"]] + [f["text"] for f in entry["findings"]])
    for word in words:
        check(name, word in all_words, f"JSON doesn't say: {word}")

    text = run("judge", path, "--model", model).stdout
    check(name, f"  {entry['verdict']}: {spaced(entry['headline'])}" in
          "\n".join("  " + spaced(part) for part in text.replace("\n    ", " ").splitlines()),
          f"text has another verdict:\n{text}")
    if entry["verdict"] == PASSED and trial == "controls":
        trial_lines = text.split("What stands")[0].strip().splitlines()
        check(name, len(trial_lines) <= PER_CHANNEL, f"{len(trial_lines)} lines of text")

    page = run("report", path, "--model", model, "--out", "-")
    check(name, page.returncode == 0, f"report ended with {page.returncode}")
    # apostrophes are written as entities there
    head = entry["headline"].split("'")[0][:60]
    check(name, head in page.stdout.replace("\u00a0", " "), f"the report doesn't say: {head}")

print("\n".join(wrong))
sys.exit(1 if wrong else 0)
