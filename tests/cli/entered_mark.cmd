# an answer over entered rows says so in its head, and each row of it; the record's own rows do not
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
sqlite3 household.record ".backup e.record"
{ echo 'time,House.import[kWh/interval],House.export[kWh/interval]'
  h=0; while [ $h -lt 24 ]; do printf '2026-02-27 %02d:00,0.5,0.1\n' $h; h=$((h + 1)); done; } >e.csv
"$METERBOOK" --database e.record enter e.csv 2>&1 | tail -1
answer() { "$METERBOOK" --database e.record --now 2026-03-30T12:07:07Z "$@" 2>/dev/null; }
answer month 2026-02
answer --format csv year 2026
answer --format json day 2026-02-27 | grep -c '"flags": \["entered"\]'
answer day 2026-03-01 | head -3
# a day that was entered long before is no begin of the record: sealed readings speak on, until data without a hole
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
site() { "$METERBOOK" -c own/site.conf --database e.record --now 2026-03-30T12:07:07Z "$@" 2>/dev/null; }
site month 2026-02 | grep -e seam -e '-2[678] ' -e total
{ echo 'time,House.import[kWh/interval],House.export[kWh/interval]'
  h=0; while [ $h -lt 24 ]; do printf '2026-02-28 %02d:00,0.5,0.1\n' $h; h=$((h + 1)); done; } >e.csv
"$METERBOOK" --database e.record enter e.csv 2>&1 | tail -1
site month 2026-02 | grep -e seam -e '-2[678] ' -e total
