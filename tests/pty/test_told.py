#!/usr/bin/python3
"""The long texts for people against the JSON of the same command, over simulated scenes: causes,
the figures of the standards, compare, budget.

usage: test_told.py AIRLEASH

What is right: each figure of the text is worked out here from the JSON, which other tests hold
against outside programs; the words around it are looked for as they stand in the manual's examples.
"""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile

work = pathlib.Path(tempfile.mkdtemp(prefix="airleash-told-"))


def run(*args):
    done = subprocess.run([airleash, *map(str, args)], stdin=subprocess.DEVNULL, cwd=work,
                          capture_output=True, timeout=120, env=dict(os.environ, LC_ALL="C.UTF-8"))
    if done.returncode != 0:
        raise SystemExit(f"{args} gave {done.returncode}: {done.stderr.decode()}")
    return done.stdout.decode()


def holds(text, part, *what):
    """Lines may be filled anew: a space is any white space."""
    if re.sub(r"\s+", " ", part) not in re.sub(r"\s+", " ", text):
        raise SystemExit(f"{what}: no '{part}' in\n{text}")


def both(*args, more=()):
    return run(*args, *more), json.loads(run(*args, "--json"))


def scene(name, seconds, seed=1):
    path = work / f"{name}-{seed}.log"
    path.write_text(run("simulate", "--lines", "--fast", "--scene", name, "--for", seconds, "--seed",
                        seed))
    return path



# --- causes

def told_cause(text, cause, what):
    if cause["shown"]:
        holds(text, f"{cause['label']}: {cause['explained']} of {cause['events']} {cause['of']}",
              what)
        if cause["chain"] is None:
            holds(text, " ".join(cause["next"].split()[:4]), what)
    if cause["shown"] and cause["p"] is not None and cause["p"] >= 0.001:
        holds(text, f"chance would give {cause['expected']:.1f} (p {cause['p']:.4f})", what)
    if cause["missing"]:
        holds(text, f"{cause['label']} (without {cause['missing']})", what)


def told_drops(text, drops, what):
    listed = re.findall(r"^ +\d+:\d\d\.\d  (\w[\w ]*?) +(\d+) ms +(\d+) ", text, re.M)
    if len(listed) != len(drops):
        raise SystemExit(f"{what}: {len(listed)} drops listed of {len(drops)}")
    for row, drop in zip(listed, drops):
        kind = ("restart" if drop["receiver_restart"] else
                "tx start" if drop["transmitter_restart"] else
                "settings lost" if drop["settings_lost"] else "outage" if drop["outage"] else "losses")
        if row != (kind, str(drop["length_ms"]), str(drop["lost"])):
            raise SystemExit(f"{what}: {row} for {drop}")


def test_causes():
    seen = set()
    for name, seconds, model in (("motor", 400, True), ("motor", 400, False), ("beacon", 300, False),
                                ("sag", 300, False), ("edge", 300, False), ("loose", 300, False),
                                ("knocked", 300, False), ("calm", 30, False), ("weak", 60, False)):
        path = scene(name, seconds)
        (work / "card.ini").write_text("[channels]\nthrottle = 2\n")
        args = ["causes", path] + (["--model", work / "card.ini"] if model else [])
        text, said = both(*args, more=("--all",))
        for cause in said["causes"]:
            told_cause(text, cause, name)
            seen |= {cause["name"]} if cause["shown"] else set()
        for chain in said["chains"]:
            holds(text, chain, name)
        told_drops(text, said["drops"], name)
        if said["not_tested_because"]:
            holds(text, "Not tested", name)
        for step in said["throttle"] or []:
            holds(text, f"{100 * step['rate']:.2f} %", name)
        if model and not said["throttle"]:
            raise SystemExit("no throttle steps with the throttle channel known")
        if not run(*args).startswith("Why it dropped"):
            raise SystemExit("the short text has no head")
    for cause in ("throttle up", "losses in a rhythm", "receiver browned out"):
        if cause not in seen:
            raise SystemExit(f"no scene shows '{cause}': {sorted(seen)}")


# --- the figures of the standards

