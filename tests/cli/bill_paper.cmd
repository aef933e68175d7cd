# beside what the utility wrote
tariffs=$(dirname "$0")/../../config/tariffs
cp "$tariffs"/slabs.tariff . && sed -e 's/2024-02-02/2024-02-01/; s/2024-03-04/2024-03-06/' "$tariffs/invented.contract" >paper.contract
"$METERBOOK" -c invented/meterbook.conf --contract paper.contract --format csv bill 2024-02-15 2>/dev/null
