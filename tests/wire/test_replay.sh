#!/bin/sh
# Real consumption, served as meters in quickened time: the record must come out
# with the datasets' own totals, to the register unit. Takes about a minute.
# Exit 77: skipped.
#
# 1. A household's meter with three cumulative counters (one bedroom circuit of a
#    house in Canada): AMPds2, S. Makonin et al., Sci. Data 3:160037 (2016),
#    doi 10.7910/DVN/FIE0S4, licence CC BY 4.0; submeter_b1e_1min.csv.gz.
#    Totals over its 35.6 days: 945 Wh (20016 to 20961), 17 varh (2078 to 2095),
#    9078 VAh (187872 to 196950). Each counter is served as a meter of its own.
# 2. A PV plant's kWh counter with a gap of 23 days: tutorial data of pvOps,
#    licence BSD-3-Clause; pv_meter_counter_15min.csv. 68697 kWh (5220831 to
#    5289528), 56590 of them in the gap. A meter that does not answer in the gap.
#    Its kWh are served as Wh: quickened, they would be 48 GW.
# 3. From a registry package (Debian gretl-data, GPL-3): hourly load of an electric
#    company in the Northwest of the U.S., January 1992, compiled by Casey Brace,
#    data10-2 of R. Ramanathan, Introductory Econometrics. Not a household: none
#    of the packages looked at carries one. Its MWh, summed hour by hour, are the
#    counter, served as 0.1 Wh; the total is computed from the file.
# 1 and 2 are read from METERBOOK_SHARED/data (default: ../shared beside the checkout).
name=test_replay
. "$(dirname "$0")/wire_lib.sh"
data=${METERBOOK_SHARED:-$top/../shared}/data
gretl=${METERBOOK_GRETL:-/usr/share/gretl}/data/ramanathan/data10-2.gdt
speed=100000 # times as fast: a month in half a minute
hold=6       # s before the data start to move, so that the first reading is their first row
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"

# series NAME: reads "seconds value" lines that rise, writes the panel's file with the hold in front
series() {
    awk -v hold=$hold -v speed=$speed -v column="$2" '
        NR == 1 { start = $1; print "time_s," column; print "0," $2 }
        NR > 1 { print $1 - start + hold * speed "," $2 }' OFMT=%.0f CONVFMT=%.0f >"$work/$1.csv"
}

meters= # of the scenario
config= # of the configuration
number=0
checks= # "NUMBER COLUMN FIRST LAST UNIT_MWH"
# meter NAME COLUMN MAP FIRST LAST UNIT_MWH [FAULTS]
meter() {
    number=$((number + 1))
    role='role = "branch"'
    [ "$2" = import ] || role='role = "production"; delivers = "export"'
    meters="$meters${meters:+, }{ name = \"$1\"; bus = \"wire\"; unit_id = $number; measures = \"replay\"; map = \"$3\"; replay = \"$1.csv\"; $7 }"
    config="$config${config:+, }{ number = $number; name = \"$1\"; $role; bus = \"wire\"; unit_id = $number; map = \"$3\"; rated_power = 100000000; }"
    checks="$checks $number:$2:$4:$5:$6"
}

seconds=0 # of wall time that the data take, the longest
if [ -r "$data/submeter_b1e_1min.csv.gz" ]; then
    zcat "$data/submeter_b1e_1min.csv.gz" >"$work/b1e"
    awk -F, 'NR > 1 { print $1, $8 }' "$work/b1e" | series active import_wh
    awk -F, 'NR > 1 { print $1, $10 }' "$work/b1e" | series reactive import_wh
    awk -F, 'NR > 1 { print $1, $12 }' "$work/b1e" | series apparent import_wh
    meter active import whole.map 20016 20961 1000
    meter reactive import whole.map 2078 2095 1000
    meter apparent import whole.map 187872 196950 1000
    seconds=31
else
    echo "skipped: the totals of a dataset: '$data/submeter_b1e_1min.csv.gz' is not here"
fi
if [ -r "$data/pv_meter_counter_15min.csv" ]; then
    # civil days since 2018-09-14; no summer-time change within
    awk -F'[,T:-]' 'NR > 1 { print (($2 - 9) * 30 + $3 - 14) * 86400 + $4 * 3600 + $5 * 60, $8 }' \
        "$data/pv_meter_counter_15min.csv" >"$work/pv"
    series plant export_wh <"$work/pv"
    gap=$(awk -v hold=$hold -v speed=$speed 'NR == 1 { s = $1 } NR > 1 && $1 - t > 86400 {
        printf "from = %.2f; to = %.2f;", hold + (t - s) / speed, hold + ($1 - s) / speed } { t = $1 }' "$work/pv")
    meter plant export whole.map 5220831 5289528 1000 "faults = ( { kind = \"silent\"; $gap } );"
