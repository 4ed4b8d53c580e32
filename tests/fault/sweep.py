#!/usr/bin/python3
"""Every call that reads or writes made to fail, one after the other, in every command that has one.

usage: sweep.py AIRLEASH FAULT_SHIM [CASE...]

CHART_HELPER is empty where it isn't built.

For each command, each file of it and each kind of call the 1st, 2nd, ... call is made to fail until
there is none left (tests/tools/fault_shim.c counts them).  What has to hold:

- interrupted, short and not-ready calls (EINTR, short, EAGAIN) change nothing: the same exit status,
  standard output, standard error and files as undisturbed, to the byte;
- any other failure ends with exit status 3 and one line on standard error that names the file and
  the reason, unless the output is whole all the same;
- no file lies under its final name unless it is whole, one that was there before is left as it was,
  and nothing else is left behind;
- killed (SIGKILL) before any of these calls, or after a part of a write: the same of files, but for
  one beside its final name; a recording holds whole rows and at most a torn one at its end;
- memory that ends is said as such, or changes nothing.

Nothing is timed; a command that hangs is ended after PATIENCE seconds.
"""
import concurrent.futures
import csv
import itertools
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile

PATIENCE = 120  # seconds; only a broken program needs them
WORKERS = 2
MOST = 40  # calls of a kind that are tried one by one
MEMORY_EACH, MEMORY_MOST = 15, 4000  # allocations tried one by one; then each half further on
ANSWER, TROUBLE = 0, 3

REASON = {  # what standard error has to say: strerror(3)'s words, or ours in app/words.c
    "EIO": ("input/output error", "Input/output error"),
    "ENOSPC": ("disk is full", "No space left"),
    "EDQUOT": ("your share of the disk",),
    "EMFILE": ("Too many open files",),
    "EACCES": ("not allowed",),
    "EAGAIN": ("Resource temporarily unavailable",),
    "EROFS": ("read-only", "Read-only"),
}
HARMLESS = ("EINTR", "EAGAIN")


class Failed(Exception):
    pass


class Case:
    """A command, the files it reads, the one it writes (None: standard output only)."""

    def __init__(self, name, *args, reads=(), writes=None, stdin=None, there=None, torn_may=False,
                 memory=True, beside=False):
        """torn_may: the file is a recording, which holds what came until the failure.  beside: it
        is written beside standard output, not instead."""
        self.name, self.args, self.reads, self.writes = name, args, reads, writes
        self.stdin, self.there, self.torn_may, self.memory = stdin, there, torn_may, memory
        self.beside = beside


