"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z --format csv completeness --by month 2024-05/2024-07
