# a period that another reading splits: its bills add up to the whole where the tariff is linear; slabs, a minimum,
# whole units and a charge by month (two calendar months are 2, their 36 and 25 days 61/30) make a difference
mkdir -p split
cat >split/site.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/split"; logbook = "site.txt"; contract = "site.contract"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; azimuth = 180; tilt = 30; peak_power = 5000; },
           { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; phase_method = "netted"; } );
END
printf 'contract = { tariff = "site.tariff"; };\nloads = ( { from = "2020-01-01"; contracted_kw = 3; } );\n' >split/site.contract
head='tariff = { name = "T"; currency = "XTS"; settlement = "net_billed"; revision = "split_use"; periods = "readings";'
linear='{ name = "energy"; of = "import"; rate = 0.237; }, { name = "surplus"; of = "export"; rate = 0.08; pays = true; }, { name = "days"; of = "days"; rate = 0.41; }, { name = "tax"; of = "items"; price = "percent"; percent = 8; items = "energy, days"; }'
load='{ name = "load"; of = "contracted"; price = "telescopic"; slabs = ( { to = 1; rate = 3; }, { rate = 6; } ); }'
slabs='{ name = "energy"; of = "import"; price = "telescopic"; scale_days = 30; slabs = ( { to = 200; rate = 0.2; }, { rate = 0.5; } ); }'
least='{ name = "energy"; of = "import"; rate = 0.1; }, { name = "least"; of = "items"; price = "least"; least = 35; items = "energy"; }'
readings() {
    echo '2025-10-01 reading "utility meter" import=1000 export=500'
    [ "$1" = 1 ] || echo '2025-11-06 reading "utility meter" import=1150.7 export=560.3'
    echo '2025-12-01 reading "utility meter" import=1700 export=610'
}
try() {
    printf '%s };\nschedules = ( { from = "2025-01-01"; items = ( %s ); } );\n' "$head $2" "$3" >split/site.tariff
    for periods in 1 2; do
        readings $periods >split/site.txt
        "$METERBOOK" -c split/site.conf --now 2026-02-01T12:00:00Z --format csv bill 2025 2>/dev/null |
            awk -F, -v what="$1, $periods" '$3 == "total" { sum += $8 } END { printf "%s: %.6f\n", what, sum }'
    done
}
try linear "" "$linear"
try slabs "" "$slabs"
try "least amount" "" "$least"
try "whole units" "round_quantity = 1; round_quantity_how = \"down\";" "$linear"
try "by month" "" "$load"
