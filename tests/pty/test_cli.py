#!/usr/bin/python3
"""The command line end to end: messages, exit statuses, and recordings that survive.

usage: test_cli.py AIRLEASH SHIM [NAME...]

SHIM is serial_shim, which stands in for a serial port.

What is right: exit statuses by airleash(1); a file is whole by RFC 4180, read here by Python's csv
module, which knows nothing of ours.
"""
import contextlib
import csv
import json
import math
import os
import pathlib
import re
import resource
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time

sys.dont_write_bytecode = True
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "tools"))
import serial_port  # noqa: E402

ANSWER, FAILED, USAGE, TROUBLE = 0, 1, 2, 3
NOBODY = 65534
PATIENCE = 30  # seconds; only a broken program needs them

work = pathlib.Path(tempfile.mkdtemp(prefix="airleash-cli-"))
program = work / "airleash"


class Failed(Exception):
    pass


def check(good, *what):
    if not good:
        raise Failed(" ".join(str(w) for w in what))


def run(*args, stdin=subprocess.DEVNULL, **more):
    return subprocess.run([program, *map(str, args)], stdin=stdin, capture_output=True, cwd=work,
                          timeout=PATIENCE * 4, **more)


def start(*args, **more):
    return subprocess.Popen([program, *map(str, args)], cwd=work, stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, **more)


def expect(status, words, *args, **more):
    """Runs, and checks the status and that standard error says `words`."""
    done = run(*args, **more)
    said = done.stderr.decode()
    check(done.returncode == status, args, "gave", done.returncode, "and said", said)
    check(words in said, args, "said", said, "and not", words)
    check(said.count("\n") <= 3, args, "said too much:", said)
    return done


def until(true, what):
    end = time.monotonic() + PATIENCE
    while not true():
        check(time.monotonic() < end, "waited in vain:", what)
        time.sleep(0.02)


def lines(scene="calm", seconds=60, seed=1):
    return run("simulate", "--lines", "--fast", "--scene", scene, "--for", seconds, "--seed",
               seed).stdout


class Pretend:
    """The simulated receiver on a pseudo-terminal."""

    def __init__(self, *args):
        self.process = start("simulate", *args)
        self.port = self.process.stdout.readline().decode().strip()
        check(self.port.startswith("/dev/"), "no port:", self.port)

    def end(self):
        self.process.send_signal(signal.SIGINT)
        self.process.communicate(timeout=PATIENCE)
        return self.process.returncode

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.end()


def rows(path):
    with open(path, newline="") as file:
        return list(csv.DictReader(file))


def numbers(path):
    """The report numbers, without those of a torn last row."""
    text = path.read_bytes()
    whole = text[: text.rfind(b"\r\n") + 2].decode()
    return [int(r["report_no"]) for r in csv.DictReader(whole.splitlines()) if r["kind"] == "rx"]


def figures(path):
    done = run("figures", path, "--json")
    check(done.returncode == ANSWER, "figures gave", done.returncode, done.stderr.decode())
    return json.loads(done.stdout)


def test_usage():
    for words, *args in (
        ("no command 'recrd'", "recrd"),
        ("no option '--foo'", "--foo"),
        ("'-q'", "figures", "-q", "x"),
        ("record takes no --json (it is an option of: ", "record", "x", "--json"),
        ("--out needs FILE.csv", "record", "x", "--out"),
        ("--yes takes no value", "record", "x", "--yes=1"),
        ("--speed can't be '1200'", "record", "x", "--speed", "1200"),
        ("--speed can't be 'fast'", "record", "x", "--speed=fast"),
        ("--rate can't be '0'", "figures", "x", "--rate", "0"),
        ("--rate can't be '1e3'", "figures", "x", "-r", "1e3"),
        ("--seed can't be '-1'", "simulate", "--seed=-1"),
        ("one of calm, ", "simulate", "--scene", "moon"),
        ("--fast goes with --lines", "simulate", "--fast"),
        ("--out FILE.csv", "record", "x"),
        ("needs PORT|-|FILE", "record", "--out", "x.csv"),
        ("'b' is too many", "figures", "a", "b"),
        ("ports takes no 'x'", "ports", "x"),
        ("--kbps can't be '500': it takes 250, 1000 or 2000", "budget", "--kbps", "500"),
        ("--angle can't be '91'", "budget", "--angle", "91"),
        ("--crc can't be '3'", "budget", "--crc=3"),
        ("amplifiers saturate", "budget", "--amplified", "--step", "2"),
        ("exclude each other", "budget", "--step=2", "--power-dbm=3"),
        ("bash, zsh or fish", "completion", "csh"),
        ("emit.h or emit.c", "sketch", "emit.cpp"),
        ("--plan can't be '5,,10'", "walk", "x", "--plan", "5,,10"),
        ("--switch can't be '17'", "walk", "x", "--switch", "17"),
        ("fly or drive", "walk", "x", "--use", "swim"),
        ("--loss-limit can't be '100'", "walk", "x", "--loss-limit", "100"),
        ("--full-power-db can't be '0'", "walk", "x", "--full-power-db", "0"),
        ("--max-loss can't be '0'", "walk", "x", "--max-loss", "0"),
        ("no command 'recrd'", "help", "recrd"),
        ("compare needs --with", "compare", "a"),
        ("no recording before --with", "compare", "--with", "b"),
        ("no recording after --with", "compare", "a", "--with"),
        ("--with was given twice", "compare", "a", "--with", "b", "--with", "c"),
        ("--until can't be 'loss=0%'", "record", "x", "--out", "y", "--until", "loss=0%"),
        ("--until can't be 'loss'", "record", "x", "--out", "y", "--until", "loss"),
        ("--until can't be 'gain=2%'", "record", "x", "--out", "y", "--until", "gain=2%"),
        ("needs --with FILE", "record", "x", "--out", "y", "--until", "differs"),
        ("--until differs", "record", "x", "--out", "y", "--with", "z"),
        ("--for 40", "record", "x", "--out", "y", "--until", "loss=2%", "--for", "39"),
    ):
        done = expect(USAGE, words, *args)
        check(b"--help" in done.stderr, args, "leads to no help")
        check(done.stdout == b"", args, "printed", done.stdout)


def test_budget():
    def budget(*args):
        done = run("budget", "--json", *args)
        check(done.returncode == ANSWER and done.stderr == b"", args, done)
        return json.loads(done.stdout)

    chip, module = budget("--kbps", "1000"), budget("--kbps=1000", "--amplified")
    check((chip["power_dbm"], chip["sensitivity_dbm"], chip["step"]) == (0, -85, 4), chip)
    check((module["power_dbm"], module["step"]) == (20, None), module)
    check(module["may_exceed_eu_eirp"] and not chip["may_exceed_eu_eirp"], chip, module)
    check(budget("--step", "1")["power_dbm"] == -18, "step 1")
    check(budget("--power-dbm=-3", "--amplified")["power_dbm"] == -3, "a given power")
    check(not budget("--mhz", "2484")["in_band"] and chip["in_band"], "the band")
    range_m = str(round(chip["range_m"], 3))
    there = budget("--kbps", "1000", "--distance", range_m)
    check(abs(there["margin_db"] - 10) < 0.01, "at its range", there["margin_db"])


