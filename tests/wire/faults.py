"""The daemon against one fault scenario of the panel: its record must be the panel's truth, to the register unit.

faults.py BUILD WORK SCENARIO SECONDS [whole|part]
whole: all energy between the first and the last boundary is in the record.
part:  a reset or an exchange hides some; the record never holds more than flowed, nor a negative.
"""
import csv
import os
import re
import signal
import sqlite3
import subprocess
import sys
import time

INTERVAL = 10
MAP = "config/maps/"
# name in the panel's scenario: role, map, step of its register in mWh, further settings
METERS = {
    "grid": ("grid", MAP + "three-phase-float.map", 1000, "phases = 3;"),
    "production": ("production", MAP + "single-phase-integer.map", 10000, 'delivers = "export";'),
    "inverter": ("part", "sunspec", 1000, 'delivers = "export";'),
    "inverter that answers": ("part", "sunspec", 1000, 'delivers = "export";'),
}


def start(command, output):
    with open(output, "w") as file:
        return subprocess.Popen(command, stdout=file, stderr=subprocess.STDOUT)


def wait_for_line(path, pattern, seconds):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        with open(path) as file:
            found = re.search(pattern, file.read(), re.M)
        if found:
            return found
        time.sleep(0.05)
    sys.exit(f"{path}: no '{pattern}' within {seconds} s")


def configuration(work, scenario, address):
    top = os.getcwd()
    kind, where = address
    if kind == "rtu":
        bus = f'kind = "rtu"; device = "{where}"; baud = 9600; listen = 0.0;'
        if "echo" in scenario:
            bus += " echo = true;"
        if "foreign" in scenario:
            bus += " shared = true;"
    else:
        host, port = where.split(":")
        bus = f'kind = "{kind}"; host = "{host}"; port = {port};'
    meters = []
    with open(scenario) as file:
        for name, unit in re.findall(r'\{ name = "([^"]+)"; bus = "[^"]+"; unit_id = (\d+)', file.read()):
            role, registers, step, more = METERS[name]
            if name == "grid" and "plateau" in scenario:
                registers = "sunspec"
            if name == "grid" and "strict" in scenario:
                more += " max_registers = 8;"
            path = registers if registers == "sunspec" else os.path.join(top, registers)
            meters.append(f'{{ number = {unit}; name = "{name}"; role = "{role}"; bus = "b"; unit_id = {unit}; '
                          f'map = "{path}"; rated_power = 30000; {more} }}')
    path = os.path.join(work, "meterbook.conf")
    with open(path, "w") as file:
        file.write(f'site = {{ name = "fault"; time_zone = "Etc/UTC"; latitude = 47.5; longitude = 9.0; '
                   f'interval = {INTERVAL}; commit_every = 0; poll_period = 0.5; clock_trust = "battery"; }};\n'
                   f'record = {{ database = "{work}/record.db"; runtime = "{work}/run"; }};\n'
                   f'buses = ( {{ name = "b"; {bus} }} );\nmeters = (\n  ' + ",\n  ".join(meters) + "\n);\n")
    return path


def serial_buses(scenario):
    with open(scenario) as file:
        return re.findall(r'kind = "rtu"; name = "([^"]+)"', file.read())


def read_truth(path):
    truth = {}
    with open(path) as file:
        for row in csv.DictReader(file):
            truth.setdefault(row["meter"], {})[float(row["utc_s"])] = (int(row["import_mwh"]), int(row["export_mwh"]))
    return truth


def compare(record, truth, whole, plateau):
    names = dict(record.execute("SELECT DISTINCT meter, name FROM meter_setting"))
    bad = 0
    for meter, name in sorted(names.items()):
        if name not in truth:
            continue
        step = 16000 if plateau and name == "grid" else METERS[name][2]
        rows = record.execute("SELECT ts, import, export FROM interval WHERE meter = ? ORDER BY ts", (meter,)).fetchall()
        if len(rows) < 2:
            print(f"  {name}: only {len(rows)} rows")
            bad += 1
            continue
        first, last = rows[1][0], rows[-1][0] + INTERVAL  # the first row is cut by the start
        for column, direction in ((1, "import"), (2, "export")):
            if rows[0][column] is None:
                continue
            booked = sum(row[column] for row in rows[1:])
            flowed = truth[name][last][column - 1] - truth[name][first][column - 1]
            least = min(row[column] for row in rows)
            # within a step of the register at both ends, and what flows while an answer travels
            slack = step + 1000
            good = least >= 0 and booked <= flowed + slack and (not whole or booked >= flowed - slack)
            bad += not good
            print(f"  {name} {direction}: booked {booked}, flowed {flowed} mWh in {(last - first)} s, {len(rows)} rows"
                  f"{'' if good else '   WRONG'}")
    return bad


def main():
    build, work, scenario, seconds, *kind = sys.argv[1:]
    whole = kind != ["part"]
    os.makedirs(os.path.join(work, "run"), exist_ok=True)
    # a name of its own: the number of a terminal that was pulled out may be another's when it comes back
    names = [f"--link={bus}={work}/{bus}" for bus in serial_buses(scenario)]
    panel = start([build + "/meterbook-panel", "--truth", work + "/truth", "--truth-every", str(INTERVAL), "--log",
                   work + "/log", *names, scenario], work + "/panel")
    daemon = None
    try:
        wait_for_line(work + "/panel", "^ready$", 10)
        address = wait_for_line(work + "/panel", r"^bus \S+ (\S+) (\S+)$", 1).groups()
        path = configuration(work, scenario, address)
        daemon = start([build + "/meterbookd", "-c", path], work + "/daemon")
        # the panel's own clock decides: its truth has a line for each boundary
        time.sleep(float(seconds))
        if daemon.poll() is not None:
            sys.exit(f"the daemon left with {daemon.returncode}: {open(work + '/daemon').read()}")
    finally:
        for process in (daemon, panel):
            if process is not None:
                process.send_signal(signal.SIGTERM)
                process.wait(15)
    if panel.returncode != 0 or daemon.returncode != 0:
        sys.exit(f"the panel left with {panel.returncode}, the daemon with {daemon.returncode}")
    record = sqlite3.connect(f"file:{work}/record.db?mode=ro", uri=True)
    bad = compare(record, read_truth(work + "/truth"), whole, "plateau" in scenario)
    for at, what, text in record.execute("SELECT at_ms, kind, text FROM event ORDER BY id"):
        print(f"  event {what}: {text}"[:150])
    sys.exit(1 if bad else 0)


main()
