"""crc.py EMIT_LINES: checks the encoder's checksums with Python's own binascii.crc_hqx, which is
CRC-16 with polynomial 0x1021 (Python library reference, module binascii); begun with 0xFFFF it is
CRC-16/IBM-3740."""
import binascii
import re
import subprocess
import sys

COUNT = 20000
LINE = re.compile(rb"([ -~]+) \*([0-9A-F]{4})\r\n")


def main():
    assert binascii.crc_hqx(b"123456789", 0xFFFF) == 0x29B1  # CRC RevEng's check value
    out = subprocess.run([sys.argv[1], str(COUNT), "2025"], check=True, stdout=subprocess.PIPE)
    lines = out.stdout.splitlines(keepends=True)
    bad = 0
    for line in lines:
        parts = LINE.fullmatch(line)
        if not parts or binascii.crc_hqx(parts[1], 0xFFFF) != int(parts[2], 16):
            bad += 1
            print("wrong:", line)
    print(f"{len(lines)} lines, {len(out.stdout)} bytes, {bad} wrong")
    if bad or len(lines) != COUNT or len(set(lines)) < COUNT // 2:
        sys.exit(1)


main()
