tariffs=$(dirname "$0")/../../config/tariffs
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" what-if 2024-05/2024-07
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" --format csv --view sweep what-if 2024 2>/dev/null | head -n 14
cp "$tariffs"/slabs.tariff . && printf 'contract = { tariff = "slabs.tariff"; };\ncases = ( { name = "a"; battery_kwh = 4; load_w = [ 1, 2 ]; } );\n' >bad_case.contract
"$METERBOOK" -c invented/meterbook.conf --contract bad_case.contract what-if 2024-05
printf 'contract = { tariff = "slabs.tariff"; };\n' >bare.contract
"$METERBOOK" -c invented/meterbook.conf --contract bare.contract --view sweep what-if 2024-05
"$METERBOOK" -c invented/meterbook.conf --contract bare.contract what-if 2022-08
# what does not fit the tariff or the plant
cp "$tariffs"/time-of-use.tariff . && for case in 'dispatch = "time_of_use"; dispatch_block = "peek"; battery_kwh = 4; battery_kw = 2' 'plant_kwp = 4' 'tariff = "none.tariff"'; do
    printf 'contract = { tariff = "time-of-use.tariff"; };\ncases = ( { name = "a"; %s; } );\n' "$case" >bad_case.contract
    "$METERBOOK" -c invented/meterbook.conf --contract bad_case.contract what-if 2024-05 >/dev/null
done
