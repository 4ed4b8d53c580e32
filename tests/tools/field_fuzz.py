#!/usr/bin/env python3
"""Mutates fields of recordings, raw captures, model files and baselines and runs whole commands on
them, with a sanitized build: numbers at their edges, rows swapped, repeated or torn, columns moved,
added or taken out.  A byte fuzzer seldom gets past the numbers' checks; this one starts behind them.

A run fails when a sanitizer speaks, when the program is killed or hangs, when its exit status is none
of its own, and when JSON isn't JSON or holds a number that is none.  Of a failure the rows that it
doesn't need are taken out, and the smallest input is printed with its command and kept.

Each seed is one run and gives the same run whenever it is asked for, so that a long job is taken up
again with --seed where it ended, and one seed is run again with --runs 1.

usage: field_fuzz.py AIRLEASH FIXTURES [--seed FIRST] [--runs N] [--seconds S] [--jobs N] [--keep FOLDER]
"""
import argparse
import concurrent.futures
import gzip
import json
import os
import pathlib
import pty
import random
import re
import subprocess
import sys
import tempfile
import time

EDGES = ("0 -0 1 -1 2 7 127 128 255 256 32767 32768 -32768 65535 65536 99999 100000 2147483647 -2147483648 "
         "2147483648 4294967295 4294967296 9007199254740993 9223372036854775807 -9223372036854775808 "
         "18446744073709551615 1e300 -1e300 1e-300 nan inf -inf 0.1 -0.5 1,5 1e9 999999999999999 "
         "0.000000000001 00000001 off hold low ok default").split() + [""]
KILLED = re.compile(rb"runtime error|AddressSanitizer|LeakSanitizer|MemorySanitizer")
HUNG_S = 60
ROWS = (5, 20, 60, 150, 400)  # how many are taken, at most

CHARTS = ("loss channels supply outages walk paper band trials").split()
# FILE is the mutated input, OTHER a whole one, MODEL the model file, OUT a new file.
COMMANDS = [
    "figures FILE", "figures --all FILE", "figures --json FILE", "figures --json --model MODEL FILE",
    "figures --only loss,ends FILE", "causes FILE", "causes --json FILE", "causes --all --model MODEL FILE",
    "causes --switch 5 FILE", "walk FILE", "walk --json FILE", "walk --all --model MODEL FILE",
    "walk --switch 5 --plan 5,10,20 FILE", "walk --json --use fly FILE", "stops FILE",
    "stops --add 1.5:20 --move 1:0.5 --strike 2 FILE", "judge FILE", "judge --json FILE",
    "judge --model MODEL FILE", "judge --limit rest_noise=1 --other OTHER FILE",
    "compare FILE --with OTHER", "compare --json OTHER --with FILE", "compare --keep OUT FILE --with OTHER",
    "compare OTHER FILE --with FILE OTHER", "compare --switch 5 FILE --with OTHER", "model FILE",
    "report --out - FILE", "report --out - --model MODEL FILE", "report --out - --switch 5 --other OTHER FILE",
    "record --out OUT FILE", "record --out OUT --until loss=5% FILE",
    "record --out OUT --until differs --with FILE OTHER", "figures --json --other FILE OTHER",
    "chart --what compare FILE --with OTHER", "chart --what compare --out PICTURE OTHER --with FILE",
    "replay --pace 0 FILE", "replay --pace 0 --big --model MODEL FILE",
    *(f"chart --what {name} FILE" for name in CHARTS),
    *(f"chart --what {name} --narrow --out PICTURE --model MODEL FILE" for name in CHARTS),
]


# ---- inputs ---------------------------------------------------------------------------------------


class Inputs:
    def __init__(self, airleash, fixtures, folder):
        self.recordings, self.lines, self.cards, self.baselines = [], [], [], []
        for path in sorted(fixtures.glob("cases/*.csv")):
            self.recordings.append(path.read_bytes().splitlines(keepends=True))
        for path in sorted(fixtures.glob("*.log")) + sorted(fixtures.glob("cases/*.txt.gz")):
            raw = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
            log, out = folder / "a.log", folder / "a.csv"
            log.write_bytes(raw)
            # without checksums, which would refuse each changed line
            self.lines.append([re.sub(rb" \*[0-9A-Fa-f]{4}(?=\r?\n)", b"", line)
                               for line in raw.splitlines(keepends=True)])
            subprocess.run([airleash, "record", log, "--out", out, "--force"], capture_output=True,
                           check=True)
            self.recordings.append(out.read_bytes().splitlines(keepends=True))
            if path.stem in ("weak", "calm"):
                keep = folder / "a.txt"
                subprocess.run([airleash, "compare", log, "--with", log, "--keep", keep, "--force"],
                               capture_output=True, check=True)
                self.baselines.append(keep.read_bytes().splitlines(keepends=True))
                done = subprocess.run([airleash, "model", log], capture_output=True, check=True)
                self.cards.append([line.removeprefix(b"#") if b"=" in line else line
                                   for line in done.stdout.splitlines(keepends=True)])
        for path in sorted(fixtures.glob("cases/*.ini")):
            self.cards.append(path.read_bytes().splitlines(keepends=True))
        assert self.recordings and self.lines and self.cards and self.baselines


