#!/bin/sh
# Data entered while the daemon polls the panel's meters: years before its first
# row go in again and again, the daemon is killed meanwhile and fills its gap,
# which a file then refines. Its accounts come out with the panel's truth. About 40 s.
name=test_enter
. "$(dirname "$0")/wire_lib.sh"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"

begin "$work/panel" "$BUILD/meterbook-panel" --any-port --link "roof=$work/roof" --start 11:00 --scene 60 \
    --truth "$work/truth.csv" --truth-every 10 "$top/config/demo-panel.conf"
panel=$begun
wait_for 10 grep -q '^ready$' "$work/panel" || fail "no panel: $(cat "$work/panel.err")"
port() { sed -n "s/^bus $1 .*:\([0-9]*\)$/\1/p" "$work/panel"; }
cp -r "$top/config/maps" "$work/maps"
sed -e "s|/tmp/meterbook-demo/record.db|$work/record.db|" -e "s|/tmp/meterbook-demo/run|$work/run|" \
    -e "s|/tmp/meterbook-demo/roof|$work/roof|" -e "s|port = 15020|port = $(port panel)|" \
    -e "s|port = 15021|port = $(port cellar)|" "$top/config/demo.conf" >"$work/m.conf"
start() {
    begin "$work/log" "$BUILD/meterbookd" -c "$work/m.conf"
    meterbookd=$begun
}
has_rows() { [ "$(query "SELECT count(*) FROM interval WHERE (how & 15) < 4" 2>/dev/null || echo 0)" -ge "$1" ]; }
enter() {
    "$BUILD/meterbook" --database "$work/record.db" enter "$@" >"$work/out" 2>&1 || fail "enter $*: $(cat "$work/out")"
}
consistent() {
    wrong=$(query "SELECT count(*) FROM run WHERE began <> 'entered' AND ended IS NULL AND counter < 2 AND
        base + coalesce((SELECT sum(iif(counter, export, import)) FROM interval AS i WHERE i.meter = run.meter AND ts >= base_s), 0) IS NOT
        anchor + coalesce((SELECT sum(iif(counter, export, import)) FROM interval AS i WHERE i.meter = run.meter AND ts >= anchor_s), 0)")
    [ "$wrong" = 0 ] || fail "$wrong accounts do not balance"
    wrong=$(query "SELECT count(*) FROM day WHERE rows IS NOT (SELECT count(*) FROM interval AS i WHERE i.meter = day.meter AND ts >= from_s AND ts < to_s)
        OR import IS NOT (SELECT sum(import) FROM interval AS i WHERE i.meter = day.meter AND ts >= from_s AND ts < to_s)")
    [ "$wrong" = 0 ] || fail "$wrong days are not the sum of their rows"
}

start
wait_for 40 has_rows 5 || fail "no rows: $(cat "$work/log.err")"
meter=$(query "SELECT meter FROM run WHERE counter = 0 AND began <> 'entered' ORDER BY meter LIMIT 1")
live=$(query "SELECT min(base_s) FROM run WHERE meter = $meter AND began <> 'entered'")
[ "$(query "SELECT interval_s FROM setting")" = 10 ] || fail "the demo's interval is not 10 s"

# 60,000 rows before the first live one, in three transactions, while it commits
awk -v end="$live" -v meter="$meter" 'BEGIN { print "time," meter ".import[Wh]"
    for (i = 60000; i >= 0; i--) printf "%d %d\n", end - i * 10, 60000 - i }' >"$work/seconds"
{ head -n 1 "$work/seconds"
  tail -n +2 "$work/seconds" >"$work/rest"
  sqlite3 -cmd '.separator " "' -cmd 'CREATE TABLE b(t INTEGER, v TEXT)' -cmd ".import $work/rest b" :memory: \
      "SELECT strftime('%Y-%m-%dT%H:%M:%SZ', t, 'unixepoch') || ',' || v FROM b"
} >"$work/before.csv"
enter "$work/before.csv"
grep -q '60 000 new' "$work/out" || fail "not all went in: $(cat "$work/out")"
for i in 1 2 3; do
    enter "$work/before.csv"
    grep -q '60 000 as they stand' "$work/out" || fail "the second time: $(cat "$work/out")"
    [ $i != 2 ] || { kill -9 "$meterbookd"; wait "$meterbookd" 2>/dev/null; }
done
[ "$(query "SELECT sum(import) FROM interval WHERE meter = $meter AND ts < $live")" = 60000000 ] || fail "sum of what was entered"

# a gap of some intervals: the daemon fills it on its return, a file says better
sleep 20
now=$(query "SELECT count(*) FROM interval WHERE (how & 15) < 4")
start
wait_for 40 has_rows $((now + 20)) || fail "no rows after the kill: $(cat "$work/log.err")"
gap=$(query "SELECT count(*) FROM interval WHERE meter = $meter AND unobserved = 10 AND (how & 15) BETWEEN 1 AND 2")
[ "$gap" -ge 1 ] || fail "no gap to refine"
sum=$(query "SELECT sum(import) FROM interval WHERE meter = $meter AND unobserved = 10 AND (how & 15) BETWEEN 1 AND 2")
{ echo "time,$meter.import[kWh/interval]"
  query "SELECT strftime('%Y-%m-%dT%H:%M:%SZ', ts, 'unixepoch') || ',' || printf('%.6f', $sum / $gap / 2 / 1e6)
         FROM interval WHERE meter = $meter AND unobserved = 10 AND (how & 15) BETWEEN 1 AND 2 ORDER BY ts LIMIT ($gap + 1) / 2"
} >"$work/gap.csv"
enter --length 10s "$work/gap.csv"
grep -q ' replaced' "$work/out" || fail "nothing was refined: $(cat "$work/out")"
consistent
now=$(query "SELECT count(*) FROM interval WHERE (how & 15) < 4")
wait_for 40 has_rows $((now + 10)) || fail "no rows after entering: $(cat "$work/log.err")"
end "$meterbookd" || fail "it left with $?"
grep -qE 'cannot write|rejected' "$work/log.err" && fail "the daemon was disturbed: $(cat "$work/log.err")"
consistent

# the account against the truth, to the register unit; no interval is missing
end "$panel" || fail "the panel saw a write function or failed: $(cat "$work/panel" "$work/panel.err")"
processes=
sqlite3 "$work/record.db" "DELETE FROM interval WHERE ts < $live AND meter = $meter; DELETE FROM run WHERE began = 'entered'; DELETE FROM day"
sqlite3 -cmd ".import --csv $work/truth.csv truth" "$work/record.db" <"$top/tests/demo_truth.sql" >"$work/verdict"
grep -q 'WRONG' "$work/verdict" && ! grep -q 'too few' "$work/verdict" && fail "account: $(cat "$work/verdict")"
[ "$(grep -c right "$work/verdict")" -ge 6 ] || fail "compared too little: $(cat "$work/verdict")"
echo "$name: good"