def test_help():
    main = run("--help")
    check(main.returncode == ANSWER and main.stderr == b"", main)
    check(run("help").stdout == main.stdout, "help and --help differ")
    for name in re.findall(r"^  ([a-z]+) ", main.stdout.decode(), re.M):
        one = run(name, "--help")
        check(one.returncode == ANSWER and one.stderr == b"", name, one)
        check(one.stdout.startswith(b"usage: airleash " + name.encode()), name)
        check(run("help", name).stdout == one.stdout, name, "help differs")
        check(all(len(line) <= 80 for line in one.stdout.decode().splitlines()), name, "is wide")
    version = run("--version")
    check(re.match(rb"airleash \d+\.\d+\.\d+\nLicence: GNU General Public License, version 3",
                   version.stdout), version)


def test_dumb_terminal():
    """One that can't place its cursor would stay blank."""
    master, slave = os.openpty()
    done = subprocess.run([program, "demo"], stdin=slave, stdout=slave, stderr=subprocess.PIPE,
                          timeout=60, env=dict(os.environ, TERM="dumb"))
    os.close(slave)
    os.close(master)
    check(done.returncode == USAGE and b"TERM=xterm" in done.stderr, done)


def test_completion():
    for shell in ("bash", "zsh", "fish"):
        script = run("completion", shell)
        check(script.returncode == ANSWER and len(script.stdout) > 1000, shell, script)
        (work / shell).write_bytes(script.stdout)
        if shutil.which(shell):
            parsed = subprocess.run([shell, "-n", work / shell], capture_output=True)
            check(parsed.returncode == 0, shell, parsed.stderr)

    def bash(*words):
        ask = (f"source {work}/bash; COMP_WORDS=({' '.join(words)} ''); "
               f"COMP_CWORD={len(words)}; _airleash; printf '%s\\n' \"${{COMPREPLY[@]}}\"")
        done = subprocess.run(["bash", "-c", ask], capture_output=True, text=True, cwd=work)
        check(done.stderr == "", done.stderr)
        return done.stdout.splitlines()

    check("record" in bash("airleash"), "commands")
    check("calm" in bash("airleash", "simulate", "--scene"), "scenes")
    check("auto" in bash("airleash", "record", "--speed"), "speeds")
    check("zsh" in bash("airleash", "completion"), "shells")
    (work / "my pond.csv").write_bytes(b"")
    check("my pond.csv" in bash("airleash", "figures"), "a name with a space")
    check(not any(name.startswith("/dev/tty0") for name in bash("airleash", "watch")), "ports")
    check("--out" in run("completion", "fish").stdout.decode().replace("-l ", "--"), "fish")


def test_unreadable():
    capture = work / "capture.log"
    capture.write_bytes(lines())
    hidden = work / "hidden.log"
    hidden.write_bytes(lines())
    hidden.chmod(0)
    who = {"user": NOBODY} if os.getuid() == 0 else {}
    for command in (["figures"], ["record", "--out", "never.csv"]):
        expect(TROUBLE, "is a directory", *command, work)
        expect(TROUBLE, "there is no 'nothing.csv'", *command, "nothing.csv")
        expect(TROUBLE, "not allowed to", *command, hidden, **who)
    expect(TROUBLE, "airleash ports", "record", "/dev/ttyNONE9", "--out", "never.csv")
    expect(TROUBLE, "there is no 'no.card'", "figures", capture, "--model", "no.card")
    expect(TROUBLE, "is empty", "figures", "-")
    check(not (work / "never.csv").exists(), "a file was left over")


def test_unwritable():
    capture = work / "capture.log"
    capture.write_bytes(lines())
    capture.chmod(0o644)
    closed = work / "closed"
    closed.mkdir()
    closed.chmod(0o555)
    who = {"user": NOBODY} if os.getuid() == 0 else {}
    kept = work / "kept.csv"
    kept.write_text("mine\n")
    for words, out, *more in (
        ("is a directory", closed),
        ("its folder doesn't exist", work / "none" / "x.csv"),
        ("exists already", kept),
        ("the disk is full", "/dev/full", "--force"),
    ):
        expect(TROUBLE, words, "record", capture, "--out", out, *more)
    expect(TROUBLE, "not allowed to write", "record", capture, "--out", closed / "x.csv", **who)
    expect(TROUBLE, "overwrite it with --force", "record", capture, "--out", kept)
    master, port = os.openpty()  # each command names only the options that it has
    watched = run("watch", os.ttyname(port), "--out", kept)
    check(watched.returncode == TROUBLE and b"exists already" in watched.stderr, watched)
    check(b"--force" not in watched.stderr, watched.stderr)
    os.close(port)
    os.close(master)
    check(kept.read_text() == "mine\n", "an existing file was touched")
    expect(USAGE, "the very file that is read", "record", capture, "--out", capture, "--force")
    check(capture.read_bytes() == lines(), "the capture was touched")
    check(run("record", capture, "--out", kept, "--force").returncode == ANSWER, "--force")
    check(figures(kept)["lines"]["good"] == lines().count(b"\n"), "the forced recording")
    expect(TROUBLE, "is a recording already", "record", kept, "--out", "twice.csv")
    with open("/dev/full", "wb") as full:
        done = subprocess.run([program, "figures", capture], stdout=full, stderr=subprocess.PIPE)
    check(done.returncode == TROUBLE and b"No space left" in done.stderr, done)


def test_no_telemetry():
    import random
    noise = random.Random(1).randbytes(10_000_000)
    telemetry = lines()
    for name, data in (("noise", noise), ("endless", b"x" * 10_000_000),
                       ("no line ends", telemetry.replace(b"\n", b"").replace(b"\r", b""))):
        path = work / "bad.log"
        path.write_bytes(data)
        done = run("figures", path)
        check(done.returncode == TROUBLE, name, done.returncode)
        check(done.stderr.count(b"\n") == 1 and b"--speed auto" in done.stderr, name, done.stderr)
        check(len(done.stdout) < 2000, name, "printed", len(done.stdout), "bytes")
        for command in ("judge", "walk", "causes", "stops", "chart"):
            done = run(command, path)
            check(done.returncode == TROUBLE, command, name, done.returncode)
            check(done.stderr.count(b"\n") == 1, command, name, done.stderr)
        out = work / "bad.csv"
        out.unlink(missing_ok=True)
        done = run("record", path, "--out", out)
        check(done.returncode == TROUBLE, name, "recorded with", done.returncode)
        # Every byte that came is accounted for.
        counted = json.loads(run("figures", out, "--json").stdout)["lines"]
        check(counted["bytes_good"] + counted["bytes_damaged"] == len(data), name, counted)


