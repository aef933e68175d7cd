#!/bin/sh
# Real data entered from files: the record must come out with the datasets' own
# totals, to the register unit. Exit 77: skipped.
#
# 1. A PV site with a grid meter, 2019, as interval energies, by local time:
#    "PV Optimization", AEW Energie AG, treated as ODbL 1.0; site_a_2019_15min.csv.gz.
#    kWh of the year: PV 62437.518, export 47567.551, import 20507.222, consumption
#    35377.189, self-consumption 14869.967; the two days of the changed clock have
#    92 and 100 quarters, PV 283.198 and 130.823, import 47.518 and 35.370.
# 2. A PV plant's counter of whole kWh with a gap of 23 days: tutorial data of pvOps,
#    BSD-3-Clause; pv_meter_counter_15min.csv. 5220831 to 5289528: 68697 kWh.
# 3. One circuit of a house in Canada, counters of active, reactive and apparent
#    energy: AMPds2, S. Makonin et al., Sci. Data 3:160037 (2016), CC BY 4.0;
#    submeter_b1e_1min.csv.gz. 945 Wh, 17 varh, 9078 VAh.
# Read from METERBOOK_SHARED/data (default: ../shared beside the checkout).
name=test_enter_data
. "$(dirname "$0")/../wire/wire_lib.sh"
data=${METERBOOK_SHARED:-$top/../shared}/data
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"
[ -r "$data/site_a_2019_15min.csv.gz" ] || skip "no datasets in '$data'"

# record NAME ZONE INTERVAL: two meters, the collector took over in 2026
record() {
    cat >"$work/$1.sql" <<END
INSERT INTO setting VALUES(1, 1777888800000, 'boot', 0, 'hash', 'test', '$2', '', $3, 1000, '0', '');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 2000000, 0, NULL, NULL, '', '');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 60000, 0, NULL, NULL, '', '');
END
    "$BUILD/make_record" "$work/$1.db" "$work/$1.sql" || fail "make_record"
}
# enter NAME FILE OPTION...: a second time nothing may be new
enter() {
    db=$work/$1.db file=$2
    shift 2
    "$BUILD/meterbook" --database "$db" enter "$@" "$file" >"$work/out" 2>&1 || fail "$(cat "$work/out")"
    "$BUILD/meterbook" --database "$db" enter "$@" "$file" >"$work/again" 2>&1 || fail "$(cat "$work/again")"
    grep -qE 'new|replaced|completed|days' "$work/again" && fail "the second time: $(cat "$work/again")"
}
# is WHAT EXPECTED SQL
is() {
    found=$(sqlite3 "$db" "$3")
    echo "$1: dataset $2, record $found"
    [ "$found" = "$2" ] || fail "$1: $found instead of $2"
}

# Local time without offset where it is the site's clock's: upstream labels the quarter after a
# change of the clock by the old offset, so that the instants are taken from utc_start.
zcat "$data/site_a_2019_15min.csv.gz" | awk -F, 'NR == 1 { print "time,Roof.export[Wh/interval],House.import[kWh/interval],House.export[kWh/interval]" }
    NR > 1 { printf "%s,%d,%.3f,%.3f\n", $1, $3 * 250 + 0.5, $5 / 4, $4 / 4 }' >"$work/a.csv"
record a Europe/Zurich 900
enter a "$work/a.csv"
is "site_a PV" 62437.518 "SELECT printf('%.3f', sum(export) / 1e6) FROM day WHERE meter = 1"
is "site_a import" 20507.222 "SELECT printf('%.3f', sum(import) / 1e6) FROM day WHERE meter = 2"
is "site_a export" 47567.551 "SELECT printf('%.3f', sum(export) / 1e6) FROM day WHERE meter = 2"
is "site_a 2019-03-31" "92 283.198 47.518" "SELECT p.rows || printf(' %.3f %.3f', p.export / 1e6, g.import / 1e6)
    FROM day AS p JOIN day AS g ON g.day = p.day AND g.meter = 2 WHERE p.meter = 1 AND p.day = julianday('2019-03-31') - 2440587.5"
is "site_a 2019-10-27" "100 130.823 35.370" "SELECT p.rows || printf(' %.3f %.3f', p.export / 1e6, g.import / 1e6)
    FROM day AS p JOIN day AS g ON g.day = p.day AND g.meter = 2 WHERE p.meter = 1 AND p.day = julianday('2019-10-27') - 2440587.5"
json=$("$BUILD/meterbook" --database "$work/a.db" --format json year 2019 | tr ',' '\n' |
    sed -n 's/.*"\(consumption_kwh\|self_consumption_kwh\)": //p' | tail -n 2 | awk '{ printf "%.3f ", $1 }')
[ "$json" = "35377.189 14869.967 " ] || fail "site_a consumption and self-consumption: $json"

# The same into intervals of 5 minutes: finer than the data, placed inside, the sums stay.
record fine Europe/Zurich 300
enter fine "$work/a.csv" --length 15min
is "site_a PV in 5 min" 62437.518 "SELECT printf('%.3f', sum(export) / 1e6) FROM interval WHERE meter = 1"
is "site_a import of October by local days" 1805.626 "SELECT printf('%.3f', sum(import) / 1e6) FROM day WHERE meter = 2
    AND date(day * 86400, 'unixepoch') LIKE '2019-10%'"

if [ -r "$data/pv_meter_counter_15min.csv" ]; then
    awk -F, 'NR == 1 { print "time,Roof.export[kWh]" } NR > 1 { print $1 "," $3 }' "$data/pv_meter_counter_15min.csv" >"$work/pv.csv"
    record pv Etc/UTC 300
    enter pv "$work/pv.csv"
    is "pv_meter_counter kWh" 68697 "SELECT sum(export) / 1000000 FROM interval"
    is "pv_meter_counter register" "5220831 to 5289528" "SELECT (first / 1000000) || ' to ' || (last / 1000000) FROM run"
fi
if [ -r "$data/submeter_b1e_1min.csv.gz" ]; then
    zcat "$data/submeter_b1e_1min.csv.gz" | awk -F, 'NR > 1 { print $1, $8 "," $10 "," $12 }' >"$work/b1e"
    { echo 'time,House.import[Wh],House.reactive_import[varh],House.apparent_import[VAh]'
      # the sqlite3 shell makes times of seconds since 1970
      sqlite3 -cmd '.mode csv' -cmd '.separator " "' -cmd 'CREATE TABLE b(t INTEGER, v TEXT)' -cmd ".import $work/b1e b" :memory: \
          "SELECT strftime('%Y-%m-%dT%H:%M:%SZ', t, 'unixepoch') || ',' || v FROM b" | tr -d '"'
    } >"$work/b1e.csv"
    record b1e America/Vancouver 300
    enter b1e "$work/b1e.csv"
    is "submeter_b1e Wh" 945 "SELECT sum(import) / 1000 FROM interval"
    is "submeter_b1e varh and VAh" "17 9078" "SELECT (sum(reactive_import) / 1000) || ' ' || (sum(apparent_import) / 1000) FROM energy"
fi
echo "$name: equal to the datasets' totals, to the register unit"
