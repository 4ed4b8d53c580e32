#!/usr/bin/python3
"""The failsafe trial of the real console before receivers whose truth is known.

usage: failsafe_table.py AIRLEASH [--kinds a,b] [--seeds N] [--first-seed N] [--side-by-side N]
                         [--keep DIR]

Each run is a world of its own (receiver.py: transmitter, air, receiver, motors, servos, cable),
whose lines go through a pseudo-terminal to `airleash watch`, and an honest person (person.py), who
does what its screen asks and answers by what the motors really do. It takes 2 to 4 minutes of real
time. Then `airleash judge` judges the recording. kinds.py says what may be said of each kind of
receiver; bad.py and good.py say what it does. Nothing here shares code with the program.

--kinds takes names of kinds and of groups (bad, good, spare, beyond). With --keep every run leaves
its recording, model file, screens, and what the person did, in DIR/KIND-SEED.

The table: kind, runs, passed/failed/not shown, answers of n, how late the host was at worst, and
the first reason. Exit status 1 when a bad receiver passed, a good one with every key did not,
another good one failed or was told no way on, or the screen's outcome differs from that of judge.
Where the host was late by more than 0.25 s, "not shown" is right too.

Found with 20 seeds of each kind, from seed 501, 40 side by side on two processors. A line was late
by 0.9 s at worst, and by less than 0.2 s in the kinds whose receiver doesn't restart:

  lock_by_time_in late_age_capped late_age_wraps late_slow_clock late_clock_slow_in_outage
  watchdog_in_outage brownout_at_return preset_off_idle second_motor returns_after_seconds
  returns_at_wrap prints_presets no_failsafe kick_between_reports late_stale_packets
                                     300 runs: none passed, 300 failed
  pulses_stop                         20 runs: none passed, 7 failed, 13 not shown
  clean fading trimmed_idle reversing 80 runs: 80 passed

And 3 seeds of every kind, from seed 701, the same way; lines late by 0.09 s at worst:

  group    kinds  runs  passed  failed  not shown
  bad         56   168       0     153         15
  good        10    30      30       0          0
  spare       25    75      32       0         43
  beyond       4    12      10       2          0

In one of the bad ones, with a bad cable, the trial asked for one switch-off after the other for more
than 480 s, though the person had seen the motor run too early; it ends there now.
Of five bad ones before the console that asked the person nothing four passed.
"""
import argparse
import collections
import concurrent.futures
import csv
import json
import multiprocessing
import os
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time

sys.dont_write_bytecode = True
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import kinds  # noqa: E402
import person  # noqa: E402
import receiver  # noqa: E402

LONGEST_S = 480
LATE_S = 0.25  # lines so late on a busy computer make the bounds wide
VERDICTS = ("passed", "failed", "not shown")


def model_option(airleash):
    told = subprocess.run([airleash, "watch", "--help"], capture_output=True, text=True).stdout
    return "--model" if "--model" in told else "--model"


def make_world(case, seed):
    return receiver.World(case.plan, seed, case.receiver, case.cable, case.faults)


def play(console, port, world, someone):
    """The run in real time. Gives the worst lateness of a line, lines that found no room, and when
    each report was written, by its n and t, which come again after a restart."""
    began, worst, unwritten = time.monotonic(), 0.0, 0
    written = collections.defaultdict(list)
    while not someone.done and not console.ended and time.monotonic() - began < LONGEST_S:
        now = time.monotonic() - began
        world.advance(now)
        for due, data in world.arrived:
            at = time.monotonic() - began
            worst = max(worst, at - due)
            unwritten += not port.write(data) and not someone.over
            if at > 3:  # the console has begun to read
                written[number(data, "n"), number(data, "t")].append(at)
        world.arrived.clear()
        someone.think(now)
        due = world.next_due() - (time.monotonic() - began)
        console.pump(min(0.05, max(0.008, due)))  # many worlds share two processors
    return worst, unwritten, written


def number(data, key):
    found = re.search(rf" {key}=(\d+)".encode(), data)
    return found[1].decode() if found else ""


