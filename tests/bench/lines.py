"""Loss and ends of raw lines with every checksum checked, as one would write it: lines.py FILE.log"""
import binascii
import sys


def main(path):
    arrived = missing = refused = before = got0 = lost0 = 0
    low, high = {}, {}
    with open(path, "rb") as file:
        for line in file:
            text, star, crc = line.rstrip(b"\r\n").rpartition(b" *")
            if not star or binascii.crc_hqx(text, 0xFFFF) != int(crc, 16):
                refused += 1
                continue
            word, *pairs = text.split(b" ")
            if word != b"rx":
                continue
            value = dict(pair.split(b"=", 1) for pair in pairs)
            n, got, lost = int(value[b"n"]), int(value[b"got"]), int(value[b"lost"])
            if n < before:
                got0 = lost0 = 0
            elif before == 0:
                got0, lost0 = got, lost
            arrived += got - got0
            missing += lost - lost0
            before, got0, lost0 = n, got, lost
            for i, text in enumerate(value[b"ch"].split(b","), 1):
                if text != b"-":
                    v = int(text)
                    low[i] = min(low.get(i, v), v)
                    high[i] = max(high.get(i, v), v)
    print(f"{arrived} got, {missing} lost, {refused} refused")
    for i in low:
        print(f"ch{i} {low[i]} {high[i]}")


main(sys.argv[1])