def test_endless_line_takes_no_memory():
    def peak(size):
        read, write = os.pipe()
        process = start("figures", "-", stdin=read)
        os.close(read)
        block = b"x" * 65536
        for _ in range(size // len(block)):
            os.write(write, block)
        os.close(write)
        process.stdout.read()
        process.stderr.read()
        _, _, use = os.wait4(process.pid, 0)
        process.returncode = 0
        return use.ru_maxrss
    short, long = peak(1 << 20), peak(1 << 26)
    check(long < short + 4096, "64 MB in one line took", long, "kB, 1 MB took", short)


def test_signal_while_reading():
    """A file is read to its end before the screen begins, and this one has none."""
    process = start("replay", "/dev/zero")
    time.sleep(0.2)  # it reads by now, or will soon
    process.send_signal(signal.SIGTERM)
    try:
        process.communicate(timeout=PATIENCE)
    finally:
        process.kill()
    check(process.returncode == -signal.SIGTERM, "ended with", process.returncode)


def test_roads_agree():
    """A recording of a capture gives the capture's figures."""
    for scene in ("calm", "failsafe", "damaged", "bare"):
        capture, out = work / "road.log", work / "road.csv"
        capture.write_bytes(lines(scene))
        out.unlink(missing_ok=True)
        with open(capture, "rb") as stdin:
            done = run("record", "-", "--out", out, stdin=stdin)
        check(done.returncode == ANSWER, scene, done.stderr)
        one, two = figures(capture), figures(out)
        for name in ("file", "recording"):
            one.pop(name), two.pop(name)
        check(one == two, scene, one, two)


def test_damaged_recording():
    capture, out = work / "d.log", work / "d.csv"
    capture.write_bytes(lines())
    out.unlink(missing_ok=True)
    run("record", capture, "--out", out)
    good = out.read_bytes().splitlines(keepends=True)
    broken = list(good)
    for i in range(20, 28):
        broken[i] = b"nonsense" + broken[i]
    broken[-1] = b"rx,12,3"
    out.write_bytes(b"".join(broken))
    done = run("figures", out, "--json")
    said = done.stderr.decode().splitlines()
    check(done.returncode == ANSWER, done.returncode)
    check(len(said) == 6, said)
    check(said[0].startswith(f"{out}:21: unknown kind of row"), said[0])
    check("9 rows were passed over" in said[5], said[5])
    check(json.loads(done.stdout)["lines"]["rows_passed_over"] == 9, done.stdout)


def record_until_signal(number):
    out = work / f"signal{number}.csv"
    with Pretend() as receiver:
        process = start("record", receiver.port, "--out", out, stdin=subprocess.DEVNULL)
        until(lambda: out.exists() and len(numbers(out)) >= 20, "20 rows")
        seen = numbers(out)
        process.send_signal(number)
        said = process.communicate(timeout=PATIENCE)
    return out, process.returncode, seen, said


def test_signals():
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        out, status, seen, said = record_until_signal(number)
        check(status == ANSWER, number, "gave", status, said)
        kept = rows(out)
        check(kept[-1]["kind"] == "end", number, "last row", kept[-1])
        check(numbers(out)[: len(seen)] == seen, number, "rows were lost")
        first = seen[0]
        check(numbers(out) == list(range(first, first + len(numbers(out)))), number, "holes")
        check(b"packets" in said[0], number, "no summary", said)
        check(figures(out)["lines"]["rows_passed_over"] == 0, number)


def test_kill():
    out, status, seen, _ = record_until_signal(signal.SIGKILL)
    check(status == -signal.SIGKILL, status)
    kept = numbers(out)
    check(kept[: len(seen)] == seen, "rows were lost")
    check(kept == list(range(kept[0], kept[0] + len(kept))), "holes")
    check(figures(out)["time"]["reports"] == len(kept), "figures")


def test_for_and_speed():
    out = work / "for.csv"
    with Pretend() as receiver:
        done = run("record", receiver.port, "--out", out, "--for", "1.5", "--speed", "auto")
    check(done.returncode == ANSWER, done.stderr)
    changes = [r["note"] for r in rows(out) if r["kind"] == "port"]
    check(changes[0].startswith("opened") and changes[1].startswith("speed"), changes)
    check(rows(out)[-1]["note"] == "time is up", rows(out)[-1])
    check(figures(out)["restarts"]["receiver"] == 0, "looking for the speed made a restart")


def capture(scene, seed):
    path = work / f"{scene}{seed}.log"
    path.write_bytes(run("simulate", "--lines", "--fast", "--scene", scene, "--seed", seed).stdout)
    return path


def compare(*args, **more):
    done = run("compare", "--json", *args, **more)
    check(done.returncode == ANSWER and done.stderr == b"", args, done)
    return json.loads(done.stdout)


def test_compare():
    a, b = [capture("busy", 1), capture("busy", 2)], [capture("calm", 1), capture("calm", 2)]
    plain = compare(*a, "--with", *b)
    check(plain["verdict"] == "helped" and plain["difference"]["high"] < 0, plain)
    check(plain["a"]["names"] == [str(path) for path in a], plain["a"]["names"])
    check(compare("--rate", 50, a[0], "--with", b[0], "--", b[1])["b"]["names"] ==
          [str(path) for path in b], "operands behind --")
    check(compare(*b, "--with", *a)["verdict"] == "made it worse", "the other way round")
    single = compare(a[0], "--with", b[0])
    check(single["verdict"] in ("differs", "undecided") and single["verdict"] != "helped", single)
    with subprocess.Popen(["cat", a[0]], stdout=subprocess.PIPE) as pipe:
        piped = compare("/dev/stdin", "--with", b[0], stdin=pipe.stdout)
    check(piped["difference"] == single["difference"], "through a pipe", piped["difference"])
    turned = []  # into recordings, one side after the other: no order of theirs
    for path in a + b:
        run("record", path, "--out", path.with_suffix(".csv"))
        turned.append(path.with_suffix(".csv"))
    recorded = compare(*turned[:2], "--with", *turned[2:])
    check(recorded["p"] == plain["p"] and
          any("took turns" in note for note in recorded["notes"]), recorded["notes"])
    base = work / "tug.base"
    done = run("compare", *a, "--keep", base)
    check(done.returncode == ANSWER and b"kept 2" in done.stdout, done)
    again = compare(base, "--with", *b)
    for key in ("verdict", "p", "difference", "ratio", "a", "b"):
        check(again[key] == plain[key], key, again[key], plain[key])
    expect(TROUBLE, "tug.base", "compare", a[0], "--keep", base)
    check(run("compare", a[0], "--keep", base, "--force").returncode == ANSWER, "--force")
    check(compare(base, "--with", b[0])["a"]["lost"] == single["a"]["lost"], "kept anew")
    base.write_bytes(base.read_bytes()[:-20])
    expect(TROUBLE, "keep it anew", "compare", base, "--with", b[0])
    expect(TROUBLE, "nowhere", "compare", a[0], "--with", work / "nowhere")


def test_until():
    """Decided, and stopped: what comes later isn't recorded."""
    out = work / "until.csv"
    walk = capture("walk", 1)
    dense = work / "dense.log"
    dense.write_bytes(b"".join(
        b"rx n=%d t=%d ch=1500 got=%d lost=%d pat=oxoxo age=5\n" % (n, n * 100, 3 * n, 2 * n)
        for n in range(1, 4001)))
    process = start("record", "-", "--out", out, "--rate", "50", "--until", "loss=2%", "--for", "400",
                    stdin=subprocess.PIPE)
    with contextlib.suppress(BrokenPipeError):  # decided before all of it was written
        process.stdin.write(dense.read_bytes())
        process.stdin.flush()
    process.wait(timeout=PATIENCE)  # by itself: its input goes on
    printed, said = process.communicate()
    check(process.returncode == ANSWER, printed, said)
    check(b"decided   loss is above the limit of 2.00 %" in printed, printed)
    check(b"looks at 80, 160, 240, 320 and 400 s" in said, said)
    check(b"expects to need" in said, said)
    check(rows(out)[-1]["note"] == "decided", rows(out)[-1])
    done = run("record", walk, "--out", work / "until2.csv", "--until", "differs", "--with", dense)
    check(done.returncode == ANSWER and b"loss" in done.stdout, done)
    done = run("record", capture("bare", 1), "--out", work / "until3.csv", "--until", "loss=2%")
    check(b"undecided can't tell the loss" in done.stdout, done)
    check(b"rate isn't known" in done.stderr, done.stderr)


def test_awake():
    """While it records, the computer is held awake by systemd-inhibit, which holds as long as its
    command runs (systemd-inhibit(1)); the hold ends with the program, killed or not."""
    folder, held = work / "bin", work / "held"
    folder.mkdir()
    fake = folder / "systemd-inhibit"
    fake.write_text(f"#!/bin/sh\nwhile [ \"${{1#--}}\" != \"$1\" ]; do shift; done\n"
                    f"touch {held}\n\"$@\"\nrm {held}\n")
    fake.chmod(0o755)
    environment = dict(os.environ, PATH=f"{folder}:{os.environ['PATH']}")
    for end in (signal.SIGINT, signal.SIGKILL):
        out = work / f"awake-{int(end)}.csv"
        with Pretend() as receiver:
            process = start("record", receiver.port, "--out", out, stdin=subprocess.DEVNULL,
                            env=environment)
            until(held.exists, "the computer is held awake")
            until(lambda: out.exists() and len(numbers(out)) >= 2, "2 rows")
            process.send_signal(end)
            process.communicate(timeout=PATIENCE)
        until(lambda: not held.exists(), "the hold has ended")


def port_changes(out):
    return [r["note"].split(":")[0] for r in rows(out) if r["kind"] == "port"]


def test_port_goes_and_comes_back():
    """A pseudo-terminal has no serial number: without --yes nobody says that it is the same."""
    for name, yes in ("back", ["--yes"]), ("alone", []):
        link, out = work / f"tug-port-{name}", work / f"{name}.csv"
        with Pretend() as first:
            link.symlink_to(first.port)
            process = start("record", link, "--out", out, *yes, stdin=subprocess.DEVNULL)
            until(lambda: out.exists() and len(numbers(out)) >= 5, "5 rows")
            first.end()
            until(lambda: port_changes(out) == ["opened", "lost"], "the port is lost")
        before = len(numbers(out))
        with Pretend() as second:
            link.unlink()
            link.symlink_to(second.port)
            if yes:
                until(lambda: port_changes(out) == ["opened", "lost", "back"], "the port is back")
                until(lambda: len(numbers(out)) >= before + 5, "5 more rows")
                process.send_signal(signal.SIGINT)
            _, said = process.communicate(timeout=PATIENCE)
        check(process.returncode == (ANSWER if yes else TROUBLE), name, process.returncode)
        check(b"the port is gone" in said, said)
        check((b"open again" in said) == bool(yes), said)
        check(rows(out)[-1]["kind"] == "end", "no end row")
        if not yes:
            check(b"propeller off" in said and b"with --yes" in said, said)
            check(len(numbers(out)) == before, "it was opened without a yes")
            check(port_changes(out) == ["opened", "lost"], port_changes(out))


def test_disk_fills_and_empties():
    """The limit on a file's size stands in for a full disk: it can be lifted in mid-run."""
    out, limit = work / "full.csv", 100_000
    telemetry = lines(seconds=600)
    read, write = os.pipe()

    def small():
        hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))

    process = start("record", "-", "--out", out, stdin=read, preexec_fn=small)
    os.close(read)
    for _ in range(2):  # far more than is held in memory
        rest = memoryview(telemetry)
        while rest:
            rest = rest[os.write(write, rest):]
    until(lambda: out.stat().st_size == limit, "the file is as large as it can be")
    check(b"can't grow" in process.stderr.readline(), "nothing was said")
    resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
    check(b"writing goes on" in process.stderr.readline(), "nothing was said of the room")
    os.write(write, b"say room again\n")
    os.close(write)
    process.stdout.read()
    said = process.stderr.read()
    check(process.wait(PATIENCE) == TROUBLE, process.returncode)
    check(b"there was no room" in said, said)
    kept = rows(out)
    missing = sum(int(r["note"].split("=")[1]) for r in kept
                  if r["kind"] == "about" and r["note"].startswith("rows_missing="))
    came = [r for r in kept if r["kind"] not in ("about", "end")]
    check(missing > 1000, "only", missing, "rows are missing")
    check(len(came) + missing == 2 * telemetry.count(b"\n") + 1, len(came), missing)
    check(figures(out)["lines"]["rows_missing"] == missing, "figures")
    check(figures(out)["lines"]["rows_passed_over"] == 0, "a row is torn")


