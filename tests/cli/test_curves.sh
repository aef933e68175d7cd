#!/bin/sh
# Bills from days in quarter hours are those from the interval rows, to the last byte. Exit 77: skipped.
#
# Invented plants are changed by SQL into what a record may be: estimates, gaps, corrections (applied, due, taken
# back), steps of the clock, a counter that came later, another interval from a noon on, a derived grid meter, curves that
# are damaged, left behind or not there. Of each all bills are made as it is and without its curves.
name=test_curves
. "$(dirname "$0")/../wire/wire_lib.sh"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"

cp "$top"/config/tariffs/*.tariff "$work"
hours=$work/time-of-use.tariff
sed 's/"22:00"/"22:10"/' "$hours" >"$work/odd.tariff"
sed 's/demand_minutes = 15/demand_minutes = 10/' "$hours" >"$work/fine.tariff"
sed 's/demand_minutes = 15/demand_minutes = 60/' "$hours" >"$work/long.tariff"
for tariff in time-of-use odd fine long gross; do
    sed "s/\"slabs.tariff\"/\"$tariff.tariff\"/; s/# without_plant = \"flat/without_plant = \"time-of-use/" \
        "$top/config/tariffs/invented.contract" >"$work/$tariff.contract"
done

# answers RECORD: what is told of money
answers() {
    for tariff in $tariffs; do
        for answer in $commands; do
            echo "$tariff: $answer"
            "$BUILD/meterbook" -c "$plant/meterbook.conf" --now 2025-03-01T09:00:00Z --database "$1" \
                --contract "$work/$tariff.contract" --format json "$answer" all 2>&1
        done
    done
}

items() { answers "$1" | grep '"item"'; }

# same WHAT SQL [AFTER]: changes a copy of $plant/record.db, closes its days again, changes it AFTER that
same() {
    rm -f "$work"/changed.db*
    cp "$plant/record.db" "$work/changed.db"
    sqlite3 "$work/changed.db" "$2" || fail "$1: sql"
    "$BUILD/close_days" "$work/changed.db" || fail "$1: close_days"
    [ -z "${3-}" ] || sqlite3 "$work/changed.db" "$3" || fail "$1: sql"
    kept=$(sqlite3 "$work/changed.db" 'SELECT count(*) FROM curve')
    answers "$work/changed.db" >"$work/with"
    sqlite3 "$work/changed.db" 'DELETE FROM curve'
    answers "$work/changed.db" >"$work/without"
    cmp -s "$work/with" "$work/without" ||
        fail "$1: not the same with $kept curves and without: $(diff "$work/with" "$work/without" | head -n 6)"
    grep -q peak "$work/with" || fail "$1: no bill"
    echo "$1: the same with $kept curves and without, $(wc -l <"$work/with") lines"
}

# three weeks of the grid meter, days and rows
days="WHERE meter = 1 AND day BETWEEN (SELECT min(day) FROM day) + 10 AND (SELECT min(day) FROM day) + 30"
part="meter = 1 AND ts >= (SELECT min(from_s) FROM day $days) AND ts < (SELECT max(to_s) FROM day $days)"
correct="INSERT INTO corrected(id, correction, import, export, estimated, unobserved, how) SELECT id, 1, import * 3 / 2,
    export + 7, estimated, unobserved, how | 512 FROM interval WHERE $part AND ts % 7 < 3;"
correct_days="INSERT INTO corrected_day(id, corrected, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
    SELECT d.id, count(*), from_s, to_s, sum(i.import), sum(i.export), sum(i.estimated), sum(i.unobserved), rows, expected,
    d.flags | 512 FROM day AS d JOIN interval_as_corrected AS i ON i.meter = d.meter AND i.ts >= from_s AND i.ts < to_s
    WHERE d.id IN (SELECT d.id FROM corrected AS c JOIN day AS d ON c.meter = d.meter AND c.ts BETWEEN from_s AND to_s - 1)
    GROUP BY d.id;"

derived="
    INSERT INTO interval(id, import, export, estimated, unobserved, how) SELECT ts * 1024 + 1023, import, export, estimated,
        unobserved, how FROM interval WHERE meter = 1;
    INSERT INTO day(id, from_s, to_s, estimated, unobserved, rows, expected, flags) SELECT day * 1024 + 1023, from_s, to_s, 0, 0,
        rows, expected, 0 FROM day WHERE meter = 1;
    UPDATE interval SET import = max(import + (SELECT export FROM interval AS p WHERE p.id = interval.id + 1) - export, 0),
        export = NULL WHERE meter = 1;
    UPDATE meter_setting SET role = 'consumption' WHERE meter = 1;
    INSERT INTO meter_setting SELECT setting, 1023, 'derived', 'grid', delivers, gross, phase_method, phases, rated_w, peak_w,
        azimuth, tilt, accuracy_class, map FROM meter_setting WHERE meter = 1"

all() {
    tariffs="time-of-use odd fine long gross" commands="bill savings"
    same "as it is" ""
    tariffs="time-of-use" commands="bill"
    same "rows missing" "DELETE FROM interval WHERE $part AND ts % 7000 = 0"
    same "a meter is silent" "DELETE FROM interval WHERE meter = 2 AND ts BETWEEN (SELECT min(ts) FROM interval) + 1000000
        AND (SELECT min(ts) FROM interval) + 1300000; DELETE FROM day WHERE rows = 0"
    same "estimated in part" "UPDATE interval SET estimated = import / 2, unobserved = 40, how = 1 WHERE $part AND ts % 1100 = 0"
    same "the clock stepped" "UPDATE interval SET how = how | 16 WHERE $part AND ts % 130000 < 600"
    same "the export came later" "UPDATE interval SET export = NULL WHERE $part"
    same "corrected" "$correct" "$correct_days"
    same "corrected, days due" "$correct" "INSERT INTO correction_due SELECT DISTINCT ts / 86400 FROM corrected"
    same "days without a row" "" "DELETE FROM day $days"
    same "curves left behind" "" "UPDATE interval SET import = import + 1 WHERE $part; UPDATE day SET import = import + 288 $days"
    same "curves of other days" "" "UPDATE curve SET quarters = (SELECT quarters FROM curve WHERE id = 19450 * 1024 + 1) $days"
    same "curves cut" "" "UPDATE curve SET quarters = substr(quarters, 1, length(quarters) - 1) $days"
    same "curves of nothing" "" "UPDATE curve SET quarters = zeroblob(day % 400) $days"
    same "curves of noise" "" "UPDATE curve SET quarters = randomblob(day % 400) $days"
    same "another interval from a noon on" "
        CREATE TEMP TABLE noon AS SELECT from_s + 43200 AS s FROM day WHERE meter = 1 ORDER BY id LIMIT 1 OFFSET 20;
        CREATE TEMP TABLE longer AS SELECT ts / 900 * 900 * 1024 + meter AS id, sum(import) AS i, sum(export) AS e, sum(estimated) AS f,
            sum(unobserved) AS u, max(how) AS h FROM interval WHERE ts >= (SELECT s FROM noon) GROUP BY 1;
        DELETE FROM interval WHERE ts >= (SELECT s FROM noon);
        INSERT INTO interval(id, import, export, estimated, unobserved, how) SELECT * FROM longer;
        INSERT INTO setting SELECT id + 1, (SELECT s FROM noon) * 1000, boot, boot_ms, hash || 'b', site, zone, zone_edition, 900,
            poll_ms, program, text FROM setting;
        INSERT INTO meter_setting SELECT setting + 1, meter, name, role, delivers, gross, phase_method, phases, rated_w, peak_w,
            azimuth, tilt, accuracy_class, map FROM meter_setting;
        UPDATE day SET expected = (to_s - from_s) / 900 WHERE to_s > (SELECT s FROM noon)"
    # its rows are the grid meter's, so the same is billed; and with some of them missing
    items "$plant/record.db" >"$work/metered"
    same "a derived grid meter" "$derived"
    items "$work/changed.db" >"$work/derived"
    cmp -s "$work/metered" "$work/derived" || fail "derived: $(diff "$work/metered" "$work/derived" | head -n 6)"
    same "a derived grid meter with gaps" "$derived; DELETE FROM interval WHERE meter = 1023 AND ts % 100000 <= 900"
}

# invent ARGUMENTS: a plant without sealed meters' readings, so that the record alone speaks
invent() {
    plant=$work/plant
    "$BUILD/invent" "$plant" "$@" || fail "invent"
    : >"$plant/logbook"
}

for interval in 300 60; do
    echo "interval $interval"
    invent --interval $interval --days $((interval / 5 + 28))
    sqlite3 "$plant/record.db" 'PRAGMA wal_checkpoint(TRUNCATE)' >/dev/null
    all
    rm -rf "$plant"
done

# And are they read? What is changed in the rows alone does not show while the curves are there.
invent --days 40
items "$plant/record.db" >"$work/with"
sqlite3 "$plant/record.db" "UPDATE interval SET import = import + 1000 WHERE meter = 1 AND ts IN (SELECT from_s + 7500 FROM day
    LIMIT 100)" # not on the day on which the clock is set, whose rows are read
items "$plant/record.db" >"$work/without"
cmp -s "$work/with" "$work/without" || fail "curves are not read: $(diff "$work/with" "$work/without" | head -n 6)"
sqlite3 "$plant/record.db" 'DELETE FROM curve'
items "$plant/record.db" >"$work/without"
! cmp -s "$work/with" "$work/without" || fail "the rows do not count without curves"
echo "passed"
