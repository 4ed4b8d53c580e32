#!/usr/bin/env python3
"""What README.md says and a machine can check.

usage: readme.py AIRLEASH SOURCE_DIR

1. The first command installs just the packages that tests/packages names for the program.
2. Its example line has the right checksum, and the program takes it.
3. Each airleash command in its examples exists.
"""
import binascii
import pathlib
import re
import subprocess
import sys


def check_packages(readme, source):
    block = (source / "tests/packages").read_text().split("\n\n")[0]
    wanted = {line for line in block.splitlines() if not line.startswith("#")}
    command = re.search(r"<!-- first run -->\n```sh\n(.*)\n```", readme)[1]
    named = set(re.search(r"--no-install-recommends ([a-z0-9 .+-]+) &&", command)[1].split())
    if named != wanted:
        yield f"packages: the first command differs from tests/packages: {sorted(named ^ wanted)}"


def check_lines(readme, airleash):
    lines = re.findall(r"^(rx .*) \*([0-9A-F]{4})$", readme, re.M)
    if not lines:
        yield "there is no example line"
    for text, checksum in lines:
        if binascii.crc_hqx(text.encode(), 0xFFFF) != int(checksum, 16):
            yield f"wrong checksum: {text} *{checksum}"
        run = subprocess.run([airleash, "figures", "-"], input=f"{text} *{checksum}\n".encode(),
                             capture_output=True, check=False)
        if b"1 good, 0 damaged" not in run.stdout:
            yield f"the program refuses: {text} *{checksum}"


def check_commands(readme, airleash):
    shown = "\n".join(re.findall(r"```sh\n(.*?)```", readme, re.S))
    names = re.findall(r"^airleash ([a-z]+)", shown, re.M) + re.findall(r"`airleash ([a-z]+)", readme)
    for name in sorted(set(names)):
        if subprocess.run([airleash, name, "--help"], capture_output=True).returncode != 0:
            yield f"there is no command {name}"


def main():
    airleash, source = sys.argv[1], pathlib.Path(sys.argv[2])
    readme = (source / "README.md").read_text()
    faults = [*check_packages(readme, source), *check_lines(readme, airleash),
              *check_commands(readme, airleash)]
    for fault in faults:
        print("README.md:", fault)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
