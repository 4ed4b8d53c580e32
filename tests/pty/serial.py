#!/usr/bin/env python3
"""A serial port from listing to unplugging and back, through libserialport and the shim.

usage: serial.py SHIM PROBE

What an unplugged port does to libserialport was seen with a USB adapter emulated by QEMU 7.2
(poll IN|ERR|HUP, reads 0, input-waiting EIO); the shim's pseudo-terminal does the same.
"""
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import termios
import tty
import unittest

sys.dont_write_bytecode = True
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "tools"))
import serial_port  # noqa: E402

SHIM, PROBE = sys.argv.pop(1), sys.argv.pop(1)
DEVICE = "/dev/ttyUSB0"
STABLE = "/dev/serial/by-id/" + serial_port.STABLE


class Probe:
    def __init__(self, port, environment):
        self.process = subprocess.Popen([PROBE], text=True,
                                        env=dict(port.environment(SHIM), **environment),
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.pid = self.process.pid

    def tell(self, command):
        self.process.stdin.write(command + "\n")
        self.process.stdin.flush()

    def answer(self):
        line = self.process.stdout.readline()
        assert line, "the probe ended"
        return line.rstrip("\n")

    def ask(self, command):
        self.tell(command)
        return self.answer()

    def end(self):
        self.process.stdin.close()
        status = self.process.wait(serial_port.DEADLINE)
        self.process.stdout.close()
        return status


class Serial(unittest.TestCase):
    def make_port(self, **facts):
        root = tempfile.mkdtemp(prefix="serial-port-")
        self.addCleanup(shutil.rmtree, root)
        self.port = serial_port.Port(root, dict(serial_port.FACTS, **facts))
        self.port.plug()

    def setUp(self):
        self.make_port()
        self.probe = self.start()

    def start(self, **environment):
        probe = Probe(self.port, environment)
        self.addCleanup(lambda: self.assertEqual(probe.end(), 0))
        return probe

    def read_numbered(self, first, count):
        self.probe.tell(f"read {count}")
        self.port.write(b"".join(b"rx n=%d ch=1500\r\n" % n for n in range(first, first + count)))
        for n in range(first, first + count):
            self.assertEqual(self.probe.answer(), f"rx n={n} ch=1500")
        self.assertEqual(self.probe.answer(), f"read bytes {count}")

    def test_list_opens_nothing(self):
        self.assertEqual(self.probe.ask("list"),
                         f"port {STABLE} {DEVICE} 1209:0001 Tug receiver - 0007")
        self.assertEqual(self.probe.answer(), "listed 1")
        self.assertEqual(self.probe.ask(f"look {STABLE}"), "look ok serial restarts")
        self.assertEqual(self.port.log(), [])

    def test_identity_opens_nothing(self):
        for name in DEVICE, STABLE:
            self.assertEqual(self.probe.ask(f"identify {name}"), f"identity '0007' '{STABLE}'")
        self.assertEqual(self.port.log(), [])
        (self.port.root / STABLE[1:]).unlink()
        self.assertEqual(self.probe.ask(f"identify {DEVICE}"), "identity '0007' ''")
        (self.port.root / STABLE[1:]).symlink_to("../../ttyUSB0")
        self.port.unplug()
        self.assertEqual(self.probe.ask(f"identify {STABLE}"), "identity '' ''")

    def test_list_strange_description(self):
        self.make_port(product="T\xfcg\x1b[31m")
        probe = self.start()
        self.assertEqual(probe.ask("list"), f"port {STABLE} {DEVICE} 1209:0001 T?g?[31m - 0007")
        self.assertEqual(probe.answer(), "listed 1")

    def test_list_without_stable_name(self):
        (self.port.root / STABLE[1:]).rename(self.port.root / "dev/serial/elsewhere")
        self.assertEqual(self.probe.ask("list"),
                         f"port {DEVICE} {DEVICE} 1209:0001 Tug receiver - 0007")
        self.assertEqual(self.probe.answer(), "listed 1")
        (self.port.root / "dev/serial/by-path").mkdir()
        (self.port.root / "dev/serial/by-path/usb-0:1").symlink_to("../../ttyUSB0")
        self.assertTrue(self.probe.ask("list").startswith("port /dev/serial/by-path/usb-0:1 "))
        self.assertEqual(self.probe.answer(), "listed 1")

    def test_list_unplugged(self):
        self.port.unplug()
        self.assertEqual(self.probe.ask("list"), "listed 0")
        self.assertEqual(self.probe.ask(f"open {DEVICE} 115200"), "open missing 2 ")
        self.assertEqual(self.probe.ask(f"look {STABLE}"), "look missing pipe harmless")

    def test_settings(self):
        before = self.port.mode()
        self.assertTrue(before[tty.LFLAG] & termios.ICANON, "nothing to undo")
        self.assertEqual(self.probe.ask(f"open {DEVICE} 57600"), "open ok serial 57600")
        iflag, oflag, cflag, lflag, ispeed, ospeed, cc = self.port.mode()
        self.assertEqual(iflag & (termios.IXON | termios.IXOFF | termios.IXANY | termios.ICRNL
                                  | termios.INLCR | termios.IGNCR | termios.ISTRIP), 0)
        self.assertEqual(lflag & (termios.ICANON | termios.ECHO | termios.ISIG | termios.IEXTEN), 0)
        self.assertEqual(oflag & termios.OPOST, 0)
        self.assertEqual(cflag & (termios.HUPCL | termios.CRTSCTS | termios.CSTOPB
                                  | termios.PARENB), 0)
        self.assertEqual(cflag & termios.CSIZE, termios.CS8)
        self.assertEqual(ospeed, termios.B57600)
        self.assertEqual(self.probe.ask("speed 250000"), "speed ok 250000")
        self.assertEqual(self.port.mode()[tty.CFLAG] & (termios.HUPCL | termios.CRTSCTS), 0)
        self.assertEqual(self.probe.ask("speed 115200"), "speed ok 115200")
        self.assertEqual(self.port.mode()[tty.OSPEED], termios.B115200)
        # The kernel raised the lines; raising them again is no edge, lowering them would be.
        self.assertEqual([row for row in self.port.log() if row[0] in ("drop", "set")], [])

    def test_speed_beyond_the_chip(self):
        probe = self.start(SERIAL_SHIM_TOP_SPEED="230400")
        self.assertEqual(probe.ask(f"open {DEVICE} 500000"), "open speed 0 ")
        self.assertEqual(probe.ask(f"open {DEVICE} 230400"), "open ok serial 230400")
        self.assertEqual(probe.ask("speed 250000"), "speed speed 230400")  # 8 % off
        self.assertEqual(self.port.mode()[tty.OSPEED], termios.B230400)
        self.assertEqual(probe.ask("speed 235000"), "speed ok 235000")  # 2 % off

    def test_boot_loader_speed(self):
        self.assertEqual(self.probe.ask(f"open {DEVICE} 1200"), "open speed 0 ")
        self.assertEqual(self.port.log(), [], "refused only after opening")
        self.assertEqual(self.probe.ask(f"open {DEVICE} 9600"), "open ok serial 9600")
        self.assertEqual(self.probe.ask("speed 1200"), "speed speed 9600")
        self.assertEqual(self.port.mode()[tty.OSPEED], termios.B9600)

    def test_busy(self):
        self.assertEqual(self.probe.ask(f"open {DEVICE} 57600"), "open ok serial 57600")
        # Not seen by looking for other programs, only by the hold on the port itself.
        self.assertEqual(self.probe.ask(f"open {DEVICE} 9600"),
                         f"open busy 16 source_probe (pid {self.probe.pid})")
        other = self.start()
        opened = len(self.port.log())
        self.assertEqual(other.ask(f"open {STABLE} 9600"),
                         f"open busy 16 source_probe (pid {self.probe.pid})")
        self.assertEqual(len(self.port.log()), opened, "opened though it was busy")
        self.assertEqual(self.port.mode()[tty.OSPEED], termios.B57600)
        self.read_numbered(1, 20)
        self.assertEqual(self.probe.ask("close"), "closed")
        self.assertEqual(other.ask(f"open {STABLE} 9600"), "open ok serial 9600")

    def test_busy_without_lock(self):
        with open(self.port.slave, "rb", buffering=0, opener=serial_port.quiet_opener):
            self.assertRegex(self.probe.ask(f"open {DEVICE} 9600"),
                             rf"^open busy 16 .* \(pid {os.getpid()}\)$")
            self.assertEqual(self.port.log(), [])
        self.assertEqual(self.probe.ask(f"open {DEVICE} 9600"), "open ok serial 9600")

    def test_unplug_and_back(self):
        self.assertEqual(self.probe.ask(f"open {STABLE} 115200"), "open ok serial 115200")
        self.read_numbered(1, 200)
        self.probe.tell("read 1")
        self.port.unplug()
        self.assertEqual(self.probe.answer(), "read gone 0")
        self.assertEqual(self.probe.ask("read 1"), "read gone 0")
        self.assertEqual(self.probe.ask("close"), "closed")
        self.assertEqual(self.probe.ask(f"open {STABLE} 115200"), "open missing 2 ")
        self.port.plug()
        self.assertEqual(self.probe.ask(f"open {STABLE} 115200"), "open ok serial 115200")
        self.read_numbered(201, 200)


if __name__ == "__main__":
    unittest.main()
