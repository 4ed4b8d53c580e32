#!/usr/bin/python3
"""kill -9 of record and of watch --out at random points: every complete row survives.

usage: kill.py AIRLEASH [RUNS [SEED]]

RUNS is how often record is killed with its receiver in step, and with its receiver flooding; watch
a fifth as often.  The promise is that of airleash-recording(5): at most a torn last row.

- In step: a line is sent when the row of the one before stands in the file, so at most the newest
  line may have no row.
- Flooding: the receiver sends as fast as the port takes it; what is in the file is what was sent,
  from the first line on, without a hole.

Then figures reads the file and counts just these rows, and a recording into a new file goes on.
Where the kill falls is random; what has to hold doesn't depend on it.
"""
import csv
import fcntl
import json
import os
import pathlib
import pty
import random
import select
import shutil
import struct
import subprocess
import sys
import tempfile
import termios
import time
import tty

PATIENCE = 60  # seconds; only a broken program needs them


class Failed(Exception):
    pass


def check(good, *what):
    if not good:
        raise Failed(" ".join(str(w) for w in what))


def line(number):
    return b"rx n=%d t=%d ch=1500,%d,1000 got=%d lost=0 age=4\n" % (
        number, number * 50, 1000 + number % 1000, number * 5)


class Port:
    """A pseudo-terminal that plays the receiver's port."""

    def __init__(self):
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        self.name = os.ttyname(slave)
        os.close(slave)
        os.set_blocking(self.master, False)

    def write(self, data):
        """What the port takes now."""
        try:
            return os.write(self.master, data)
        except BlockingIOError:
            return 0

    def close(self):
        os.close(self.master)


def numbers(path):
    """Report numbers of the complete rows; Python's csv module knows nothing of ours."""
    try:
        text = path.read_bytes()
    except FileNotFoundError:
        return []
    whole = text[: text.rfind(b"\r\n") + 2].decode()
    return [int(row["report_no"]) for row in csv.DictReader(whole.splitlines())
            if row["kind"] == "rx"]


class Killed:
    def __init__(self, program, folder, dice):
        self.program, self.folder, self.dice = program, folder, dice
        self.out = folder / "killed.csv"
        self.torn = 0

    def start(self, command, port):
        self.out.unlink(missing_ok=True)
        args = [self.program, command, port.name, "--out", self.out]
        if command == "record":
            return subprocess.Popen(args, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                    stderr=subprocess.DEVNULL), None
        screen, terminal = pty.openpty()
        fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("4H", 24, 80, 0, 0))
        process = subprocess.Popen([*args, "--mute"], stdin=terminal, stdout=terminal,
                                   stderr=terminal, env=dict(os.environ, TERM="xterm"))
        os.close(terminal)
        return process, screen

    def wait(self, true, process, screen):
        end = time.monotonic() + PATIENCE
        while not true():
            check(process.poll() is None, "it ended by itself with", process.returncode)
            check(time.monotonic() < end, "waited in vain")
            self.drain(screen)
            time.sleep(0.0005)

    @staticmethod
    def drain(screen):
        while screen is not None and select.select([screen], [], [], 0)[0]:
            if not os.read(screen, 65536):
                return

    def kill_in_step(self, process, screen, port):
        """Returns how many lines must be there, and how many can be."""
        last = self.dice.randrange(1, 12)
        for number in range(1, last + 1):
            check(port.write(line(number)) == len(line(number)), "the port is full")
            if number < last:
                self.wait(lambda: len(numbers(self.out)) == number, process, screen)
        time.sleep(self.dice.choice((0, 0, 0.0002, 0.001, 0.003)))
        process.kill()
        return last - 1, last

    def kill_flooding(self, process, screen, port):
        sent, number, rest = 0, 0, b""
        wanted = self.dice.randrange(1, 200_000)
        end = time.monotonic() + PATIENCE
        while sent < wanted:
            while len(rest) < 4096:
                number += 1
                rest += line(number)
            put = port.write(rest)
            rest, sent = rest[put:], sent + put
            self.drain(screen)
            check(time.monotonic() < end, "it doesn't read its port")
            if put == 0:
                time.sleep(0.0002)
        seen = len(numbers(self.out))
        process.kill()
        return seen, number

    def look(self, least, most):
        """The file after the kill."""
        kept = numbers(self.out)
        check(kept == list(range(1, len(kept) + 1)), "rows are missing or wrong:", kept[:20])
        check(least <= len(kept) <= most, len(kept), "rows, not", least, "to", most)
        with open(self.out, newline="") as file:
            for row in csv.DictReader(file):
                if row["kind"] == "rx" and row["note"] is not None:
                    number = int(row["report_no"])
                    check(int(row["rx_ms"]) == number * 50 and int(row["got"]) == number * 5, row)
        if not kept:
            return
        done = subprocess.run([self.program, "figures", self.out, "--json"], capture_output=True,
                              timeout=PATIENCE)
        check(done.returncode == 0, "figures gave", done.returncode, done.stderr.decode())
        found = json.loads(done.stdout)
        check(found["lines"]["good"] == len(kept), found["lines"], "but", len(kept), "rows")
        torn = not self.out.read_bytes().endswith(b"\r\n")
        check(found["lines"]["rows_passed_over"] == torn, found["lines"])
        self.torn += torn

    def once(self, command, how):
        port = Port()
        process, screen = self.start(command, port)
        try:
            # The header and the facts are written before the port is open.
            self.wait(lambda: self.out.exists() and b"opened" in self.out.read_bytes(), process,
                      screen)
            least, most = how(process, screen, port)
            process.wait(PATIENCE)
        finally:
            process.kill()
            process.wait()
            port.close()
            if screen is not None:
                os.close(screen)
        self.look(least, most)


