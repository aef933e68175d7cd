# the gap of 11 June; sealed meters make no difference to parts
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z parts 2024-06-10/2024-06-13 --by day --format csv
