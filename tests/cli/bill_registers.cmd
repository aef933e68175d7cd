# registers of tariff periods and of demand say what a bill needs, before any interval; a revision splits what they cannot tell
mkdir -p registers
cat >registers/site.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/registers"; logbook = "site.txt"; contract = "site.contract"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; azimuth = 180; tilt = 30; peak_power = 5000; },
           { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export t1 t2 demand"; digits = 5; decimals = 1; phase_method = "netted"; } );
END
cat >registers/site.txt <<'END'
2025-10-01 reading "utility meter" import=1000 export=500 t1=200 t2=800 demand=1.1
2025-11-01 reading "utility meter" import=1300 export=580 t1=260 t2=1040 demand=4.5
2025-12-01 reading "utility meter" import=1700 export=610 t1=350 t2=1350
2026-01-01 reading "utility meter" import=2100 export=630 t1=450 t2=1650 demand=5.2
END
cat >registers/site.tariff <<'END'
tariff = { name = "Two registers"; currency = "XTS"; settlement = "net_billed"; revision = "split_use"; periods = "readings"; };
schedules = (
    { from = "2025-10-01"; blocks = ( { name = "peak"; days = "mon-fri"; from = "18:00"; to = "22:00"; } );
      items = ( { name = "peak"; of = "import"; block = "peak"; rate = 9; }, { name = "rest"; of = "import"; block = "other"; rate = 4; },
                { name = "surplus"; of = "export"; rate = 2; pays = true; }, { name = "demand"; of = "demand"; rate = 10; } ); }
);
END
printf 'contract = { tariff = "site.tariff"; t1 = "peak"; t2 = "other"; };\n' >registers/site.contract
"$METERBOOK" -c registers/site.conf --now 2026-02-01T12:00:00Z bill 2025
