# a weather station has no intervals, and was read all the same
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z now 2>/dev/null | tail -n 2