class Serial:
    """`record` on a serial port, at a terminal where a person types."""

    DEVICE = "/dev/" + serial_port.NAME

    def __init__(self, name, *args, terminal=True, facts=()):
        root = work / name
        root.mkdir()
        self.out = root / "out.csv"
        known = dict(serial_port.FACTS, **dict(facts))
        self.port = serial_port.Port(root, {k: v for k, v in known.items() if v is not None})
        self.port.plug()
        self.person, stdin = os.openpty()
        self.process = start("record", self.DEVICE, "--out", self.out, *args,
                             env=self.port.environment(pathlib.Path(sys.argv[2]).resolve()),
                             stdin=stdin if terminal else subprocess.DEVNULL)
        os.close(stdin)
        os.set_blocking(self.process.stderr.fileno(), False)
        self.said = b""

    def type(self, text):
        os.write(self.person, text)

    def hear(self, words):
        def heard():
            self.said += self.process.stderr.read() or b""
            return words in self.said
        until(heard, words)
        self.said = b""

    def opened(self):
        """How often the port was opened: that is what raises DTR."""
        return [row[0] for row in self.port.log()].count("open")

    def replug(self, serial=None):
        """Out, and in again: the same board, or one with another serial number."""
        self.port.unplug()
        self.hear(b"the port is gone")
        fact = self.port.root / "sys/devices" / serial_port.USB / "serial"
        if serial:
            fact.write_text(serial + "\n")
        elif serial == "":
            fact.unlink()
        self.port.plug()

    def feed(self, count):
        """Lines, once the port is open; waits until they are in the file."""
        before = len(numbers(self.out)) if self.out.exists() else 0
        until(self.port.is_open, "the port is open")
        until(lambda: not self.port.mode()[3] & 2, "the port is raw")  # ICANON
        self.port.write(b"".join(b"rx n=%d t=%d ch=1500 got=9 lost=0\r\n" % (n, n * 50)
                                 for n in range(before + 1, before + count + 1)))
        until(lambda: len(numbers(self.out)) == before + count, "the lines are recorded")

    def end(self, number=None):
        if number:
            self.process.send_signal(number)
        until(lambda: self.process.poll() is not None, "the end")
        self.said += self.process.stderr.read() or b""
        os.close(self.person)
        return self.process.returncode


def test_caution():
    """A real port opens only after a yes: opening it may start a motor."""
    alone = Serial("alone", terminal=False)
    check(alone.end() == USAGE and b"--yes" in alone.said, alone.said)
    check(b"propeller off" in alone.said, alone.said)
    declined = Serial("declined")
    declined.hear(b"Type yes")
    declined.type(b"n\n")
    check(declined.end() == USAGE, "declined")
    for port in alone, declined:
        check(not port.port.is_open() and port.port.log() == [], port.port.log())
        check(not port.out.exists(), "a file was left over")
    sure = Serial("sure", "--yes", terminal=False)
    sure.feed(5)
    check(sure.end(signal.SIGINT) == ANSWER and b"propeller" not in sure.said, sure.said)


