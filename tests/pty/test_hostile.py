#!/usr/bin/python3
"""Hostile bytes through every command that prints: on the wire, in recordings, model files and
baselines, in names of files and in arguments.

usage: test_hostile.py AIRLEASH [NAME...]

What may reach a terminal is judged by Python's tables of Unicode: characters that are seen where
they stand.  No controls (Cc: C0, DEL and C1), none that are unseen or turn what is around them
(Cf: zero width, bidirectional), no separators of lines (Zl, Zp), none without a meaning that two
terminals share (Cn, Co, Cs), no marks that pile up (Mn, Me), and no bytes that aren't UTF-8.
"""
import csv
import io
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import unicodedata
import xml.dom.minidom

UNFIT = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp", "Mn", "Me"}
ANSWER, FAILED, USAGE, TROUBLE = 0, 1, 2, 3
PATIENCE = 60  # seconds; only a broken program needs them

TRICKS = {
    "title": b"\x1b]0;owned\x07", "clear": b"\x1b[2J", "device control": b"\x1bP+q544e\x1b\\",
    "charset": b"\x1b(0\x0e\x0f", "C1": b"\x9b31m\x90q\x9c", "C1 in UTF-8": b"\xc2\x9b31m\xc2\x85",
    "right to left": b"\xe2\x80\xae\xd7\x90", "isolate": b"\xe2\x81\xa6x\xe2\x81\xa9",
    "zero width": b"\xe2\x80\x8b\xe2\x80\x8d", "byte order": b"\xef\xbb\xbf",
    "tower": b"e" + b"\xcc\x81" * 9, "enclosing": b"a\xe2\x83\x9d", "overlong": b"\xc0\xaf\xe0\x80\xaf",
    "surrogate": b"\xed\xa0\x80", "beyond": b"\xf4\x90\x80\x80", "private": b"\xee\x80\x80",
    "cut": b"\xe2\x82", "backspace": b"x\x08\x7f", "lines": b"\r\n\n\r", "pages": b"\x0b\x0c",
    "separators": b"\xe2\x80\xa8\xe2\x80\xa9", "format": b"%s%n%1000d", "soft hyphen": b"\xc2\xad",
    "tag": b"\xf3\xa0\x81\x81", "quotes": b"\"',;<>&\\", "umlaut": "\u00fc".encode(),
}
ALL = b"".join(TRICKS.values())
GOOD = "größe µ 日本 Ω".encode()  # no trick: what a person may well write

work = pathlib.Path(tempfile.mkdtemp(prefix="airleash-hostile-"))
program = "airleash"
found = {}  # what reached a terminal, once for each command and character


class Failed(Exception):
    pass


def check(good, *what):
    if not good:
        raise Failed(" ".join(str(w) for w in what))


def unfit(text):
    """Why these bytes may not go to a terminal, or None."""
    try:
        runes = text.decode("utf-8")
    except UnicodeDecodeError as error:
        return f"{error}: {text[max(0, error.start - 40):error.end + 20]!r}"
    for i, rune in enumerate(runes):
        if rune != "\n" and unicodedata.category(rune) in UNFIT:
            return f"U+{ord(rune):04X} in {runes[max(0, i - 40):i + 20]!r}"
    return None


def run(*args, stdin=b"", clean=True, **more):
    """Runs the program; what it said must be fit for a terminal."""
    done = subprocess.run([program, *(a if isinstance(a, bytes) else str(a).encode() for a in args)],
                          input=stdin, capture_output=True, cwd=work, timeout=PATIENCE, **more)
    check(done.returncode in (ANSWER, FAILED, USAGE, TROUBLE), args, "ended with", done.returncode,
          done.stderr[-2000:])
    for name, text in (("standard output", done.stdout), ("standard error", done.stderr)):
        why = unfit(text) if clean else None
        if why is not None:
            found.setdefault((args[0], name, why.split(" in ")[0]), f"{args} on {name} gave {why}")
    return done


def answer(*args, **more):
    """Runs with --json: one object of valid JSON in UTF-8."""
    done = run(*args, "--json", **more)
    if done.returncode in (ANSWER, FAILED):
        return json.loads(done.stdout.decode("utf-8"))
    return None


READING = [["figures"], ["figures", "--all"], ["causes"], ["walk"], ["judge"], ["chart"]]
TELLING = ["figures", "causes", "walk", "judge"]


def read_all(path, *more):
    """Every command that reads a recording or a capture."""
    for command in READING:
        run(*command, path, *more)
    for command in TELLING:
        told = answer(command, path, *more)
        check(told is not None, command, "has no answer of", path)
    run("chart", path, "--out", "picture.svg")
    xml.dom.minidom.parse(str(work / "picture.svg"))
    run("chart", path, "--ascii")
    run("compare", path, "--with", path, *more)
    answer("compare", path, "--with", path, *more)
    run("report", path, "--out", "-", *more, clean=False)  # test_report.py reads the page
    os.unlink(work / "picture.svg")


