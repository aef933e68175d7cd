#!/bin/sh
# The daemon as a process, on the panel's wire: killed again and again, reloaded
# with good and bad files, given records and places that it must
# refuse, read by others while it runs and after. Takes about 90 s.
# METERBOOK_KILLS says how often, METERBOOK_SEED when.
name=test_process
. "$(dirname "$0")/wire_lib.sh"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"
daemon=$BUILD/meterbookd

begin "$work/panel" "$BUILD/meterbook-panel" --any-port --link "roof=$work/roof" --start 11:00 --scene 60 \
    --truth "$work/truth.csv" --truth-every 10 "$top/config/demo-panel.conf"
panel=$begun
wait_for 10 grep -q '^ready$' "$work/panel" || fail "no panel: $(cat "$work/panel.err")"
port() { sed -n "s/^bus $1 .*:\([0-9]*\)$/\1/p" "$work/panel"; }

cp -r "$top/config/maps" "$work/maps"
# configure FILE RECORD RUNTIME: the demo's configuration with the ports of this run
configure() {
    sed -e "s|/tmp/meterbook-demo/record.db|$2|" -e "s|/tmp/meterbook-demo/run|$3|" \
        -e "s|/tmp/meterbook-demo/roof|$work/roof|" -e "s|port = 15020|port = $(port panel)|" \
        -e "s|port = 15021|port = $(port cellar)|" "$top/config/demo.conf" >"$1"
}
configure "$work/m.conf" "$work/record.db" "$work/run"
start() {
    begin "$work/log" "$daemon" -c "$work/m.conf"
    meterbookd=$begun
}
rows() { query "SELECT count(*) FROM interval" 2>/dev/null || echo 0; }
has_rows() { [ "$(rows)" -ge "$1" ]; }
# refused CODE TEXT CONFIGURATION: the daemon leaves with CODE and says TEXT
refused() {
    code=0
    timeout 20 "$daemon" -c "$3" >"$work/out" 2>&1 || code=$?
    [ "$code" = "$1" ] || fail "exit $code instead of $1: $(cat "$work/out")"
    grep -q "$2" "$work/out" || fail "it does not say '$2': $(cat "$work/out")"
}

# killed again and again, at any moment: whatever was committed stays, no energy is lost
stored() { query "SELECT id, import, export, estimated, how FROM interval ORDER BY id"; }
start
wait_for 40 has_rows 5 || fail "no rows: $(cat "$work/log.err")"
kills=${METERBOOK_KILLS:-25}
seed=${METERBOOK_SEED:-1}
echo "METERBOOK_KILLS=$kills METERBOOK_SEED=$seed"
awk -v seed="$seed" -v kills="$kills" 'BEGIN { srand(seed); for (; kills > 0; kills--) printf "%.3f\n", rand() * 3 }' >"$work/pauses"
while read -r pause; do
    sleep "$pause"
    stored >"$work/before"
    kill -9 "$meterbookd"
    wait "$meterbookd" 2>/dev/null
    [ "$(query "PRAGMA integrity_check")" = ok ] || fail "not whole: $(query "PRAGMA integrity_check")"
    stored >"$work/after"
    [ -z "$(comm -23 "$work/before" "$work/after")" ] || fail "committed rows were lost: $(diff "$work/before" "$work/after")"
    start
done <"$work/pauses"
sleep 4

# SIGHUP without a change of the configuration: the logbook alone is read, polling is not cut
kill -HUP "$meterbookd"
wait_for 10 grep -q "read the logbook again" "$work/log.err" || fail "same file: $(cat "$work/log.err")"