def test_unplugged_is_asked_again():
    """The full caution and a typed yes, as at first; what was typed before the question is none."""
    serial = Serial("asked")
    serial.hear(b"Type yes")
    serial.type(b"yes\n")
    serial.feed(5)
    opened = serial.opened()
    serial.type(b"yes\n")
    serial.replug()
    serial.hear(b"Type yes")
    serial.type(b"\n")
    serial.hear(b"not opened")
    serial.type(b"no\n")
    serial.hear(b"not opened")
    check(not serial.port.is_open() and serial.opened() == opened, serial.port.log())
    serial.type(b"yes\n")
    serial.hear(b"open again")
    serial.feed(5)
    check(serial.opened() > opened, "the log tells nothing")
    check(serial.end(signal.SIGTERM) == ANSWER, serial.said)
    check(port_changes(serial.out) == ["opened", "lost", "back"], port_changes(serial.out))


def test_another_board_is_asked_about():
    """--yes was said of the board that was there: one with another serial number, or none, isn't."""
    for name, number, words in (("other", "0008", b"is 0008, it was 0007"),
                                ("bare", "", b"is missing, it was 0007")):
        serial = Serial(name, "--yes")
        serial.feed(5)
        opened = serial.opened()
        serial.replug(number)
        serial.hear(b"Type yes")
        check(serial.opened() == opened, "it was opened without being asked")
        serial.type(b"yes\n")
        serial.hear(b"open again")
        serial.feed(5)
        check(serial.end(signal.SIGTERM) == ANSWER, serial.said)
        alone = Serial(name + "-alone", "--yes", terminal=False)
        alone.feed(5)
        opened = alone.opened()
        alone.replug(number)
        check(alone.end() == TROUBLE, alone.said)
        check(words in alone.said and b"propeller off" in alone.said, alone.said)
        check(b"nobody can be asked" in alone.said, alone.said)
        check(alone.opened() == opened and not alone.port.is_open(), alone.port.log())
        check(len(numbers(alone.out)) == 5 and rows(alone.out)[-1]["kind"] == "end", "not kept")


def test_the_same_board_is_reopened():
    """With --yes; and so is one that has nothing to tell it by."""
    for name, facts in ("same", {}), ("nameless", {"serial": None}):
        serial = Serial(name, "--yes", terminal=False, facts=facts)
        serial.feed(5)
        serial.replug()
        serial.hear(b"open again")
        serial.feed(5)
        check(serial.end(signal.SIGINT) == ANSWER, serial.said)


def test_model_says_harmless():
    """Of this receiver: of what can't be told from another it says nothing."""
    model = work / "harmless.card"
    model.write_text("[port]\nrestarts = no\n")
    serial = Serial("harmless", "--model", model, terminal=False)
    serial.feed(5)
    serial.replug()
    serial.hear(b"open again")
    serial.feed(5)
    check(serial.end(signal.SIGHUP) == ANSWER, serial.said)
    unsure = Serial("unsure", "--model", model, terminal=False, facts={"serial": None})
    unsure.feed(5)
    opened = unsure.opened()
    unsure.replug()
    check(unsure.end() == TROUBLE and b"Is this the same board?" in unsure.said, unsure.said)
    check(unsure.opened() == opened, unsure.port.log())


def test_another_id_line_is_asked_about():
    """The transmitter's, or one with another fw or addr: nothing is recorded before an answer."""
    first, reports = b"id fw=tug-3 addr=c2\n", b"rx n=%d t=%d ch=1500\n"
    for name, line, words in (("tx", b"id end=tx fw=tug-tx\n", "This is the transmitter"),
                              ("fw", b"id fw=tug-4 addr=c2\n", "tug-4, it was tug-3"),
                              ("addr", b"id fw=tug-3 addr=c3\n", "c3, it was c2")):
        for answer in "yes", "no", "beforehand":
            person = answer != "beforehand"
            serial = Serial(f"id-{name}-{answer}", *([] if person else ["--yes"]), terminal=person)
            if person:
                serial.hear(b"Type yes")
                serial.type(b"yes\n")
            serial.feed(1)
            serial.port.write(first + reports % (2, 100) + line + reports % (3, 150))
            if person:
                serial.hear(b"Type yes or no")
                check(len(numbers(serial.out)) == 2, "what came with the line was recorded")
                check(b",%s\r" % line[3:-1] not in serial.out.read_bytes(), "so was the line")
                serial.port.write(reports % (4, 200))
                until(lambda: serial.port.unread() == 0, "what comes meanwhile is taken")
                serial.type(answer.encode() + b"\n")
            if answer == "no":
                check(serial.end() == ANSWER, serial.said)
                check(not serial.port.is_open() and len(numbers(serial.out)) == 2, "read on")
                check(port_changes(serial.out) == ["opened", "let-go"], port_changes(serial.out))
            else:
                serial.hear(b"taken")
                serial.port.write(reports % (5, 250))
                until(lambda: numbers(serial.out)[-1] == 5, "it goes on")
                check(serial.end(signal.SIGTERM) == ANSWER, serial.said)
                kept = [1, 2, 5] if person else [1, 2, 3, 5]  # --yes loses nothing
                check(numbers(serial.out) == kept, numbers(serial.out))
                check(port_changes(serial.out)[1:] == (["let-go", "taken"] if person else []),
                      port_changes(serial.out))
                check(b",%s\r" % line[3:-1] in serial.out.read_bytes(), "the line is lost")
            notes = [r["note"] for r in rows(serial.out) if r["kind"] == "mark"]
            check(len(notes) == 1 and words in notes[0], notes)


def test_nobody_to_ask_about_an_id_line():
    master, port = os.openpty()
    out = work / "unasked.csv"
    process = start("record", os.ttyname(port), "--out", out, stdin=subprocess.DEVNULL)
    until(lambda: out.exists() and port_changes(out) == ["opened"], "it is open")
    os.write(master, b"id fw=tug-3\nrx n=1 t=50 ch=1500\nid fw=tug-4\nrx n=2 t=100 ch=1500\n")
    _, said = process.communicate(timeout=PATIENCE)
    os.close(port)
    os.close(master)
    check(process.returncode == TROUBLE and b"tug-4, it was tug-3" in said, said)
    check(b"nobody can be asked" in said and len(numbers(out)) == 1, said)


def test_model_is_recorded():
    """The command line beats the model file, the model file beats the recorded one, that beats `id`."""
    model, other, capture, out = (work / n for n in ("a.card", "b.card", "c.log", "c.csv"))
    model.write_text("[link]\nrate = 45\n[channels]\n1 = rudder, main\n2 = =winch\n")
    other.write_text("[link]\nrate = 30\n")
    capture.write_bytes(lines())
    wrong = work / "wrong.card"
    wrong.write_text("[link]\nrate = fast\n")
    expect(TROUBLE, "wrong.card:2: ", "figures", capture, "--model", wrong)

    def used(*args):
        found = json.loads(run("figures", *args, "--json").stdout)
        return (found["time"]["rate_hz"], found["time"]["rate_from"],
                [c["name"] for c in found["channels"][:2]])

    check(used(capture)[:2] == (50, "the id line"), used(capture))
    check(used(capture, "--model", model) == (45, "the model file", ["rudder, main", "=winch"]),
          used(capture, "--model", model))
    check(run("record", capture, "--out", out, "--model", model).returncode == ANSWER, "record")
    check(used(out) == (45, "the recorded model file", ["rudder, main", "=winch"]), used(out))
    check(used(out, "--model", other) == (30, "the model file", ["rudder, main", "=winch"]), "other")
    check(used(out, "--rate", "25")[:2] == (25, "the command line"), "option")
    check(run("record", capture, "--out", out, "--force", "--rate", "40").returncode == ANSWER)
    check(used(out)[:2] == (40, "the recording's command line"), used(out))


