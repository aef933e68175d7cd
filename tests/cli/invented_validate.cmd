# nothing is wrong with the invented plant but what was planned, which the checks only note
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z validate 2024 | grep 'failed'
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z outages 2024 | grep '^computer\|^grid'
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z logbook 2>&1 >/dev/null
