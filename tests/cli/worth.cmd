# shifting a use within the day is worth nothing under net metering in the bill
tariffs=$(dirname "$0")/../../config/tariffs
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" worth 2023-04/2024-03
cp "$tariffs"/*.tariff . && sed 's/"slabs.tariff"/"time-of-use.tariff"/; /^carbon/,/^};/d' "$tariffs/invented.contract" >hours.contract
"$METERBOOK" -c invented/meterbook.conf --contract hours.contract --format csv worth 2024 2>/dev/null | sed -n '1,26p;170,180p'