# Inputs that lay_out makes.  `there`: what stands under the name of the output before.
OLD = b"what was there before\n"
CASES = [
    Case("figures", "figures", "a.csv", reads=["a.csv"]),
    Case("figures-all", "figures", "--all", "a.csv"),
    Case("figures-json", "figures", "--json", "a.csv"),
    Case("figures-raw", "figures", "a.log", reads=["a.log"], memory=False),
    Case("figures-piped", "figures", "-", reads=["fd0"], stdin="a.csv"),
    Case("figures-card", "figures", "a.csv", "--model", "tug.ini", reads=["tug.ini"]),
    Case("walk", "walk", "walk.csv", reads=["walk.csv"]),
    Case("walk-all", "walk", "--all", "walk.csv"),
    Case("walk-json", "walk", "--json", "walk.csv"),
    Case("judge", "judge", "a.csv", "--other", "b.csv", reads=["a.csv", "b.csv"]),
    Case("judge-json", "judge", "--json", "a.csv"),
    Case("causes", "causes", "a.csv", reads=["a.csv"]),
    Case("causes-json", "causes", "--json", "a.csv"),
    Case("model", "model", "a.csv", reads=["a.csv"]),
    Case("compare", "compare", "a.csv", "b.csv", "--with", "c.csv", reads=["a.csv", "c.csv"]),
    Case("compare-json", "compare", "--json", "a.csv", "--with", "c.csv"),
    Case("compare-base", "compare", "a.base", "--with", "c.csv", reads=["a.base"]),
    Case("compare-keep", "compare", "a.csv", "--keep", "new.base", writes="new.base"),
    Case("compare-keep-again", "compare", "a.csv", "--keep", "new.base", "--force",
         writes="new.base", there=OLD),
    Case("budget", "budget", "--walk", "walk.csv", reads=["walk.csv"]),
    Case("budget-json", "budget", "--json"),
    Case("stops-list", "stops", "walk.csv", reads=["walk.csv"]),
    Case("stops", "stops", "walk.csv", "--add", "3:5", "--move", "1:2", reads=["walk.csv"],
         writes="walk.csv", there="walk.csv"),
    Case("stops-torn", "stops", "torn.csv", "--add", "3:5", reads=["torn.csv"],
         writes="torn.csv", there="torn.csv"),
    Case("chart", "chart", "a.csv", reads=["a.csv"]),
    Case("chart-svg", "chart", "a.csv", "--out", "x.svg", reads=["a.csv"], writes="x.svg"),
    Case("chart-svg-again", "chart", "a.csv", "--out", "x.svg", "--force", writes="x.svg",
         there=OLD),
    Case("chart-walk", "chart", "walk.csv", "--what", "walk", "--out", "x.svg",
         reads=["walk.csv"], writes="x.svg"),
    Case("report", "report", "walk.csv", "--out", "x.html", reads=["walk.csv"], writes="x.html"),
    Case("report-piped", "report", "a.csv", "--out", "-", reads=["a.csv"]),
    Case("record", "record", "a.log", "--out", "new.csv", reads=["a.log"], writes="new.csv",
         torn_may=True),
    Case("record-again", "record", "a.log", "--out", "new.csv", "--force", writes="new.csv",
         there=OLD, torn_may=True),
    Case("record-piped", "record", "-", "--out", "new.csv", reads=["fd0"], writes="new.csv",
         stdin="a.log", torn_may=True),
    Case("simulate", "simulate", "--lines", "--fast", "--for", "20"),
    Case("simulate-truth", "simulate", "--lines", "--fast", "--for", "5", "--truth", "new.truth",
         writes="new.truth", beside=True),
    Case("sketch", "sketch", "emit.c"),
    Case("completion", "completion", "bash"),
    Case("ports", "ports"),
    Case("ports-json", "ports", "--json"),
    Case("help", "--help"),
    Case("version", "--version"),
]
# What is said to rsvg-convert, and what it answers.
PNG = Case("chart-png", "chart", "a.csv", "--out", "x.png", reads=["pipe:*"], writes="x.png",
           memory=False)


