# more than one sealed meter, an odd reading, and readings that nobody took
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
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
site() { "$METERBOOK" -c own/site.conf --now 2026-03-30T12:07:07Z "$@"; echo "code $?"; }
# another meter for the import alone, in use since 2025: of the two none can be held against the record
cp own/site.txt own/site.bak
sed -i 's/sealed_meters = (/& { name = "heat pump meter"; role = "grid"; registers = "import"; digits = 6; whole_units = true; },/' own/site.conf
cat >>own/site.txt <<'END'
2025-01-01T00:00 start "heat pump meter" import=10
2026-01-01T00:00 reading "heat pump meter" import=2210 how=estimated
2026-03-10 reading "heat pump meter" import=2600
END
site year 2026
site year 2024 | head -10
# a reading that is lower than what the record counted after it, and one that is misread
sed -i 's/ { name = "heat pump meter"[^}]*},//' own/site.conf
sed 's/import=5704.9/import=4950.0/; s/export=6120.8/export=3120.8/' own/site.bak >own/site.txt
site month 2026-02 | head -12
site year 2025 | head -30
# a counter of ours that was reset between the seam and the reading
cp own/site.bak own/site.txt
sqlite3 household.record ".backup own/reset.record"
sqlite3 own/reset.record "UPDATE interval SET how = 128 WHERE meter = 2 AND ts = 1772798400; UPDATE day SET flags = 128 WHERE id = 20518 * 1024 + 2"
site --database own/reset.record month 2026-02 | grep -e reset -e 'lie on' -e 'the record counted'
site --format json year 2025 | sed -n '/counted_by/,/marks/p'
