"""A small client of our own for the panel's run test; nothing but the standard library.

panel_client.py tcp|rtu-over-tcp HOST:PORT | rtu PATH  UNIT FUNCTION ADDRESS COUNT
prints the answer's PDU in hex, or "silent".
"""
import os
import select
import socket
import sys
import time
import tty


def crc(data):
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ 0xA001 if value & 1 else value >> 1
    return value.to_bytes(2, "little")


def main():
    kind, where, *numbers = sys.argv[1:]
    unit, function, address, count = map(int, numbers)
    pdu = bytes([function]) + address.to_bytes(2, "big") + count.to_bytes(2, "big")
    if kind == "tcp":
        frame = bytes([0, 9, 0, 0, 0, 6, unit]) + pdu
    else:
        frame = bytes([unit]) + pdu
        frame += crc(frame)
    if kind == "rtu":
        fd = os.open(where, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(fd)
    else:
        host, port = where.split(":")
        connection = socket.create_connection((host, int(port)))
        fd = connection.fileno()
    os.write(fd, frame)
    # the answer is over when nothing more comes for a while
    answer = b""
    while select.select([fd], [], [], 1.0 if not answer else 0.2)[0]:
        more = os.read(fd, 512)
        if not more:
            break
        answer += more
    if not answer:
        print("silent")
    elif kind == "tcp":
        assert answer[:2] == b"\0\x09" and int.from_bytes(answer[4:6], "big") == len(answer) - 6, answer.hex()
        print(answer[7:].hex())
    else:
        assert crc(answer[:-2]) == answer[-2:], answer.hex()
        print(answer[1:-2].hex())


main()
