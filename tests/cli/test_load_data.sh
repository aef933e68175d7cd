#!/bin/sh
# Demand, load duration and the average day of real data: the datasets' own peaks, and what awk and sort
# make of the same files. Exit 77: skipped.
#
# 1. Two PV sites with grid meters, 2019: "PV Optimization", AEW Energie AG, treated as ODbL 1.0;
#    site_a_2019_15min.csv.gz, site_c_2019_15min.csv.gz. Peaks: A PV 51.88 kW and export 49.48 at
#    2019-06-16T13:15+02:00, import 12.032 at 2019-04-05T20:15+02:00; C import 21.8 at 2019-01-01T15:45+01:00,
#    export 22.8 at 2019-05-12T15:00+02:00. Import of A from Monday to Friday 07:00-20:00 and the rest 5680.838
#    and 14826.384 kWh.
# 2. A household by minutes: G. Hebrail and A. Berard, UCI repository, doi 10.24432/C58K54, CC BY 4.0;
#    household_fr_2006-12_1min.csv.gz. Peak 9.272 kW at 2007-01-13T22:53; 5 minutes are empty.
# Read from METERBOOK_SHARED/data (default: ../shared beside the checkout).
name=test_load_data
. "$(dirname "$0")/../wire/wire_lib.sh"
data=${METERBOOK_SHARED:-$top/../shared}/data
[ -r "$data/site_a_2019_15min.csv.gz" ] || skip "no datasets in '$data'"

# record NAME ZONE INTERVAL: two meters, the collector took over in 2026
record() {
    cat >"$work/$1.sql" <<END
INSERT INTO setting VALUES(1, 1777888800000, 'boot', 0, 'hash', 'test', '$2', '', $3, 1000, '0', '');
INSERT INTO meter_setting(setting, meter, name, role, delivers, gross, phase_method, phases, rated_w, peak_w, azimuth, tilt, accuracy_class, map) VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 2000000, 0, NULL, NULL, '', '');
INSERT INTO meter_setting(setting, meter, name, role, delivers, gross, phase_method, phases, rated_w, peak_w, azimuth, tilt, accuracy_class, map) VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 60000, 0, NULL, NULL, '', '');
END
    "$BUILD/make_record" "$work/$1.db" "$work/$1.sql" || fail "make_record"
    db=$work/$1.db
}
enter() {
    "$BUILD/meterbook" --database "$db" enter "$@" >"$work/out" 2>&1 || fail "$(cat "$work/out")"
}
ask() {
    "$BUILD/meterbook" --database "$db" "$@" --format csv 2>"$work/err" || fail "$*: $(cat "$work/err")"
}
# is WHAT EXPECTED FOUND
is() {
    echo "$1: dataset $2, meterbook $3"
    [ "$2" = "$3" ] || fail "$1: $3 instead of $2"
}
# peak FLOW MINUTES [OPTION...]: at least, kW, begin on the clock, of the whole span
peak() {
    flow=$1 minutes=$2
    shift 2
    ask demand all --of "$flow" "$@" | awk -F, -v m="$minutes" '$2 == "whole span" && $5 == m { printf "%s %.3f %s", $6, $7, $8 }'
}

zcat "$data/site_a_2019_15min.csv.gz" | awk -F, 'NR == 1 { print "time,Roof.export[Wh/interval],House.import[kWh/interval],House.export[kWh/interval]" }
    NR > 1 { printf "%s,%d,%.3f,%.3f\n", $1, $3 * 250 + 0.5, $5 / 4, $4 / 4 }' >"$work/a.csv"