def test_model_is_written():
    """A model file of a capture, of a recording and of a port is the same but for where it came from, and
    is one that the other commands take."""
    capture, recording, model = (work / n for n in ("seen.log", "seen.csv", "seen.card"))
    capture.write_bytes(lines("servos", 20))
    check(run("record", capture, "--out", recording).returncode == ANSWER, "record")
    texts = []
    for source in capture, recording:
        done = run("model", source)
        check(done.returncode == ANSWER and not done.stderr, source, done.stderr)
        texts.append(done.stdout.split(b"\n", 1)[1])
    texts.append(run("model", "-", stdin=open(capture)).stdout.split(b"\n", 1)[1])
    check(texts[0] == texts[1] == texts[2], texts)
    check(b"\nrate = 50\n" in texts[0] and b"\n#throttle =\n" in texts[0], texts[0])
    model.write_bytes(texts[0])
    check(run("figures", capture, "--model", model).returncode == ANSWER, "the model file is refused")
    with Pretend() as simulate:
        done = run("model", simulate.port, "--for", 2)
        check(done.returncode == ANSWER and b"# seen: 8 channels" in done.stdout, done.stderr)
    expect(TROUBLE, "there is no", "model", work / "nowhere.log")
    empty = work / "text.log"
    empty.write_text("hello\n" * 50)
    check(run("model", empty).returncode == TROUBLE, "a model file of no telemetry")


def test_model_asks_before_a_port():
    """The caution stands before `model file` opens a real port, too."""
    root = work / "model_port"
    root.mkdir()
    port = serial_port.Port(root)
    port.plug()
    environment = port.environment(pathlib.Path(sys.argv[2]).resolve())
    done = run("model", Serial.DEVICE, env=environment)
    check(done.returncode == USAGE and b"propeller off" in done.stderr, done.stderr)
    check(not port.is_open() and port.log() == [], port.log())
    process = start("model", Serial.DEVICE, "--yes", "--for", "1.5", env=environment,
                    stdin=subprocess.DEVNULL)
    until(port.is_open, "the port is open")
    until(lambda: not port.mode()[3] & 2, "the port is raw")  # ICANON
    port.write(b"".join(b"rx n=%d t=%d ch=1500,1000\r\n" % (n, n * 50) for n in range(1, 9)))
    out, said = process.communicate(timeout=PATIENCE)
    check(process.returncode == ANSWER and b"# seen: 2 channels" in out, out, said)
    check(b"propeller" not in said, said)


def test_simulate_repeats():
    check(lines() == lines(), "equal seeds differ")
    check(lines() != run("simulate", "--lines", "--fast", "--seed", 2, "--for", 60).stdout, "seed")
    truth = work / "truth.txt"
    with Pretend("--truth", truth) as receiver:
        time.sleep(0)
        check(receiver.end() == ANSWER, "simulate ended badly")
    check("scene=calm" in truth.read_text(), "the truth")
    expect(TROUBLE, "is a directory", "simulate", "--lines", "--truth", work)


def test_simulate_tells_no_old_news():
    """A reader that comes late gets what is printed now."""
    with Pretend() as receiver:
        time.sleep(1.2)
        fd = os.open(receiver.port, os.O_RDONLY | os.O_NOCTTY)
        select.select([fd], [], [], PATIENCE)
        text = os.read(fd, 4096).decode()
        os.close(fd)
    uptime = int(re.search(r" t=(\d+)", text).group(1))
    check(uptime >= 1000, "the first line is from", uptime, "ms")
    check(re.match(r"(rx|id|say) ", text), "the first line is torn:", text[:40])


PLAN = "5,10,20,30,40,45,50,55,60,70"  # of the simulated walk


def walk(path, *args, **more):
    done = run("walk", path, "--json", *args, **more)
    check(done.returncode == ANSWER, "walk gave", done.returncode, done.stderr.decode())
    return json.loads(done.stdout)


def recount(capture, stop, first_ms):
    """Packets that the receiver's counters grew by between the reports at the stop's two ends."""
    ends = []
    for line in capture.read_text().splitlines():
        found = re.match(r"rx .*\bt=(\d+) .*\bgot=(\d+) lost=(\d+)", line)
        if found and int(found[1]) - first_ms in (stop["from_ms"], stop["to_ms"]):
            ends.append((int(found[2]), int(found[3])))
    check(len(ends) == 2, "no reports at the ends of", stop)
    return ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]


def test_walk_by_the_switch():
    """The simulated walker's switch, from a capture and its recording; the counts against those
    of the receiver's own counters, read here."""
    capture, recording = work / "walk.log", work / "walk.csv"
    capture.write_bytes(lines("walk", 260))
    run("record", capture, "--out", recording)
    by_switch = walk(capture, "--switch", 6, "--plan", PLAN)
    check(walk(recording, "--switch", 6, "--plan", PLAN)["stops"] == by_switch["stops"],
          "the recording gives other stops than its capture")
    stops = by_switch["stops"]
    first = int(re.search(r"^rx .*?\bt=(\d+)", capture.read_text(), re.M)[1])
    check([s["distance_m"] for s in stops] == [5, 10, 20, 30, 40, 45, 50, 55, 60], stops)
    for stop in stops:
        got, lost = recount(capture, stop, first)
        slack = 0 if lost == 0 else 3  # a packet's time between two others is spread evenly
        check(abs(stop["got"] - got) <= slack, stop, "but the counters say", got)
        check(abs(stop["loss"]["rate"] - stop["lost"] / stop["packets"]) < 1e-12, stop)
    reach = by_switch["range"]
    # At 30 m one packet of 749 was lost: what a drop may cost there isn't shown.
    check(reach["first_failed_m"] == 40 and reach["held_to_m"] == 20, reach)
    check(reach["low_m"] < 40, reach)  # a quarter of the lower end, by common practice
    check(abs(reach["planned_m"] - reach["low_m"] / 4) < 1e-9, reach)
    half = walk(capture, "--switch", 6, "--plan", PLAN, "--use", "drive")["range"]
    check(abs(half["planned_m"] - reach["low_m"] / 2) < 1e-9, half)
    check(by_switch["evidence"] == "pattern" and by_switch["after_retries"] is False, by_switch)
    text = run("walk", capture, "--switch", 6, "--plan", PLAN).stdout.decode()
    for words in ("first at 40 m", "water\nand people", "no clearance to fly"):
        check(words in text, "walk doesn't say", words, text)
    short = walk(capture, "--switch", 6, "--plan", "5,10")
    check(len(short["stops"]) == 2 and short["presses_beyond_plan"] == 7, short)
    none = walk(capture)
    check(none["stops"] == [] and none["range"]["planned_m"] is None, none)
    check(b"--switch CH" in run("walk", capture).stdout, "no way on is named")
    piped = walk("-", "--switch", 6, "--plan", PLAN, stdin=capture.open("rb"))
    check(piped["stops"] == stops, "standard input gives other stops")


