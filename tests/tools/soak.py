#!/usr/bin/env python3
"""Runs the program for long, against the simulated receiver, and holds what it counted against
what that receiver did: memory flat, counters exact, no drift.

usage: soak.py live BUILD SECONDS [SCENE]     the console on a pseudo-terminal, in real time
       soak.py week BUILD [SECONDS [SCENE]]   a week of reports as fast as they go, every command
KEEP=FOLDER  keeps the files there

The simulated receiver prints the same lines for the same seed, so a second run of it tells what
must have been recorded.  They are counted anew by tests/outside/recount.py, which shares nothing
with the program.

What was found: a live hour of 'busy' and one of 'demo', every line recorded and every counter exact;
the console's own memory 206 pages in the first quarter, 211 and 210 in the last, 0.9 % of a
processor; clocks within 31 us.  A week of 'busy' (12 216 969 lines, 30.2 million packets): exact, in
records, figures, causes and the console at most 11.3 MB resident; the console on those lines by a
named pipe 210 pages from its first half second to the end.
"""
import binascii
import csv
import fcntl
import json
import os
import pathlib
import pty
import re
import resource
import select
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import time

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "outside"))
import recount  # noqa: E402

SEED = "7"
DAY_S = 24 * 3600
WEEK_S = 7 * DAY_S
PACKETS_A_REPORT = 3  # 50 packets and 20 reports a second
PAGE = os.sysconf("SC_PAGE_SIZE")
# What a console may take up between the first quarter and the last: pages of memory that it touches
# for the first time late, such as a deeper stack, but no file and no thread.  One byte kept per line
# would be 13 pages in an hour.
LIMITS = {"anon": 8, "files": 0, "threads": 0}
# From so many seconds on a run is long.  A shorter one can't tell a drift, or a line that went lost,
# from what a busy machine holds up: for a second and more, in which the port is full.
LONG_S = 600
MISSING_MAX = 20  # printed before the console had opened the port
LATE_US = 2000    # to this much the clocks are told at either end
STILL_S = 20      # for so long the screen may stand still; it is drawn each second at least
# What a command may take at all, whatever the length of its input.
BYTES_MAX = 16 << 20
WRAP = 1 << 32

faults = []


def sanitized(airleash):
    return b"__asan_init" in pathlib.Path(airleash).read_bytes()


def fault(text):
    print("NOT as promised:", text)
    faults.append(text)


def same(what, expected, seen):
    if expected != seen:
        fault(f"{what}: {expected} expected, {seen} seen")


def truth_of(path):
    pairs = (line.split("=", 1) for line in path.read_text().splitlines())
    return {key: value for key, value in pairs if key != "event"}


def figures(airleash, path):
    run = subprocess.run([airleash, "figures", str(path), "--json"], check=True, capture_output=True)
    return json.loads(run.stdout)


# --- what a process takes -------------------------------------------------------------------------


def status_of(pid):
    pairs = (line.split(":", 1) for line in pathlib.Path(f"/proc/{pid}/status").read_text().splitlines())
    return {key: value.split() for key, value in pairs}


def sample(pid, begin):
    status = status_of(pid)
    stat = pathlib.Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return {"s": time.monotonic() - begin,
            "anon": int(status["RssAnon"][0]) * 1024 // PAGE,
            "rss": int(status["VmRSS"][0]) * 1024 // PAGE,
            "cpu": (int(stat[11]) + int(stat[12])) / os.sysconf("SC_CLK_TCK"),
            "files": len(os.listdir(f"/proc/{pid}/fd")),
            "threads": int(status["Threads"][0])}


