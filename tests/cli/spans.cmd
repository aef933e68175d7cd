# sealed meters by reading period, from the logbook alone and beside our own account
mkdir -p own
cat >own/logbook.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/own"; logbook = "logbook.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; azimuth = 180; tilt = 30; peak_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export t1 t2 demand"; digits = 5; whole_units = true; clock = "standard"; },
                  { name = "roof meter"; role = "production"; registers = "export"; digits = 6; decimals = 1; } );
END
cat >own/logbook.txt <<'END'
2026-01-05 start "utility meter" import=99000 export=0 t1=0 t2=0
2026-02-10 reading "utility meter" import=99700 export=100 t1=400 t2=300 demand=3.25
2026-03-01T00:00 reading "utility meter" import=100 export=160 t1=600 t2=480 demand=4.1 how=estimated
2026-03-15T17:45 reading "utility meter" import=205 export=280 t1=700 t2=530 demand=4
2026-03-25T09:10 exchange "utility meter" old.import=286 old.export=350 old.t1=740 old.t2=571 old.demand=0 new.import=0 new.export=0 new.t1=0 new.t2=0 new.demand=0 serial=2
2026-03-29 reading "utility meter" import=34 export=30 t1=20 t2=14 demand=3
2026-05-01 reading "utility meter" import=300 export=200 t1=150 t2=150 demand=3
2026-01-20 reading "roof meter" export=1000.5
2026-03-01T00:00 reading "roof meter" export=1160.2
2026-03-20T00:00 reading "roof meter" export=1700.0
END
spans() { "$METERBOOK" -c own/logbook.conf --now 2026-03-30T12:07:07Z "$@"; echo "code $?"; }
spans spans
spans spans "roof meter"
spans --by month spans
spans --format csv spans "utility meter"
spans --format json --by month spans "roof meter"