def piece(dice, rows):
    """Some rows in their order: the first ones, a stretch, and what is no report."""
    most = dice.choice(ROWS)
    if len(rows) <= most:
        return list(rows)
    at = dice.randrange(1, len(rows) - most + 1)
    head, rest = rows[: dice.randrange(1, 4)], rows[at : at + most]
    kept = [row for row in rows[3:at] if not row.startswith(b"rx")][-40:]
    return head + kept + rest


# ---- mutations ------------------------------------------------------------------------------------


def edge(dice, value):
    if dice.random() < 0.2 and value.lstrip(b"-").isdigit():
        number = int(value) + dice.choice([-1, 1, 1000, -1000, 2**31, -(2**31), 2**32])
        return str(number).encode()
    if dice.random() < 0.1 and value.lstrip(b"-").isdigit():
        return str(int(value) * dice.choice([0, -1, 2, 1000, 10**6])).encode()
    return dice.choice(EDGES).encode()


def fields_of(kind, row):
    """(begin, end) of each value of a row."""
    if kind == "recording":
        at, out = 0, []
        for field in row.rstrip(b"\r\n").split(b","):
            out.append((at, at + len(field)))
            at += len(field) + 1
        return out
    return [m.span(1) for m in re.finditer(rb"[=,/ ]\s*([^\s,/=]+)", row)]


def set_field(dice, kind, row):
    fields = fields_of(kind, row)
    if kind == "recording" and dice.random() < 0.7:
        fields = [f for f in fields if f[1] > f[0]] or fields
    if not fields:
        return row
    a, b = dice.choice(fields)
    return row[:a] + edge(dice, row[a:b]) + row[b:]


def set_column(dice, rows):
    """One column of all rows: constant, scaled, shifted or empty; their edges in some rows."""
    table = [row.rstrip(b"\r\n").split(b",") for row in rows]
    column = dice.randrange(min(1, len(table[0]) - 1), len(table[0]))
    value, how = edge(dice, b""), dice.randrange(4)
    factor = dice.choice([0, -1, 1000, 10**6, 2**31])
    for row in table[1:]:
        if column >= len(row) or (row[column] == b"" and dice.random() < 0.9):
            continue
        if how == 0 or not row[column].lstrip(b"-").isdigit():
            row[column] = value
        elif how == 1:
            row[column] = str(int(row[column]) * factor).encode()
        elif how == 2:
            row[column] = str(int(row[column]) + factor).encode()
        else:
            row[column] = b""
    return [b",".join(row) + b"\r\n" for row in table]


def columns(dice, rows):
    """Columns moved, taken out, added or twice."""
    table = [row.rstrip(b"\r\n").split(b",", 60) for row in rows]
    width = len(table[0])
    order = list(range(width))
    how = dice.randrange(4)
    if how == 0:
        dice.shuffle(order)
    elif how == 1:
        for _ in range(min(dice.randrange(1, 8), width - 1)):
            del order[dice.randrange(1, len(order))]
    elif how == 2:
        order.insert(dice.randrange(width), None)
    elif dice.random() < 0.3:
        order.append(dice.randrange(width))
    form = dice.choice([b",", b";", b"\t"])
    end = dice.choice([b"\r\n", b"\n", b"\r"])
    out = []
    for number, row in enumerate(table):
        cells = [b"mine" if i is None else row[i] if i < len(row) else b"" for i in order]
        out.append(form.join(cells) + end)
    return out


def shuffle_rows(dice, rows):
    rows, first = list(rows), 1 if len(rows) > 2 else 0
    a, b = dice.randrange(first, len(rows)), dice.randrange(first, len(rows))
    how = dice.randrange(5)
    if how == 0:
        rows[a], rows[b] = rows[b], rows[a]
    elif how == 1:
        rows[a:a] = [rows[b]] * dice.choice([1, 1, 3, 50])
    elif how == 2:
        del rows[min(a, b) : max(a, b)]
    elif how == 3:
        rows = rows[:a] + rows[min(a, b) : max(a, b) + 1] + rows[a:]
    else:
        rows[min(a, b) : max(a, b)] = rows[min(a, b) : max(a, b)][::-1]
    return rows or [b"\n"]


