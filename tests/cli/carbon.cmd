tariffs=$(dirname "$0")/../../config/tariffs
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" carbon --equivalents
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" --format csv --by month carbon 2024 2>/dev/null | head -n 4
printf 'factors = ( { name = "a"; kind = "mean"; from = "2024-01-01"; to = "2023-12-31"; kg_per_kwh = 4; edition = "b"; source = "c"; } );\n' >bad.factors
cp "$tariffs"/slabs.tariff . && printf 'contract = { tariff = "slabs.tariff"; };\ncarbon = { factors = "bad.factors"; average = "a"; };\n' >carbon.contract
"$METERBOOK" -c invented/meterbook.conf --contract carbon.contract carbon 2024
printf 'contract = { tariff = "slabs.tariff"; };\ncarbon = { factors = "published.factors"; average = "India"; };\n' >carbon.contract; cp "$tariffs"/../carbon/published.factors .
"$METERBOOK" -c invented/meterbook.conf --contract carbon.contract carbon 2024
