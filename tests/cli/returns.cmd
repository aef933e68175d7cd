tariffs=$(dirname "$0")/../../config/tariffs
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" returns
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" --format csv --view flows returns 2>/dev/null
# no cost, no projection: nothing is made up
cp "$tariffs"/slabs.tariff . && printf 'contract = { tariff = "slabs.tariff"; };\n' >bare.contract
"$METERBOOK" -c invented/meterbook.conf --contract bare.contract returns 2024
"$METERBOOK" -c invented/meterbook.conf --contract bare.contract returns --view flow
