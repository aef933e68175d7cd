"$METERBOOK" --database supply.record --now 2026-06-19T00:00:00Z --format csv supply 2026-06-12/2026-06-22 2>/dev/null
