# the logbook knows a part by the name that it had, the record too
sed 's/"inverter 2"/"attic"/' invented/meterbook.conf >invented/renamed.conf
"$METERBOOK" -c invented/renamed.conf --now 2025-03-01T09:00:00Z cleaning | tail -n 1
# another has that name by now: whose line is it?
sed 's/"inverter 2"/"attic"/; s/"inverter 3"/"inverter 2"/' invented/meterbook.conf >invented/renamed.conf
"$METERBOOK" -c invented/renamed.conf --now 2025-03-01T09:00:00Z logbook | tail -n 1
rm invented/renamed.conf
