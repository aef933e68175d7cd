"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z parts 2024-03/2024-06 --by month