def judge_samples(name, samples, limits):
    """Flat but for the limits: the last quarter's most against that of the first quarter, without the
    first third of it, in which the program starts."""
    count = len(samples)
    first, last = samples[count // 12:count // 4], samples[count - count // 4:]
    if not first or not last:
        fault(f"{name}: too few samples: {count}")
        return
    for key, more in limits.items():
        before, after = max(s[key] for s in first), max(s[key] for s in last)
        print(f"{name}: {key}: first quarter {before}, last {after}")
        if after > before + more:
            fault(f"{name}: {key} grew from {before} to {after}")
    for i in range(4):
        part = samples[i * (count - 1) // 4:(i + 1) * (count - 1) // 4 + 1]
        span = part[-1]["s"] - part[0]["s"]
        cpu = part[-1]["cpu"] - part[0]["cpu"]
        print(f"{name}: quarter {i + 1}: {100 * cpu / span if span > 0 else 0:.2f} % of a processor, "
              f"resident {min(s['rss'] for s in part)} to {max(s['rss'] for s in part)} pages of "
              f"{PAGE} bytes")


# --- a live run -----------------------------------------------------------------------------------


def console_start(airleash, arguments, folder, terminal="xterm-256color"):
    """The program in a terminal of its own: its process id and the terminal's other end."""
    pid, master = pty.fork()
    if pid == 0:
        os.environ.update(TERM=terminal, LC_ALL="C.UTF-8", HOME=str(folder))
        os.chdir(folder)
        os.execv(airleash, [airleash, *arguments])
    fcntl.ioctl(master, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    os.set_blocking(master, False)
    return pid, master


def listen(master, seconds):
    """What the terminal is sent in so long, or None when it was closed."""
    end, blocks = time.monotonic() + seconds, []
    while True:
        left = end - time.monotonic()
        if left <= 0:
            return b"".join(blocks)
        select.select([master], [], [], left)
        try:
            blocks.append(os.read(master, 65536))
        except BlockingIOError:
            continue
        except OSError:
            return None


def quit_by_key(pid, master):
    """q, and y to the reminder of reduced power; the exit status, or None."""
    begin, keys = time.monotonic(), [b"q", b"y"]
    while time.monotonic() < begin + 30:
        if listen(master, 0.1) is None:
            time.sleep(0.02)  # its terminal is closed: it is on its way out
        elif keys and time.monotonic() > begin + 5 * (2 - len(keys)):
            os.write(master, keys.pop(0))
        ended, status = os.waitpid(pid, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
    return None


def watch_run(airleash, folder, seconds, scene):
    """Both programs until the receiver's time is up; the samples of both."""
    over = time.monotonic() + seconds - 0.3  # then it writes its truth
    receiver = subprocess.Popen([airleash, "simulate", "--scene", scene, "--seed", SEED, "--for",
                                 str(seconds), "--truth", "truth"], cwd=folder, text=True,
                                stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    port = receiver.stdout.readline().strip()
    pid, master = console_start(airleash, ["watch", port, "--out", "run.csv"], folder)
    samples, begin = {"console": [], "receiver": []}, time.monotonic()
    drawn = begin
    try:
        while receiver.poll() is None:
            text = listen(master, max(0.25, seconds / 720))
            if text is None:
                fault("the console ended early")
                return samples
            drawn = time.monotonic() if text else drawn
            if time.monotonic() > drawn + STILL_S:
                fault("the screen stands still")
                return samples
            samples["console"].append(sample(pid, begin))
            try:
                if time.monotonic() < over:
                    samples["receiver"].append(sample(receiver.pid, begin))
            except (KeyError, OSError):
                pass  # its time was up just now
        listen(master, 0.3)
        same("exit status", 0, quit_by_key(pid, master))
    finally:
        receiver.terminate()
        receiver.wait()
        try:
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
        except (ProcessLookupError, ChildProcessError):
            pass
        os.close(master)
    return samples


def recorded(path):
    """The rows that were lines."""
    with open(path, newline="", encoding="utf-8") as file:
        return [row for row in csv.DictReader(file) if row["bytes"] != ""]


def told_of(row):
    """What a row says of its line."""
    told = [row["kind"], row["bytes"]]
    if row["kind"] == "rx":
        told += [row[c] for c in ("rx_ms", "report_no", "got", "lost", "pat", "failsafe_entries")]
    return told


def true_of(line):
    """The same, of the line itself (without its LF)."""
    text, _ = recount.parse(line.rstrip(b"\r"))
    word, _, rest = (text or b"").decode("ascii").partition(" ")
    keys = dict(pair.split("=", 1) for pair in rest.split(" ") if "=" in pair)
    true = ["damage" if text is None else word, str(len(line) + 1)]
    if word == "rx":
        true += [keys.get(k, "") for k in ("t", "n", "got", "lost", "pat", "fsn")]
    return true


def check_rows(printed, rows, missing_max):
    """Row by row: each is one of the lines of the model's second run, in their order.  Returns those
    lines.  The receiver drops whole lines while nobody has its port open or takes what is in it."""
    taken, at = [], 0
    for row in rows:
        told = told_of(row)
        while at < len(printed) and true_of(printed[at]) != told:
            at += 1
        if at == len(printed):
            fault(f"recorded, but never printed (or not in this order): {told}")
            return taken
        taken.append(printed[at])
        at += 1
    print(f"{len(taken)} of {len(printed)} lines recorded")
    missing = len(printed) - len(taken)
    if missing > missing_max:
        fault(f"{missing} lines were not recorded")
    return taken


def check_clock(rows, drift_ppm):
    """Receiver and host share a clock here.  Of the longest boot, the promptest lines of its first
    and last tenth must be equally late, but for what a busy machine holds up."""
    boots, current = [], []
    for row in rows:
        if row["kind"] == "boot" and current:
            boots.append(current)
            current = []
        if row["kind"] == "rx":
            current.append((int(row["rx_ms"]), int(row["host_us"]) - 1000 * int(row["rx_ms"])))
    boots.append(current)
    longest = max(boots, key=len)
    tenth = max(1, len(longest) // 10)
    first, last = (min(late for _, late in part) for part in (longest[:tenth], longest[-tenth:]))
    span = (longest[-1][0] - longest[0][0]) / 1000
    print(f"clocks: over {span:.0f} s the promptest line came {last - first} us later at the end than "
          f"at the beginning; figures tell a drift of {drift_ppm} ppm")
    if abs(last - first) > LATE_US:
        fault(f"host and receiver clock drifted by {last - first} us")
    if drift_ppm is None or abs(drift_ppm) > 2 * LATE_US / span:
        fault(f"figures tell a drift of {drift_ppm} ppm")


def check_figures(told, lines):
    mine = recount.recount_lines(lines)
    theirs = {"good": told["lines"]["good"], "damaged": told["lines"]["damaged"],
              "missing": told["lines"]["missing"], "got": told["packets"]["got"],
              "lost": told["packets"]["lost"], "restarts": told["restarts"]["receiver"],
              "entries": told["failsafe"]["entries"]}
    # A damaged report that can't be told from a sketch's own prints stands for no missing line.
    plain = told["lines"]["reasons"].get("plain text", 0)
    for key, value in mine.items():
        seen = theirs[key] or 0
        if key != "missing" or not value <= seen <= value + plain:
            same(f"figures, {key}", value, seen)
    print("counted anew:", " ".join(f"{key}={value}" for key, value in mine.items()))


def check_truth(told, truth, unseen):
    """Packets since the last report before each restart and before the end are in none, and those
    of the reports before the console was there."""
    most = PACKETS_A_REPORT * (1 + int(truth["receiver_restarts"]) + unseen)
    got, lost = told["packets"]["got"], told["packets"]["lost"]
    print(f"in truth: received {truth['received']} and lost {truth['lost']}; counted {got} and {lost}; "
          f"at most {most} can be in no report")
    if not 0 <= int(truth["received"]) - got <= most:
        fault(f"received {truth['received']}, figures say {got}")
    if not 0 <= int(truth["lost"]) - lost <= most:
        fault(f"lost {truth['lost']}, figures say {lost}")
    same("restarts of the receiver", int(truth["receiver_restarts"]), told["restarts"]["receiver"])
    same("entries into failsafe", int(truth["failsafe_entries"]), told["failsafe"]["entries"])


def live(airleash, folder, seconds, scene):
    samples = watch_run(airleash, folder, seconds, scene)
    limits = {"files": 0, "threads": 0} if sanitized(airleash) else LIMITS
    for name, taken in samples.items():
        judge_samples(name, taken, limits)
    if faults:
        return
    lines = subprocess.run([airleash, "simulate", "--lines", "--fast", "--scene", scene, "--seed", SEED,
                            "--for", str(seconds)], check=True, capture_output=True).stdout
    printed = lines.split(b"\n")[:-1]
    rows = recorded(folder / "run.csv")
    taken = check_rows(printed, rows, MISSING_MAX if seconds >= LONG_S else len(printed) // 2)
    told = figures(airleash, folder / "run.csv")
    check_figures(told, taken)
    check_truth(told, truth_of(folder / "truth"), len(printed) - len(taken))
    if seconds >= LONG_S:
        check_clock(rows, told["timing"]["drift_ppm"])


# --- a week ---------------------------------------------------------------------------------------


class Receiver:
    """The simulated receiver's lines, as fast as they are read."""

    def __init__(self, airleash, folder, seconds, scene):
        self.command = [airleash, "simulate", "--lines", "--fast", "--scene", scene, "--seed", SEED,
                        "--for", str(seconds), "--truth", str(folder / "truth")]

    def __enter__(self):
        self.process = subprocess.Popen(self.command, stdout=subprocess.PIPE)
        return self.process.stdout

    def __exit__(self, *_):
        self.process.stdout.close()
        self.process.wait()


def bound_memory():
    resource.setrlimit(resource.RLIMIT_DATA, (BYTES_MAX, BYTES_MAX))


def bounded(command, stdin=None):
    """Runs it with no more memory than any command may take; its output.  The peak is what was seen
    of it while it ran; the limit is what judges."""
    begin, peak = time.monotonic(), 0
    with tempfile.TemporaryFile() as out:
        process = subprocess.Popen(command, stdin=stdin or subprocess.DEVNULL, stdout=out,
                                   preexec_fn=None if sanitized(command[0]) else bound_memory)
        while process.poll() is None:
            peak = max(peak, int(status_of(process.pid).get("VmHWM", ["0"])[0]))
            time.sleep(0.01)
        out.seek(0)
        text = out.read()
    print(f"{' '.join(command[1:3])}: {time.monotonic() - begin:.1f} s, at most {peak} kB resident, "
          f"exit {process.returncode}", flush=True)
    same(f"exit status of {command[1]}", 0, process.returncode)
    return text


def without_road(told):
    """What a recording and its capture have in common: all but what rests on the host's clock, by
    which the time between two boots is told."""
    if told["restarts"]["receiver"] > 0:
        return [told["packets"], told["lines"], told["drops"], told["failsafe"]["entries"],
                told["restarts"]["receiver"], told["restarts"]["causes"]]
    return {key: value for key, value in told.items()
            if key not in ("file", "recording", "timing", "unknown_because")}


def shifted(lines, offset):
    """The lines of a receiver whose counters were so far on at its boot."""
    counters = re.compile(rb"(?<= )(n|t|got|lost)=(\d+)")
    for line in lines:
        text = line.rpartition(b" *")[0]
        if text.startswith(b"rx "):
            text = counters.sub(lambda m: b"%s=%d" % (m[1], (int(m[2]) + offset[m[1]]) % WRAP), text)
        yield b"%s *%04X\r\n" % (text, binascii.crc_hqx(text, 0xFFFF))


def figures_of(airleash, lines):
    process = subprocess.Popen([airleash, "figures", "-", "--json"], stdin=subprocess.PIPE,
                               stdout=subprocess.PIPE)
    for line in lines:
        process.stdin.write(line)
    return json.loads(process.communicate()[0])


def check_wraps(airleash, receiver, told):
    """The same run, joined at its second report, by a receiver whose four counters reach 2^32 in the
    middle of it, each at a time of its own: every figure stays as it was but the count of wraps."""
    got, lost, reports = (told["packets"]["got"], told["packets"]["lost"], told["time"]["reports"])
    offset = {b"n": WRAP - reports // 3, b"t": WRAP - told["time"]["link_ms"] // 2,
              b"got": WRAP - got // 4, b"lost": WRAP - lost // 5}
    answers = []
    for by in (dict.fromkeys(offset, 0), offset):
        with receiver as stream:
            lines = iter(stream)
            while not next(lines).startswith(b"rx "):
                pass
            answers.append(figures_of(airleash, shifted(lines, by)))
    plain, wrapped = (without_road(answer) for answer in answers)
    print("wraps:", wrapped["restarts"]["wraps"], "of the clock, with", wrapped["packets"]["got"],
          "packets received and", wrapped["packets"]["lost"], "lost, as without")
    same("wraps of the clock", (0, 1), (plain["restarts"].pop("wraps"), wrapped["restarts"].pop("wraps")))
    for key in plain:
        if key != "lines" and plain[key] != wrapped[key]:
            fault(f"after a wrap, {key}: {wrapped[key]} instead of {plain[key]}")
    for key in ("good", "damaged", "missing"):
        same(f"after a wrap, lines {key}", plain["lines"][key], wrapped["lines"][key])


def check_replay(airleash, folder, told):
    """The console on the recording, as fast as possible, to its end: what its screen counts."""
    # Of a vt100 the drawing is plain text but for the cursor's moves.
    pid, master = console_start(airleash, ["replay", "run.csv", "--pace", "0"], folder, "vt100")
    text, begin, peak, ended = b"", time.monotonic(), 0, False
    while not ended and time.monotonic() < begin + 600:
        os.write(master, b"\x0c")  # draw anew
        text = listen(master, 1)
        peak = max(peak, sample(pid, begin)["anon"])
        ended = b"at the end" in text
    os.write(master, b"\x0c")
    text = listen(master, 1)
    counted = re.search(rb"\((\d+) of (\d+)\)(?=[^(]*outages)", text)
    got, lost = told["packets"]["got"], told["packets"]["lost"]
    print(f"replay: {time.monotonic() - begin:.1f} s, {peak} pages of its own, "
          f"the screen says {counted[0].decode() if counted else 'nothing'}")
    same("lost and sent on the screen", (lost, got + lost),
         tuple(int(n) for n in counted.groups()) if counted else None)
    same("exit status of replay", 0, quit_by_key(pid, master))
    os.close(master)


def check_console(airleash, receiver, folder):
    """The live console on all the lines by a named pipe: memory flat over many days."""
    os.mkfifo(folder / "pipe")
    pid, master = console_start(airleash, ["watch", "pipe", "--mute"], folder)
    samples, begin = [], time.monotonic()
    with receiver as lines, open(folder / "pipe", "wb") as pipe:
        feeder = subprocess.Popen(["cat"], stdin=lines, stdout=pipe)
        pipe.close()
        while feeder.poll() is None:
            listen(master, 0.5)
            samples.append(sample(pid, begin))
    judge_samples("console", samples, LIMITS)
    same("exit status of watch", 0, quit_by_key(pid, master))
    os.close(master)
    os.unlink(folder / "pipe")


def check_length(told, seconds):
    """By the receiver's clock, which doesn't stand still here: the reports come each 50 ms."""
    length = told["time"]
    print(f"time: {length['link_ms']} ms in {length['reports']} reports")
    if not 0 <= 1000 * seconds - length["link_ms"] < 1000:
        fault(f"{length['link_ms']} ms told of {seconds} s")
    same("time between reports", length["link_ms"], 50 * (length["reports"] - 1))


def week(airleash, folder, seconds, scene):
    receiver, path = Receiver(airleash, folder, seconds, scene), str(folder / "run.csv")
    with receiver as lines:
        bounded([airleash, "record", "-", "--out", path, "--force"], lines)
    told = json.loads(bounded([airleash, "figures", path, "--json"]))
    with receiver as lines:
        same("figures of the lines", without_road(told),
             without_road(json.loads(bounded([airleash, "figures", "-", "--json"], lines))))
    with receiver as lines:
        check_figures(told, (line[:-1] for line in lines))
    check_truth(told, truth_of(folder / "truth"), 0)
    one_boot = told["restarts"]["receiver"] == 0
    if one_boot:
        check_length(told, seconds)
    for command in ("causes", "walk", "judge"):
        json.loads(bounded([airleash, command, path, "--json"]))
    bounded([airleash, "report", path, "--out", str(folder / "report.html"), "--force"])
    check_replay(airleash, folder, told)
    if seconds >= DAY_S and not sanitized(airleash):
        check_console(airleash, receiver, folder)
    if one_boot:
        check_wraps(airleash, receiver, told)


def main():
    """The arguments as the head of this file tells."""
    what, build, *rest = sys.argv[1:]
    airleash = str(pathlib.Path(build, "src/app/airleash").resolve())
    seconds = float(rest[0]) if rest else WEEK_S
    with tempfile.TemporaryDirectory(prefix="airleash-soak-") as made:
        folder = pathlib.Path(os.environ.get("KEEP", made)).resolve()
        folder.mkdir(exist_ok=True)
        {"live": live, "week": week}[what](airleash, folder, seconds, rest[1] if rest[1:] else "busy")
    print("as promised" if not faults else f"NOT as promised: {len(faults)}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
