#!/usr/bin/env python3
"""The house rules that a machine can check.

usage: layers.py SOURCE_DIR LIBRARY...

1. A folder of src/ includes only what its row below allows.
2. The objects of the pure folders ask for no I/O, no clock and no terminal.
3. No function body is longer than LINES_MAX lines.
"""
import pathlib
import re
import subprocess
import sys

MAY_INCLUDE = {
    "base": set(),
    "emit": set(),
    "telemetry": {"base"},
    "stat": {"base"},
    "radio": {"base"},
    "model": {"base"},
    "link": {"base", "telemetry", "stat"},
    "study": {"base", "telemetry", "stat", "radio", "link"},
    "causes": {"base", "telemetry", "stat", "radio", "link", "study"},
    "trial": {"base", "telemetry", "stat", "model", "link", "judge"},
    "judge": {"base", "telemetry", "stat", "model", "link", "trial"},
    "session": {"base", "telemetry"},
    "source": {"base"},
    "simulator": {"base", "emit"},
    "view": {"base", "telemetry", "stat", "radio", "link", "study", "causes", "trial", "judge"},
    "screen": {"base", "view"},
    "text": {"base", "telemetry", "stat", "radio", "model", "link", "study", "causes", "trial", "judge"},
    "json": {"base", "telemetry", "stat", "radio", "link", "study", "causes", "trial", "judge", "text"},
    "picture": {"base", "telemetry", "stat", "radio", "link", "study", "causes", "trial", "judge", "text"},
    "page": {"base", "telemetry", "stat", "radio", "link", "study", "causes", "trial", "judge", "text", "picture"},
    "board": {"emit"},
    "console": {"base", "telemetry", "stat", "radio", "model", "link", "study", "causes", "trial", "judge",
                "session", "source", "simulator", "view", "screen", "text", "picture", "app"},
    "app": {"base", "telemetry", "stat", "radio", "model", "link", "study", "causes", "trial", "judge",
            "session", "source", "simulator", "view", "text", "json", "picture", "page", "console"},
}
PURE = {"base", "emit", "telemetry", "stat", "radio", "model", "link", "study", "causes", "trial", "judge",
        "session", "simulator", "view", "text", "json", "picture", "page", "board"}
CURSES_ONLY_IN = "screen"
GSL_ONLY_IN = "stat"
LINES_MAX = 60

FORBIDDEN = set(
    "open openat creat close read write readv writev lseek poll ppoll select pselect ioctl fcntl "
    "stat fstat unlink rename opendir socket "
    "fopen fdopen freopen fread fwrite fclose fflush fgets fputs fputc fprintf vfprintf printf "
    "vprintf puts putchar perror stdin stdout stderr scanf fscanf getchar "
    "clock_gettime gettimeofday time nanosleep clock_nanosleep usleep sleep "
    "getenv setenv system fork vfork execl execv execve popen signal sigaction raise "
    "initscr newterm endwin doupdate wgetch".split())


def includes(root):
    for path in sorted(root.glob("src/**/*.[ch]")):
        folder = path.relative_to(root / "src").parts[0]
        for number, line in enumerate(path.read_text().splitlines(), 1):
            match = re.match(r'\s*#\s*include\s*([<"])([^>"]+)[>"]', line)
            if match:
                yield path.relative_to(root), folder, number, match.group(1), match.group(2)


def check_includes(root):
    for path, folder, number, kind, name in includes(root):
        if folder not in MAY_INCLUDE:
            yield f"{path}: folder {folder} has no row in tests/tools/layers.py"
        elif kind == '"':
            target = name.split("/")[0]
            if "/" not in name:
                yield f'{path}:{number}: "{name}": give its folder'
            elif target != folder and target not in MAY_INCLUDE[folder]:
                yield f"{path}:{number}: {folder}/ may not include {target}/"
        elif "curses" in name and folder != CURSES_ONLY_IN:
            yield f"{path}:{number}: only {CURSES_ONLY_IN}/ may include {name}"
        elif name.startswith("gsl/") and folder != GSL_ONLY_IN:
            yield f"{path}:{number}: only {GSL_ONLY_IN}/ may include {name}"


def check_symbols(libraries):
    seen = set()
    for library in libraries:
        folder = pathlib.Path(library).parent.name
        if folder not in PURE:
            continue
        seen.add(folder)
        listing = subprocess.run(["nm", "-u", library], check=True, capture_output=True, text=True)
        for line in listing.stdout.splitlines():
            name = line.split()[-1].split("@")[0] if line.strip() else ""
            name = re.sub(r"^(__isoc99_|__)?(\w+?)(_chk)?$", r"\2", name)
            if name in FORBIDDEN:
                yield f"{folder}/: its objects ask for {name}()"
    for folder in sorted(PURE - seen):
        yield f"{folder}/: no library of it was given to the check"


def check_lengths(root):
    """A function begins with a line at the left edge that has a parenthesis and no '='; its body
    lies between the next line that ends in '{' and the next '}' at the left edge."""
    for path in sorted(root.glob("src/**/*.c")):
        signature = body = None
        for number, line in enumerate(path.read_text().splitlines(), 1):
            if re.match(r"[A-Za-z_]", line):
                signature = number if "(" in line and "=" not in line else None
                body = None
            if signature and body is None:
                if line.endswith("{"):
                    body = number
                elif line.endswith(";"):
                    signature = None
            if line == "}" and body is not None:
                if number - body - 1 > LINES_MAX:
                    yield f"{path.relative_to(root)}:{body}: function of {number - body - 1} lines"
                signature = body = None


def main():
    root = pathlib.Path(sys.argv[1])
    faults = list(check_includes(root)) + list(check_symbols(sys.argv[2:]))
    faults += list(check_lengths(root))
    for fault in faults:
        print(fault)
    if not any(True for _ in includes(root)):
        print("no include was found: is the folder right?")
        return 1
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