# --- names ----------------------------------------------------------------------------------------


def capture(scene="demo", seconds=60):
    return run("simulate", "--lines", "--fast", "--scene", scene, "--for", seconds, clean=False).stdout


def recording(name="good.csv"):
    if not (work / name).exists():
        run("record", "-", "--out", name, stdin=capture())
    return (work / name).read_bytes()


def names():
    """Names of files, as short as a folder wants them; each has a part of the tricks."""
    part = b"n"
    valid = [t for t in TRICKS.values() if as_text(t) is not None]
    for trick in valid + [t for t in TRICKS.values() if t not in valid]:
        if len(part) + len(trick) > 120:
            yield part
            part = b"n"
        part += trick.replace(b"/", b"|")
    yield part


def as_text(name):
    try:
        return name.decode("utf-8")
    except UnicodeDecodeError:
        return None


def test_names():
    data = recording()
    for name in names():
        path = name + b".csv"
        (work / os.fsdecode(path)).write_bytes(data)
        read_all(path)
        told = answer("figures", path)["file"]  # escaped, and yet the very name
        check(told == as_text(path), "figures --json tell", repr(told))
        run("stops", path, "--add", "30:25")
        run("record", "-", "--out", path, stdin=data)       # exists already
        run("model", path)
        run("budget", "--walk", path)
        run("compare", path, "--with", path, "--keep", b"k" + path)
        run("compare", b"k" + path, "--with", path)
        for place in (path, b"none/" + path, path + b"/x"):
            for command in READING + [["stops"], ["model"], ["replay"], ["watch"]]:
                run(*command, b"missing" + place)
            run("figures", path, "--model", b"missing" + place)
            run("judge", path, "--other", b"missing" + place)
            run("record", path, "--out", b"none/" + place)
            run("chart", path, "--out", b"none/" + place + b".svg")
            run("chart", path, "--out", b"none/" + place)   # no picture's name
            run("report", path, "--out", b"none/" + place)
            run("simulate", "--lines", "--fast", "--truth", b"none/" + place, "--for", 1)


def test_good_names():
    """What a person may well write is said as it was written."""
    name = b"tug " + GOOD + b".csv"
    (work / os.fsdecode(name)).write_bytes(recording())
    check(name in run("figures", name).stdout, "figures tell another name")
    check(answer("figures", name)["file"].encode() == name, "figures --json tell another name")
    check(b"missing " + name in run("figures", b"missing " + name).stderr, "another name in a message")


def chains(first, last):
    """Paths that hold each character from first to last once, in names of at most 240 bytes."""
    path, name = [], b""
    for code in range(first, last + 1):
        rune = chr(code).encode("utf-8", "surrogatepass")
        if code in (0, 0x2F) or 0xD800 <= code <= 0xDFFF:
            continue
        if len(name) + len(rune) > 240:
            path, name = path + [name], b""
            if len(path) == 14:
                yield b"/".join(path)
                path = []
        name += rune
    yield b"/".join([*path, name])


def test_every_character():
    """Against Python's tables: what is unfit is escaped in JSON, what belongs to a script is not."""
    log = capture(seconds=1)
    marks = [(0x300, 0x36F), (0x483, 0x489), (0x1AB0, 0x1AFF), (0x1DC0, 0x1DFF), (0x20D0, 0x20FF),
             (0xFE00, 0xFE0F), (0xFE20, 0xFE2F), (0x180B, 0x180F), (0x115F, 0x1160), (0x3164, 0x3164),
             (0xFFA0, 0xFFA0), (0xE0000, 0xE0FFF)]
    for first, last in ((1, 0xFFFF), (0x10000, 0x1FFFF), (0xE0000, 0xE0FFF), (0x10FF00, 0x10FFFF)):
        for chain in chains(first, last):
            folder = work / os.fsdecode(chain)
            folder.mkdir(parents=True)
            (folder / "x.log").write_bytes(log)
            text = run("figures", chain + b"/x.log", "--json", clean=False).stdout.decode("utf-8")
            raw = set(text)
            check(json.loads(text)["file"] == chain.decode() + "/x.log", "another name of", chain)
            for rune in set(chain.decode()) - set("\"\\"):
                kind = unicodedata.category(rune)
                piles = any(a <= ord(rune) <= b for a, b in marks)
                if piles or kind in UNFIT - {"Cn", "Mn", "Me"}:
                    check(rune not in raw or rune == "\n", f"U+{ord(rune):04X} stands raw")
                elif kind != "Cn":
                    check(rune in raw, f"U+{ord(rune):04X}, {kind}, is kept from view")


# --- arguments ------------------------------------------------------------------------------------


