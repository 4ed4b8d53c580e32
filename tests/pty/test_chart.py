#!/usr/bin/python3
"""The chart command end to end: files of the right kind, equal ones for equal recordings, and
nothing left behind.

usage: test_chart.py AIRLEASH FIXTURES EXPECTED [rebuild]

PNG and PDF are tried where rsvg-convert is installed.  EXPECTED holds the pictures of some fixtures as
characters, one file each, looked at when they were made; `rebuild` writes them anew.

What is right: SVG is XML that Python's expat reads; a PNG begins with its signature and IHDR (PNG
specification, 5.2 and 11.2.2), and its pixels inflate to as many bytes as its head says; a PDF
begins with %PDF and ends with %%EOF (ISO 32000-1, 7.5.2 and 7.5.5).
"""
import csv
import os
import pathlib
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as tree
import zlib

ANSWER, USAGE, TROUBLE = 0, 2, 3
SVG = "{http://www.w3.org/2000/svg}"
WHATS = ("loss", "channels", "supply", "outages", "band")
EXPECTED = (("failsafe", "loss", []), ("busy", "loss", ["--ascii"]), ("busy", "outages", []),
            ("weak", "supply", []), ("survey", "band", []), ("damaged", "loss", []),
            ("bare", "channels", []),
            ("reduced", "walk", ["--switch", "6", "--plan", "2,4,6,8,10,12,16,20"]),
            ("reduced", "paper", ["--switch", "6", "--plan", "2,4,6,8,10,12,16,20", "--step", "1"]))

work = pathlib.Path(tempfile.mkdtemp(prefix="airleash-chart-"))


def check(good, *what):
    if not good:
        raise SystemExit("failed: " + " ".join(str(w) for w in what))


def run(*args, program=None, **more):
    return subprocess.run([program or airleash, *map(str, args)], stdin=subprocess.DEVNULL,
                          capture_output=True, timeout=120, cwd=work,
                          env=dict(os.environ, LC_ALL="C.UTF-8"), **more)


def expect(status, words, *args, **more):
    done = run(*args, **more)
    said = done.stderr.decode()
    check(done.returncode == status, args, "gave", done.returncode, "and said", said)
    check(words in said, args, "said", said, "without", words)
    return done


def drawn(name, what, ending, *more):
    out = work / f"{name}-{what}{''.join(more)}{ending}"
    run_ = run("chart", fixtures / f"{name}.log", "--what", what, "--out", out, "--force", *more)
    check(run_.returncode == ANSWER, what, ending, run_.returncode, run_.stderr.decode())
    return out.read_bytes()


def check_svg(data, what):
    root = tree.fromstring(data)
    check(root.tag == SVG + "svg", what, root.tag)
    check(root.find(SVG + "title").text and root.find(SVG + "desc").text, what, "has no title")
    names = set(root.get("aria-labelledby").split())
    check(names <= {e.get("id") for e in root.iter()}, what, "names ids that aren't there")
    check(any(e.text for e in root.iter(SVG + "text")), what, "has no text")
    check(b"http" not in data.replace(SVG[1:-1].encode(), b""), what, "asks for something")


def check_png(data, what):
    check(data[:8] == b"\x89PNG\r\n\x1a\n" and data[12:16] == b"IHDR", what, "is no PNG")
    width, height, depth, colour = struct.unpack(">IIBB", data[16:26])
    check(depth == 8 and colour in (2, 6), what, depth, colour)
    at, pixels = 8, b""
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at:at + 8])
        if kind == b"IDAT":
            pixels += data[at + 8:at + 8 + length]
        at += length + 12
    raw = zlib.decompress(pixels)
    check(len(raw) == height * ((3 if colour == 2 else 4) * width + 1), what, "has", len(raw), "bytes of pixels")
    check(len(set(raw)) > 20, what, "is blank")
    return width, height


def check_pdf(data, what):
    check(data.startswith(b"%PDF-1.") and data.rstrip().endswith(b"%%EOF"), what, "is no PDF")
    check(b"2000" in data, what, "has a date of its own")


