#!/usr/bin/env python3
"""Counts a capture's packets, lines and restarts anew, in another language and another way, with
binascii.crc_hqx (Python's standard library: CRC-CCITT from 0xFFFF, the catalogue's CRC-16/IBM-3740)
for the checksums, and holds the expected figures against it.

usage: recount.py FIXTURES
"""
import binascii
import json
import pathlib
import re
import sys

WORDS = ("rx", "id", "boot", "air", "say")


def good_part(line):
    """The checked text of a line, or None."""
    match = re.fullmatch(rb"(.*) \*([0-9A-Fa-f]{4})", line)
    if not match:
        return None
    return match[1] if binascii.crc_hqx(match[1], 0xFFFF) == int(match[2], 16) else None


def parse(line):
    """(text, refused pieces) of one line of a stream whose lines all carry checksums."""
    text = good_part(line)
    if text is not None:
        return text, 0
    for match in re.finditer(rb"(?:rx|id|boot|air|say) ", line):
        if match.start() > 0 and good_part(line[match.start():]) is not None:
            return good_part(line[match.start():]), 1
    return None, 1


def recount(data):
    return recount_lines(data.split(b"\n")[:-1])


def recount_lines(lines):
    """Of lines without their LF; they need not be held at once."""
    count = dict(good=0, damaged=0, missing=0, got=0, lost=0, restarts=0, entries=0)
    last = None       # keys of the newest report
    fresh = False     # a boot began
    seen = False
    refused = 0       # since the newest report
    for line in lines:
        line = line.rstrip(b"\r")
        text, damaged = parse(line)
        count["damaged"] += damaged
        refused += damaged
        if text is None:
            continue
        count["good"] += 1
        word, *pairs = text.decode("ascii").split(" ")
        if word == "boot":
            count["restarts"] += 1 if seen else 0
            fresh, refused, seen = True, 0, True
            continue
        if word != "rx":
            continue
        keys = dict(pair.split("=", 1) for pair in pairs)
        if last is not None and not fresh and int(keys["t"]) < int(last["t"]):
            count["restarts"] += 1
            fresh = True
        seen = True
        pattern = keys.get("pat", "")
        if fresh or (last is None and keys["n"] == "1"):
            base = dict(got=0, lost=0, n=0, fsn=0)
        elif last is None:
            base = dict(got=int(keys["got"]) - pattern.count("o"),
                        lost=int(keys["lost"]) - pattern.count("x"),
                        n=int(keys["n"]) - 1, fsn=int(keys["fsn"]))
        else:
            base = {key: int(last[key]) for key in ("got", "lost", "n", "fsn")}
        count["got"] += int(keys["got"]) - base["got"]
        count["lost"] += int(keys["lost"]) - base["lost"]
        count["entries"] += int(keys["fsn"]) - base["fsn"]
        count["missing"] += max(0, int(keys["n"]) - base["n"] - 1 - refused)
        last, fresh, refused = keys, False, 0
    return count


def main():
    faults = compared = 0
    for log in sorted(pathlib.Path(sys.argv[1]).glob("*.log")):
        data = log.read_bytes()
        if b" *" not in data:
            continue  # bare numbers have nothing to count
        mine = recount(data)
        told = json.loads(log.with_suffix(".json").read_text())
        theirs = dict(good=told["lines"]["good"], damaged=told["lines"]["damaged"],
                      missing=told["lines"]["missing"], got=told["packets"]["got"],
                      lost=told["packets"]["lost"], restarts=told["restarts"]["receiver"],
                      entries=told["failsafe"]["entries"])
        theirs = {key: value or 0 for key, value in theirs.items()}
        compared += 1
        for key, value in mine.items():
            if value != theirs[key]:
                print(f"{log.name}: {key}: recounted {value}, figures say {theirs[key]}")
                faults += 1
    print(f"{compared} captures recounted, {faults} differences")
    return 1 if faults or not compared else 0


if __name__ == "__main__":
    sys.exit(main())