class Sweep:
    def __init__(self, program, shim, folder):
        self.program, self.shim, self.folder = program, shim, folder
        self.inputs = folder / "inputs"
        self.count = itertools.count()
        self.runs = 0

    # --- running --------------------------------------------------------------------------------

    def lay_out(self):
        """Small recordings: every call of every kind is to be tried."""
        self.inputs.mkdir()

        def make(*args, **more):
            done = subprocess.run([self.program, *args], cwd=self.inputs, capture_output=True,
                                  stdin=subprocess.DEVNULL, timeout=PATIENCE, **more)
            if done.returncode != ANSWER:
                raise Failed(args, done.stderr)
            return done.stdout

        def lines(scene, seconds, seed):
            return make("simulate", "--lines", "--fast", "--scene", scene, "--for", seconds,
                        "--seed", seed)

        for name, scene, seconds, seed in (("a", "busy", "50", "1"), ("b", "calm", "5", "2"),
                                           ("c", "edge", "50", "3"), ("w", "walk", "90", "1")):
            (self.inputs / f"{name}.log").write_bytes(lines(scene, seconds, seed))
            make("record", f"{name}.log", "--out", f"{name}.csv")
        make("compare", "a.csv", "--keep", "a.base")
        (self.inputs / "w.csv").rename(self.inputs / "walk.csv")
        for stop in ("10:5", "25:leave", "30:10", "45:20", "60:40"):
            make("stops", "walk.csv", "--add", stop)
        whole = (self.inputs / "b.csv").read_bytes()
        (self.inputs / "torn.csv").write_bytes(whole + b"rx,12")
        (self.inputs / "tug.ini").write_bytes(make("model", "a.csv"))

    def run(self, case, faults, locale="C.UTF-8", start=None):
        """In a folder of its own: what came of it."""
        here = self.folder / f"run{next(self.count)}"
        here.mkdir()
        for name in {a for a in case.args if (self.inputs / a).exists()}:
            if name == case.writes:
                shutil.copy(self.inputs / name, here)
            else:
                (here / name).symlink_to(self.inputs / name)
        if case.there is OLD:
            (here / case.writes).write_bytes(OLD)
        hits = self.folder / (here.name + ".hits")
        env = dict(os.environ, LD_PRELOAD=str(self.shim), FAULTS=faults, FAULT_HITS=str(hits),
                   LC_ALL=locale)
        stdin = open(self.inputs / case.stdin, "rb") if case.stdin else subprocess.DEVNULL
        # Standard output is a file: its calls are then the same each time.
        with open(here / "stdout", "wb") as stdout:
            done = subprocess.run([self.program, *case.args], cwd=here, env=env, stdin=stdin,
                                  stdout=stdout, stderr=subprocess.PIPE, timeout=PATIENCE,
                                  preexec_fn=start)
        self.runs += 1
        result = Result(case, here, done, hits.exists(), faults)
        shutil.rmtree(here)
        hits.unlink(missing_ok=True)
        return result

    # --- what is tried --------------------------------------------------------------------------

    def calls(self, case):
        """(call, where, errnos that are failures, what is harmless)"""
        for name in case.reads:
            plain = not name.startswith(("fd", "pipe"))
            where = "*/" + name if plain else name
            yield "read", where, ("EIO",), HARMLESS
            if plain:
                yield "open", name, ("EACCES", "EMFILE"), ()
            if name.startswith("pipe"):
                yield "write", where, ("EIO",), HARMLESS
                yield "pipe2", "*", ("EMFILE",), ()
                yield "fork", "*", ("EAGAIN",), ()
        if case.writes:
            where = "*" + case.writes + "*"
            yield "write", where, ("ENOSPC", "EIO", "EDQUOT"), HARMLESS
            yield "fsync", where, ("EIO", "ENOSPC"), ("EINTR",)
            yield "close", where, ("EIO", "EDQUOT"), ("EINTR",)
            yield "open", where, ("EACCES", "ENOSPC", "EROFS"), ()
            yield "rename", where, ("EIO", "ENOSPC"), ()
            yield "link", where, ("EIO", "ENOSPC"), ()
        if not any(name.startswith("pipe") for name in case.reads):  # there fd1 is another's pipe
            yield "write", "fd1", ("ENOSPC", "EIO"), HARMLESS
        yield "close", "fd1", ("ENOSPC",), ("EINTR",)
        yield "poll", "*", (), ("EINTR",)

    def one(self, case):
        """All faults of a command; a list of what is wrong."""
        wrong = []
        plain = self.run(case, "")
        plain_c = self.run(case, "", "C") if case.memory else plain
        if plain.status != ANSWER or plain.left:
            return [f"{case.name}: undisturbed: {plain.status}, {plain.said}, left {plain.left}"]

        def judge(faults, verdict, locale="C.UTF-8"):
            result = self.run(case, faults, locale)
            why = verdict(result) if result.hit else None
            if why:
                wrong.append(f"{case.name}: {faults}: {why}")
            return result.hit

        def told(call, where, how):
            def verdict(result):
                if call == "fsync" and result.status != TROUBLE:
                    return "success, though what was written may be lost"
                troubles.append(result.status == TROUBLE)
                return plain.told(result, how, where)
            return verdict

        def must(call, where, hit):
            """A rule that never strikes would pass for the wrong reason."""
            if not hit and call not in ("rename", "link", "poll") and (where != "fd1" or plain.out):
                wrong.append(f"{case.name}: {call} at {where} never failed")

        for call, where, failing, harmless in self.calls(case):
            if call in ("read", "write"):
                judge(f"{call}@{where}@1+@short", plain.same)
            troubles = []
            for how in harmless:  # each call the first time, and never when it is made again
                must(call, where, judge(f"{call}@{where}@1~@{how}", plain.same))
            for how in failing:
                verdict = told(call, where, how)
                # Each errno has its words; where it strikes, one stands for all.
                for nth in range(1, 3 if how in failing[1:] else MOST + 1):
                    if not judge(f"{call}@{where}@{nth}@{how}", verdict):
                        must(call, where, nth > 1)
                        break
                for nth in range(1, MOST + 1) if how == "ENOSPC" and call == "write" else ():
                    # A disk takes what it has room for, and then no more.
                    if not judge(f"write@{where}@{nth}@short;write@{where}@{nth + 1}+@ENOSPC",
                                 verdict):
                        break
            if call == "close" and troubles and not any(troubles):
                wrong.append(f"{case.name}: no close at {where} that failed was told")
        for call in ("write", "fsync", "close", "rename", "link") if case.writes else ():
            for how in ("kill", "torn") if call == "write" else ("kill",):
                nth = 1
                while nth <= MOST and judge(f"{call}@*{case.writes}*@{nth}@{how}", plain.killed):
                    nth += 1
        nth = 1
        # Without memory the C library takes another character set: here it has only one.
        while case.memory and nth < MEMORY_MOST and judge(f"malloc@*@{nth}@ENOMEM",
                                                          plain_c.memory, "C"):
            nth += 1 if nth < MEMORY_EACH else nth // 2
        return wrong


    def closed(self):
        """Started without standard input, output or error: what is said gets into no file."""
        wrong = []
        case = Case("closed", "record", "a.log", "--out", "new.csv", writes="new.csv",
                    torn_may=True)
        plain = self.run(case, "")
        for fds in ((0, 2), (0, 1), (2,), (1,), (0, 1, 2)):
            def close(fds=fds):
                for fd in fds:
                    os.close(fd)
            # It says something while the file is open: that the disk is full, and isn't any more.
            found = self.run(case, "write@*new.csv@2-3@ENOSPC", start=close)
            if found.whole() != plain.whole():
                wrong.append(f"closed {fds}: the recording isn't what came")
            if found.status != (TROUBLE if 1 in fds else ANSWER):
                wrong.append(f"closed {fds}: exit status {found.status}")
        return wrong


