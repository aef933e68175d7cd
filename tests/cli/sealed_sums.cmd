# no energy twice and none lost: readings and record together, to the mWh
mkdir -p own
cat >own/site.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/own"; logbook = "site.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; azimuth = 180; tilt = 30; peak_power = 5000; },
           { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; phase_method = "netted"; },
                  { name = "roof meter"; role = "production"; registers = "export"; digits = 6; decimals = 1; } );
END
cat >own/site.txt <<'END'
2024-02-05 start "utility meter" import=0 export=0
2024-06-10T09:00 reading "utility meter" import=812.4 export=1501.9
2024-12-31T18:00 reading "utility meter" import=2190.0 export=4011.3
2025-07-02T17:45 reading "utility meter" import=3555.1 export=6120.8
2025-12-30T08:30 reading "utility meter" import=4881.7 export=8199.2
2026-03-15T17:45 reading "utility meter" import=5704.9 export=8930.0
2024-02-20T12:00 start "roof meter" export=0
2025-01-02T12:00 reading "roof meter" export=4720.5
2026-01-04T12:00 reading "roof meter" export=9804.0
2026-03-20T00:00 reading "roof meter" export=11330.7
END
site() { "$METERBOOK" -c own/site.conf --now 2026-03-30T12:07:07Z --format csv "$@" 2>/dev/null; }
record() { "$METERBOOK" --database household.record --now 2026-03-30T12:07:07Z --format csv "$@" 2>/dev/null; }
# sum of a column (kWh with six decimals, as mWh) of the lines whose first field is at or after a stamp
column() { awk -F, -v c="$1" -v from="$2" 'NR > 1 && $1 >= from { gsub(/\./, "", $c); sum += $c } END { printf "%.0f\n", sum }'; }
sum() { expr $(echo "$*" | sed 's/ / + /g'); }

# production: read as 11330.7 kWh on 20 March at midnight, then the record
years=$(sum $(for y in 2024 2025 2026; do site year $y | column 3 2024; done))
after=$(record month 2026-03 | column 3 2026-03-20)
echo "production: years less readings less record: $((years - 11330700000 - after)) mWh"
# import and export: read on 15 March at 17:45
for c in 4 5; do
    years=$(sum $(for y in 2024 2025 2026; do site year $y | column $c 2024; done))
    after=$(sum $(record --by interval day 2026-03-15 | column $c 2026-03-15T17:45) $(record month 2026-03 | column $c 2026-03-16))
    read=$(test $c = 4 && echo 5704900000 || echo 8930000000)
    echo "column $c: years less readings less record: $((years - read - after)) mWh"
done
# months are sums of days, years of months
for c in 3 4 5 6 7; do
    for m in 2024-02 2025-12 2026-01 2026-03; do
        days=$(site month $m | column $c 2024)
        month=$(site year ${m%-*} | grep "^$m" | sed '1i x' | column $c 2024)
        echo "$m column $c: $((days - month))"
    done
done
# sealed readings for three days inside a reading period: the record has a side before and one after them
cat >>own/site.txt <<'END'
2026-03-17T06:00 precedence grid source=sealed
2026-03-20 precedence grid source=record
2026-03-25T08:00 reading "utility meter" import=5790.2 export=9180.5
END
for c in 4 5; do
    years=$(sum $(for y in 2024 2025 2026; do site year $y | column $c 2024; done))
    after=$(sum $(record --by interval day 2026-03-25 | column $c 2026-03-25T08) $(record month 2026-03 | column $c 2026-03-26))
    inside=$(sum $(record --by interval day 2026-03-15 | column $c 2026-03-15T17:45) $(record month 2026-03 | grep -e '^from' -e '^2026-03-1[6-9]' -e '^2026-03-2[0-4]' | column $c 2026) $(record --by interval day 2026-03-25 | sed '/^2026-03-25T08/,$d' | column $c 2026))
    first=$(test $c = 4 && echo 5704900000 || echo 8930000000)
    last=$(test $c = 4 && echo 5790200000 || echo 9180500000)
    march=$(site month 2026-03 | grep -e '^from' -e '^2026-03-1[6-9]' -e '^2026-03-2[0-4]' | column $c 2026)
    echo "column $c: years less readings less record: $((years - last - after)) mWh; the period alone, less what was read: $((march - (last - first) + inside - $(record month 2026-03 | grep -e '^from' -e '^2026-03-1[6-9]' -e '^2026-03-2[0-4]' | column $c 2026)))"
done