def test_how_far_the_walk_reaches():
    """The range lies between stops that lost less and stops that lost more; and what a walk at the
    lowest step says of full power has to hold the range that was walked at full power."""
    capture, low = work / "reach.log", work / "reachlow.log"
    capture.write_bytes(lines("walk", 260))
    low.write_bytes(lines("reduced", 130))
    own, low_own = ("--switch", 6, "--plan", PLAN), ("--switch", 6, "--plan", "2,4,6,8,10,12,15,20")
    full, reduced = walk(capture, *own), walk(low, *low_own)
    reach = full["range"]
    check(full["fit"]["verdict"] == "closed" and reach["loss_limit"] == 0.1, full["fit"])
    less = [s["distance_m"] for s in full["stops"] if s["loss"]["rate"] < 0.05]
    more = [s["distance_m"] for s in full["stops"] if s["loss"]["rate"] > 0.2]
    check(max(less) < reach["m"] < min(more), reach, less, more)
    check(reach["low_m"] < reach["m"] < reach["high_m"], reach)
    check(full["unknown_because"]["full_power.m"] == "walked at full power", full)
    check(reach["low_m"] < reach["at_least_m"] < reach["m"] < reach["at_most_m"], reach)
    check(full["fit"]["slope_low"] < full["fit"]["slope"] < full["fit"]["slope_high"], full["fit"])
    power = reduced["full_power"]
    check((power["reduced_db"], power["reduced_from"]) == (18, "steps"), power)
    check(power["low_m"] < reach["m"] < power["high_m"], power, reach)
    check(walk(low, *low_own, "--amplified")["unknown_because"]["full_power.low_m"] == "amplified")
    given = walk(low, *low_own, "--amplified", "--full-power-db", 12)["full_power"]
    check((given["reduced_db"], given["reduced_from"]) == (12, "given"), given)
    third = walk(capture, *own, "--loss-limit", 30)["range"]
    check(third["at_least_m"] > reach["at_least_m"], third)
    short = walk(capture, "--switch", 6, "--plan", "5,10,20")
    # None lost at three stops: more places would be needed to answer for all 20 m.
    check(10 < short["range"]["at_least_m"] <= 20 and short["range"]["m"] is None, short["range"])
    paper = json.loads(run("budget", "--json", "--walk", capture, *own).stdout)
    id_line = ("--mhz", "2450", "--kbps", "1000")  # as the simulated receiver's id line says
    there = json.loads(run("budget", "--json", "--walked", reach["m"], *id_line).stdout)
    check(abs(paper["walk_missing_db"] - there["missing_db"]) < 1e-6, paper, there)
    check((paper["mhz"], paper["kbps"]) == (2450, 1000), paper)
    slow = json.loads(run("budget", "--json", "--walk", capture, *own, "--kbps", "250").stdout)
    check((slow["mhz"], slow["kbps"]) == (2450, 250), "a given rate must win", slow)
    lowest = run("budget", "--walk", low, *low_own).stdout.decode()
    check("power       -18 dBm, step 1 of 4" in lowest and "Paper against field" in lowest, lowest)
    other = run("budget", "--step", "4", "--walk", low, *low_own).stdout.decode()
    check("walked at power step 1" in other, other)
    least = run("budget", "--walk", capture, "--switch", 6, "--plan", "5,10,20").stdout.decode()
    check(f"at least {short['range']['at_least_m']:.1f} m" in least and "at most" in least, least)
    check("what usually eats" not in least, "an eater is named though nothing is surely missing")
    expect(TROUBLE, "nowhere", "budget", "--walk", work / "nowhere")


def test_what_a_difference_is_worth():
    """The sign, both ways round, and the two exponents' ratio of 2; sums are held in test_field."""
    capture, near_by, far_off = (work / f"worth{i}.log" for i in range(3))
    capture.write_bytes(lines("walk", 260))
    near_by.write_bytes(lines("edge", 60, seed=3))
    far_off.write_bytes(lines("edge"))
    args = ("--walk", capture, "--switch", 6, "--plan", PLAN)
    one = json.loads(run("compare", near_by, "--with", far_off, *args, "--json").stdout)
    other = json.loads(run("compare", far_off, "--with", near_by, *args, "--json").stdout)
    worth = one["worth"]
    check((worth["free_space_db"] > 0) == (one["difference"]["rate"] < 0), one)
    check(abs(worth["near_ground_db"] - 2 * worth["free_space_db"]) < 1e-9, worth)
    check(abs(worth["free_space_db"] + other["worth"]["free_space_db"]) < 1e-9, one, other)
    check(one["unknown_because"]["worth.db"] == "rssi", one["unknown_because"])
    said = run("compare", near_by, "--with", far_off, *args).stdout.decode()
    check("as if B got" in said and str(capture) in said, said)
    none = run("compare", near_by, "--with", far_off, "--walk", capture).stdout.decode()
    check("can't tell in dB" in none and "too few stops" in none, none)


def test_reduced_power_is_told():
    """The scene begins at step 1 of 4, and is at full power again after 142 s."""
    low, full = work / "low.log", work / "full.log"
    low.write_bytes(lines("reduced", 130))
    full.write_bytes(lines("reduced", 146))
    words = b"below full power (step 1 of 4)"
    check(words in run("record", low, "--out", work / "low.csv").stderr, "no reminder")
    check(words not in run("record", full, "--out", work / "full.csv").stderr, "needless reminder")
    text = run("walk", full, "--switch", 6, "--plan", "2,4,6,8,10,12,15,20").stdout.decode()
    check("step 1 of 4: reduced" in text, text)


def distance_cause(path, *args):
    found = json.loads(run("causes", "--json", path, *args).stdout)["causes"]
    return next(cause for cause in found if cause["name"] == "distance")


def test_marks_are_amended():
    """The switch's stops marked afterwards, each by two rows, give the very same walk."""
    capture, recording = work / "amend.log", work / "amend.csv"
    capture.write_bytes(lines("walk", 130))
    run("record", capture, "--out", recording)
    before, figured = recording.read_bytes(), figures(recording)
    wanted = walk(capture, "--switch", 6, "--plan", PLAN)["stops"]
    check(len(wanted) == 6, wanted)
    for stop in wanted:
        done = run("stops", recording, "--add",
                   f"{stop['from_ms'] / 1000}:{stop['distance_m']}")
        check(done.returncode == ANSWER, done.stderr)
        if not stop["open"]:
            run("stops", recording, "--add", f"{stop['to_ms'] / 1000}:leave")
    check(recording.read_bytes().startswith(before), "what was recorded was changed")
    check(walk(recording)["stops"] == wanted, "amended marks give another walk")
    far = distance_cause(recording)
    check(far["missing"] is None and far["explained"] > far["expected"] > 0, far)
    check(distance_cause(capture, "--switch", 6, "--plan", PLAN) == far, "the switch tells another")
    check(distance_cause(capture)["missing"] is not None, "a distance that nobody told")
    expect(USAGE, "read twice", "causes", "-", "--switch", 6, stdin=capture.open("rb"))
    again = figures(recording)
    check(again == figured, "amendments change the figures")
    check(run("figures", recording).stderr == b"", "amendments are faults to another command")
    run("stops", recording, "--add", "20:99")
    done = run("stops", recording, "--move", "1:4.5", "--strike", "12")
    listed = done.stdout.decode()
    check(re.search(r"^ +1 +4\.500  stop 5 m  \(moved\)$", listed, re.M), listed)
    check(re.search(r"^ +12 +20\.000  stop 99 m  \(struck out\)$", listed, re.M), listed)
    mended = walk(recording)
    check(mended["stops"][0]["from_ms"] == 4500 and mended["amendments"] == 14, mended)
    check(mended["stops"][1:] == wanted[1:], mended)
    with open(recording, "ab") as file:
        file.write(b"rx,12")  # torn, as by a power cut
    run("stops", recording, "--strike", "1")
    check(len(walk(recording)["stops"]) == len(wanted) - 1, "a torn row swallowed the amendment")


