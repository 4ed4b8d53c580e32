"""The program's figures against a slow, plain recomputation from airleash-json(5) and
airleash-telemetry(5) alone, over random sets of keys, each in or out, some of them in a part of the
lines only, and random streams.

What isn't recomputed: intervals, the loss and what rests on the order of packets, and outages; they
have checks of their own.

usage: oracle_cases.py AIRLEASH [RUNS [FIRST_SEED]]
"""
import json
import math
import pathlib
import random
import subprocess
import sys
import tempfile

airleash = sys.argv[1]
runs = int(sys.argv[2]) if len(sys.argv) > 2 else 60
first = int(sys.argv[3]) if len(sys.argv) > 3 else 1

KEYS = ("n t in lock seq tboot got lost refused pat age gap fs fsn mv mvmin heard noise rssi reg reinit "
        "tmv tstep").split()
REPORT_MS, PACKET_MS = 50, 20


def stream(dice):
    """Reports as lists of (key, text), in the order that they come, without damage."""
    keys = {k for k in KEYS if dice.random() < 0.5}
    partly = {k for k in keys - {"n", "t", "got", "lost", "seq", "pat"} if dice.random() < 0.2}
    loss, channels, count = dice.choice([0, 0.02, 0.2]), dice.randrange(1, 9), dice.randrange(2, 120)
    t, got, lost, seq, fsn, failing = dice.choice([50, 100000]), 0, 0, dice.randrange(1000), 0, False
    refused, mv, ch = 0, dice.randrange(4000, 6000), [1500] * channels
    last, reports, number = t - 5, [], dice.choice([0, 0, 500])
    told = keys & {"t", "n", "got"}  # by these alone
    restart = dice.randrange(3, count) if dice.random() < 0.3 and told and count > 3 else None
    for index in range(count):
        number += 1
        if index == restart: # the receiver is off for a moment; its counters begin anew
            number, t, got, lost, fsn, refused = 1, 50, 0, 0, 0, 0
            failing, last = False, 45
        pattern, longest = "", 0
        for at in range(t - REPORT_MS + 10, t + 1, PACKET_MS):
            if dice.random() < loss:
                lost, pattern = lost + 1, pattern + "x"
            else:
                longest, last = max(longest, at - last), at
                got, pattern = got + 1, pattern + "o"
            seq = (seq + 1) % 65536
        if dice.random() < 0.1:
            failing = not failing
            fsn += failing
        refused += dice.random() < 0.05
        now = mv + dice.randrange(-200, 200)
        ch = [min(2000, max(1000, v + dice.choice([0, 0, 0, 1, -1, 40, -40]))) for v in ch]
        values = {
            "n": number, "t": t, "ch": ",".join(str(v) for v in ch),
            "in": ",".join(str(v + 1) for v in ch), "lock": 0, "seq": seq, "tboot": 7, "got": got,
            "lost": lost, "refused": refused, "pat": pattern or None, "age": t - last, "gap": longest,
            "fs": int(failing), "fsn": fsn, "mv": now, "mvmin": now - dice.randrange(300),
            "heard": "1/3", "noise": "0/9", "rssi": -dice.randrange(40, 90), "reg": "ok", "reinit": 0,
            "tmv": dice.randrange(3000, 9000), "tstep": f"{dice.randrange(1, 5)}/4"}
        reports.append([(k, str(v)) for k, v in values.items() if v is not None and
                        (k == "ch" or k in keys) and not (k in partly and dice.random() < 0.5)])
        t += REPORT_MS
    return reports


# ---- what the manual says ---------------------------------------------------------------------------


def numbers(reports, key):
    return [int(value) for report in reports for k, value in report if k == key]


def whole(text):
    return None if text is None else int(text)


def restarts(reports):
    """Where uptime goes back; without it where the number of the report does not grow, or got goes
    back."""
    for key in ("t", "n", "got"):
        values = numbers(reports, key)
        if values:
            return [i for i, (a, b) in enumerate(zip(values, values[1:]), 1) if b < a or (b == a and key == "n")]
    return []


def time_of(reports):
    at = numbers(reports, "t")
    if restarts(reports):
        return {"reports": len(reports)} # nobody knows for how long it was off
    return {"reports": len(reports), "link_ms": at[-1] - at[0] if at else None}


def told_last(reports, key):
    values = [value for report in reports for k, value in report if k == key]
    return values[-1] if values else None


def restarts_of(reports):
    if not {"t", "n"} & {k for r in reports for k, _ in r}:
        return {}
    return {"receiver": len(restarts(reports))}


def failsafe_of(reports):
    """fsn counts the entries, fs shows those that last over a report; since the first report."""
    keys = {k for r in reports for k, _ in r}
    whole_fs = all(dict(r).get("fs") for r in reports)
    if restarts(reports) or not keys & {"fs", "fsn"}:
        return {}
    if keys & {"fs", "fsn"} == {"fs"} and whole_fs:
        values = numbers(reports, "fs")
        return {"active": values[-1] == 1}
    return {"active": None} if "fs" not in keys else {}


