#!/usr/bin/env python3
"""A fake USB serial port, /dev/ttyUSB0, for a program that runs under serial_shim.

As a module: Port(root) lays out its part of /dev and sysfs under root; plug, write, unplug.
As a command: serial_port.py --shim SHIM [--feed FILE] [--unplug] -- PROGRAM ...
  runs the program with the port plugged in, feeds it FILE once it has opened the port, unplugs
  the port after that if asked to, and ends with the program's exit status.

Nothing outside root is made but a pseudo-terminal.
"""
import argparse
import fcntl
import os
import pathlib
import select
import shutil
import struct
import subprocess
import sys
import tempfile
import termios
import time
import tty

NAME = "ttyUSB0"
USB = "pci0000:00/usb1/1-1"
STABLE = "usb-Pond_Yard_Tug_receiver_0007-if00-port0"
FACTS = {  # 1209:0001 is set aside by pid.codes for tests
    "busnum": "1", "devnum": "4", "idVendor": "1209", "idProduct": "0001",
    "manufacturer": "Pond Yard", "product": "Tug receiver", "serial": "0007",
}
DEADLINE = 20


def quiet_opener(path, flags):
    return os.open(path, flags | os.O_NOCTTY | os.O_NONBLOCK)


class Port:
    def __init__(self, root, facts=FACTS):
        self.root = pathlib.Path(root)
        self.master = None
        usb = self.root / "sys/devices" / USB
        self.node = usb / f"1-1:1.0/{NAME}/tty/{NAME}"
        self.node.mkdir(parents=True)
        (self.node / "device").symlink_to(f"../../../{NAME}")
        for name, value in facts.items():
            (usb / name).write_text(value + "\n", encoding="latin-1")
        for folder in "sys/class/tty", "sys/dev/char", "dev/serial/by-id":
            (self.root / folder).mkdir(parents=True)

    def environment(self, shim):
        preload = [str(shim)] + os.environ.get("LD_PRELOAD", "").split()
        # A sanitizer wants to be first in line, yet works from the second place.
        asan = os.environ.get("ASAN_OPTIONS", "")
        return dict(os.environ, SERIAL_SHIM_ROOT=str(self.root), LD_PRELOAD=" ".join(preload),
                    ASAN_OPTIONS=":".join(filter(None, [asan, "verify_asan_link_order=0"])))

    def links(self):
        """Place under root, and what it points to."""
        node = os.path.relpath(self.node, self.root / "sys/class/tty")
        return {
            f"dev/{NAME}": self.slave,
            f"dev/serial/by-id/{STABLE}": f"../../{NAME}",
            f"sys/class/tty/{NAME}": node,
            f"sys/dev/char/{os.major(self.number)}:{os.minor(self.number)}": node,
        }

    def plug(self):
        self.master, slave = os.openpty()
        self.slave = os.ttyname(slave)
        self.number = os.fstat(slave).st_rdev
        mode = termios.tcgetattr(slave)  # everything on that a receiver's lines can't bear
        mode[tty.IFLAG] |= termios.IXON | termios.IXOFF | termios.ICRNL | termios.ISTRIP
        mode[tty.CFLAG] |= termios.HUPCL | termios.CRTSCTS | termios.CSTOPB
        mode[tty.LFLAG] |= termios.ECHO | termios.ICANON
        termios.tcsetattr(slave, termios.TCSANOW, mode)
        os.close(slave)
        os.set_blocking(self.master, False)
        for place, target in self.links().items():
            (self.root / place).symlink_to(target)

    def unplug(self):
        for place in self.links():
            (self.root / place).unlink()
        os.close(self.master)
        self.master = None

    def mode(self):
        """The settings in force on the port, as termios.tcgetattr gives them."""
        return termios.tcgetattr(self.master)

    def is_open(self):
        poll = select.poll()
        poll.register(self.master, 0)
        return not any(event & select.POLLHUP for _, event in poll.poll(0))

    def unread(self):
        """Bytes that the reader has not taken yet."""
        with open(self.slave, "rb", buffering=0, opener=quiet_opener) as slave:
            return struct.unpack("i", fcntl.ioctl(slave, termios.FIONREAD, bytes(4)))[0]

    def write(self, data, deadline=DEADLINE):
        """Feeds all of data as fast as the reader takes it."""
        poll = select.poll()
        poll.register(self.master, select.POLLOUT)
        end = time.monotonic() + deadline
        while data:
            if not poll.poll(max(0, end - time.monotonic()) * 1000):
                raise TimeoutError(f"{len(data)} bytes not taken")
            try:
                data = data[os.write(self.master, data):]
            except BlockingIOError:
                pass

    def log(self):
        """What the shim noted: [what, on what, value]."""
        path = self.root / "log"
        return [line.split() for line in path.read_text().splitlines()] if path.exists() else []


def wait_until(condition, what, deadline=DEADLINE):
    end = time.monotonic() + deadline
    while not condition():
        if time.monotonic() > end:
            raise TimeoutError(what)
        time.sleep(0.005)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--shim", required=True)
    parser.add_argument("--feed")
    parser.add_argument("--unplug", action="store_true")
    parser.add_argument("program", nargs="+")
    options = parser.parse_args()
    root = tempfile.mkdtemp(prefix="serial-port-")
    try:
        port = Port(root)
        port.plug()
        child = subprocess.Popen(options.program, env=port.environment(options.shim))
        wait_until(lambda: port.is_open() or child.poll() is not None, "nobody opened the port")
        if options.feed and child.poll() is None:
            wait_until(lambda: not port.mode()[tty.LFLAG] & termios.ICANON, "the port isn't raw")
            port.write(pathlib.Path(options.feed).read_bytes())
        if options.unplug:
            wait_until(lambda: port.unread() == 0, "the reader left bytes")
            port.unplug()
        return child.wait()
    finally:
        shutil.rmtree(root)


if __name__ == "__main__":
    sys.exit(main())
