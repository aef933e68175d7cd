# a meter with dials by tariff period in both directions: bills before any interval, over a revision, beside the paper dial by dial
mkdir -p dials
cat >dials/site.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/dials"; logbook = "site.txt"; contract = "site.contract"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; azimuth = 180; tilt = 30; peak_power = 5000; },
           { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export t1 t2 t3 export.t1 export.t2 export.t3"; digits = 5; decimals = 1; } );
END
# peak, day, night; the night dial was not read in December, and none of them at the end of January
cat >dials/site.txt <<'END'
2025-10-01T00:00 reading "utility meter" import=1000 t1=200 t2=500 t3=300 export=500 export.t1=20 export.t2=480 export.t3=0
2025-11-01T00:00 reading "utility meter" import=1300 t1=260 t2=640 t3=400 export=590 export.t1=30 export.t2=560 export.t3=0
2025-12-01T00:00 reading "utility meter" import=1700 t1=350 t2=830 export=620 export.t1=35 export.t2=585 export.t3=0
2026-01-01T00:00 reading "utility meter" import=2100 t1=450 t2=1030 export=640 export.t1=35 export.t2=605 export.t3=0
2026-02-01T00:00 reading "utility meter" import=2600 export=650
END
schedule() {
    cat <<END
    { from = "$1"; blocks = ( { name = "peak"; from = "18:00"; to = "22:00"; }, { name = "night"; from = "22:00"; to = "06:00"; } );
      items = ( { name = "peak"; of = "$5"; block = "peak"; rate = $2; }, { name = "night"; of = "$5"; block = "night"; rate = $3; },
                { name = "day"; of = "$5"; block = "other"; rate = $4; }$6 );
      $7 }
END
}
export=', { name = "peak surplus"; of = "export"; block = "peak"; rate = 5; pays = true; }, { name = "day surplus"; of = "export"; block = "other"; rate = 2; pays = true; }'
{
    echo 'tariff = { name = "Three dials"; currency = "XTS"; settlement = "net_billed"; revision = "split_use"; periods = "readings"; };'
    echo 'schedules = ('
    schedule 2025-10-01 9 3 4 import "$export" ''; echo ,
    schedule 2025-12-11 10 3 5 import "$export" ''
    echo ');'
} >dials/site.tariff
cat >dials/site.contract <<'END'
contract = { tariff = "site.tariff"; t1 = "peak"; t2 = "other"; t3 = "night"; };
paper = (
    { from = "2025-10-01"; to = "2025-11-01"; total = 1345;
      items = ( { name = "peak"; amount = 540; }, { name = "day"; amount = 600; } );
      readings = ( { of = "import"; block = "peak"; opening = 200; closing = 260; },
                   { of = "import"; block = "other"; opening = 500; closing = 650; kwh = 150; },
                   { of = "import"; block = "night"; kwh = 100; },
                   { of = "export"; opening = 50; closing = 59; factor = 10; } ); }
);
END
"$METERBOOK" -c dials/site.conf --now 2026-03-01T12:00:00Z bill 2025-10/2026-01 2>&1 || exit
"$METERBOOK" -c dials/site.conf --now 2026-03-01T12:00:00Z --format csv bill 2025-10 2>&1 | cut -d, -f3-6,8-11 || exit
# net metering within each block, and what a total alone cannot tell
{
    echo 'tariff = { name = "By block"; currency = "XTS"; settlement = "net_metered"; revision = "split_use"; periods = "readings"; };'
    echo 'schedules = ('
    schedule 2025-10-01 9 3 4 net '' 'netting = { by_block = true; carry = "energy"; };'
    echo ');'
} >dials/site.tariff
"$METERBOOK" -c dials/site.conf --now 2026-03-01T12:00:00Z bill 2025-10/2025-12 2>&1 || exit
# with credit that was brought along, block by block, then in one sum as the logbook has it
cat >dials/site.contract <<'END'
contract = { tariff = "site.tariff"; t1 = "peak"; t2 = "other"; t3 = "night"; };
credits = ( { date = "2025-10-01"; block = "peak"; kwh = 10; source = "bill of September"; },
            { date = "2025-10-01"; block = "other"; kwh = 100; source = "bill of September"; } );
END
"$METERBOOK" -c dials/site.conf --now 2026-03-01T12:00:00Z bill 2025-10/2025-11 2>&1 | sed 1,5d || exit
echo '2025-11-01 credit kwh=30 money=4 "an order, invented"' >>dials/site.txt
"$METERBOOK" -c dials/site.conf --now 2026-03-01T12:00:00Z bill 2025-11 2>&1 | sed 1,5d || exit
# mistakes
cat >dials/site.contract <<'END'
contract = { tariff = "site.tariff"; t1 = "peak"; };
paper = (
    { from = "2025-10-01"; to = "2025-11-01"; total = 1;
      readings = ( { of = "imports"; kwh = 1; },
                   { opening = 1; },
                   { block = "peak"; },
                   { block = "night"; opening = 9; closing = 8; },
                   { block = "night"; opening = 9; closing = 18; } ); }
);
END
"$METERBOOK" -c dials/site.conf bill 2025-10 2>&1
sed -i -e '/imports/s/{ of.*/{ block = "nihgt"; kwh = 1; } ); }/; /{ opening/,/closing = 18/d' dials/site.contract
sed -i -e 's/readings = ( /&/' dials/site.contract
"$METERBOOK" -c dials/site.conf bill 2025-10 2>&1
try() {
    printf 'contract = { tariff = "site.tariff"; };\ncredits = ( %s );\n' "$*" >dials/site.contract
    "$METERBOOK" -c dials/site.conf bill 2025-10 2>&1
}
credit='{ date = "2025-10-01"; block = "peak"; kwh = 10; source = "a bill"; }'
try "$credit, $credit"
try "$credit," '{ date = "2025-09-01"; block = "peak"; kwh = -1; }'
try '{ date = "2025-10-01"; block = "peka"; kwh = 10; source = "a bill"; }'
sed -i -e 's/by_block = true; //' dials/site.tariff
try "$credit"
echo '2026-03-01 reading "utility meter" export.t4=1' >>dials/site.txt
"$METERBOOK" -c dials/site.conf logbook 2>&1 | grep export.t4