def radio_of(reports):
    step = told_last(reports, "tstep")
    return {"step": step and int(step.split("/")[0]), "steps": step and int(step.split("/")[1]),
            "registers": told_last(reports, "reg"), "rssi_dbm": whole(told_last(reports, "rssi"))}


def supply_of(reports):
    """The lowest of the run is what mvmin says, which is the lowest since the report before; mv alone
    shows the moments of the reports only."""
    out, now, least = {}, numbers(reports, "mv"), numbers(reports, "mvmin")
    out["min_mv"] = min(least + now) if least else None
    out["low_at_reports_mv"] = min(now) if now and not least else None
    at = numbers(reports, "t")
    if least and at:
        out["min_at_ms"] = next(int(dict(r)["t"]) - at[0] for r in reports for k, v in r
                                if k in ("mv", "mvmin") and int(v) == out["min_mv"])
    if restarts(reports):
        out.pop("min_at_ms", None)
    out["mv"] = whole(told_last(reports, "mv"))
    out["transmitter_mv"] = whole(told_last(reports, "tmv"))
    sent = numbers(reports, "tmv")
    out["transmitter_low_mv"] = min(sent) if sent else None
    return out


def channels_of(reports):
    out = []
    for index in range(len(dict(reports[0])["ch"].split(","))):
        values = [int(dict(r)["ch"].split(",")[index]) for r in reports]
        changes = sum(a != b for a, b in zip(values, values[1:]))
        out.append({"number": index + 1, "name": f"ch{index + 1}", "low": min(values), "high": max(values),
                    "value": values[-1], "reports": len(values), "changes": changes,
                    "steps": len(set(values))})
        at = numbers(reports, "t")
        if at and not restarts(reports) and at[-1] - at[0] >= 1000:
            out[-1]["changes_hz"] = changes / ((at[-1] - at[0]) / 1000)
    return out


def lines_of(reports):
    size = sum(2 + sum(len(f" {k}={v}") for k, v in r) + 1 for r in reports)
    return {"good": len(reports), "damaged": 0, "missing": 0 if numbers(reports, "n") else None,
            "bytes_good": size, "bytes_damaged": 0, "unknown_words": 0, "unknown_keys": 0}


def grown(reports, key):
    """What a counter says of the run: since the first report; of packets since the receiver's start
    where that is its first one; after a restart all that it holds."""
    values = numbers(reports, key)
    base = 0 if numbers(reports, "n")[:1] == [1] and key != "refused" else values[0]
    return sum(values[i - 1] for i in restarts(reports)) + values[-1] - base


def packets_of(reports):
    """The counters tell what came."""
    keys = {k for r in reports for k, _ in r}
    out, refused = {}, numbers(reports, "refused")
    if {"got", "lost"} <= keys and "pat" not in keys and "seq" not in keys:
        out = {key: grown(reports, key) for key in ("got", "lost")}
    if "refused" not in keys:
        out["refused"] = None
    elif all(dict(r).get("refused") for r in reports):
        out["refused"] = grown(reports, "refused")
    return out


def wanted_of(reports):
    return {"time": time_of(reports), "restarts": restarts_of(reports), "failsafe": failsafe_of(reports),
            "radio": radio_of(reports), "supply": supply_of(reports), "lines": lines_of(reports),
            "packets": packets_of(reports), "channels": channels_of(reports)}


# ---- against the program ----------------------------------------------------------------------------


def differences(wanted, told, where=""):
    if isinstance(wanted, dict):
        for key, value in wanted.items():
            below = told.get(key) if isinstance(told, dict) else None
            yield from differences(value, below, f"{where}.{key}" if where else key)
    elif isinstance(wanted, list):
        if len(wanted) != len(told):
            yield where, len(wanted), len(told)
        for index, (a, b) in enumerate(zip(wanted, told)):
            yield from differences(a, b, f"{where}[{index}]")
    elif isinstance(wanted, float) and isinstance(told, float):
        if not math.isclose(wanted, told, rel_tol=1e-12):
            yield where, wanted, told
    elif wanted != told:
        yield where, wanted, told


def main():
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        path = pathlib.Path(name) / "it.log"
        for seed in range(first, first + runs):
            dice = random.Random(seed)
            reports = stream(dice)
            lines = ["rx" + "".join(f" {k}={v}" for k, v in report) for report in reports]
            path.write_text("\n".join(lines) + "\n")
            done = subprocess.run([airleash, "figures", "--json", path], capture_output=True, text=True)
            told = json.loads(done.stdout)
            keys = " ".join(k for k in ["ch", *KEYS] if any(k == key for r in reports for key, _ in r))
            for where, a, b in differences(wanted_of(reports), told):
                wrong += 1
                if wrong <= 30:
                    print(f"seed {seed}: {where}: wanted {a}, told {b} (keys: {keys})")
    print(f"{runs} runs, {wrong} differences")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
