tariffs=$(dirname "$0")/../../config/tariffs
cp "$tariffs"/*.tariff . && sed 's/"slabs.tariff"/"time-of-use.tariff"/; s/# without_plant/without_plant/' "$tariffs/invented.contract" >hours.contract
"$METERBOOK" -c invented/meterbook.conf --contract hours.contract bill 2024-03
echo
# before the record there are no hours
"$METERBOOK" -c invented/meterbook.conf --contract hours.contract bill 2022-08
