#!/usr/bin/env python3
"""How often the interval of the loss holds on the simulated model's scenes, through the whole
program: simulate prints the lines of one seed, figures reads them.  The truth of a scene is its mean
loss over all seeds (Python's arithmetic, not the program's).

usage: scenes.py AIRLEASH [SEEDS]      by hand 400; the suite 'outside' runs 40

What was found with 60 seeds: calm lost nothing ever; weak (0.009 % lost) was "none lost" in 93 %, and its
interval held in the 4 others; busy (4.5 %) was called not steady in 42 %, rightly, since its
interference changes midway, and where an interval was given it held in all 35.
"""
import json
import math
import subprocess
import sys

# On the bench, where next to nothing is lost, and in interference whose pattern changes midway: its
# mean over the time observed is the same in each seed.
SCENES = ("calm", "weak", "busy")


def figures(airleash, scene, seed):
    lines = subprocess.run([airleash, "simulate", "--lines", "--fast", "--scene", scene, "--seed",
                            str(seed)], check=True, capture_output=True).stdout
    text = subprocess.run([airleash, "figures", "-", "--json"], input=lines, check=True,
                          capture_output=True).stdout
    return json.loads(text)


def share(good, asked):
    return f"{100 * good / asked:5.1f}% ({asked})" if asked else "-"


def main():
    airleash, seeds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 400
    faults = 0
    print("scene   mean loss  none lost   loss runs: holds   not steady")
    for scene in SCENES:
        runs = [figures(airleash, scene, seed) for seed in range(1, seeds + 1)]
        packets = sum(r["packets"]["got"] + r["packets"]["lost"] for r in runs)
        truth = sum(r["packets"]["lost"] for r in runs) / packets
        by = {}
        for run in runs:
            by.setdefault(run["loss"]["method"], []).append(run["loss"])
        held = by.pop("loss runs", [])
        none, unsteady = by.pop("none lost", []), by.pop("not steady", [])
        if by:
            print(f"{scene}: unexpected method {sorted(map(str, by))}")
            faults += 1
        held_good = sum(r["low"] <= truth <= r["high"] for r in held)
        print(f"{scene:7} {100 * truth:8.3f}%  {share(len(none), seeds):>13} "
              f"{share(held_good, len(held)):>18} "
              f"{share(len(unsteady), seeds):>12}")
        if held:
            error = math.sqrt(0.92 * 0.08 / len(held))
            faults += held_good / len(held) < 0.92 - (2 if seeds >= 400 else 4) * error
    print("as promised" if not faults else f"NOT as promised: {faults}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