def reading_late(path, written):
    """By how much more than at best the console was late in reading a report. It stands still while
    the system writes its recording through to a busy disk."""
    waits = []
    with open(path, newline="") as file:
        for row in csv.DictReader(file):
            which = row["report_no"], row["rx_ms"]
            if row["kind"] == "rx" and which[0] and written[which]:
                waits.append(int(row["host_us"]) / 1e6 - written[which].pop(0))
    return max(waits) - min(waits) if waits else 0.0


def run(airleash, option, name, seed, folder):
    folder.mkdir(parents=True, exist_ok=True)
    rng = random.Random(f"{name} {seed}")
    case = kinds.KINDS[name][1](rng)
    (folder / "model.ini").write_text(case.model())
    world = make_world(case, f"{name} {seed}")
    port = person.Port()
    console = person.Console(airleash, port.name,
                             ["--mute", "--out", "run.csv", option, "model.ini"], folder)
    someone = person.Person(world, console, person.Rows(folder / "run.csv"), rng)

    def cut_the_cable(step, times, now):
        if case.hole is not None and (step, times) == case.hole[:2]:
            begin = now + case.hole[2]
            world.cable.holes.append((begin, begin + case.hole[3]))
            someone.note(now, f"the cable is out from {begin:.2f} s for {case.hole[3]:.2f} s")
    someone.at_step = cut_the_cable
    late_s, unwritten, written = play(console, port, world, someone)
    ended = console.finish(10)
    port.close()
    result = judge(airleash, folder / "run.csv")
    late_s = max(late_s, reading_late(folder / "run.csv", written))
    result |= {"kind": name, "seed": seed, "late_s": late_s, "unwritten": unwritten,
               "no": someone.no, "left": ended and someone.over, "screen": outcome(someone.screens),
               "takes_s": world.queue[0][0]}
    keep(folder, case, someone, result)
    return result


def judge(airleash, path):
    done = subprocess.run([airleash, "judge", path, "--json"], capture_output=True, timeout=60)
    told = json.loads(done.stdout) if done.stdout else {"trials": []}
    trials = [trial for trial in told["trials"] if trial["name"] == "failsafe"]
    if not trials:
        return {"verdict": "no trial", "headline": done.stderr.decode(), "next": None,
                "findings": []}
    return {key: trials[-1][key] for key in ("verdict", "headline", "next", "findings")}


def outcome(screens):
    """The verdict on the screen at the end."""
    for _, step, text in screens:
        if step == "outcome":
            found = re.search(r"^\S?\s*(passed|failed|not shown)\b", pane(text), re.M)
            return found[1] if found else None
    return None


def pane(text):
    """The trial's part of the page."""
    rows = text.splitlines()
    heads = [i for i, row in enumerate(rows) if row.startswith("Failsafe: does the model stop")]
    return "\n".join(row for row in rows[heads[0] + 1:] if row) if heads else text


def keep(folder, case, someone, result):
    plan = {key: str(value) for key, value in vars(case.plan).items()}
    told = {"plan": plan, "cable": case.cable, "hole": case.hole, "person": someone.log} | result
    (folder / "run.json").write_text(json.dumps(told, indent=1, default=str))
    with open(folder / "screens.txt", "w") as out:
        for when, step, text in someone.screens:
            out.write(f"==== {when:.2f} {step}\n{pane(text)}\n")


def reason(result):
    """Why it didn't pass: the first finding that is refuted, else the first that isn't shown."""
    for verdict in ("failed", "not shown"):
        for finding in result["findings"]:
            if finding["verdict"] == verdict == result["verdict"] and not (
                    finding["aside"] and verdict == "not shown"):
                return f"{finding['name']}: {finding['text']}"
    return result["headline"]


WAY_ON = re.compile(r"\bcable\b|\bline|\bmodel file\b|\bprint", re.I)


def names_a_way_on(result):
    """A missing key, the model file or the cable, in what isn't shown or in what to do next."""
    texts = [result["headline"], result["next"] or ""]
    for finding in result["findings"]:
        if finding["verdict"] != "passed" and not finding["aside"]:
            if finding["missing"]:
                return True
            texts.append(finding["text"])
    return any(WAY_ON.search(text) for text in texts)


def late(result):
    return result["late_s"] > LATE_S or result["unwritten"] > 0