def tear(dice, rows):
    rows = list(rows)
    at = dice.randrange(len(rows)) if dice.random() < 0.3 else len(rows) - 1
    rows[at] = rows[at][: dice.randrange(len(rows[at]) + 1)]
    return rows


def mutate(dice, kind, rows):
    for _ in range(dice.choice([1, 1, 2, 3, 6, 15])):
        choice = dice.random()
        if choice < 0.6:
            for _ in range(dice.choice([1, 1, 5])):
                at = dice.randrange(len(rows))
                rows = rows[:at] + [set_field(dice, kind, rows[at])] + rows[at + 1 :]
        elif choice < 0.75:
            rows = shuffle_rows(dice, rows)
        elif choice < 0.8:
            rows = tear(dice, rows)
        elif kind == "recording" and b"," in rows[0] and choice < 0.96:
            rows = set_column(dice, rows)
        elif kind == "recording" and b"," in rows[0]:
            rows = columns(dice, rows)
    return rows


# ---- a run ----------------------------------------------------------------------------------------


class Run:
    """What one seed stands for."""

    def __init__(self, inputs, seed):
        dice = random.Random(seed)
        self.kind = dice.choices(["recording", "lines", "model", "baseline"], [60, 25, 10, 5])[0]
        wanted = {"model": "MODEL", "baseline": "--with FILE"}.get(self.kind, "FILE")
        self.command = dice.choice([c for c in COMMANDS if wanted in c])
        source = {"recording": inputs.recordings, "lines": inputs.lines, "model": inputs.cards,
                  "baseline": inputs.baselines}[self.kind]
        rows = dice.choice(source)
        self.rows = mutate(dice, self.kind, piece(dice, rows) if self.kind in ("recording", "lines")
                           else rows)
        plain = dice.choice(inputs.recordings + inputs.lines)
        self.other = plain[: dice.choice([50, 200])]
        self.model = dice.choice(inputs.cards)


def play(airleash, args, folder, env):
    """The console on a terminal of its own, which is left with q; a long run is left behind."""
    master, slave = pty.openpty()
    child = subprocess.Popen([airleash, *args], stdin=slave, stdout=slave, stderr=subprocess.PIPE,
                             cwd=folder, env={**env, "TERM": "xterm", "LINES": "24", "COLUMNS": "80"})
    os.close(slave)
    end, status = time.monotonic() + HUNG_S, None
    os.set_blocking(master, False)
    while status is None and time.monotonic() < end:
        try:
            os.write(master, b"q")
            os.read(master, 1 << 16)
        except OSError:
            pass
        status = child.poll()
        time.sleep(0.01)
    if status is None:
        child.kill()
    errors = child.stderr.read()
    child.wait()
    os.close(master)
    return -1000 if status is None else status, b"", errors


def no_number(text):
    raise ValueError(f"{text} is no number")


def trouble(airleash, run, rows, folder):
    """Why a run with these rows fails, or None; and its arguments."""
    names = {"FILE": "it.csv" if run.kind == "recording" else "it.log", "OTHER": "other", "MODEL": "model.ini",
             "OUT": "out.csv", "PICTURE": "out.svg"}
    for path in folder.iterdir():
        path.unlink()
    mutated, model = b"".join(rows), run.kind == "model"
    (folder / names["OTHER"]).write_bytes(b"".join(run.other))
    (folder / names["FILE"]).write_bytes(b"".join(run.other) if model else mutated)
    (folder / names["MODEL"]).write_bytes(mutated if model else b"".join(run.model))
    args = [names.get(word, word) for word in run.command.split()]
    env = {**os.environ, "ASAN_OPTIONS": "detect_leaks=0", "UBSAN_OPTIONS": "print_stacktrace=1",
           "LC_ALL": "C.UTF-8"}
    if args[0] == "replay":
        status, out, errors = play(airleash, args, folder, env)
    else:
        try:
            done = subprocess.run([airleash, *args], capture_output=True, cwd=folder, env=env,
                                  timeout=HUNG_S, stdin=subprocess.DEVNULL)
            status, out, errors = done.returncode, done.stdout, done.stderr
        except subprocess.TimeoutExpired:
            return f"hangs for {HUNG_S} s", args
    if KILLED.search(errors + out):
        return next(line for line in (errors + out).splitlines() if KILLED.search(line)).decode(
            errors="replace"), args
    if status not in (0, 1, 2, 3):
        return f"exit status {status}: {errors[-300:].decode(errors='replace')}", args
    if "--json" in args and out:
        try:
            json.loads(out, parse_constant=no_number)
        except ValueError as fault:
            return f"JSON: {fault}", args
    return None, args


