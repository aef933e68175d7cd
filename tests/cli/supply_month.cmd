"$METERBOOK" --database supply.record --now 2026-06-19T00:00:00Z --format csv supply --by month 2026-06