def test_arguments():
    for trick in [*names(), b"9" * 4000, b"-" + b"9" * 400 + b"e999", b"=1+1"]:
        run(trick)
        run(b"--" + trick)
        run("help", trick)
        run("completion", trick)
        run("sketch", trick)
        run("figures", b"-" + trick, "good.csv")
        run("figures", b"--" + trick + b"=" + trick, "good.csv")
        for option in ("speed", "rate", "for", "until", "with", "plan"):
            run("record", "good.csv", "--out", "x.csv", b"--" + option.encode() + b"=" + trick)
        for option in ("pace", "from"):
            run("replay", "good.csv", b"--" + option.encode() + b"=" + trick)
        for option in ("scene", "seed", "for"):
            run("simulate", b"--" + option.encode() + b"=" + trick, "--lines", "--fast", "--truth", "/")
        for option in ("only",):
            run("figures", b"--" + option.encode() + b"=" + trick, "good.csv")
        for option in ("limit", "other"):
            run("judge", b"--" + option.encode() + b"=" + trick, "good.csv")
        for option in ("add", "move", "strike"):
            run("stops", b"--" + option.encode() + b"=" + trick, "good.csv")
        run("chart", b"--what=" + trick, "good.csv")
        run("walk", b"--switch=" + trick, "good.csv")
        run("budget", b"--mhz=" + trick)


# --- the wire -------------------------------------------------------------------------------------


def wire():
    """Lines of all kinds with tricks where a text can stand, and tricks alone."""
    out = [b"id end=rx fw=tug rate=50 unit=us seqmod=256"]
    for i, trick in enumerate(list(TRICKS.values()) + [ALL, b"\0" * 9, b"9" * 300]):
        out += [b"rx n=%d t=%d ch=1500,1320 got=%d lost=0 age=3 pat=oo" % (i + 1, 50 * i + 50, 2 * i + 2),
                b"say " + trick, b"id fw=" + trick, b"id end=" + trick, b"boot cause=" + trick,
                trick, b"rx " + trick + b"=5", b"rx ch=1500 key=" + trick, trick + b" key=5",
                b"rudder" + trick + b":1500 x:5", b"rx ch=" + trick, b"rx ch=1500 reg=" + trick,
                trick * 40]
    return out


def test_wire():
    for name, end in (("lf", b"\n"), ("crlf", b"\r\n"), ("cr", b"\r"), ("nul", b"\0\n")):
        path = f"wire-{name}.log"
        (work / path).write_bytes(end.join(wire()) + end)
        run("record", path, "--out", f"wire-{name}.csv")
        if name in ("lf", "crlf"):
            read_all(path)
            read_all(f"wire-{name}.csv")
        for command in READING:
            run(*command, path)
        run("model", path)
        text = (work / f"wire-{name}.csv").read_bytes()
        bad = set(text) - set(range(0x20, 0x7F)) - {0x0D, 0x0A}
        check(not bad, "bytes in a recording of lines:", bad)


def test_wire_on_every_command():
    """Only say lines, which are well-formed and free text: printable ASCII by contract."""
    data = b"".join(b"say \x1b[2J%d\nrx n=%d t=%d ch=1500 got=%d\n" % (i, i, 50 * i, i)
                    for i in range(1, 50))
    for command in READING:
        run(*command, "-", stdin=data)


def test_keys():
    """Ten thousand keys that nobody knows: counted, kept in the recording, and no memory."""
    data = b"".join(b"rx n=%d t=%d ch=1500 k%d=%d\n" % (i, i * 50, i, i) for i in range(1, 10001))
    run("record", "-", "--out", "keys.csv", stdin=data)
    for path in ("-", "keys.csv"):
        told = answer("figures", path, stdin=data)
        check(told["lines"]["unknown_keys"] == 10000, told["lines"])
        check(told["lines"]["good"] == 10000, told["lines"])
    kept = [row["note"] for row in csv.DictReader(io.StringIO((work / "keys.csv").read_text()))
            if row["kind"] == "rx"]
    check(kept == [f"k{i}={i}" for i in range(1, 10001)], "not every key was kept")