def test_files():
    for what in WHATS:
        first = drawn("survey", what, ".svg")
        check_svg(first, what)
        check(first == drawn("survey", what, ".svg"), what, "differs from itself")
        check(drawn("survey", what, ".svg", "--dark") != first, what, "dark is light")
        if not shutil.which("rsvg-convert"):
            continue
        png = drawn("survey", what, ".png")
        wide = check_png(png, what)
        narrow = check_png(drawn("survey", what, ".png", "--narrow"), what)
        check(wide[0] == 1600 and narrow[0] == 720, what, wide, narrow)
        check(png == drawn("survey", what, ".png"), what, "PNG differs from itself")
        pdf = drawn("survey", what, ".pdf")
        check_pdf(pdf, what)
        if what == WHATS[0]:
            time.sleep(1.1)  # the next second: a date of now would differ
        check(pdf == drawn("survey", what, ".pdf"), what, "PDF differs from itself")


def test_roads():
    """The recording of a capture gives the picture of that capture, but for its name."""
    (work / "a").mkdir()
    (work / "b").mkdir()
    shutil.copy(fixtures / "failsafe.log", work / "a" / "pond")
    done = run("record", fixtures / "failsafe.log", "--out", work / "b" / "pond")
    check(done.returncode == ANSWER, done.stderr.decode())
    for what in ("loss", "supply", "outages"):
        for folder in "ab":
            expect(ANSWER, "", "chart", work / folder / "pond", "--what", what, "--out",
                   work / folder / "out.svg", "--force")
        check((work / "a/out.svg").read_bytes() == (work / "b/out.svg").read_bytes(), what,
              "differs by the road")


# The failsafe scene as a person would have gone along with it: report number, row.
TRIAL_ROWS = [(20, "begin"), (25, "answer=yes"), (25, "step=which"), (30, "answer=channel 2"),
              (30, "step=low"), (60, "step=raise"), (160, "step=off"), (255, "step=stay"),
              (365, "step=on"), (490, "step=lower"), (550, "end")]


def test_trials():
    plain, out = work / "plain.csv", work / "trial.csv"
    run("record", fixtures / "failsafe.log", "--out", plain)
    with open(plain, newline="") as file:
        table = list(csv.reader(file))
    rows, due = [], list(TRIAL_ROWS)
    for row in table:
        rows.append(row)
        while due and row[0] == "rx" and int(row[3]) >= due[0][0]:
            rows.append(["trial"] + [""] * (len(row) - 2) + ["failsafe " + due.pop(0)[1]])
    with open(out, "w", newline="") as file:
        csv.writer(file).writerows(rows)
    seen = run("chart", out)
    check(b"failsafe: " in seen.stdout and b"trials" in seen.stdout, seen.stdout.decode())
    for size in ([], ["--narrow"]):
        expect(ANSWER, "", "chart", out, "--what", "trials", "--out", work / "t.svg", "--force", *size)
        check_svg((work / "t.svg").read_bytes(), "trials")


def test_sets():
    a, b = fixtures / "busy.log", fixtures / "calm.log"
    expect(ANSWER, "", "chart", a, a, "--with", b, b, "--out", work / "sets.svg")
    check_svg((work / "sets.svg").read_bytes(), "compare")
    expect(USAGE, "--with", "chart", a, b)
    expect(USAGE, "--with", "chart", a, "--what", "compare")
    expect(USAGE, "--what", "chart", a, "--with", b, "--what", "loss")
    expect(USAGE, "before and after", "chart", a, "--with")


