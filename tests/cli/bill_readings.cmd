# readings as people write them: two on one day, falling, none of export; no kWh is billed twice, and what
# the registers do not tell is said
mkdir -p readings
cat >readings/site.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/readings"; logbook = "site.txt"; contract = "site.contract"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; azimuth = 180; tilt = 30; peak_power = 5000; },
           { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; phase_method = "netted"; } );
END
cat >readings/site.tariff <<'END'
tariff = { name = "One rate"; currency = "XTS"; settlement = "net_billed"; revision = "split_use"; periods = "readings"; };
schedules = ( { from = "2025-01-01"; items = ( { name = "energy"; of = "import"; rate = 1; } ); } );
END
printf 'contract = { tariff = "site.tariff"; };\n' >readings/site.contract
try() {
    echo "$1:"
    cat >readings/site.txt
    "$METERBOOK" -c readings/site.conf --now 2026-02-01T12:00:00Z --format csv bill 2025 2>&1 | awk -F, '/^20/ { print $1, $3, $4; next } /^meterbook: 20/'
}
try "two readings on one day" <<'END'
2025-10-01T09:00 reading "utility meter" import=1000 export=500
2025-11-01T09:00 reading "utility meter" import=1400 export=510
2025-11-01T18:00 reading "utility meter" import=1450 export=510
2025-12-01T09:00 reading "utility meter" import=1900 export=520
END
try "one that falls" <<'END'
2025-10-01T09:00 reading "utility meter" import=1000 export=500
2025-11-01T09:00 reading "utility meter" import=1400 export=510
2025-12-01T09:00 reading "utility meter" import=1300 export=520
2025-12-11T09:00 reading "utility meter" import=1500 export=530
END
try "none of export at first" <<'END'
2025-10-01T09:00 reading "utility meter" import=1000
2025-11-01T09:00 reading "utility meter" import=1400 export=510
END
# read in the afternoon: consumption is import and production less export of the same hours, 100 + 300 - 200 each time
sed -i 's/^sealed_meters.*/sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; phase_method = "netted"; }, { name = "sun meter"; role = "production"; delivers = "export"; registers = "export"; digits = 5; decimals = 1; } );/' readings/site.conf
cat >readings/site.txt <<'END'
2025-10-01T16:45 reading "utility meter" import=1000 export=500
2025-10-01T16:45 reading "sun meter" export=2000
2025-10-16T08:10 reading "utility meter" import=1100 export=700
2025-10-16T08:10 reading "sun meter" export=2300
2025-11-01T17:20 reading "utility meter" import=1200 export=900
2025-11-01T17:20 reading "sun meter" export=2600
END
"$METERBOOK" -c readings/site.conf --now 2026-02-01T12:00:00Z --format csv savings 2025 2>/dev/null | awk -F, '{ print $1, $3, $6 }'
# the same where all that is made is sold: behind the meter by its wires, then beside it, where what is used is imported
cp readings/site.tariff readings/kept.tariff && sed -i 's/net_billed/gross/' readings/site.tariff
"$METERBOOK" -c readings/site.conf --now 2026-02-01T12:00:00Z --format csv savings 2025 2>/dev/null | awk -F, '{ print $1, $3, $6 }'
mv readings/kept.tariff readings/site.tariff
mkdir -p beside && cat >beside/site.conf <<END
site = { name = "Mango Lane"; time_zone = "Asia/Kolkata"; latitude = 12.0; longitude = 77.0; };
record = { database = "$PWD/gross.record"; runtime = "$PWD/beside"; logbook = "site.txt"; contract = "site.contract"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Field"; role = "production"; delivers = "export"; connection = "gross"; bus = "host"; unit_id = 1; map = "sunspec"; rated_power = 5000; },
           { number = 2; name = "Loads"; role = "consumption"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import"; digits = 5; decimals = 1; phase_method = "netted"; } );
END
printf 'contract = { tariff = "site.tariff"; };\n' >beside/site.contract
sed 's/net_billed/gross/' readings/site.tariff >beside/site.tariff
printf '%s reading "utility meter" import=%s\n' 2026-05-04T06:00 100 2026-05-05T18:00 120 >beside/site.txt
"$METERBOOK" -c beside/site.conf --now 2026-06-01T12:00:00Z --format csv savings 2026-05 2>/dev/null | awk -F, '{ print $1, $3, $4, $6 }'
# a period without readings of the sun meter is named, and left out of what was saved
sed -i '/2025-11-01T17:20 reading "sun meter"/d' readings/site.txt
"$METERBOOK" -c readings/site.conf --now 2026-02-01T12:00:00Z savings 2025 2>&1 | grep "left out"
