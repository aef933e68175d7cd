# with a configuration at hand: its thresholds, sealed meters, a declared exchange
mkdir -p own
sed 's|^|    |' >own/meters.inc <<'END'
{ number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1; map = "sunspec"; rated_power = 5000; }
END
cat >own/checks.conf <<END
site = { name = "Mill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/checks.record"; runtime = "$PWD/own"; logbook = "checks.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = (
@include "meters.inc"
);
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export t1"; digits = 5; },
                  { name = "roof meter"; role = "production"; registers = "export"; digits = 6; decimals = 1; } );
checks = { month_high = 101; day_low = 99; day_high = 101; spike_block = 60; residual = 2; clear_sky = 100; };
END
cat >own/checks.txt <<'END'
2026-03-01T00:00 reading "utility meter" import=1000 export=100 t1=500
2026-03-31T00:00 reading "utility meter" import=1480 export=129 t1=700
2026-03-19 exchange "Roof" "by the utility"
2026-03-10T00:00 reading "roof meter" export=1000.5
2026-03-20T00:00 reading "roof meter" export=1160.2
2026-05-20T00:00 reading "roof meter" export=1200.0
END
"$METERBOOK" -c own/checks.conf --now 2026-04-02T12:00:00Z validate 2026-03 | grep -v 'everything  *passed'
"$METERBOOK" -c own/checks.conf --database checks_faulty.record --now 2026-04-02T12:00:00Z validate 2026-03-20 | grep -e serial -e thresh