def sort_of(why):
    return re.sub(r"\d+(\.\d+)?(e[+-]?\d+)?", "N", why)


def shrink(airleash, run, folder, why):
    """The rows without those that the failure doesn't need."""
    rows, size = run.rows, max(len(run.rows) // 2, 1)
    end = time.monotonic() + 120
    while time.monotonic() < end:
        at, smaller = 0, False
        while at < len(rows) and time.monotonic() < end:
            fewer = rows[:at] + rows[at + size :]
            said = trouble(airleash, run, fewer, folder)[0] if fewer else None
            if said and sort_of(said) == sort_of(why):
                rows, smaller = fewer, True
            else:
                at += size
        if size == 1 and not smaller:
            break
        size = max(size // 2, 1)
    return rows


def work(airleash, inputs, seed, folder, keep):
    run = Run(inputs, seed)
    why, args = trouble(airleash, run, run.rows, folder)
    if why is None:
        return None
    rows = shrink(airleash, run, folder, why)
    trouble(airleash, run, rows, folder)
    kept = keep / f"seed-{seed}"
    kept.mkdir(parents=True, exist_ok=True)
    for path in folder.iterdir():
        (kept / path.name).write_bytes(path.read_bytes())
    text = b"".join(rows)
    shown = text if len(text) < 6000 else text[:6000] + b"\n... the rest is in the file"
    return f"seed {seed}: {why}\n  cd {kept} && airleash {' '.join(args)}\n" + shown.decode(errors="replace")


# ---- many -----------------------------------------------------------------------------------------

inputs = None


def begin(airleash, fixtures):
    global inputs
    with tempfile.TemporaryDirectory() as name:
        inputs = Inputs(airleash, pathlib.Path(fixtures), pathlib.Path(name))


def some(airleash, first, count, end, keep):
    """Seeds from the first on; how many ran, and what failed."""
    failures, ran = [], 0
    with tempfile.TemporaryDirectory() as name:
        for seed in range(first, first + count):
            if end and time.time() > end:
                break
            said = work(airleash, inputs, seed, pathlib.Path(name), pathlib.Path(keep))
            ran += 1
            if said:
                failures.append(said)
    return ran, failures


def main():
    parse = argparse.ArgumentParser()
    parse.add_argument("airleash")
    parse.add_argument("fixtures")
    parse.add_argument("--seed", type=int, default=1)
    parse.add_argument("--runs", type=int, default=10**9)
    parse.add_argument("--seconds", type=float, default=0)
    parse.add_argument("--jobs", type=int, default=os.cpu_count())
    parse.add_argument("--keep", default="field-fuzz")
    o = parse.parse_args()
    if not o.seconds and o.runs == 10**9:
        parse.error("give --runs or --seconds")
    airleash, began = os.path.abspath(o.airleash), time.time()
    end, chunk = began + o.seconds if o.seconds else 0, 50
    seed, last, ran, failures, sorts = o.seed, o.seed + o.runs, 0, 0, set()
    with concurrent.futures.ProcessPoolExecutor(o.jobs, initializer=begin,
                                                initargs=(airleash, o.fixtures)) as pool:
        waiting, told = {}, began
        while True:
            while len(waiting) < 2 * o.jobs and seed < last and not (end and time.time() > end):
                count = min(chunk, last - seed)
                waiting[pool.submit(some, airleash, seed, count, end, os.path.abspath(o.keep))] = seed
                seed += count
            if not waiting:
                break
            if time.time() > told + 60:
                told = time.time()
                print(f"{ran} runs; all below seed {min(waiting.values())} are done", file=sys.stderr,
                      flush=True)
            done, _ = concurrent.futures.wait(waiting, return_when=concurrent.futures.FIRST_COMPLETED)
            for future in done:
                few, said = future.result()
                ran += few
                del waiting[future]
                for text in said:
                    failures += 1
                    sort = sort_of(text.splitlines()[0])
                    sort = sort[sort.index(":") + 1 :]
                    print(text if sort not in sorts else text.splitlines()[0], flush=True)
                    sorts.add(sort)
    print(f"{ran} runs from seed {o.seed}, {failures} failed in {len(sorts)} ways, "
          f"{time.time() - began:.0f} s")
    return 1 if failures or ran == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
