#!/usr/bin/python3
"""Runs whole commands under valgrind: no read of what was never written, no access beside a block,
no memory that nobody holds any more.

usage: memcheck.py VALGRIND AIRLEASH FIXTURES

Sanitizers don't see reads of uninitialised memory; that is what these runs are for.  An exit status
other than the command's own fails, and so does anything that valgrind says.
"""
import os
import pathlib
import pty
import select
import subprocess
import sys
import tempfile
import time

ANSWER, FAILED, USAGE, TROUBLE = range(4)
WRONG = 99  # what valgrind leaves with
PATIENCE_S = 120

work = pathlib.Path(tempfile.mkdtemp(prefix="airleash-memory-"))


def under(*args):
    return [valgrind, "--quiet", f"--error-exitcode={WRONG}", "--leak-check=full",
            "--show-leak-kinds=definite", "--errors-for-leak-kinds=definite",
            airleash, *map(str, args)]


def fail(args, what, said):
    raise SystemExit(f"airleash {' '.join(map(str, args))}: {what}\n{said}")


def run(status, *args):
    done = subprocess.run(under(*args), stdin=subprocess.DEVNULL, capture_output=True, cwd=work,
                          env=dict(os.environ, LC_ALL="C.UTF-8"), timeout=PATIENCE_S)
    said = done.stderr.decode(errors="replace")
    if done.returncode != status or "==" in said:
        fail(args, f"gave {done.returncode}, not {status}", said)
    return done.stdout


def console(keys, *args):
    """The console on a terminal of its own: waits for a page, presses keys, and for its end."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.environ.update(TERM="xterm", LC_ALL="C.UTF-8", LINES="24", COLUMNS="80")
        with open(work / "console.err", "w") as err:
            os.dup2(err.fileno(), 2)
        command = under(*args)
        os.execvp(command[0], command)
    seen, until, waiting = b"", time.monotonic() + PATIENCE_S, list(keys)
    while time.monotonic() < until:
        if waiting and seen and waiting[0][0] in seen:
            os.write(terminal, waiting.pop(0)[1])
            seen = b""
        if select.select([terminal], [], [], 1)[0]:
            try:
                block = os.read(terminal, 65536)
            except OSError:
                break
            if not block:
                break
            seen += block
    else:
        os.kill(pid, 9)
    status = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    said = (work / "console.err").read_text(errors="replace")
    if status != ANSWER or waiting or "==" in said:
        fail(args, f"gave {status}, keys left: {waiting}", said)


def main(fixtures):
    capture = fixtures / "weak.log"
    recording = work / "weak.csv"
    run(ANSWER, "record", capture, "--out", recording)
    lines = run(ANSWER, "simulate", "--lines", "--fast", "--scene", "walk", "--for", "60")
    (work / "walk.log").write_bytes(lines)
    (work / "text.log").write_bytes(b"hello\n" * 50)
    (work / "card.ini").write_bytes(run(ANSWER, "model", capture))
    walk = ["--switch", "6", "--plan", "2,4,6,8"]
    run(ANSWER, "figures", recording, "--all", "--model", work / "card.ini")
    run(ANSWER, "figures", fixtures / "damaged.log", "--json")
    run(ANSWER, "figures", recording, "--only", "loss,ends")
    run(ANSWER, "causes", capture)
    run(ANSWER, "causes", recording, "--json")
    run(ANSWER, "walk", work / "walk.log", *walk)
    run(ANSWER, "walk", work / "walk.log", *walk, "--json")
    run(ANSWER, "judge", recording, "--json", "--other", fixtures / "mismatch.log")
    run(ANSWER, "stops", recording, "--add", "2:10")
    run(ANSWER, "stops", recording)
    run(ANSWER, "compare", recording, "--keep", work / "a.base")
    run(ANSWER, "compare", work / "a.base", "--with", fixtures / "calm.log")
    run(ANSWER, "chart", recording)
    run(ANSWER, "chart", work / "walk.log", *walk, "--what", "walk", "--out", work / "walk.svg")
    run(ANSWER, "report", recording, "--out", work / "page.html")
    run(ANSWER, "budget", "--amplified", "--walked", "80")
    run(TROUBLE, "model", work / "text.log")
    run(TROUBLE, "replay", work / "none.csv")
    run(USAGE, "walk", "--plan", "x")
    console([(b"loss", b"?"), (b"quit", b"\x1b"), (b"", b"f"), (b"", b"q")],
            "replay", recording, "--pace", "0")


if __name__ == "__main__":
    valgrind, airleash = sys.argv[1], os.path.realpath(sys.argv[2])
    main(pathlib.Path(sys.argv[3]).resolve())