# SIGHUP with a bad file: reported, nothing changes; with a good one: the meter keeps its identity
cp "$work/m.conf" "$work/keep.conf"
echo 'site = { nonsense = 1; };' >"$work/m.conf"
kill -HUP "$meterbookd"
wait_for 10 grep -q "the configuration in force stays" "$work/log.err" || fail "bad file: $(cat "$work/log.err")"
grep -q "m.conf:1: " "$work/log.err" || fail "no file and line: $(cat "$work/log.err")"
sed 's/name = "kitchen"/name = "galley"/' "$work/keep.conf" >"$work/m.conf"
kill -HUP "$meterbookd"
wait_for 20 grep -q "reloaded" "$work/log.err" || fail "reload: $(cat "$work/log.err")"
now=$(rows)
wait_for 40 has_rows $((now + 10)) || fail "no rows after the reload: $(cat "$work/log.err")"
[ "$(query "SELECT group_concat(name) FROM (SELECT name FROM meter_setting WHERE meter = 21 ORDER BY setting)")" = kitchen,galley ] ||
    fail "names: $(query "SELECT * FROM meter_setting")"
[ "$(query "SELECT count(*) FROM run WHERE meter = 21 AND counter = 0")" = 1 ] || fail "the renamed meter began a new run"
[ "$(query "SELECT count(*) FROM run WHERE ended IS NOT NULL")" = 0 ] || fail "runs ended: $(query "SELECT * FROM run")"
[ "$(query "SELECT count(DISTINCT hash) FROM setting")" = 2 ] || fail "settings: $(query "SELECT id, hash FROM setting")"

# a reader without rights of its own, while it runs and after it stopped
reader="$BUILD/meterbook --database $work/record.db day --format json"
if [ "$(id -u)" = 0 ] && command -v setpriv >/dev/null; then
    chmod 755 "$work" && chmod 644 "$work"/record.db*
    reader="setpriv --reuid=65534 --regid=65534 --clear-groups $reader"
fi
$reader >"$work/day" 2>&1 || fail "a reader while it runs: $(cat "$work/day")"
end "$meterbookd" || fail "it left with $?"
$reader >"$work/day" 2>&1 || fail "a reader after it stopped: $(cat "$work/day")"
grep -q '"production_kwh"' "$work/day" || fail "answer: $(cat "$work/day")"

# the account against the truth, to the register unit; no interval is missing
end "$panel" || fail "the panel saw a write function or failed: $(cat "$work/panel" "$work/panel.err")"
sed 's/galley/kitchen/' "$top/tests/demo_truth.sql" >"$work/truth.sql"
query "SELECT 1" >/dev/null
sqlite3 -cmd ".import --csv $work/truth.csv truth" "$work/record.db" <"$work/truth.sql" >"$work/verdict"
grep -q 'WRONG' "$work/verdict" && ! grep -q 'too few' "$work/verdict" && fail "account: $(cat "$work/verdict")"
[ "$(grep -c right "$work/verdict")" -ge 6 ] || fail "compared too little: $(cat "$work/verdict")"
holes=$(query "SELECT sum(n) FROM (SELECT (max(ts) - min(ts)) / 10 + 1 - count(*) AS n FROM interval GROUP BY meter)")
[ "$holes" = 0 ] || fail "$holes intervals are missing"
processes=

# places and files that it must not touch
configure "$work/bad.conf" "$work/none/record.db" "$work/run"
refused 78 "cannot" "$work/bad.conf"
configure "$work/bad.conf" "$work/text.db" "$work/run"
echo "this is a text, not a database, and long enough to be read as one" >"$work/text.db"
cp "$work/text.db" "$work/text.copy"
refused 78 "not a database" "$work/bad.conf"
cmp -s "$work/text.db" "$work/text.copy" || fail "a foreign file was changed"
configure "$work/bad.conf" "$work/newer.db" "$work/run"
sqlite3 "$work/record.db" "VACUUM INTO '$work/newer.db'"
sqlite3 "$work/newer.db" "PRAGMA user_version = 99"
refused 78 "version 99" "$work/bad.conf"
configure "$work/bad.conf" "$work/record.db" "/proc/no/place"
refused 78 "runtime directory" "$work/bad.conf"
refused 78 "absent.conf" "$work/absent.conf"
echo "$name: good"
