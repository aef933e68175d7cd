"$METERBOOK" --database supply.record --now 2026-06-22T00:00:00Z --format csv supply --view histogram 2026-W24
