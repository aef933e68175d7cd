#!/usr/bin/python3
"""Meters on an independent Modbus implementation (pymodbus), for test_pymodbus.sh.

    peer_pymodbus.py MOVE_SECONDS

Serves, on a TCP port of 127.0.0.1 and as RTU on a pseudo-terminal:
    TCP unit 1   the map three-phase-float.map, counters in Wh
    TCP unit 2   a SunSpec chain at 40000: models 1, 103 and the end
    RTU unit 11  the map single-phase-integer.map, counters in 10 Wh
    RTU unit 12  a SunSpec chain at 40000: models 1, 203 and the end
Counters rise at a constant rate for MOVE_SECONDS from the line "ready" on and
then stand still. Lines on standard output: "tcp PORT", "rtu PATH", "ready T0"
(UTC in seconds), and, on SIGTERM, "total METER QUANTITY UNITS" for each
counter and "functions CODE:COUNT ...": every function code that came in.
"""
import asyncio
import collections
import os
import pty
import signal
import struct
import sys
import time
import tty

from pymodbus.factory import ServerDecoder
from pymodbus.datastore import ModbusServerContext
from pymodbus.server.async_io import ModbusSerialServer, ModbusTcpServer

MOVE_SECONDS = float(sys.argv[1])
functions = collections.Counter()
start = time.time()


def elapsed():
    return min(max(time.time() - start, 0.0), MOVE_SECONDS)


def moving():
    return time.time() - start < MOVE_SECONDS


class Counter:
    """units(t) = first + floor(per_second * t)"""

    def __init__(self, first, per_second):
        self.first, self.per_second = first, per_second

    def units(self):
        return self.first + int(self.per_second * elapsed())

    def watts(self, wh_per_unit):
        return self.per_second * wh_per_unit * 3600 if moving() else 0


def words(data):
    return list(struct.unpack(f">{len(data) // 2}H", data))


def float_cdab(value):
    high, low = words(struct.pack(">f", value))
    return [low, high]


def text(value, registers):
    return words(value.encode().ljust(2 * registers, b"\0"))


class ThreePhaseFloat:
    function = 3
    counters = {"import": Counter(98_765_432_100, 7.0), "export": Counter(4_294_967_290, 3.25)}

    def registers(self):
        power = self.counters["import"].watts(1) - self.counters["export"].watts(1)
        image = {}
        for i, value in enumerate([230.1, 231.2, 229.3, 10.5, 11.5, 12.5, power / 3, power / 3, power / 3, power, 50.01]):
            put(image, 2 * i, float_cdab(value))
        for i, value in enumerate([self.counters["import"].units(), self.counters["export"].units(), 5, 6]):
            put(image, 100 + 4 * i, words(struct.pack(">Q", value)))
        put(image, 200, words(struct.pack(">I", 7654321)))
        return image


class SinglePhaseInteger:
    function = 4
    counters = {"import": Counter(4_000_000_000, 1.5), "export": Counter(12, 0.7)}

    def registers(self):
        power = int(self.counters["import"].watts(10) - self.counters["export"].watts(10))
        image = {}
        put(image, 0, words(struct.pack(">III", self.counters["import"].units(), self.counters["export"].units(), 99)))
        put(image, 6, [0, 0])
        put(image, 8, words(struct.pack(">iHHHh", power, 2301, 1050, 5001, 990)))
        put(image, 40, text("PEER-11", 16))
        return image


def common_model(serial):
    return [1, 66] + text("invented", 16) + text("peer", 16) + text("", 8) + text("1", 8) + text(serial, 16) + [1, 0x8000]


