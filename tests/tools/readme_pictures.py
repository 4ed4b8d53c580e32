#!/usr/bin/env python3
"""The pictures that README.md shows, out of the simulated receiver's scenes.

usage: readme_pictures.py AIRLEASH SCREEN FOLDER [check]

Writes them into FOLDER; with `check` says which of them differ from what would be written, or that
README.md above FOLDER shows none of them.
"""
import pathlib
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as tree

SCREENS = {"console.svg": ("demo", 120, 30, 100), "failsafe.svg": ("demo", 100, 24, 80)}
CHARTS = {"loss.svg": ("demo", "loss", []),
          "walk.svg": ("walk", "walk", ["--switch", "6", "--plan", "5,10,20,30,40,45,50,55,60,70"])}


def drawn(airleash, screen):
    for name, (scene, seconds, rows, columns) in SCREENS.items():
        yield name, subprocess.run(
            [screen, scene, str(seconds), str(rows), str(columns), "/dev/ttyUSB0"],
            check=True, capture_output=True).stdout
    with tempfile.TemporaryDirectory() as work:
        for name, (scene, what, more) in CHARTS.items():
            capture = pathlib.Path(work) / scene
            capture.write_bytes(subprocess.run(
                [airleash, "simulate", "--lines", "--fast", "--scene", scene], check=True,
                capture_output=True).stdout)
            out = pathlib.Path(work) / name
            subprocess.run([airleash, "chart", capture, "--what", what, "--out", out, *more],
                           check=True)
            yield name, out.read_bytes()


def main(airleash, screen, folder, check):
    faults = []
    folder.mkdir(parents=True, exist_ok=True)
    readme = (folder / "../../README.md").read_text()
    shown = set(re.findall(r"\(fixtures/pictures/([a-z]+\.svg)\)", readme))
    for name, data in drawn(airleash, screen):
        tree.fromstring(data)
        path = folder / name
        if not check:
            path.write_bytes(data)
        elif not path.exists() or path.read_bytes() != data:
            faults.append(f"{name} is not what the program draws: meson compile readme-pictures")
        elif name not in shown:
            faults.append(f"README.md doesn't show {name}")
        shown.discard(name)
    faults += [f"README.md shows {name}, which nobody draws" for name in shown if check]
    for fault in faults:
        print(fault)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2], pathlib.Path(sys.argv[3]).resolve(),
                  sys.argv[4:] == ["check"]))
