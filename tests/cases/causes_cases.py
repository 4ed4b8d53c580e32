"""Recordings in which something dropped, by receivers whose truth is known: what causes and figures must say of them.

They were made by a simulator that shares no code with the program, from the formats in the man pages.

usage: causes_cases.py AIRLEASH FIXTURES
"""
import gzip
import json
import subprocess
import sys
from pathlib import Path

airleash, folder = sys.argv[1], Path(sys.argv[2]) / "cases"
failed = []


def ask(command, name):
    text = gzip.decompress((folder / f"{name}.txt.gz").read_bytes())
    done = subprocess.run([airleash, command, "--json", "-"], input=text, capture_output=True, timeout=60)
    if done.returncode != 0:
        sys.exit(f"{name}: {command} gave {done.returncode}: {done.stderr.decode()}")
    return json.loads(done.stdout)


def check(name, what, good):
    if not good:
        failed.append(f"{name}: {what}")


def shown(found):
    return {c["name"] for c in found["causes"] if c["shown"]}


# file: truth; the causes that must be shown, and no others
CAUSES = {
    # a watchdog restarts the receiver at random; servos leap after each boot
    "causes-watchdog-not-supply": {"receiver's watchdog"},
    # mere fading: nothing moves by more than its noise
    "causes-fading-only": set(),
    # the transmitter stops sending every 5 s, 29 times: its sequence number stands still
    "causes-transmitter-pauses": {"transmitter pauses", "losses in a rhythm"},
    # a bad cable and no checksums; some 21 400 packets, none lost, no restart
    "lines-damaged-no-checksum": set(),
}
for name, names in CAUSES.items():
    found = ask("causes", name)
    check(name, f"shown are {shown(found)}", shown(found) == names)
    if name == "causes-fading-only":
        check(name, "no next step is named", bool(found["next"]))
    if name == "causes-transmitter-pauses":
        rhythm = next(c for c in found["causes"] if c["name"] == "losses in a rhythm" and c["of"] == "outages")
        pauses = next(c for c in found["causes"] if c["name"] == "transmitter pauses")
        check(name, f"a period of {rhythm['period_ms']} ms", abs(rhythm["period_ms"] - 5000) < 25)
        check(name, f"{pauses['explained']} pauses", pauses["explained"] == 29)

name = "lines-damaged-no-checksum"
figures = ask("figures", name)
check(name, f"{figures['packets']['got']} packets", abs(figures["packets"]["got"] - 21400) <= 50)
check(name, f"{figures['packets']['lost']} lost", figures["packets"]["lost"] == 0)
check(name, "a restart", sum(figures["restarts"]["causes"].values()) == 0)
check(name, "no damage", figures["lines"]["damaged"] >= 100)

print("\n".join(failed) or f"{len(CAUSES)} cases")
sys.exit(1 if failed else 0)