def test_amendments_refused():
    capture, recording = work / "refuse.log", work / "refuse.csv"
    capture.write_bytes(lines("calm", 20))
    run("record", capture, "--out", recording)
    expect(TROUBLE, "capture of lines", "stops", capture)
    expect(USAGE, "no mark 1", "stops", recording, "--strike", "1")
    expect(USAGE, "behind the recording's end", "stops", recording, "--add", "60:5")
    expect(USAGE, "--add can't be '5'", "stops", recording, "--add", "5")
    expect(USAGE, "--move can't be '0:5'", "stops", recording, "--move", "0:5")
    expect(USAGE, "in a file only", "stops", "-", "--add", "1:5", stdin=recording.open("rb"))
    before = recording.read_bytes()
    with open(recording, "ab"):
        expect(TROUBLE, "is being recorded into", "stops", recording, "--add", "1:5")
    check(recording.read_bytes() == before, "a refused change was written")
    run("stops", recording, "--add", "1:5")
    expect(TROUBLE, "read twice", "walk", "-", stdin=recording.open("rb"))


def test_offer():
    """Without a terminal nothing is asked."""
    done = run()
    check(done.returncode == ANSWER, done)
    check(b"airleash --help" in done.stdout, done.stdout)
    listed = json.loads(run("ports", "--json").stdout)
    check(listed["format"] == "airleash-ports-1" and isinstance(listed["ports"], list), listed)


# The failsafe scene as a person would have gone along with it: report number, row.
TRIAL_ROWS = [(20, "begin"), (25, "answer=yes"), (25, "step=which"), (30, "answer=channel 2"),
              (30, "step=low"), (140, "step=raise"), (240, "step=off"), (335, "step=stay"),
              (445, "step=on"), (642, "step=lower"), (700, "end")]


def trial_recording(path, *model, trial="failsafe", rows=TRIAL_ROWS):
    """A recording of that scene, with those rows of a trial put in between."""
    capture = work / "trial.log"
    capture.write_bytes(lines("failsafe"))
    run("record", capture, "--out", path, "--force", *model)
    with open(path, newline="") as file:
        table = list(csv.reader(file))
    out, due = [], list(rows)
    for row in table:
        out.append(row)
        while due and row[0] == "rx" and int(row[3]) >= due[0][0]:
            out.append(["trial"] + [""] * (len(row) - 2) + [f"{trial} {due.pop(0)[1]}"])
    with open(path, "w", newline="") as file:
        csv.writer(file).writerows(out)


def test_judge():
    """Judged again with other limits; the model file's, the recorded model file's, the command line's."""
    out, model = work / "trial.csv", work / "trial.card"
    trial_recording(out)

    def judged(status, *args):
        done = run("judge", out, "--json", *args)
        check(done.returncode == status, args, "gave", done.returncode, done.stderr.decode())
        found = json.loads(done.stdout)
        return found, {f["name"]: f for f in found["trials"][0]["findings"]}

    found, findings = judged(ANSWER)
    check(findings["throttle_low"]["verdict"] == "passed", findings["throttle_low"])
    check(findings["throttle_low"]["low"] < 500 < findings["throttle_low"]["high"], findings)
    check(findings["repeats"]["verdict"] == "not shown", "one switch-off is no three")
    check(found["stands"]["failsafe"] == {"verdict": "not shown", "stale": None}, found["stands"])
    found, findings = judged(FAILED, "--limit", "throttle_low_ms=400")
    check(findings["throttle_low"]["verdict"] == "failed", findings["throttle_low"])
    check(found["stands"]["failsafe"]["verdict"] == "failed", found["stands"])
    model.write_text("[trials]\nthrottle_low_ms = 400\n[failsafe]\n1 = 1600\n")
    found, findings = judged(FAILED, "--model", model)
    check(findings["channel_1"]["verdict"] == "failed", findings["channel_1"])
    judged(FAILED, "--model", model, "--limit", "throttle_low_ms=800")  # channel 1 as before
    judged(ANSWER, "--model", model, "--limit", "throttle_low_ms=800", "-l", "failsafe.1=1500")
    trial_recording(out, "--model", model)
    judged(FAILED)
    judged(FAILED, "--limit", "throttle_low_ms=800")
    text = run("judge", out).stdout.decode()
    check("What stands" in text and "no clearance to fly" in text, text)


def test_judge_left():
    """A trial that was left says once of how much nothing was seen; what was seen stands there."""
    out = work / "left.csv"

    def judged(*args, **more):
        trial_recording(out, *args, **more)
        text = " ".join(run("judge", out).stdout.decode().split())
        findings = json.loads(run("judge", out, "--json").stdout)["trials"][0]["findings"]
        return text, findings, [f for f in findings if f["text"] in text]

    text, findings, told = judged(rows=TRIAL_ROWS[:6] + [(190, "quit")])
    unseen = re.search(r"not shown (\d+) things of which nothing was seen: (\d+) of (\d+) steps "
                       r"not reached", text)
    check(unseen, text)
    steps = {row.split("=")[1] for _, row in TRIAL_ROWS[:6] if row.startswith("step=")}
    check(int(unseen[3]) - int(unseen[2]) == len(steps) + 1, unseen[0])  # the first has no row
    check(len(told) + int(unseen[1]) == len(findings) and int(unseen[1]) > 5, text, findings)
    check([f["name"] for f in told] == ["idle", "throttle_low", "restarts"],
          "its channel was answered, and sticks were down:", told)
    text, findings, told = judged(rows=TRIAL_ROWS[:8] + [(400, "quit")])
    check({"throttle_low", "repeats"} <= {f["name"] for f in told}, "a switch-off was seen:", text)
    text, findings, told = judged()
    check(len(told) == len(findings), "one that came to its end is told whole:", text)
    model = work / "left.card"
    model.write_text("[channels]\n1 = rudder\n")
    text, findings, _ = judged("--model", model, trial="rest", rows=[(20, "begin"), (60, "quit")])
    check(re.search(r"not shown 1 rudder, channel 2, .*channel \d+: too few values: 0 s of", text),
          text)
    expect(USAGE, "--limit stay=1: [trials] stay: no such key", "judge", out, "--limit", "stay=1")
    expect(USAGE, "it takes NAME=VALUE", "judge", out, "--limit", "stay_ms")
    expect(USAGE, "should be from 1 to 600000", "judge", out, "--limit", "stay_ms=0")
    done = run("judge", work / "trial.log")
    check(done.returncode == ANSWER and b"raw capture" in done.stdout, done.stdout)
    check(b"failsafe    not tried" in done.stdout, done.stdout)


def main():
    work.chmod(0o755)
    # Somewhere that the user nobody may run it too.
    shutil.copy(sys.argv[1], program)
    program.chmod(0o755)
    tests = {name: test for name, test in globals().items() if name.startswith("test_")}
    wanted = sys.argv[3:] or tests
    bad = 0
    for name in wanted:
        try:
            tests[name]()
            print("ok", name, flush=True)
        except Exception as trouble:  # any: the other tests still count
            bad += 1
            print("FAILED", name, type(trouble).__name__, trouble, flush=True)
    for path in work.rglob("*"):
        if path.is_dir():
            path.chmod(0o755)
    shutil.rmtree(work)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