def test_refusals():
    log = fixtures / "calm.log"
    out = work / "kept.svg"
    out.write_text("mine")
    expect(TROUBLE, "--force", "chart", log, "--out", out)
    check(out.read_text() == "mine", "an existing file was touched")
    expect(ANSWER, "", "chart", log, "--out", out, "--force")
    check(out.read_text().startswith("<svg"), "--force didn't overwrite")
    expect(USAGE, ".svg, .png, .pdf", "chart", log, "--out", work / "x.gif")
    expect(USAGE, "loss", "chart", log, "--what", "weather")
    expect(TROUBLE, "folder", "chart", log, "--out", work / "none" / "x.svg")
    expect(TROUBLE, "no plain file", "chart", log, "--out", "/dev/null.svg" if
           pathlib.Path("/dev/null.svg").exists() else link_to_null())
    expect(TROUBLE, "there is no", "chart", work / "none.csv", "--out", work / "y.svg")
    check(not (work / "y.svg").exists(), "a picture of nothing was written")
    empty = work / "empty.log"
    empty.write_bytes(b"")
    done = run("chart", empty, "--out", work / "z.svg")
    check(done.returncode == TROUBLE and not (work / "z.svg").exists(), "drew an empty file")


def link_to_null():
    link = work / "null.svg"
    link.symlink_to("/dev/null")
    return link


def test_other_program():
    """rsvg-convert is not there, fails, or takes long."""
    alone = work / "alone"
    alone.mkdir()
    log = fixtures / "calm.log"
    path = os.environ["PATH"]
    os.environ["PATH"] = str(alone)
    for ending in (".png", ".pdf"):
        out = alone / ("x" + ending)
        expect(TROUBLE, "librsvg2-bin", "chart", log, "--out", out)
        check(not out.exists(), "left", out)
    expect(ANSWER, "", "chart", log, "--out", alone / "x.svg")
    other = alone / "rsvg-convert"
    other.write_text("#!/bin/sh\nexit 1\n")
    other.chmod(0o755)
    expect(TROUBLE, "rsvg-convert failed", "chart", log, "--out", alone / "x.png")
    other.write_text("#!/bin/sh\nexec /bin/sleep 60\n")
    process = subprocess.Popen([airleash, "chart", log, "--out", alone / "x.png"],
                               stderr=subprocess.PIPE, start_new_session=True)
    time.sleep(1)
    os.killpg(process.pid, signal.SIGINT)
    check(process.wait(timeout=30) != 0, "Ctrl-C gave an answer")
    check(sorted(p.name for p in alone.iterdir()) == ["rsvg-convert", "x.svg"],
          "left behind:", list(alone.iterdir()))
    os.environ["PATH"] = path


def test_terminal():
    for name, what, more in EXPECTED:
        done = run("chart", fixtures / f"{name}.log", "--what", what, *more)
        check(done.returncode == ANSWER, name, what, done.stderr.decode())
        path = expected / f"{name}-{what}.txt"
        if rebuild:
            path.write_bytes(done.stdout)
        check(path.read_bytes() == done.stdout, path, "differs:\n" + done.stdout.decode())
    plain = subprocess.run([airleash, "chart", fixtures / "busy.log"], capture_output=True,
                           env=dict(os.environ, LC_ALL="C"), timeout=60, check=True)
    check(plain.stdout.isascii() and len(plain.stdout) > 500, "not ASCII in the C locale")


def test_below_the_walk():
    """walk --all: its text as without, then the picture, which is chart's but for the file's name."""
    path = fixtures / "reduced.log"
    more = next(more for name, what, more in EXPECTED if what == "walk")
    text, both = run("walk", path, *more), run("walk", path, "--all", *more)
    lines = (expected / "reduced-walk.txt").read_bytes().splitlines(keepends=True)
    check(lines[1] == b"reduced.log\n", lines[1])
    check(both.stdout == text.stdout + b"\n" + lines[0] + b"".join(lines[2:]), both.stdout.decode())
    empty = run("walk", fixtures / "calm.log", "--all")
    check(empty.stdout == run("walk", fixtures / "calm.log").stdout, "a picture of no stop")


def main():
    tests = [test_files, test_roads, test_trials, test_sets, test_refusals, test_other_program, test_terminal,
             test_below_the_walk]
    for test in [test_terminal] if rebuild else tests:
        test()
        print("ok", test.__name__)
    shutil.rmtree(work)


airleash, fixtures, expected = (pathlib.Path(sys.argv[i]).resolve() for i in (1, 2, 3))
rebuild = sys.argv[4:] == ["rebuild"]
main()
