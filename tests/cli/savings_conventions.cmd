# how sheets reckon a saving, by name, and how far each is off: slabs with net metering, time of use with net billing, all production sold
tariffs=$(dirname "$0")/../../config/tariffs
cp "$tariffs"/*.tariff .
for tariff in slabs time-of-use gross; do
    sed "s/slabs.tariff/$tariff.tariff/" "$tariffs/invented.contract" >conventions.contract
    "$METERBOOK" -c invented/meterbook.conf --contract conventions.contract --view conventions savings 2024-05/2024-07 || exit
done
"$METERBOOK" -c invented/meterbook.conf --contract conventions.contract --view conventions --format csv savings 2024-05 2>/dev/null || exit
"$METERBOOK" -c invented/meterbook.conf --contract conventions.contract --view convention savings 2024-05 2>&1