class SunSpecInverter:
    """Model 103: WH is an acc32 with scale factor 1, W has scale factor 1."""

    function = 3
    counters = {"export": Counter(123_456, 0.9)}

    def registers(self):
        body = [0xFFFF] * 50
        fields = {0: [120, 40, 40, 40, 0xFFFF], 8: [2300, 2310, 2290, 0xFFFF],
                  12: [int(self.counters["export"].watts(10)) // 10, 1, 5000, 0xFFFE, 0x8000, 0, 0x8000, 0, 0x8000, 0],
                  22: words(struct.pack(">I", self.counters["export"].units())) + [1],
                  25: [0xFFFF, 0, 0xFFFF, 0, 0x8000, 0, 0x8000, 0x8000, 0x8000, 0x8000, 0, 4]}
        for at, values in fields.items():
            body[at:at + len(values)] = values
        return chain(common_model("PEER-2"), [103, 50] + body)


class SunSpecMeter:
    """Model 203: energies are acc32 with scale factor -1 (0.1 Wh)."""

    function = 3
    counters = {"import": Counter(4_294_000_000, 21.0), "export": Counter(0, 11.0)}

    def registers(self):
        body = [0x8000] * 105
        power = self.counters["import"].watts(0.1) - self.counters["export"].watts(0.1)
        wide = {36: self.counters["export"].units(), 44: self.counters["import"].units()}
        fields = {0: [30, 10, 10, 10, 0], 5: [2301, 2301, 2302, 2300], 13: [0xFFFF, 5002, 0xFFFE], 16: [int(power)], 20: [0],
                  25: [0], 30: [0], 35: [0], 52: [0xFFFF], 69: [0], 103: [0, 0]}
        for at, values in fields.items():
            body[at:at + len(values)] = values
        for at, value in wide.items():
            body[at:at + 2] = words(struct.pack(">I", value))
        for at in (53, 55, 61, 63, 70, 86):  # energies that this meter does not count
            body[at:at + 2] = [0, 0]
        return chain(common_model("PEER-12"), [203, 105] + body)


def chain(*models):
    image = {}
    put(image, 40000, text("SunS", 2) + [word for model in models for word in model] + [0xFFFF, 0])
    return image


def put(image, address, values):
    for i, value in enumerate(values):
        image[address + i] = value


class Context:
    """What pymodbus asks of a slave: registers that do not exist are refused."""

    def __init__(self, meter):
        self.meter, self.image = meter, {}

    def validate(self, function, address, count=1):
        self.image = self.meter.registers()
        return function == self.meter.function and all(address + i in self.image for i in range(count))

    def getValues(self, _function, address, count=1):  # noqa: N802 - the library's name
        return [self.image[address + i] for i in range(count)]


class Decoder(ServerDecoder):
    """Counts every function code, known or not, before anything is done with it."""

    def decode(self, message):
        functions[message[0]] += 1
        return super().decode(message)


METERS = {1: ThreePhaseFloat(), 2: SunSpecInverter(), 11: SinglePhaseInteger(), 12: SunSpecMeter()}


def context(*units):
    return ModbusServerContext(slaves={unit: Context(METERS[unit]) for unit in units}, single=False)


def cross(loop):
    """Two pseudo-terminals joined by a cable; returns the paths of both ends."""
    ends = [pty.openpty(), pty.openpty()]
    for _master, slave in ends:
        tty.setraw(slave)

    def copy(source, drain):
        os.write(drain, os.read(source, 4096))

    for (source, _), (drain, _) in (ends, ends[::-1]):
        loop.add_reader(source, copy, source, drain)
    return [os.ttyname(slave) for _master, slave in ends]


async def main():
    global start
    loop = asyncio.get_running_loop()
    stop = asyncio.Event()
    loop.add_signal_handler(signal.SIGTERM, stop.set)

    tcp = ModbusTcpServer(context(1, 2), address=("127.0.0.1", 0))
    ours, theirs = cross(loop)
    rtu = ModbusSerialServer(context(11, 12), port=ours, baudrate=19200, stopbits=2)
    for server in tcp, rtu:
        server.decoder = Decoder()
    task = asyncio.create_task(tcp.serve_forever())
    await tcp.serving
    await rtu.start()
    print(f"tcp {tcp.server.sockets[0].getsockname()[1]}\nrtu {theirs}")
    start = time.time()
    print(f"ready {start:.3f}", flush=True)

    await stop.wait()
    for unit, meter in METERS.items():
        for name, counter in meter.counters.items():
            print(f"total {unit} {name} {counter.first} {counter.units()}")
    print("functions " + " ".join(f"{code}:{count}" for code, count in sorted(functions.items())), flush=True)
    task.cancel()


asyncio.run(main())
