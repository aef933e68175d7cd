#!/bin/sh
# Programs that meet: two daemons on one record and on one line, two that enter
# data, two that write the logbook and four that read, all while a daemon polls
# and commits. Takes about 40 s. Exit 77: skipped.
name=test_together
. "$(dirname "$0")/wire_lib.sh"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"
daemon=$BUILD/meterbookd

begin "$work/panel" "$BUILD/meterbook-panel" --any-port --link "roof=$work/roof" --start 11:00 --scene 60 \
    --truth "$work/truth.csv" --truth-every 10 "$top/config/demo-panel.conf"
panel=$begun
wait_for 10 grep -q '^ready$' "$work/panel" || fail "no panel: $(cat "$work/panel.err")"
port() { sed -n "s/^bus $1 .*:\([0-9]*\)$/\1/p" "$work/panel"; }
cp -r "$top/config/maps" "$work/maps"
# configure FILE RECORD RUNTIME: the demo's configuration with the ports of this run, and a logbook
configure() {
    sed -e "s|database = \"/tmp/meterbook-demo/record.db\";|database = \"$2\"; logbook = \"$work/logbook.txt\";|" \
        -e "s|/tmp/meterbook-demo/run|$3|" -e "s|/tmp/meterbook-demo/roof|$work/roof|" \
        -e "s|port = 15020|port = $(port panel)|" -e "s|port = 15021|port = $(port cellar)|" "$top/config/demo.conf" >"$1"
}
configure "$work/m.conf" "$work/record.db" "$work/run"
begin "$work/log" "$daemon" -c "$work/m.conf"
meterbookd=$begun
has_rows() { [ "$(query "SELECT count(*) FROM interval WHERE (how & 15) < 4" 2>/dev/null || echo 0)" -ge "$1" ]; }
wait_for 40 has_rows 5 || fail "no rows: $(cat "$work/log.err")"

# a second daemon on the same record leaves; one with a record of its own has to wait for the line
code=0
timeout 20 "$daemon" -c "$work/m.conf" >"$work/out" 2>&1 || code=$?
[ $code = 1 ] || fail "exit $code instead of 1: $(cat "$work/out")"
grep -q "another daemon writes the record '$work/record.db'" "$work/out" || fail "it says: $(cat "$work/out")"
configure "$work/second.conf" "$work/second.db" "$work/run2"
begin "$work/second" "$daemon" -c "$work/second.conf"
wait_for 15 grep -q "bus 'roof' is down: '$work/roof' is in use by another program" "$work/second.err" ||
    fail "two on one line: $(cat "$work/second.err")"
end "$begun" || fail "the second left with $?"

# entering for two meters at once, 6,000 rows each before the first live one
live=$(query "SELECT min(base_s) FROM run WHERE counter = 0 AND began <> 'entered'")
for meter in 1 21; do
    awk -v end="$live" -v meter=$meter 'BEGIN { for (i = 6000; i >= 0; i--) print end - i * 10, 6000 - i }' >"$work/seconds"
    { echo "time,$meter.import[Wh]"
      sqlite3 -cmd '.separator " "' -cmd 'CREATE TABLE b(t INTEGER, v TEXT)' -cmd ".import $work/seconds b" :memory: \
          "SELECT strftime('%Y-%m-%dT%H:%M:%SZ', t, 'unixepoch') || ',' || v FROM b"
    } >"$work/before-$meter.csv"
    begin "$work/enter-$meter" "$BUILD/meterbook" --database "$work/record.db" enter "$work/before-$meter.csv"
    entering="$entering $begun"
done

# two pens, four readers
notes=30
pen() { for i in $(seq $notes); do "$BUILD/meterbook" -c "$work/m.conf" note note "pen $1 line $i" || return 1; done; }
reader() { for i in $(seq 40); do "$BUILD/meterbook" -c "$work/m.conf" "$@" || return 1; done; }
: >"$work/logbook.txt"
for who in "pen a" "pen b" "reader day" "reader month --format csv" "reader now" "reader logbook"; do
    # shellcheck disable=SC2086 # a list of words
    begin "$work/$(echo "$who" | tr ' ' '-')" $who
    people="$people $begun"
done
for process in $entering $people; do
    code=0
    wait "$process" || code=$?
    [ $code = 0 ] || fail "one of them left with $code: $(tail -n 3 "$work"/enter-*.err "$work"/pen-*.err "$work"/reader-*.err)"
done
grep -q '6 000 new' "$work/enter-1" && grep -q '6 000 new' "$work/enter-21" || fail "entered: $(cat "$work"/enter-*)"
[ "$(wc -l <"$work/logbook.txt")" = $((2 * notes)) ] || fail "lines: $(cat "$work/logbook.txt")"
[ "$(grep -cE '^[0-9-]{10}T[^ ]+ note "pen [ab] line [0-9]+"$' "$work/logbook.txt")" = $((2 * notes)) ] || fail "lines: $(cat "$work/logbook.txt")"
"$BUILD/meterbook" -c "$work/m.conf" logbook >"$work/listed" || fail "the logbook: $(cat "$work/listed")"
[ "$(grep -c 'pen [ab] line' "$work/listed")" = $((2 * notes)) ] || fail "listed: $(cat "$work/listed")"

now=$(query "SELECT count(*) FROM interval WHERE (how & 15) < 4")
wait_for 40 has_rows $((now + 10)) || fail "no rows any more: $(cat "$work/log.err")"
end "$meterbookd" || fail "it left with $?"
grep -qE "cannot write|rejected|is down" "$work/log.err" && fail "the daemon was disturbed: $(cat "$work/log.err")"
[ "$(query "PRAGMA integrity_check")" = ok ] || fail "not whole: $(query "PRAGMA integrity_check")"
for meter in 1 21; do
    [ "$(query "SELECT sum(import) FROM interval WHERE meter = $meter AND ts < $live")" = 6000000 ] || fail "sum of what was entered"
done

# the account against the truth, to the register unit; no interval is missing
end "$panel" || fail "the panel saw a write function or failed: $(cat "$work/panel" "$work/panel.err")"
processes=
sqlite3 "$work/record.db" "DELETE FROM interval WHERE ts < $live; DELETE FROM run WHERE began = 'entered'; DELETE FROM day"
sqlite3 -cmd ".import --csv $work/truth.csv truth" "$work/record.db" <"$top/tests/demo_truth.sql" >"$work/verdict"
grep 'WRONG' "$work/verdict" | grep -qv 'too few' && fail "account: $(cat "$work/verdict")"
[ "$(grep -c right "$work/verdict")" -ge 6 ] || fail "compared too little: $(cat "$work/verdict")"
echo "$name: good"