else
    echo "skipped: the totals of a dataset: '$data/pv_meter_counter_15min.csv' is not here"
fi
if [ -r "$gretl" ]; then
    sed -n 's/.*<obs[^>]*> *[0-9.]* \([0-9.]*\) .*/\1/p' "$gretl" |
        awk 'BEGIN { print 0, 0 } { sum += $1; print NR * 3600, sum }' CONVFMT=%.0f OFMT=%.0f >"$work/load_mwh"
    [ "$(wc -l <"$work/load_mwh")" = 745 ] || fail "'$gretl' has not 744 hours"
    load=$(tail -n 1 "$work/load_mwh" | cut -d' ' -f2)
    awk '{ print $1, $2 / 10 }' OFMT=%.1f CONVFMT=%.1f "$work/load_mwh" >"$work/load"
    awk -v hold=$hold -v speed=$speed 'NR == 1 { print "time_s,import_wh\n0,0" }
        NR > 1 { printf "%d,%.1f\n", $1 + hold * speed, $2 }' "$work/load" >"$work/load.csv"
    meter load import tenth.map 0 "$load" 100
    [ $seconds -gt 27 ] || seconds=27
else
    echo "skipped: the totals of a dataset: '$gretl' is not here (Debian: gretl-data)"
fi
[ $number -gt 0 ] || skip "no dataset here"

for map in whole:0 tenth:-1; do
    cat >"$work/${map%:*}.map" <<END
name = "replay"; function = 4; max_registers = 60;
points = ( { quantity = "active_import"; address = 0; type = "uint32"; exponent = ${map#*:}; },
           { quantity = "active_export"; address = 2; type = "uint32"; exponent = ${map#*:}; } );
END
done
cat >"$work/scenario.conf" <<END
site: { name = "replay"; start = "2026-01-01T00:00:00Z"; seed = 1; step_ms = 60000; latitude = 0.0; longitude = 0.0; };
buses = ( { kind = "tcp"; name = "wire"; address = "127.0.0.1"; port = 0; } );
meters = ( $meters );
END
begin "$work/panel" "$BUILD/meterbook-panel" --speed $speed "$work/scenario.conf"
panel=$begun
wait_for 20 grep -qs '^ready' "$work/panel" || fail "the panel does not start: $(cat "$work/panel.err")"
ready=$(date +%s)
port=$(sed -n 's/.*127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/panel" | head -n 1)
cat >"$work/meterbook.conf" <<END
site = { name = "replay"; time_zone = "Etc/UTC"; latitude = 0.0; longitude = 0.0;
         interval = 10; commit_every = 0; poll_period = 0.2; clock_trust = "battery"; };
record = { database = "$work/record.db"; runtime = "$work/run"; };
buses = ( { name = "wire"; kind = "tcp"; host = "127.0.0.1"; port = $port; response_timeout = 0.2; } );
meters = ( $config );
END
begin "$work/daemon" "$BUILD/meterbookd" -c "$work/meterbook.conf"
daemon=$begun

# A whole interval of every meter after the data have come to rest.
rest=$(((ready + hold + seconds + 10) / 10 * 10))
complete() { [ "$(query "SELECT count(*) FROM interval WHERE ts >= $rest" 2>/dev/null || echo 0)" -ge $number ]; }
wait_for $((hold + seconds + 60)) complete || fail "no rows after the data: $(cat "$work/daemon.err")"
end $daemon || fail "the daemon left with $?"
end $panel || fail "the panel left with $?: $(cat "$work/panel" "$work/panel.err")"
processes=

bad=0
for check in $checks; do
    IFS=: read -r meter column first last unit <<END
$check
END
    counter=0
    [ "$column" = import ] || counter=1
    found=$(query "SELECT (first / $unit) || ' to ' || ((base + (SELECT sum($column) FROM interval WHERE meter = $meter)) / $unit)
                   FROM run WHERE meter = $meter AND counter = $counter")
    total=$(query "SELECT sum($column) / $unit FROM interval WHERE meter = $meter")
    label=$(query "SELECT name FROM meter WHERE meter = $meter")
    echo "$label: dataset $first to $last, total $((last - first)); record $found, total $total"
    [ "$found" = "$first to $last" ] && [ "$total" = $((last - first)) ] || bad=1
done
if [ -r "$work/pv" ]; then
    json=$("$BUILD/meterbook" --database "$work/record.db" --format json year | tr ',' '\n' | sed -n 's/.*"production_kwh": //p' | head -n 1)
    echo "production_kwh of the year: $json (register unit 0.001)"
    awk "BEGIN { exit !(int($json * 1000 + 1e-6) == 68697) }" || bad=1
fi
[ $bad = 0 ] || fail "the record and the datasets differ"
echo "$name: $number passed, 0 failed"
