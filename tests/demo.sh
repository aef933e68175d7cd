#!/bin/sh
# The main job on real wire traffic: a panel of simulated meters (an invented
# home) on TCP, RTU over TCP and a pseudo-terminal; meterbookd reads them;
# meterbook answers. In the middle the collector is killed and a meter goes
# silent. At the end the record is held against what really flowed.
#
# usage: [BUILD=build] [DEMO_SECONDS=170] tests/demo.sh
set -eu
seconds=${DEMO_SECONDS:-170}
top=$(cd "$(dirname "$0")/.." && pwd)
build=${BUILD:-build}
case $build in /*) ;; *) build=$top/$build ;; esac
place=/tmp/meterbook-demo
rm -rf "$place"
mkdir -p "$place"
panel='' daemon=''
finish() {
    [ -z "$daemon" ] || kill "$daemon" 2>/dev/null || true
    [ -z "$panel" ] || kill "$panel" 2>/dev/null || true
    wait 2>/dev/null || true
}
trap finish EXIT
trap 'exit 1' INT TERM

say() { printf '\n== %s\n' "$*"; }
ask() { "$build/meterbook" -c "$top/config/demo.conf" "$@"; }
start_daemon() {
    "$build/meterbookd" -c "$top/config/demo.conf" >>"$place/meterbookd.log" 2>&1 &
    daemon=$!
}

say "the plan: what this configuration can answer, and what it asks the meters"
"$build/meterbookd" -n -c "$top/config/demo.conf"

say "the panel: an invented home; a June day passes in about three minutes, power and counters in true size"
"$build/meterbook-panel" --link "roof=$place/roof" --start 04:30 --scene 400 --truth "$place/truth.csv" --truth-every 10 \
    "$top/config/demo-panel.conf" >"$place/panel.out" 2>"$place/panel.err" &
panel=$!
tries=0
until grep -q '^ready' "$place/panel.out"; do
    tries=$((tries + 1))
    if [ "$tries" -gt 100 ] || ! kill -0 "$panel" 2>/dev/null; then
        cat "$place/panel.err" >&2
        echo "the panel did not start" >&2
        exit 1
    fi
    sleep 0.1
done
cat "$place/panel.out"

say "the collector reads it, once a second, intervals of 10 s"
start_daemon
sleep $((seconds / 3))
ask now

say "the collector is killed without warning (kill -9) and started again 8 s later: energy is not lost, only shape"
kill -9 "$daemon"
wait "$daemon" 2>/dev/null || true
daemon=''
sleep 8
start_daemon
sleep $((seconds / 3))
ask now

sleep $((seconds / 3))
say "the day so far, by intervals"
ask day --by interval --bars always
say "the same for other programs"
ask --format json day | tail -n 32

say "what the collector had to say"
kill "$daemon"
wait "$daemon" || true
daemon=''
cat "$place/meterbookd.log"

say "the record in the stock sqlite3 shell"
sqlite3 -header -column "$place/record.db" \
    'SELECT start_utc, name, import_kwh, export_kwh, estimated_kwh, power_w, voltage_v FROM interval_kwh ORDER BY start_utc DESC, meter LIMIT 5'

say "the record against the truth that the meters know (mWh; allowed: one step of the register)"
kill "$panel"
wait "$panel" || true
panel=''
sqlite3 -cmd ".import --csv $place/truth.csv truth" -header -column "$place/record.db" <"$top/tests/demo_truth.sql" | tee "$place/verdict"
! grep -q 'WRONG' "$place/verdict"
