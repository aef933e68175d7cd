#!/bin/sh
# The daemon against an independent Modbus implementation: pymodbus serves four
# meters, two over TCP and two over RTU on a pseudo-terminal. What the record
# holds must be what the peer counted, to the register unit, and nothing but
# reading functions may have come in. Takes about 40 s. Exit 77: skipped.
name=test_pymodbus
. "$(dirname "$0")/wire_lib.sh"
python=/usr/bin/python3
move=25 # s for which the counters move

$python -c 'import pymodbus, serial_asyncio' 2>/dev/null ||
    skip "no pymodbus here (Debian: python3-pymodbus, python3-serial-asyncio)"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"

begin "$work/peer" $python "$here/peer_pymodbus.py" $move
peer=$begun
wait_for 20 grep -qs '^ready' "$work/peer" || fail "the peer does not start: $(cat "$work/peer.err")"
port=$(sed -n 's/^tcp //p' "$work/peer")
tty=$(sed -n 's/^rtu //p' "$work/peer")
ready=$(sed -n 's/^ready //p' "$work/peer")

cat >"$work/meterbook.conf" <<END
site = { name = "peer"; time_zone = "Etc/UTC"; latitude = 0.0; longitude = 0.0;
         interval = 10; commit_every = 0; poll_period = 0.5; clock_trust = "battery"; };
record = { database = "$work/record.db"; runtime = "$work/run"; };
buses = ( { name = "lan"; kind = "tcp"; host = "127.0.0.1"; port = $port; },
          { name = "line"; kind = "rtu"; device = "$tty"; baud = 19200; parity = "none"; stop_bits = 2; listen = 0.0; } );
meters = (
  { number = 1; name = "float"; role = "grid"; bus = "lan"; unit_id = 1; rated_power = 200000; phases = 3;
    map = "$top/config/maps/three-phase-float.map"; },
  { number = 2; name = "inverter"; role = "part"; delivers = "export"; bus = "lan"; unit_id = 2; rated_power = 200000;
    map = "sunspec"; },
  { number = 11; name = "integer"; role = "branch"; bus = "line"; unit_id = 11; rated_power = 200000;
    map = "$top/config/maps/single-phase-integer.map"; },
  { number = 12; name = "meter"; role = "branch"; bus = "line"; unit_id = 12; rated_power = 200000; map = "sunspec"; } );
END
"$BUILD/meterbookd" -n -c "$work/meterbook.conf" >"$work/plan" 2>&1 || fail "configuration: $(cat "$work/plan")"
begin "$work/daemon" "$BUILD/meterbookd" -c "$work/meterbook.conf"
daemon=$begun

# A whole interval after the counters stood still, of every meter.
still=$(awk "BEGIN { print int(($ready + $move) / 10) * 10 + 10 }")
complete() {
    [ "$(query "SELECT count(*) FROM interval WHERE ts >= $still" 2>/dev/null || echo 0)" -ge 4 ]
}
wait_for 90 complete || fail "no rows after the counters stood still: $(cat "$work/daemon.err")"
end $daemon || fail "the daemon left with $?"
end $peer || fail "the peer left with $?"
processes=
cat "$work/peer"

bad=0
first=$(query "SELECT min(ts) FROM interval") # the one that the daemon started in
# total METER QUANTITY UNIT_MWH RATE (units a second)
total() {
    column=$2
    counter=0
    [ "$column" = import ] || counter=1
    counted=$(sed -n "s/^total $1 $2 [0-9]* //p" "$work/peer")
    booked=$(query "SELECT count(*) || ' ' || ((base + (SELECT sum($column) FROM interval WHERE meter = $1 AND ts >= base_s)) / $3)
                    FROM run WHERE meter = $1 AND counter = $counter")
    [ "$booked" = "1 $counted" ] || { echo "meter $1 $2: counted $counted, booked (runs, units) $booked"; bad=1; }
    # the intervals within the movement, each within a register step of the law
    wrong=$(query "SELECT group_concat($column) FROM interval WHERE meter = $1 AND ts > $first
                   AND ts + 10 <= $ready + $move AND abs($column - $4 * 10 * $3) > $3 * 1.1")
    [ -z "$wrong" ] || { echo "meter $1 $2: rows $wrong, counted $4 x $3 mWh a second"; bad=1; }
}
total 1 import 1000 7.0
total 1 export 1000 3.25
total 2 export 10000 0.9
total 11 import 10000 1.5
total 11 export 10000 0.7
total 12 import 100 21.0
total 12 export 100 11.0
within=$(query "SELECT count(*) FROM interval WHERE ts > $first AND ts + 10 <= $ready + $move")
[ "$within" -ge 4 ] || { echo "only $within rows within the movement"; bad=1; }
unobserved=$(query "SELECT coalesce(sum(unobserved), 0) || ' s, how ' || max(how) FROM interval WHERE ts > $first")
[ "$unobserved" = "0 s, how 0" ] || { echo "unobserved $unobserved"; bad=1; }
serials=$(query "SELECT group_concat(DISTINCT serial) FROM (SELECT serial FROM run ORDER BY meter)")
[ "$serials" = "7654321,PEER-2,PEER-11,PEER-12" ] || { echo "serial numbers: $serials"; bad=1; }

functions=$(sed -n 's/^functions //p' "$work/peer")
[ -n "$functions" ] || fail "the peer saw no function"
for entry in $functions; do
    case ${entry%%:*} in 1 | 2 | 3 | 4) ;; *) echo "function ${entry%%:*} was sent ${entry##*:} times"; bad=1 ;; esac
done
[ $bad = 0 ] || fail "record and peer differ"
echo "$name: 7 counters over TCP and RTU equal to the register unit; functions $functions"
