"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z completeness --view residual 2024-05/2024-07; "$METERBOOK" --database three.record completeness --view residual
