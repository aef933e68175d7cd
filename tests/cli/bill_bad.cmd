"$METERBOOK" -c invented/meterbook.conf bill
printf 'contract = { tariff = "no.tariff"; phases = 4; };\nloads = ( { from = "2020-13-01"; contracted_kw = 5; } );\npaper = ( { from = "2024-02-02"; to = "2024-01-04"; total = 1; } );\nplants = 1;\n' >bad.contract
"$METERBOOK" -c invented/meterbook.conf --contract bad.contract bill
printf 'contract = { tariff = "no.tariff"; };\n' >bad.contract
"$METERBOOK" -c invented/meterbook.conf --contract bad.contract bill
"$METERBOOK" -c invented/meterbook.conf --contract no.contract bill
"$METERBOOK" -c invented/meterbook.conf bils
tariffs=$(dirname "$0")/../../config/tariffs
cp "$tariffs"/*.tariff . && printf 'contract = { tariff = "time-of-use.tariff"; t1 = "peek"; t2 = "other"; };\n' >bad.contract
"$METERBOOK" -c invented/meterbook.conf --contract bad.contract bill
