"""Recordings of failsafe trials, by receivers whose truth is known.

They were made by simulators that share no code with the program, from the formats in the man pages,
and with an older guide that asked less: so no good receiver passes here; what must hold is that no
bad one does and that no good one fails.

usage: failsafe_cases.py AIRLEASH CASES
"""
import json
import subprocess
import sys
from pathlib import Path

airleash, folder = sys.argv[1], Path(sys.argv[2])

# file: truth; verdicts that may be given; finding, its verdict and words that its text has
CASES = {
    "failsafe-bad-lock-by-time": (
        "the lock opens 1.5 s after the link is back, the stick still up", ["failed"],
        "stays_until_low", "failed", ["before its stick was down"]),
    "failsafe-bad-late-age-capped": (
        "motors at rest 3 s after the last packet; age stops at 500", ["failed"],
        "throttle_low", "failed", ["limit 1000 ms"]),
    "failsafe-bad-late-slow-clock": (
        "motors at rest after 1.85 s; the receiver's clock runs at half speed", ["failed"],
        "throttle_low", "failed", ["limit 1000 ms"]),
    "failsafe-bad-restart-in-outage": (
        "a watchdog restart in a switch-off, then the throttle at 1500", ["failed"],
        "restarts", "failed", ["1500"]),
    "failsafe-bad-preset-9-percent": (
        "the preset is 1090, idle is 1000", ["failed"],
        "throttle_low", "failed", ["1090"]),
    "failsafe-bad-pulses-stop": (
        "pulses stop on every output", ["not shown", "failed"],
        "throttle_low", "not shown", ["pulses stopped", "model file"]),
    "failsafe-bad-second-motor": (
        "channel 4 drives a motor too, and holds 1698", ["not shown", "failed"],
        "channels", "not shown", ["Nobody said what is safe", "4"]),
    "failsafe-bad-back-after-20s": (
        "the throttle returns after 20 s; 11 s were watched", ["not shown", "failed"],
        "stays", "not shown", ["not shown beyond"]),
    "failsafe-good": (
        "good", ["passed", "not shown"], "throttle_low", "passed", []),
    "failsafe-good-bad-cable": (
        "good; lines lost and damaged on the cable", ["passed", "not shown"],
        "stays_until_low", "not shown", ["cable"]),
    "failsafe-good-trimmed-idle": (
        "good; idles above the low end", ["passed", "not shown"], "restarts", "passed", []),
    "failsafe-good-cable-hole": (
        "good; the cable was out for 8 s over the decisive moment", ["not shown"],
        "repeats", "not shown", ["cable"]),
    "failsafe-good-idle-1100-no-span": (
        "good; idle is 1100, and no span is printed", ["passed", "not shown"],
        "idle", "not shown", ["idle = 1100 in the model file", "span"]),
}


def judged(name, *options):
    done = subprocess.run([airleash, "judge", folder / f"{name}.csv", "--json", *options],
                          capture_output=True, timeout=60)
    trials = json.loads(done.stdout)["trials"]
    assert [t["name"] for t in trials] == ["failsafe"], trials
    return trials[0]


def wrong(trial, verdicts, name, verdict, words):
    found = {f["name"]: f for f in trial["findings"]}
    if trial["verdict"] not in verdicts:
        return f"{trial['verdict']}: {trial['headline']}"
    if name not in found or found[name]["verdict"] != verdict:
        return f"{name}: {found.get(name)}"
    missing = [word for word in words if word not in found[name]["text"]]
    return f"{name} doesn't say {missing}: {found[name]['text']}" if missing else None


def main():
    bad = 0
    for case, (truth, *wanted) in CASES.items():
        why = wrong(judged(case), *wanted)
        bad += why is not None
        print(f"{'ok' if why is None else 'WRONG'} {case} ({truth}){': ' + why if why else ''}")
    # The same recording, once the model file names both motors.
    both = Path("two-motors.ini")
    both.write_text("[channels]\nthrottle = 3, 4\n")
    why = wrong(judged("failsafe-bad-second-motor", "--model", both), ["failed"],
                "throttle_low", "failed", ["Channel 4"])
    both.unlink()
    print(f"{'ok' if why is None else 'WRONG'} with both motors named{': ' + why if why else ''}")
    bad += why is not None
    left = {p.stem for p in folder.glob("failsafe-*.csv")} ^ set(CASES)
    assert not left, f"a file without a case, or a case without its file: {left}"
    print(f"{len(CASES) + 1 - bad} passed, {bad} failed")
    return 1 if bad else 0


sys.exit(main())
