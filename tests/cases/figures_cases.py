"""Captures whose loss is known, made by a simulator that shares no code with the program.

usage: figures_cases.py AIRLEASH FIXTURES
"""
import json
import subprocess
import sys
from pathlib import Path

airleash, folder = sys.argv[1], Path(sys.argv[2]) / "cases"
faults = []


def run(name, *options):
    done = subprocess.run([airleash, "figures", folder / f"{name}.txt", *options], check=True,
                          capture_output=True, text=True)
    return done.stdout


def want(name, what, good):
    if not good:
        faults.append(f"{name}: {what}")


def holds(loss, truth):
    """The interval, or the bound that stands beside it."""
    return loss["low"] <= truth <= max(loss["high"], loss["high_if_drop_1s"] or 0)


# 2 % lost in bursts of 10 on the mean; these two minutes had one burst of 17.
for name in "figures-no-pat", "figures-same-with-pat":
    found = json.loads(run(name, "--json"))
    want(name, f"2 % isn't held: {found['loss']}", holds(found["loss"], 0.02))
    known = name == "figures-same-with-pat"
    want(name, "loss runs", found["drops"]["count"] == (1 if known else None))
    want(name, "bursts", found["bursts"]["count"] == (1 if known else None))
    want(name, "text of loss runs", known or "loss runs unknown" in run(name, "--all"))

# 49.5 packets a second were sent, all arrived; the id line says 50.
name = "figures-got-only-true-rate-49.5"
found = json.loads(run(name, "--json"))
want(name, f"none lost isn't held: {found['loss']}", found["loss"]["low"] == 0)
want(name, "the tolerance", found["loss"]["rate_error"] == 0.02 and "2.0 % of error" in run(name))

# got and an 8-bit seq, no seqmod: 170 of 3000 lost.
name = "figures-got-seq-mod-256"
found, text = json.loads(run(name, "--json")), run(name)
want(name, "lost", found["packets"]["lost"] == 170)
want(name, "the modulus", found["packets"]["seqmod_assumed"] == 256 and "round at 256" in text)
want(name, "restarts", found["reboots"]["transmitter"] == 0)

# 300 packets a report, seqmod 256; 5.2 % lost.
name = "figures-seqmod-below-packets-a-report"
found, text = json.loads(run(name, "--json")), run(name)
want(name, "a loss was told", found["packets"]["lost"] is None and found["loss"]["rate"] is None)
want(name, "the reason", "unknown: more packets a report than seqmod" in text)
want(name, "restarts", found["reboots"]["transmitter"] == 0)

# t goes back by 5 ms once while n, got and lost run on: 2830 got, 170 lost, no restart.
name = "figures-t-back-5-ms"
found, text = json.loads(run(name, "--json")), run(name)
want(name, "packets", (found["packets"]["got"], found["packets"]["lost"]) == (2830, 170))
want(name, "restart", found["reboots"]["receiver"] == 0)
want(name, "the step", found["reboots"]["clock_steps"] == 1 and "clock went back once" in text)
want(name, "lines missing", found["lines"]["missing"] == 0)

for fault in faults:
    print(fault)
sys.exit(1 if faults else 0)
