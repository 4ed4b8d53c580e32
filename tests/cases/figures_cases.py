"""Captures whose loss is known, made by a simulator that shares no code with the program.

usage: figures_cases.py AIRLEASH FIXTURES
"""
import json
import random
import subprocess
import sys
import tempfile
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
want(name, "restarts", found["restarts"]["transmitter"] == 0)

# 300 packets a report, seqmod 256; 5.2 % lost.
name = "figures-seqmod-below-packets-a-report"
found, text = json.loads(run(name, "--json")), run(name)
want(name, "a loss was told", found["packets"]["lost"] is None and found["loss"]["rate"] is None)
want(name, "the reason", "unknown: more packets a report than seqmod" in text)
want(name, "restarts", found["restarts"]["transmitter"] == 0)

# t goes back by 5 ms once while n, got and lost run on: 2830 got, 170 lost, no restart.
name = "figures-t-back-5-ms"
found, text = json.loads(run(name, "--json")), run(name)
want(name, "packets", (found["packets"]["got"], found["packets"]["lost"]) == (2830, 170))
want(name, "restart", found["restarts"]["receiver"] == 0)
want(name, "the step", found["restarts"]["clock_steps"] == 1 and "clock went back once" in text)
want(name, "lines missing", found["lines"]["missing"] == 0)


# --- lines made here, from airleash-telemetry(5): no checksums, 50 packets a second in one-packet losses

def lines(path, keys, clock=lambda ms: ms, modulus=65536, lost_part=0.02, interval_ms=20, count=2400):
    """Reports every 50 ms; the packets that were sent and lost."""
    dice, sent, got, lost, pat, seq, newest_ms = random.Random(7), 0, 0, 0, "", 0, 0
    rows = ["id end=rx rate=50"]
    for n in range(1, count + 1):
        while (sent + 1) * interval_ms <= 50 * n:
            sent += 1
            if dice.random() < lost_part:
                lost, pat = lost + 1, pat + "x"
            else:
                got, pat, seq, newest_ms = got + 1, pat + "o", sent % modulus, sent * interval_ms
        told = {"got": got, "lost": lost, "seq": seq, "pat": pat, "age": int(50 * n - newest_ms)}
        rows.append(f"rx ch=1500 n={n} t={clock(50 * n)} " +
                    " ".join(f"{key}={told[key]}" for key in keys if told[key] != ""))
        pat = ""
    path.write_text("\n".join(rows) + "\n")
    return sent, lost


def figures(path, *options):
    return subprocess.run([airleash, "figures", path, *options], check=True, capture_output=True,
                          text=True).stdout


MICROS_MS = 4294967 # 2^32 us


def clocks(path):
    """A clock set back by 5 s, and micros() / 1000 that goes round: neither is a restart."""
    for name, clock in (("set back", lambda ms: ms if ms < 60000 else ms - 5000),
                        ("micros", lambda ms: (ms + MICROS_MS - 60000) % MICROS_MS)):
        for keys in (("got", "lost"), ("got", "lost", "pat"), ("got", "lost", "age")):
            sent, lost = lines(path, keys, clock)
            found = json.loads(figures(path, "--json"))
            packets, told = found["packets"], found["restarts"]
            want(f"{name} {keys}", f"{packets}, {sent} sent",
                 sent - 10 <= packets["got"] + packets["lost"] <= sent
                 and abs(packets["lost"] - lost) <= 2)
            want(f"{name} {keys}", told, (told["receiver"], told["clock_steps"]) == (0, 1))
            want(f"{name} {keys}", found["loss"], holds(found["loss"], 0.02))


def moduli(path):
    """2^8 is found; 2^10 can't be, and isn't taken for restarts of the transmitter."""
    lines(path, ("got", "seq"), modulus=256)
    found = json.loads(figures(path, "--json"))
    want("8 bits", found["packets"], found["packets"]["seqmod_assumed"] == 256)
    want("8 bits", found["loss"], holds(found["loss"], 0.02))
    want("8 bits", found["restarts"], found["restarts"]["transmitter"] == 0)
    lines(path, ("got", "seq"), modulus=1024)
    found = json.loads(figures(path, "--json"))
    want("10 bits", found["packets"], found["packets"]["lost"] is None)
    want("10 bits", found["restarts"], found["restarts"]["transmitter"] is None)
    want("10 bits", "the reason", "unknown: no modulus fits seq" in figures(path))


def rates(path):
    """Sent 1.5 % faster or slower than the id line says."""
    for interval_ms in (20.3, 19.7):
        for lost_part in (0, 0.05):
            for keys in (("got",), ("got", "age")):
                sent, lost = lines(path, keys, lost_part=lost_part, interval_ms=interval_ms)
                loss = json.loads(figures(path, "--json"))["loss"]
                none = loss["method"] == "none lost"
                want(f"rate {interval_ms} {keys} {lost_part}", loss,
                     lost == 0 if none else holds(loss, lost_part))
                want(f"rate {interval_ms} {keys}", loss,
                     loss["rate_error"] == 0.02 if "age" not in keys else loss["rate_error"] < 0.001)


def ends(path):
    """None lost, all lost."""
    lines(path, ("got", "lost"), lost_part=0)
    text, loss = figures(path, "--all"), json.loads(figures(path, "--json"))["loss"]
    want("none lost", loss, loss["high"] is None and loss["drops_a_minute_high"] > 0)
    want("none lost", text, "at most 1.5 loss runs a minute" in text)
    lines(path, ("got", "lost"), lost_part=1)
    text, loss = figures(path), json.loads(figures(path, "--json"))["loss"]
    want("all lost", loss, loss["low"] is None and loss["high"] is None)
    want("all lost", text, "no confidence interval: nothing arrived" in text)


def observed(path):
    """pat alone; half of the minutes' lines are missing, and nothing is known of their time."""
    lines(path, ("pat",), lost_part=0)
    rows = path.read_text().splitlines()
    path.write_text("\n".join(row for i, row in enumerate(rows) if i % 40 < 20) + "\n")
    loss = json.loads(figures(path, "--json"))["loss"]
    want("half observed", loss, abs(loss["drops_a_minute_high"] - 2.9957) < 0.1) # 3 in a minute


with tempfile.TemporaryDirectory() as name:
    for part in (clocks, moduli, rates, ends, observed):
        part(Path(name) / "made.log")

for fault in faults:
    print(fault)
sys.exit(1 if faults else 0)