class Result:
    """What a run left."""

    def __init__(self, case, here, done, hit, faults):
        self.case, self.status, self.hit, self.faults = case, done.returncode, hit, faults
        self.said = done.stderr.decode(errors="replace")
        self.out = (here / "stdout").read_bytes()
        kept = here / case.writes if case.writes else None
        self.kept = kept.read_bytes() if kept and kept.exists() else None
        self.left = sorted(p.name for p in here.iterdir()
                           if not p.is_symlink() and p.name not in ("stdout", case.writes))

    def whole(self):
        """The file written, without what tells the time."""
        if self.kept is None or not self.case.torn_may:
            return self.kept
        return b"".join(row for row in self.kept.splitlines(True) if b"begun=" not in row)

    def sound(self, other):
        """What holds whatever fails."""
        if other.status < 0:
            return f"ended by signal {-other.status}: {other.said}"
        if other.left != self.left:
            return f"left behind {other.left}"
        if other.status == ANSWER and (other.out != self.out or other.whole() != self.whole()):
            return "success, but what was written differs: " + other.said
        return None

    def same(self, other):
        if other.status != self.status:
            return f"exit status {other.status}, not {self.status}: {other.said}"
        if other.said != self.said:
            return f"said {other.said!r}, not {self.said!r}"
        if other.out != self.out:
            return "standard output differs"
        if other.whole() != self.whole():
            return "the file differs"
        return self.sound(other)

    def told(self, other, how, where):
        """After a failure that can't be got over."""
        wrong = self.sound(other)
        if wrong or other.status == ANSWER:
            return wrong
        if other.status != TROUBLE:
            return f"exit status {other.status}: {other.said}"
        name = {"fd1": "standard output", "fd0": "standard input",
                "pipe:*": "rsvg-convert"}.get(where, where.strip("*/"))
        if where == "fd1" and not self.out.startswith(other.out):
            return "something was written behind a gap"
        told = [line for line in other.said.splitlines() if name in line or
                (name == "standard input" and "'-'" in line)]
        reasons = REASON[how] if name != "rsvg-convert" else ("failed",)
        if not any(reason in line for line in told for reason in reasons):
            return f"said {other.said!r}"
        return None if where == "fd1" and self.case.beside else self.file_after(other)

    def file_after(self, other):
        """The output file of a command that failed."""
        case = self.case
        if case.writes is None or other.whole() == self.whole():
            return None
        if case.torn_may:  # a recording: what is in it is rows from its beginning, in order
            return other.recording_after(self)
        before = OLD if case.there is OLD else \
            (sweep.inputs / case.there).read_bytes() if case.there else None
        if other.kept != before:
            return f"left {other.kept!r:.80} under the final name"
        return None

    def recording_after(self, plain):
        kept, all_rows = self.whole(), plain.whole()
        if kept is None or (self.case.there is OLD and kept in (OLD, b"")):
            return None
        # A line that was cut where reading failed is damage, and the end stands last.
        rows, wanted = kept.split(b"\r\n"), all_rows.split(b"\r\n")
        body = [r for r in rows[:-1] if not r.startswith(b"end,")]
        if body and body[-1].startswith(b"damage,"):
            body.pop()
        if body != wanted[: len(body)]:
            return "the recording's rows aren't those that came"
        return None

    def killed(self, other):
        case = self.case
        if other.status != -signal.SIGKILL:
            return f"exit status {other.status}, not killed"
        if any(not name.startswith(case.writes + ".") for name in other.left):
            return f"left behind {other.left}"
        if case.there and case.there is not OLD:  # rows appended
            before = (sweep.inputs / case.there).read_bytes()
            good = other.kept.startswith(before) and self.kept.startswith(other.kept)
            return None if good else "what was there was changed"
        if case.torn_may:
            return other.recording_after(self)
        return None if other.kept in (self.kept, OLD if case.there else None) else "cut"

    def memory(self, other):
        wrong = self.sound(other)
        if wrong or other.status == ANSWER:
            return wrong
        said = other.said.lower()
        if other.status not in (TROUBLE,) or "memory" not in said:
            return f"exit status {other.status}, said {other.said!r}"
        return self.file_after(other)


def main():
    global sweep
    wanted = sys.argv[3:]
    program, shim = (pathlib.Path(path).resolve() for path in (sys.argv[1], sys.argv[2]))
    # In memory: nothing here tests a disk, and thousands of syncs take their time on one.
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    folder = pathlib.Path(tempfile.mkdtemp(prefix="airleash-fault-", dir=memory))
    sweep = Sweep(program, shim, folder)
    cases = [c for c in CASES + ([PNG] if shutil.which("rsvg-convert") else []) if not wanted or c.name in wanted]
    wrong = []
    try:
        sweep.lay_out()
        with concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
            for found in pool.map(sweep.one, cases):
                wrong += found
        wrong += sweep.closed()
        # A sweep that hit nothing would pass for the wrong reason.
        if sweep.runs < 20:
            wrong.append(f"only {sweep.runs} runs")
    finally:
        shutil.rmtree(folder)
    print(f"{sweep.runs} runs, {len(wrong)} wrong")
    for line in wrong:
        print(line)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
