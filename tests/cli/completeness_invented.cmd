"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z completeness 2024