def surprise(group, result):
    """What is wrong with a result, or None. A late host may leave things not shown, no more."""
    verdict = result["verdict"]
    if verdict not in VERDICTS:
        return f"no verdict: {result['headline']}"
    if not result["left"]:
        return f"the run took too long; judge says {verdict}"
    if result["screen"] != verdict:
        return f"the screen says {result['screen']}, judge says {verdict}"
    if group == "bad" and verdict == "passed":
        return "a bad receiver passed"
    if verdict == "not shown" and late(result):
        return None
    if group == "good" and verdict != "passed":
        return "a good receiver didn't pass: " + reason(result)
    if group == "spare" and verdict == "failed":
        return "a good receiver failed: " + reason(result)
    if result["kind"].startswith(("few", "numbers", "cable")) and verdict == "not shown" and (
            not names_a_way_on(result)):
        return "no key and no cable is named: " + reason(result)
    return None


def row(name, results):
    counts = collections.Counter(r["verdict"] for r in results)
    reasons = [reason(r) for r in results if r["verdict"] != "passed"]
    findings = collections.Counter(text.split(":")[0] for text in reasons)
    late_ms = 1000 * max(r["late_s"] for r in results)
    head = (f"{name:28} {len(results):3}  " + "/".join(str(counts[v]) for v in VERDICTS).ljust(9)
            + f" {sum(r['no'] for r in results):3} n {late_ms:5.0f} ms  "
            + ", ".join(f"{finding} {count}" for finding, count in findings.most_common()))
    return head + (f"\n{'':30}{reasons[0][:150]}" if reasons else "")


def choose(wanted):
    names = [name for name, (group, _) in kinds.KINDS.items()
             if wanted is None or name in wanted or group in wanted]
    unknown = set(wanted or ()) - set(kinds.KINDS) - set(kinds.GROUPS)
    if unknown:
        sys.exit(f"no such kind: {', '.join(sorted(unknown))}; there are {', '.join(kinds.KINDS)}")
    return names


def play_all(options, airleash, names, folder):
    """All runs side by side; a line as each ends."""
    option, results, jobs = model_option(airleash), collections.defaultdict(list), {}
    context = multiprocessing.get_context("fork")
    seeds = range(options.first_seed, options.first_seed + options.seeds)
    with concurrent.futures.ProcessPoolExecutor(options.side_by_side, mp_context=context) as pool:
        for seed in seeds:
            for name in names:
                job = pool.submit(run, airleash, option, name, seed, folder / f"{name}-{seed}")
                jobs[job] = name
        for count, job in enumerate(concurrent.futures.as_completed(jobs), 1):
            result, name = job.result(), jobs[job]
            results[name].append(result)
            wrong = surprise(kinds.KINDS[name][0], result)
            print(f"{count}/{len(jobs)} {name}-{result['seed']}: {result['verdict']} after "
                  f"{result['takes_s']:.0f} s{' LATE HOST' if late(result) else ''}"
                  f"{'  SURPRISE: ' + wrong if wrong else ''}",
                  file=sys.stderr, flush=True)
    return results


def tell(names, results):
    """The table; how many surprises there are."""
    surprises = []
    for group in kinds.GROUPS:
        members = [name for name in names if kinds.KINDS[name][0] == group]
        if members:
            print(f"\n{group:28} runs passed/failed/not shown; answers of n; host late by at most")
        for name in members:
            done = sorted(results[name], key=lambda r: r["seed"])
            print(row(name, done))
            surprises += [(name, r["seed"], wrong) for r in done if (wrong := surprise(group, r))]
    for name, seed, wrong in surprises:
        print(f"SURPRISE {name}-{seed}: {wrong}")
    return len(surprises)


def main():
    parser = argparse.ArgumentParser(usage=__doc__.split("usage: ")[1].split("\n\n")[0])
    parser.add_argument("airleash")
    parser.add_argument("--kinds", type=lambda text: text.split(","))
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--side-by-side", type=int, default=30)
    parser.add_argument("--keep", type=pathlib.Path)
    options = parser.parse_args()
    airleash = os.path.abspath(options.airleash)
    names = choose(options.kinds)
    folder = options.keep or pathlib.Path(tempfile.mkdtemp(prefix="airleash-live-"))
    results = play_all(options, airleash, names, folder.resolve())
    surprises = tell(names, results)
    if options.keep is None:
        shutil.rmtree(folder)
    return 1 if surprises else 0


if __name__ == "__main__":
    sys.exit(main())
