# sealed readings: days and longer rows have their shares, hours leave them out and say so, and so does the total
mkdir -p own
echo '2026-01-05T12:00 reading "utility meter" import=8000 export=250
2026-03-05T12:00 reading "utility meter" import=8124.3 export=301.9
2026-03-04T00:00 precedence grid source=sealed
2026-03-05T12:00 precedence grid source=record' >own/logbook.txt
cat >own/totals.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; interval = 300; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/own"; logbook = "logbook.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; } );
END
for by in week day hour; do
    "$METERBOOK" -c own/totals.conf --by $by totals 2026-03-03/2026-03-06 | sed -n '1,2p; /hours/p; /^total/p'
done
"$METERBOOK" -c own/totals.conf --by hour --format json totals 2026-03-03/2026-03-06 | sed -n '/"marks"/p; s/^  "totals": .*\("import_kwh": [0-9.]*\).*/\1/p'
"$METERBOOK" -c own/totals.conf --by hour --format csv totals 2026-03-03/2026-03-06 2>/dev/null | awk -F, 'NR > 1 { sum += $4 } END { printf "%.6f\n", sum }'
"$METERBOOK" -c own/totals.conf --measured-only totals 2026-03-03/2026-03-06 | sed -n '1,2p; /^total/p'
