# our own meters before they were first read, and the opening credit of a settlement
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
cat >>own/site.txt <<'END'
2026-02-10 start House import=0 export=0 "when it was put in"
2024-02-20T12:00 start Roof import=2.5
2026-03-01T00:00 start Roof export=0
2026-04-01 credit "utility meter" kwh=412.5 "bill of March, line 7"
2026-05-01 credit money=18.20 "bill of April"
2026-05-02 credit "roof meter" kwh=1 "no settlement"
END
# House was first read at 93.4 and 41.25 kWh, through a ratio of 100/5: it had shown 4.67 and 2.0625 kWh;
# Roof is wired the other way round, so that what it shows as import is our export
sqlite3 household.record ".backup own/own.record"
sqlite3 own/own.record "INSERT INTO factor VALUES(1, 1, 1, 1, 1, 1, 1, 1), (2, 2, 1, 100, 5, 1, 1, 0);
    UPDATE run SET factor = 2, first = 93400000 WHERE meter = 2 AND counter = 0;
    UPDATE run SET factor = 2, first = 41250000 WHERE meter = 2 AND counter = 1;
    UPDATE run SET factor = 1, first = 4812750000 WHERE meter = 1"
spans() { "$METERBOOK" -c own/site.conf --database own/own.record "$@"; echo "code $?"; }
spans spans
sed -i 's/start House import=0 export=0/start House import=4.6 export=2.1/' own/site.txt
spans spans House
spans --format csv spans Roof
spans spans Roo
"$METERBOOK" -c own/site.conf --format csv logbook | grep credit