def cut_anywhere(program, folder):
    """A power cut leaves any part of the last row: cut after each byte of the last three, whose texts
    are quoted, the rows before count, and what is left of the cut one doesn't."""
    capture, whole, out = folder / "cut.log", folder / "whole.csv", folder / "cut.csv"
    capture.write_bytes(b"".join(line(n) for n in range(1, 6)) + b'say "so", he said\n' + line(6) +
                        b"say the end, twelve\n" + line(7))
    subprocess.run([program, "record", capture, "--out", whole], check=True, timeout=PATIENCE,
                   stdout=subprocess.DEVNULL)
    data = whole.read_bytes()
    rows = data.splitlines(True)[:-1]  # but the `end`
    tail = sum(len(row) for row in rows[-4:])
    body = b"".join(rows)
    for at in range(len(body) - tail, len(body)):
        out.write_bytes(body[:at])
        kept = body[:at].count(b"\r\n")
        done = subprocess.run([program, "figures", out, "--json"], capture_output=True,
                              timeout=PATIENCE)
        check(done.returncode == 0, "cut at", at, "figures gave", done.returncode, done.stderr)
        found = json.loads(done.stdout)["lines"]
        good = sum(not row.startswith((b"about,", b"kind,")) for row in rows[:kept])
        torn = not body[:at].endswith(b"\r\n")
        check((found["good"], found["rows_passed_over"]) == (good, torn), "cut at", at, "gave",
              found)


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    runs = int(sys.argv[2]) if len(sys.argv) > 2 else 150
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    folder = pathlib.Path(tempfile.mkdtemp(prefix="airleash-kill-", dir=memory))
    killed = Killed(program, folder, random.Random(seed))
    try:
        cut_anywhere(program, folder)
        print("ok cut_anywhere", flush=True)
        for command, how, times in (("record", killed.kill_in_step, runs),
                                    ("record", killed.kill_flooding, runs),
                                    ("watch", killed.kill_in_step, runs // 5),
                                    ("watch", killed.kill_flooding, runs // 5)):
            for run in range(times):
                try:
                    killed.once(command, how)
                except Failed as trouble:
                    print(f"FAILED {command} {how.__name__} {run} (seed {seed}): {trouble}")
                    return 1
            print("ok", command, how.__name__, times, flush=True)
        print(killed.torn, "files had a torn last row")
    finally:
        shutil.rmtree(folder)
    return 0


if __name__ == "__main__":
    sys.exit(main())