def test_formulas():
    """A note that a spreadsheet would take for a formula, or swallow, gets an apostrophe; taken off
    again, it is what stood on the wire."""
    texts = ["=1+1", "+1", "-1", "@SUM(A1)", "'quoted", "''", "=cmd|' /C calc'!A0", "plain", "\"=1\"",
             "a,=1", "-", "--help", "=HYPERLINK(\"http://x\")"]
    data = "".join(f"say {text}\n" for text in texts).encode()
    run("record", "-", "--out", "formulas.csv", stdin=data)
    with open(work / "formulas.csv", newline="") as file:
        fields = [row for row in csv.reader(file)]
    said = [row[-1] for row in fields if row[0] == "say"]
    check(len(said) == len(texts), "rows:", said)
    for text, note in zip(texts, said):
        check(note[:1] not in ("=", "+", "-", "@", "\t", "\r") and note.removeprefix("'") == text,
              text, "became", note)
    for row in fields:
        for field in row[:-1]:
            number = field.removeprefix("-").replace(".", "").isdigit()
            check(number or field[:1] not in ("=", "+", "-", "@", "\t"), "a field begins a formula:", field)
    # Read again by the program, it is what was said.
    run("record", "formulas.csv", "--out", "never.csv")
    for path, given in (("formulas.csv", b""), ("-", data)):
        lines = answer("figures", path, stdin=given)["lines"]
        check(lines["good"] == len(texts), lines)


# --- recordings, model files, baselines ------------------------------------------------------------------


def quoted(note):
    return b'"' + note.replace(b'"', b'""') + b'"'


def test_notes():
    """Rows that somebody else wrote: every kind with every trick in its note."""
    good = recording()
    header, *rows = good.split(b"\r\n")[:-1]
    commas = header.count(b",")
    ahead, after = rows[:40], rows[40:]
    strange = []
    for trick in list(TRICKS.values()) + [ALL]:
        for kind in (b"about", b"id", b"boot", b"air", b"say", b"other", b"trial", b"mark", b"damage",
                     b"port", b"end", b"rx", trick):
            for note in (trick, b"card.model.name=" + trick, b"facing=" + trick, b"text=" + trick,
                         b"failsafe step=" + trick, b"fw=" + trick, b"checksum: " + trick,
                         b"port=" + trick, b"names=" + trick, trick + b"=1"):
                strange.append(kind + b"," * commas + quoted(note))
        strange.append(b"rx," + trick + b"," * (commas - 1))
    for name, lines in (("middle", ahead + strange + after), ("marks", ahead + [
            b"mark" + b"," * commas + quoted(b"facing=" + t) for t in TRICKS.values()] + [
            b"mark" + b"," * commas + quoted(b"text=" + t) for t in TRICKS.values()] + after)):
        path = f"notes-{name}.csv"
        (work / path).write_bytes(b"\r\n".join([header, *lines]) + b"\r\n")
        read_all(path)
        run("stops", path)
        run("stops", path, "--add", "10:5")
    (work / "header.csv").write_bytes(header + ALL + b"\r\n" + b"\r\n".join(rows))
    for command in READING:
        run(*command, "header.csv")


def test_cards():
    recording()
    cards = [b"[model]\nname=" + ALL + b"\n"]
    for trick in TRICKS.values():
        cards += [b"[model]\nname = " + trick + b"\n", b"[channel 1]\nname=" + trick + b"\n",
                  b"[" + trick + b"]\nx=1\n", b"[model]\n" + trick + b"=1\n", trick,
                  b"[link]\nrate=" + trick + b"\n", b"[channel " + trick + b"]\nname=x\n",
                  b"[alarms]\nsupply_low_mv=" + trick + b"\n"]
    for model in cards:
        (work / "hostile.ini").write_bytes(model)
        run("figures", "good.csv", "--model", "hostile.ini")
    run("record", "good.csv", "--out", "x.csv", "--model", "hostile.ini")


def test_baselines():
    """What compare --keep wrote, with every trick in place of each value and at the end of lines."""
    recording()
    run("compare", "good.csv", "--keep", "kept.txt")
    lines = (work / "kept.txt").read_bytes().split(b"\n")
    texts = [i for i, line in enumerate(lines) if line.startswith((b"name ", b"begun ", b"evidence "))]
    check(len(texts) == 3, "another baseline than expected:", lines[:8])
    for trick in [*names(), b"9" * 400, b"-1", b"1e999", b"nan"]:
        for i in [0, 1, 6, 7, len(lines) - 2] + texts:
            for odd in (lines[i].partition(b" ")[0] + b" " + trick, lines[i] + trick, trick + lines[i]):
                (work / "odd.txt").write_bytes(b"\n".join(lines[:i] + [odd] + lines[i + 1:]))
                run("compare", "odd.txt", "--with", "good.csv")


def main():
    global program
    program = os.path.abspath(sys.argv[1])
    chosen = sys.argv[2:]
    os.environ.update(LC_ALL="C.UTF-8", HOME=str(work))
    faults = 0
    for name, test in list(globals().items()):
        if not name.startswith("test_") or (chosen and name[5:] not in chosen):
            continue
        try:
            found.clear()
            test()
            check(not found, "\n     ".join(found.values()))
            print("ok  ", name[5:], flush=True)
        except (Failed, subprocess.TimeoutExpired, ValueError) as why:
            print("FAIL", name[5:], why, flush=True)
            faults += 1
    subprocess.run(["rm", "-rf", str(work)], check=True)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