record a Europe/Zurich 900
enter "$work/a.csv"
is "site_a PV" "no 51.880 2019-06-16T13:15:00+02:00" "$(peak production 15)"
is "site_a export" "no 49.480 2019-06-16T13:15:00+02:00" "$(peak export 15)"
is "site_a import" "no 12.032 2019-04-05T20:15:00+02:00" "$(peak import 15)"
# half hours of UTC are half hours of this clock
half=$(zcat "$data/site_a_2019_15min.csv.gz" | awk -F, 'NR % 2 == 0 { first = $5; at = $2 }
    NR > 1 && NR % 2 == 1 && (first + $5) / 2 > most { most = (first + $5) / 2; begin = at } END { printf "no %.3f %s", most, begin }')
is "site_a import in 30 min" "$half" "$(peak import 30)"
worst=$(zcat "$data/site_a_2019_15min.csv.gz" | awk -F, 'NR > 2 && (before + $5) / 2 > most { most = (before + $5) / 2; begin = at }
    { before = $5; at = $2 } END { printf "no %.3f %s", most, begin }')
is "site_a import in any 30 min" "$worst" "$(ask demand all --of import | awk -F, '$2 == "whole span" && $5 == 30 { printf "%s %.3f %s", $9, $10, $11 }')"
months=$(zcat "$data/site_a_2019_15min.csv.gz" | awk -F, 'NR > 1 { m = substr($2, 1, 7); if ($4 > most[m]) most[m] = $4 }
    END { for (m in most) printf "%s %.3f\n", m, most[m] }' | sort | tr '\n' ' ')
is "site_a export by months" "$months" "$(ask demand all --of export | awk -F, '$2 != "whole span" && $5 == 15 { printf "%s %.3f ", $2, $7 }')"

# the median and the highest twentieth, by sorting
sorted=$(zcat "$data/site_a_2019_15min.csv.gz" | awk -F, 'NR > 1 { printf "%.3f\n", $5 }' | sort -rn |
    awk '{ sum += $1 / 4 } NR == 1752 { printf "%.3f ", $1 } NR == 17520 { printf "%.3f ", $1 } END { printf "%.3f %d", sum, NR / 4 }')
is "site_a import, 5 and 50 % of the time, kWh, hours" "$sorted" "$(ask duration all --of import |
    awk -F, '$3 == 0.05 || $3 == 0.5 { printf "%.3f ", $4 } $2 == "lowest" { printf "%.3f %d", $6, $5 }')"
is "site_a import, Monday to Friday 7 to 20 h and the rest" "5680.84 14826.38" "$(ask profile all --of import |
    awk -F, 'NR > 1 { day = $3 * $7; h = substr($2, 1, 2) + 0; if (h >= 7 && h < 20) work += day; else rest += day; rest += $4 * $8 + $5 * $9 }
    END { printf "%.2f %.2f", work, rest }')"

zcat "$data/site_c_2019_15min.csv.gz" | awk -F, 'NR == 1 { print "time,House.import[kWh/interval],House.export[kWh/interval]" }
    NR > 1 { printf "%s,%.3f,%.3f\n", $1, $4 / 4, $3 / 4 }' >"$work/c.csv"
record c Europe/Zurich 900
enter "$work/c.csv"
is "site_c import" "no 21.800 2019-01-01T15:45:00+01:00" "$(peak import 15)"
is "site_c export" "no 22.800 2019-05-12T15:00:00+02:00" "$(peak export 15)"

zcat "$data/household_fr_2006-12_1min.csv.gz" | awk -F, 'NR == 1 { print "time,House.import[kWh/interval]" }
    NR > 1 && $2 != "" { printf "%s,%.9f\n", $1, $2 / 60 }' >"$work/h.csv"
record h Europe/Paris 60
enter "$work/h.csv" --length 1min
is "household, a minute" "yes 9.272 2007-01-13T22:53:00+01:00" "$(peak import 1 --length 1min)"
quarter=$(zcat "$data/household_fr_2006-12_1min.csv.gz" | awk -F, 'NR > 1 { n = NR - 1; p[n] = $2; t[n] = $1; if ($2 == "") last = n
        sum += $2; if (n > 15) sum -= p[n - 15]
        if (n >= 15 && n - last >= 15 && sum / 15 > most + 1e-9) { most = sum / 15; begin = t[n - 14] } }
    END { printf "yes %.3f %s+01:00", most, begin }')
is "household, any quarter of an hour" "$quarter" "$(ask demand all --of import | awk -F, '$2 == "whole span" && $5 == 15 { printf "%s %.3f %s", $9, $10, $11 }')"
echo "$name: the datasets' peaks, curves and days"
