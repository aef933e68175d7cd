"$METERBOOK" --database supply_kathmandu.record --now 2026-06-23T00:00:00Z --format csv supply 2026-W23/2026-W24 2>/dev/null
