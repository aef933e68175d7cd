"$METERBOOK" --database supply.record --now 2026-06-22T00:00:00Z --format json supply 2026-W23
