# the record begins within a day for which sealed readings speak: rows of intervals say so too
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
mkdir -p begin
sqlite3 household.record ".backup b.record"
sqlite3 b.record "DELETE FROM interval WHERE ts < 1772360100; DELETE FROM day WHERE day = 20513; UPDATE run SET base_s = 1772360100 WHERE base_s < 1772360100"
cat >begin/site.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/b.record"; runtime = "$PWD/begin"; logbook = "site.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; azimuth = 180; tilt = 30; peak_power = 5000; },
           { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; } );
END
cat >begin/site.txt <<'END'
2024-02-05 start "utility meter" import=0 export=0
2026-03-15T17:45 reading "utility meter" import=5704.9 export=8930.0
END
for by in hour interval; do
    "$METERBOOK" -c begin/site.conf --now 2026-03-30T12:07:07Z --by $by day 2026-03-01 | sed -n '1,/^$/p'
done
"$METERBOOK" -c begin/site.conf --now 2026-03-30T12:07:07Z --by interval --format json day 2026-03-01 | sed -n '/"sealed_meters"/,/"marks"/p'