def test_standards():
    for name, seconds in (("motor", 200), ("busy", 60), ("edge", 60), ("calm", 60), ("bare", 20)):
        text, said = both("figures", scene(name, seconds), more=("--all",))
        drops, bursts = said["drops"], said["bursts"]
        if drops["count"]:
            holds(text, f"loss runs {drops['count']} (RFC 3357)", name)
            holds(text, f"longest {drops['longest_packets']} packet", name)
            if drops["near_16"] is not None:
                holds(text, f"{100 * drops['near_16']:.4g} % of losses within 16 packets", name)
        if bursts["count"]:
            holds(text, f"bursts    {bursts['count']} (RFC 3611, Gmin 16), density "
                        f"{100 * bursts['density']:.4g} %", name)
            ms = bursts["mean_ms"]
            length = f"{ms:.0f} ms" if ms < 1000 else f"{ms / 1000:.2f} s"
            holds(text, f"mean burst {bursts['mean_packets']:.1f} packets, {length}", name)
        if said["jitter_ms"] is not None:
            holds(text, f"jitter    {said['jitter_ms']:.3g} ms (RFC 3550", name)
        if said["timing"]["report_ms"] is not None:
            holds(text, f"every {said['timing']['report_ms']:.0f} ms", name)
            holds(text, " reports ", name)
        for part in ("order", "loss runs", "bursts", "two-state", "jitter"):
            holds(text, f" {part} ", name)


# --- compare

def test_compare():
    motor, calm, bare = scene("motor", 200), scene("calm", 60), scene("bare", 20)
    pairs = (([motor], [calm]), ([calm], [scene("calm", 60, 2)]), ([calm], [bare]),
             ([motor, scene("motor", 200, 2)], [scene("edge", 200), scene("edge", 200, 2)]))
    for before, after in pairs:
        args = ["compare", *before, "--with", *after]
        text, said = both(*args)
        for side in ("a", "b"):
            one = said[side]
            if one["rate"] is None:
                continue
            holds(text, f"{100 * one['rate']:.2f} % lost", args)
            holds(text, f"{one['lost']} of {one['got'] + one['lost']} packets in {one['minutes']:.1f}"
                        " min", args)
        if said["verdict"]:
            holds(text, f"verdict   {said['verdict']}", args)
        if said["difference"] and said["difference"]["low"] is not None:
            holds(text, f"{100 * said['difference']['rate']:+.2f} points", args)
        if said["p"] is not None:
            holds(text, f"chance    p = {said['p']:.4f}", args)


# --- budget

def test_budget():
    for more in ((), ("--amplified", "--tx-gain-dbi", 9), ("--edge=-2",), ("--edge=3",),
                 ("--angle=circular",), ("--angle=60",), ("--ack", "--rate", 100), ("--rate", 900),
                 ("--distance", 3, "--level-dbm=-70"), ("--margin-db", 100), ("--mhz", 2484),
                 ("--walked", 20, "--level-dbm=-90"), ("--walked", 400), ("--distance", 20000),
                 ("--amplified", "--kbps", 2000, "--walked", 5), ("--sensitivity-dbm=-80",)):
        text, said = both("budget", *more)
        holds(text, f"level       {said['received_dbm']:.1f} dBm", more)
        holds(text, f"in hand     {said['margin_db']:.1f} dB", more)
        holds(text, f"free space  {said['free_space_db']:.1f} dB", more)
        holds(text, f"e.i.r.p.    {said['eirp_dbm']:.2f} dBm", more)
        holds(text, f"on the air  {said['air_time_us']:.1f} us each", more)
        if said["polarisation_deg"] is None:
            holds(text, f"circular to linear: {said['polarisation_used_db']:.1f} dB", more)
        if said["edge_m"] is not None:
            side = "below" if said["edge_m"] < 0 else "above"
            holds(text, f"{abs(said['edge_m']):g} m {side} the line of sight: {said['edge_db']:.1f}"
                        " dB", more)
        if said["range_m"] is None:
            holds(text, "nowhere, not even at 1 m", more)


if __name__ == "__main__":
    airleash = os.path.realpath(sys.argv[1])
    for test in (test_causes, test_standards, test_compare, test_budget):
        test()
        print("ok", test.__name__)
