"$METERBOOK" --database supply_damaged.record --now 2026-06-23T00:00:00Z --format csv supply 2>/dev/null
"$METERBOOK" --database supply_damaged.record --now 2026-06-23T00:00:00Z --format csv completeness --view gaps 2>/dev/null | head -5
