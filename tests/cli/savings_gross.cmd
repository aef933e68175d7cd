tariffs=$(dirname "$0")/../../config/tariffs
cp "$tariffs"/*.tariff . && sed 's/"slabs.tariff"/"gross.tariff"/; s/# without_plant/without_plant/' "$tariffs/invented.contract" >gross.contract
"$METERBOOK" -c invented/meterbook.conf --contract gross.contract savings 2024
